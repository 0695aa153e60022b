"""A file to a test sheet; its content is checked cell by cell, and nothing is guessed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Mapping
from pathlib import Path

from cagewise.errors import SheetError
from cagewise.measurement.recording import Provenance
from cagewise.measurement.test_sheet import TestSheet
from cagewise.readers.files import HEAD_BYTES
from cagewise.readers.test_sheet.build import SheetReading, sheet_of
from cagewise.readers.test_sheet.files import bytes_of
from cagewise.readers.test_sheet.form import Form
from cagewise.readers.test_sheet.sheet_csv import form_from_csv, is_csv_sheet
from cagewise.readers.test_sheet.sheet_toml import form_from_toml, is_toml_sheet
from cagewise.readers.test_sheet.waveforms import add_waveforms, named_waveforms

ZIP_MARK = b"PK\x03\x04"
"""First bytes of a workbook, which is a ZIP archive."""
CSV_ENDINGS = (".csv", ".txt", ".tsv")
ENDINGS = (".toml", ".csv", ".xlsx")
"""Endings of the three forms, as they are written."""


SHEET_ENDINGS = frozenset({*ENDINGS, *CSV_ENDINGS})
"""Endings of files that :func:`is_test_sheet` may take for one."""


def is_test_sheet(path: str | os.PathLike[str]) -> bool:
    """Return whether a file is meant to be a test sheet, by its ending and first bytes.

    False, never an exception, for what cannot be opened.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
    except (OSError, ValueError):
        return False
    ending = path.suffix.casefold()
    if ending == ".toml":
        return is_toml_sheet(head)
    if ending == ".xlsx":
        return head.startswith(ZIP_MARK)
    return ending in CSV_ENDINGS and is_csv_sheet(head)


def read_test_sheet(path: str | os.PathLike[str], *, waveforms_anywhere: bool = False) -> TestSheet:
    """Return the test sheet in a file (docs/test-sheet.md).

    Parameters
    ----------
    path
        TOML, CSV or a workbook (.xlsx).
    waveforms_anywhere
        Whether the file of waveforms that a sheet names may stand outside its folder.

    Raises
    ------
    SheetError
        If anything in it cannot be used; all faults of the file are in one message.
    MissingExtraError
        If it is a workbook and the optional library for workbooks is not installed.
    """
    return understand(path, waveforms_anywhere=waveforms_anywhere).sheet


def understand(path: str | os.PathLike[str], *, waveforms_anywhere: bool = False) -> SheetReading:
    """Return the test sheet in a file, and how each heading was understood.

    Raises
    ------
    SheetError, MissingExtraError
        As :func:`read_test_sheet`.
    """
    path = Path(path)
    content = bytes_of(path)
    name, read = _form_reader(path, content)
    form = read(content, str(path))
    beside = add_waveforms(form, path, anywhere=waveforms_anywhere)
    provenance = Provenance(
        source=path.name,
        format_name=f"test sheet ({name})",
        sha256=hashlib.sha256(content + beside).hexdigest(),
    )
    return sheet_of(form, provenance, where=str(path))


def waveforms_beside(path: Path) -> Path | None:
    """Return the file of waveforms that a sheet names beside itself, None if it names none.

    Raises
    ------
    SheetError, MissingExtraError
        If the sheet cannot be read, or names the file by more than a plain name.
    """
    content = bytes_of(path)
    _, read = _form_reader(path, content)
    return named_waveforms(read(content, str(path)), path)


_Reader = Callable[[bytes, str], Form]


def _form_reader(path: Path, content: bytes) -> tuple[str, _Reader]:
    """Return what reads a file: by its first bytes where they are certain, else by its ending."""
    from cagewise.readers.test_sheet.sheet_xlsx import form_from_xlsx

    if content.startswith(ZIP_MARK):
        return "xlsx", form_from_xlsx
    readers: Mapping[str, tuple[str, _Reader]] = {
        ".toml": ("toml", form_from_toml),
        ".xlsx": ("xlsx", form_from_xlsx),
        **dict.fromkeys(CSV_ENDINGS, ("csv", form_from_csv)),
    }
    ending = path.suffix.casefold()
    if ending in readers:
        return readers[ending]
    if is_csv_sheet(content[:HEAD_BYTES]):
        return "csv", form_from_csv
    raise SheetError(
        "this is not a test sheet in a known form",
        where=str(path),
        remedy=f"Give it one of the endings {', '.join(ENDINGS)}.",
    )
