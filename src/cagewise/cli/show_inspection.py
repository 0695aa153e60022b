"""The command "plant-check" on the screen: what is missing or damaged, and what to do."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from cagewise.cli.counting import counted
from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.show_archive import duration, holdings, size
from cagewise.cli.streams import Streams
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.store.inspection import FaultKind, StrayKind

if TYPE_CHECKING:
    from cagewise.store.inspection import Fault, Inspection, Stray, Use

FEW = 10
"""Files that are named of each kind."""

WHOLE = "PLANT CHECK: whole. Everything that was kept is there, and is what was put in."
NOT_WHOLE = "PLANT CHECK: NOT WHOLE ({what})."
KINDS: Mapping[tuple[str, FaultKind], str] = MappingProxyType(
    {
        ("originals", FaultKind.MISSING): "Originals that are missing",
        ("originals", FaultKind.DAMAGED): "Originals that are damaged",
        ("waveforms", FaultKind.MISSING): "Waveforms that are missing",
        ("waveforms", FaultKind.DAMAGED): "Waveforms that are damaged",
        ("attachments", FaultKind.MISSING): "Attachments that are missing",
        ("attachments", FaultKind.DAMAGED): "Attachments that are damaged",
        ("documents", FaultKind.DAMAGED): "Documents of examinations that are damaged",
    }
)
BACK = "copy it back from a backup, or take it out of an archive, where it has the same name"
REMEDIES: Mapping[str, str] = MappingProxyType(
    {
        "originals": f"What to do: {BACK}; or import the same file once more: "
        '"cagewise import FILE --motor {tag} --again".',
        "waveforms": f"What to do: {BACK}; or let it be decoded once more from the file that it "
        'came in: "cagewise import FILE --motor {tag} --again".',
        "attachments": f"What to do: {BACK}; or attach the same file to a note of the case.",
        "documents": "What to do: restore the plant from an archive. The measurements are kept; "
        "lists and trends do not need the document.",
    }
)
DATABASE = "The database does not agree with itself"
DATABASE_REMEDY = (
    "What to do: restore the plant from an archive; the files of this one are still good to be "
    "imported into it."
)
STRAYS: Mapping[StrayKind, str] = MappingProxyType(
    {
        StrayKind.UNCLAIMED: "of an import that was killed, or is running: run it again, and they "
        "are taken in",
        StrayKind.HALF: "half-copied by something that was killed, or is running: cleared after a "
        "day",
        StrayKind.FOREIGN: "not put there by this program",
    }
)
STRAY_TITLE = "Only in the folder, nothing speaks of them"
STRAY_NOTE = "They are no part of the plant and harm nothing."
ELSEWHERE = "Nobody looked for such files at {place}."
MORE = "and {count} more (--every names them)"


def show_inspection(
    found: Inspection, seconds: float, page: PageOptions, streams: Streams, *, every: bool
) -> None:
    """Say whether a plant is whole, and if not, what to do."""
    screen = page_on(*console_of(page, streams))
    screen.paragraph(_title(found), indent=0, style=STYLE_HEADING)
    read = f"{counted((found.files, 'file')) or 'no file'}, {size(found.size_bytes)}"
    rows = [("holds", holdings(found.contents)), ("read", read), ("time", duration(seconds))]
    screen.fact_table(rows)
    _write_faults(found.faults, screen, every=every)
    if found.database_faults:
        screen.heading(DATABASE)
        for said in _first(found.database_faults, every=every):
            screen.paragraph(said, first="- ")
        screen.paragraph(DATABASE_REMEDY)
    _write_strays(found, screen, every=every)


def _title(found: Inspection) -> str:
    """Return the answer."""
    if found.is_whole:
        return WHOLE
    missing = sum(fault.kind is FaultKind.MISSING for fault in found.faults)
    what = [f"{missing} missing"] if missing else []
    if len(found.faults) > missing:
        what.append(f"{len(found.faults) - missing} damaged")
    if found.database_faults:
        what.append("database")
    return NOT_WHOLE.format(what=", ".join(what))


def _write_faults(faults: Sequence[Fault], screen: Page, *, every: bool) -> None:
    """Write what is missing or damaged, kind by kind, with what to do."""
    for (folder, kind), title in KINDS.items():
        same = [fault for fault in faults if (fault.folder, fault.kind) == (folder, kind)]
        if not same:
            continue
        screen.heading(title)
        for fault in same if every else same[:FEW]:
            screen.paragraph("; ".join(map(_use, fault.uses)) or "of nothing", first="- ")
            screen.line(f"    {fault.where}", STYLE_DIM)  # whole, to be copied
        if len(same) > FEW and not every:
            screen.paragraph(MORE.format(count=len(same) - FEW))
        tags = [use.tag for fault in same for use in fault.uses]
        tag = shlex.quote(tags[0]) if len(set(tags)) == 1 else "TAG"
        screen.paragraph(REMEDIES[folder].format(tag=tag))


def _use(use: Use) -> str:
    """Return what a file is of."""
    site = f" ({use.site})" if use.site else ""
    return f"{use.tag}{site}, {use.day}: {use.name}"


def _write_strays(found: Inspection, screen: Page, *, every: bool) -> None:
    """Write which files nothing speaks of."""
    if found.strays:
        screen.heading(STRAY_TITLE)
    for kind, words in STRAYS.items():
        same = [stray for stray in found.strays if stray.kind is kind]
        if same:
            total = size(sum(stray.size_bytes for stray in same))
            screen.paragraph(f"{counted((len(same), 'file'))}, {total}: {words}", first="- ")
            for name in _first(_paths(same), every=every):
                screen.line(f"    {name}", STYLE_DIM)
    if found.strays:
        screen.paragraph(STRAY_NOTE)
    if found.elsewhere:
        screen.paragraph(ELSEWHERE.format(place=found.elsewhere), style=STYLE_DIM)


def _paths(strays: Sequence[Stray]) -> list[str]:
    return [str(stray.path) for stray in strays]


def _first(names: Sequence[str], *, every: bool) -> Sequence[str]:
    """Return the first few names, and how many are not named."""
    if every or len(names) <= FEW:
        return names
    return [*names[:FEW], MORE.format(count=len(names) - FEW)]
