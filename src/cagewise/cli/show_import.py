"""The command "import" on the screen: how far it is, then what became of the files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.counting import counted
from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.report.list_table import write_table
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.workflows.plant_files import found_files
from cagewise.workflows.plant_import import Fate, FileReport, Importer, ImportOptions

if TYPE_CHECKING:
    from cagewise.store import Plant

FEW = 5
"""Files that are named of each kind."""

HEADS = ("motor", "told by", "recordings", "test sheets", "there already", "visits")
NOTHING = "There is no recording and no test sheet in what was named."
MORE = "and {count} more (--every names them)"
PASSED = "Passed over, no recordings by their names: {count} ({endings})."
REFUSED = "Refused: {count}. They are tried again at the next import."
COUNTING = "looking"
TAKING = "importing"


def show_import(
    plant: Plant,
    paths: Sequence[Path],
    options: ImportOptions,
    page: PageOptions,
    streams: Streams,
    *,
    every: bool,
) -> bool:
    """Import, show how far it is on a terminal, and then what became of the files.

    Returns
    -------
    bool
        Whether nothing was refused.
    """
    importer = Importer(plant, options)
    reports = list(_taken(importer, paths, streams))
    screen = page_on(*console_of(page, streams))
    _write_imported(reports, screen)
    _write_passed(reports, screen)
    refused = [each for each in reports if each.fate is Fate.REFUSED]
    if refused:
        _write_refused(refused, screen, most=len(refused) if every else FEW)
    return not refused


def _taken(importer: Importer, paths: Sequence[Path], streams: Streams) -> Iterator[FileReport]:
    """Yield what becomes of each file; on a terminal, a bar says how far it is."""
    if not streams.err.isatty():
        yield from importer.take_all(found_files(paths))
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as Remaining

    from cagewise.cli.console import PipeConsole

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), Remaining())
    console = PipeConsole(file=streams.err)
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task(COUNTING, total=None)
        everything = list(progress.track(found_files(paths), task_id=task))
        progress.update(task, description=TAKING, total=len(everything), completed=0)
        for report in importer.take_all(everything):
            yield report
            progress.advance(task)


def _write_imported(reports: Sequence[FileReport], screen: Page) -> None:
    """Write one line per motor, with how its files were told to be of it."""
    motors: dict[tuple[str, str], list[FileReport]] = {}
    for each in reports:
        if each.mapped_by is not None:
            motors.setdefault((each.tag, each.mapped_by.value), []).append(each)
    if not motors and not any(each.fate is Fate.REFUSED for each in reports):
        screen.paragraph(NOTHING, indent=0)
    if motors:
        rows = [(tag, by, *_numbers(mine)) for (tag, by), mine in sorted(motors.items())]
        write_table(screen, HEADS, rows)


def _numbers(mine: Sequence[FileReport]) -> tuple[str, ...]:
    """Return how many files of one motor are new, and how many visits they are of."""
    new = [each for each in mine if each.fate is Fate.IMPORTED]
    sheets = sum(each.is_sheet for each in new)
    visits = len({each.day for each in new})
    return tuple(map(str, (len(new) - sheets, sheets, len(mine) - len(new), visits)))


def _write_passed(reports: Sequence[FileReport], screen: Page) -> None:
    """Write how many files of folders are nothing that could be imported."""
    passed = Counter(each.path.suffix for each in reports if each.fate is Fate.FOREIGN)
    if passed:
        endings = ", ".join(f"{n} {ending or 'without ending'}" for ending, n in passed.items())
        screen.paragraph(PASSED.format(count=passed.total(), endings=endings), style=STYLE_DIM)


def _write_refused(refused: Sequence[FileReport], screen: Page, *, most: int) -> None:
    """Write which files were refused and why, those of one reason together."""
    reasons: dict[str, list[FileReport]] = {}
    for each in refused:
        reasons.setdefault(each.reason, []).append(each)
    screen.heading(REFUSED.format(count=counted((len(refused), "file"))))
    for reason, same in sorted(reasons.items(), key=lambda item: -len(item[1])):
        screen.paragraph(f"{reason} ({counted((len(same), 'file'))})", style=STYLE_HEADING)
        for remedy in dict.fromkeys(each.remedy for each in same[:1] if each.remedy):
            screen.paragraph(remedy, indent=4)
        for name in _names(same, most):
            screen.line(f"    {name}", STYLE_DIM)  # whole, to be copied


def _names(same: Sequence[FileReport], most: int) -> Iterable[str]:
    """Yield the names of files, and how many are not named."""
    yield from (str(each.path) for each in same[:most])
    if len(same) > most:
        yield MORE.format(count=len(same) - most)
