"""A test sheet, or an empty one to fill in, to a file."""

from __future__ import annotations

import os
from pathlib import Path

from cagewise.errors import OutputError
from cagewise.measurement.test_sheet import TestSheet
from cagewise.readers.test_sheet.files import write_bytes
from cagewise.readers.test_sheet.form import Form
from cagewise.readers.test_sheet.sheet_csv import csv_from_form
from cagewise.readers.test_sheet.sheet_form import form_of
from cagewise.readers.test_sheet.sheet_reader import ENDINGS
from cagewise.readers.test_sheet.sheet_toml import toml_from_form


def write_test_sheet(
    sheet: TestSheet,
    path: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    decimal_comma: bool = False,
) -> None:
    """Write a sheet; reading it returns an equal one, apart from its provenance.

    Parameters
    ----------
    sheet
        What was measured.
    path
        The ending says the form: .toml, .csv or .xlsx.
    overwrite
        Whether an existing file may be replaced.
    decimal_comma
        Whether a CSV file has decimal commas.

    Raises
    ------
    SheetError
        If a text in the sheet cannot be written in all forms.
    OutputError
        If the file exists and may not be replaced, or cannot be written.
    MissingExtraError
        If a workbook is asked for and the optional library is not installed.
    """
    write_form(form_of(sheet), path, overwrite=overwrite, decimal_comma=decimal_comma)


def write_form(
    form: Form,
    path: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    decimal_comma: bool = False,
) -> None:
    """Write a form, such as a template; parameters as of :func:`write_test_sheet`.

    Raises
    ------
    OutputError, MissingExtraError
        As :func:`write_test_sheet`.
    """
    path = Path(path)
    content = _content(form, path, decimal_comma=decimal_comma)
    write_bytes(path, content, overwrite=overwrite)


def _content(form: Form, path: Path, *, decimal_comma: bool) -> bytes:
    """Return a form as the file that the ending asks for."""
    ending = path.suffix.casefold()
    if ending == ".toml":
        return toml_from_form(form)
    if ending == ".csv":
        return csv_from_form(form, decimal_comma=decimal_comma)
    if ending == ".xlsx":
        from cagewise.readers.test_sheet.sheet_xlsx_writer import xlsx_from_form

        return xlsx_from_form(form, str(path))
    raise OutputError(
        f"no form of a test sheet ends in {ending!r}",
        where=str(path),
        remedy=f"Use one of {', '.join(ENDINGS)}.",
    )
