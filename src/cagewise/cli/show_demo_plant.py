"""The command "demo-plant" on the screen: how far it is, then where the stories are told."""

from __future__ import annotations

import shlex
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.counting import counted
from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on

if TYPE_CHECKING:
    from cagewise.workflows.demo_plant import Kept, Watch

BEGIN = (
    "An invented plant with two years of history is made in {folder}. Every visit is simulated, "
    "written to files, imported and examined like any other: about a minute on two processors."
)
NO_COMPILER = (
    'Without the extra "simulation" (numba) the simulation is not compiled: it will take the '
    "better part of an hour."
)
MADE = "Made in {seconds:.0f} s: {what}."
SIMULATING = "simulating"
STORIES = (
    ("list", "every motor by risk, what is due, what is missing"),
    ("trend ID-210-M", "a cage that gets worse"),
    ("case show ID-210-M", "from the first doubt to what is decided"),
    ("case show WW-310-M", "a load that looked like a cage"),
    ("case show RF-115-M", "a repair: found, done, measured, accepted"),
    ("case show BC-140-M", "a defect that we missed, and why"),
    ("case show FW-102-M", "insulation that goes down"),
    ("calls", "our calls against what was found"),
)


def show_demo_plant(folder: Path, until: date | None, page: PageOptions, streams: Streams) -> None:
    """Make the plant, show how far it is, and say where its stories are told."""
    from cagewise.workflows.demo_plant import build_demo_plant

    screen, began = page_on(*console_of(page, streams)), time.perf_counter()
    screen.paragraph(BEGIN.format(folder=folder), indent=0)
    if not _compiled():
        screen.paragraph(NO_COMPILER, indent=0)
    streams.out.flush()
    visits: list[Kept] = []
    with _watching(screen, streams, visits) as watch:
        build_demo_plant(folder, watch, until=until)
    _say_made(visits, time.perf_counter() - began, screen)
    name = shlex.quote(str(folder))
    screen.heading("Its stories")
    screen.paragraph(f"export CAGEWISE_PLANT={name}")
    screen.fact_table([(f"cagewise {command}", said) for command, said in STORIES])


def _compiled() -> bool:
    """Return whether the steps of the simulation are compiled."""
    from importlib.util import find_spec

    return find_spec("numba") is not None


def _say_made(visits: list[Kept], seconds: float, screen: Page) -> None:
    """Say what was made."""
    files = [name for visit in visits for name in visit.files]
    sheets = sum(name.endswith(".toml") for name in files)
    what = counted(
        (len({visit.tag for visit in visits}), "measured motor"),
        (len(visits), "visit"),
        (len(files) - sheets, "recording"),
        (sheets, "test sheet"),
    )
    screen.paragraph(MADE.format(seconds=seconds, what=what), indent=0, style=STYLE_HEADING)


@contextmanager
def _watching(screen: Page, streams: Streams, visits: list[Kept]) -> Iterator[Watch]:
    """Give what is called after each visit: a bar on a terminal, else a line."""
    if not streams.err.isatty():

        def write(kept: Kept) -> None:
            visits.append(kept)
            what = ", ".join(_plain(name) for name in kept.files)
            screen.paragraph(f"{kept.day} {kept.tag}: {what}: cage {kept.state}", style=STYLE_DIM)
            streams.out.flush()

        yield write
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as Remaining

    from cagewise.cli.console import PipeConsole

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), Remaining())
    with Progress(*columns, console=PipeConsole(file=streams.err), transient=True) as progress:
        task = progress.add_task(SIMULATING, total=None)

        def advance(kept: Kept) -> None:
            visits.append(kept)
            said = f"{kept.day} {kept.tag}"
            progress.update(task, description=said, total=kept.of, completed=kept.number)

        yield advance


def _plain(name: str) -> str:
    """Return what a file is, of its name "2031-05-17-start.parquet"."""
    return Path(name).stem.split("-", 3)[-1]
