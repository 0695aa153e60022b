"""Archives on the screen: what was written, read, or found whole."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.counting import counted
from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.report.facts import Fact
from cagewise.report.numbers import significant
from cagewise.report.page import STYLE_HEADING, Page, page_on
from cagewise.workflows.plant_folder import USUAL

if TYPE_CHECKING:
    from cagewise.store import Exported, Restored, Verified
    from cagewise.store.contents import Contents

EXPORTED = "{archive}: the whole plant."
EXPORTED_PART = "{archive}: what is left of the plant."
RESTORED = "{folder}: the plant is there."
VERIFIED = "{archive}: whole. A plant comes out of it as it was."
VERIFIED_PART = "{archive}: as it was written, but the plant had lost files before."
LOST = "Lost before the export"
LOST_MORE = "and {count} more"
MOST_LOST = 20
"""Lost files that are named."""
AFTER_EXPORT = '"cagewise verify {archive}" reads it again, there where it is kept.'
AFTER_RESTORE = "Name it with --plant {folder}."
UNITS = ((1e9, "GB"), (1e6, "MB"), (1e3, "kB"))


def show_exported(done: Exported, seconds: float, page: PageOptions, streams: Streams) -> None:
    """Say what was written."""
    screen = page_on(*console_of(page, streams))
    head = EXPORTED_PART if done.lost else EXPORTED
    screen.paragraph(head.format(archive=done.archive), indent=0, style=STYLE_HEADING)
    packed = done.archive.stat().st_size
    screen.fact_table(
        [
            ("holds", holdings(done.contents)),
            ("files", f"{done.files}, {size(done.size_bytes)}; as archive {size(packed)}"),
            ("time", duration(seconds)),
        ]
    )
    _write_lost(done.lost, screen)
    screen.paragraph(AFTER_EXPORT.format(archive=shlex.quote(str(done.archive))))


def show_restored(
    done: Restored, folder: Path, seconds: float, page: PageOptions, streams: Streams
) -> None:
    """Say what was made."""
    screen = page_on(*console_of(page, streams))
    screen.paragraph(RESTORED.format(folder=folder), indent=0, style=STYLE_HEADING)
    screen.fact_table(_read(done, seconds))
    _write_lost(done.lost, screen)
    if done.folder != USUAL.resolve():
        screen.paragraph(AFTER_RESTORE.format(folder=shlex.quote(str(folder))))


def show_verified(done: Verified, seconds: float, page: PageOptions, streams: Streams) -> None:
    """Say what an archive holds."""
    screen = page_on(*console_of(page, streams))
    head = VERIFIED_PART if done.lost else VERIFIED
    screen.paragraph(head.format(archive=done.archive), indent=0, style=STYLE_HEADING)
    about = [("plant", done.plant_name)] if done.plant_name else []
    written = f"{done.exported_at}, by version {done.program_version}"
    screen.fact_table([*about, ("written", written), *_read(done, seconds)])
    _write_lost(done.lost, screen)


def holdings(contents: Contents) -> str:
    """Return how much a plant holds."""
    said = counted(
        (contents.motors, "motor"),
        (contents.visits, "visit"),
        (contents.recordings, "recording"),
        (contents.test_sheets, "test sheet"),
        (contents.examinations, "examination"),
        (contents.cases, "case"),
    )
    return said or "nothing yet"


def size(size_bytes: int) -> str:
    """Return a number of bytes in a unit that suits it.

    >>> size(1_234_567), size(12)
    ('1.23 MB', '12 bytes')
    """
    for unit, name in UNITS:
        if size_bytes >= unit:
            return f"{significant(size_bytes / unit)} {name}"
    return f"{size_bytes} bytes"


def duration(seconds: float) -> str:
    """Return how long something took.

    >>> duration(0.31), duration(75.2), duration(7300.0)
    ('0.3 s', '1 min 15 s', '2 h 1 min')
    """
    minutes, rest = divmod(round(seconds), 60)
    if minutes == 0:
        return f"{seconds:.1f} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {rest} s"


def _read(done: Restored | Verified, seconds: float) -> list[Fact]:
    """Return what came out of an archive, labelled."""
    return [
        ("holds", holdings(done.contents)),
        ("files", f"{done.files}, {size(done.size_bytes)}, each against its checksum"),
        ("time", duration(seconds)),
    ]


def _write_lost(lost: Sequence[str], screen: Page) -> None:
    """Write which files the plant had lost."""
    if not lost:
        return
    screen.heading(LOST)
    for name in lost[:MOST_LOST]:
        screen.paragraph(name, first="- ")
    if len(lost) > MOST_LOST:
        screen.paragraph(LOST_MORE.format(count=len(lost) - MOST_LOST))
