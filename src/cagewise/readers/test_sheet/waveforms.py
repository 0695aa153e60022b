"""Waveforms of a turn test that stand in a CSV file beside the sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path, PurePosixPath, PureWindowsPath

from cagewise.errors import SheetError
from cagewise.machine.crosscheck import Fault
from cagewise.readers.test_sheet.cells import text_in
from cagewise.readers.test_sheet.files import bytes_of
from cagewise.readers.test_sheet.form import Form, Table, Unusable
from cagewise.readers.test_sheet.grid import Sheet, tables_of
from cagewise.readers.test_sheet.headings import plain
from cagewise.readers.test_sheet.sheet_csv import SEPARATORS, rows_in
from cagewise.readers.text import decode_text

TABLE = "turn_test"


def add_waveforms(form: Form, path: Path, *, anywhere: bool) -> bytes:
    """Add the columns of the file that a turn test names; return the bytes of that file.

    Parameters
    ----------
    form
        Tables of the sheet; changed in place.
    path
        The sheet.
    anywhere
        Whether the file may stand outside the folder of the sheet.

    Raises
    ------
    SheetError
        If the named file cannot be read.
    """
    for table, where, name in _named(form):
        if isinstance(name, Unusable):
            form.faults.append(Fault(where, name.what, name.remedy))
            return b""
        if any(not column.blank for column in table.columns):
            remedy = "Keep the file or the columns."
            form.faults.append(Fault(where, "waveforms stand in the sheet as well", remedy))
            return b""
        return _add(form, table, _beside(path, name, where, anywhere=anywhere))
    return b""


def named_waveforms(form: Form, path: Path) -> Path | None:
    """Return the file of waveforms that a sheet names beside itself, None if it names none.

    Raises
    ------
    SheetError
        If it names it otherwise than by a plain file name, so that both could be kept side by side.
    """
    for _, where, name in _named(form):
        if isinstance(name, Unusable):
            return None  # reading the sheet says why
        plain_names = {PurePosixPath(name).name, PureWindowsPath(name).name}
        if plain_names != {name} or name in {"", ".", "..", path.name}:
            raise SheetError(
                f"{name[:60]!r} is not the plain name of a file beside the sheet",
                where=f"{path}: {where}",
                remedy="Put the file beside the sheet, and name it there without a folder.",
            )
        _beside(path, name, where, anywhere=False)
        named = path.resolve().parent / name
        return named if named.is_file() else None
    return None


def _named(form: Form) -> Iterator[tuple[Table, str, str | Unusable]]:
    """Yield each turn test that names a file, where it does, and the name."""
    for table in form.tables:
        for entry in table.fields if table.name == TABLE else []:
            if plain(entry.heading) == "waveforms" and not entry.blank:
                yield table, table.where(entry.heading), text_in(entry.cells[0].raw)


def _beside(path: Path, name: str, where: str, *, anywhere: bool) -> Path:
    """Return the path of the named file."""
    try:
        folder = path.resolve().parent
        named = (folder / name).resolve()
    except (OSError, ValueError, RuntimeError) as error:
        raise SheetError(f"{name[:60]!r} is no name of a file", where=f"{path}: {where}") from error
    if not anywhere and not named.is_relative_to(folder):
        raise SheetError(
            f"{name[:60]!r} lies outside the folder of the sheet",
            where=f"{path}: {where}",
            remedy="Copy the file beside the sheet, or allow waveforms from anywhere.",
        )
    return named


def _add(form: Form, table: Table, path: Path) -> bytes:
    """Read the file and put its columns into the table."""
    content = bytes_of(path)
    text = decode_text(content)[0]
    head = text.partition("\n")[0]
    separator = max(SEPARATORS, key=head.count)
    rows = [(0, [f"[{TABLE}]"]), *rows_in(text, separator, str(path))]
    found = Form()
    tables_of(Sheet(rows=rows, row_word="line", comma_separated=separator == ","), found)
    form.faults += [replace(fault, where=f"{path.name}, {fault.where}") for fault in found.faults]
    for other in found.tables:
        other.place = path.name
        if other.name != TABLE or other.fields:
            remedy = "It holds columns only: a row of headings with readings below."
            form.faults.append(Fault(path.name, "is no file of waveforms", remedy))
            return content
        table.columns = other.columns
        table.place, table.row_word = f"{table.place} ({path.name})", "line"
    return content
