"""An empty return sheet to a file."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from cagewise.errors import OutputError
from cagewise.measurement.repair_return import FORMAT, MARKER
from cagewise.readers.test_sheet.form import COMMENT
from cagewise.readers.test_sheet.sheet_xlsx import require_extra

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

BAR, PHOTOGRAPH = "bar", "photograph"
"""Names of rows that may stand several times."""
EMPTY_BARS, EMPTY_PHOTOGRAPHS = 12, 6
_MADE = datetime(2000, 1, 1)  # noqa: DTZ001 - a workbook keeps naive times; the form has no age
_WIDTHS = (30.0, 22.0, 22.0, 60.0)
_INPUT_FILL = "FFF7E8"
_CELLS = 2
"""Columns of a row that a question takes: its name and the answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedRow:
    """One question on the sheet; a heading where it has no key."""

    key: str
    text: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EmptyReturn:
    """An empty sheet in words of a language."""

    motor_tag: str
    case: int | None
    notes: tuple[str, ...]
    rows: tuple[AskedRow, ...]
    bars: str
    """Heading of the damaged bars."""
    photographs: str
    """Heading of the photographs."""


def write_return_form(empty: EmptyReturn, ending: str) -> bytes:
    """Return the file of an empty sheet.

    Parameters
    ----------
    empty
        What is asked.
    ending
        Says the form: .toml, .csv or .xlsx.

    Raises
    ------
    OutputError
        If there is no such form.
    MissingExtraError
        If a workbook is asked for and the optional library is not installed.
    """
    match ending.casefold():
        case ".toml":
            return "\n".join((*_toml(empty), "")).encode("utf-8")
        case ".csv":
            stream = io.StringIO(newline="")
            csv.writer(stream, delimiter=";", lineterminator="\n").writerows(_grid(empty))
            return stream.getvalue().encode("utf-8-sig")
        case ".xlsx":
            return _xlsx(empty)
        case _:
            raise OutputError(
                f"no form of a return sheet ends in {ending!r}",
                remedy="Use one of .toml, .csv, .xlsx.",
            )


def _grid(empty: EmptyReturn) -> Iterator[tuple[str, ...]]:
    """Yield the rows of the sheet in columns: name, answer, a second cell of bars, what it is."""
    yield MARKER, str(FORMAT)
    for note in empty.notes:
        yield (f"{COMMENT} {note}",)
    yield "motor", empty.motor_tag
    yield "case", "" if empty.case is None else str(empty.case)
    for row in empty.rows:
        if row.key:
            yield row.key, "", "", f"{COMMENT} {row.text}"
        else:
            yield ()
            yield (f"{COMMENT} {row.text}",)
    for title, name, count in (
        (empty.bars, BAR, EMPTY_BARS),
        (empty.photographs, PHOTOGRAPH, EMPTY_PHOTOGRAPHS),
    ):
        yield ()
        yield (f"{COMMENT} {title}",)
        for _ in range(count):
            yield (name, "")


def _toml(empty: EmptyReturn) -> Iterator[str]:
    """Yield the lines of the sheet as TOML."""
    yield "[repair_return]"
    for note in empty.notes:
        yield f"{COMMENT} {_one_line(note)}"
    yield f"format = {FORMAT}"
    yield f"motor = {_text(empty.motor_tag)}"
    yield f"case = {_text('') if empty.case is None else empty.case}"
    yield "photographs = []"
    yield ""
    yield "[answers]"
    for row in empty.rows:
        if row.key:
            yield f'{row.key} = ""  {COMMENT} {_one_line(row.text)}'
        else:
            yield ""
            yield f"{COMMENT} {_one_line(row.text)}"
    yield ""
    yield f"{COMMENT} {_one_line(empty.bars)}"
    yield "[[bars]]"
    yield 'bar = ""'
    yield 'damage = ""'
    yield 'place = ""'


def _text(value: str) -> str:
    """Return a TOML basic string; TOML escapes what JSON does, and DEL besides."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _one_line(text: str) -> str:
    """Return a text that cannot leave its comment."""
    return "".join(c if c.isprintable() else " " for c in text)


def _xlsx(empty: EmptyReturn) -> bytes:
    """Return the sheet as a workbook; nothing in it is locked."""
    require_extra("return sheet")
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    workbook = Workbook()
    properties = workbook.properties
    properties.creator, properties.created, properties.modified = "cagewise", _MADE, _MADE
    sheet = workbook.worksheets[0]
    sheet.title = "Return sheet"
    thin = Side(style="thin", color="B0B0B0")
    frame = Border(left=thin, right=thin, top=thin, bottom=thin)
    fill = PatternFill("solid", fgColor=_INPUT_FILL)
    for letter, width in zip("ABCD", _WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    for number, cells in enumerate(_grid(empty), start=1):
        for column, value in enumerate(cells, start=1):
            cell = sheet.cell(number, column, value)
            cell.data_type = "s"
            cell.alignment = Alignment(wrap_text=column == len(_WIDTHS), vertical="top")
        heading = len(cells) == 1
        if heading:
            sheet.cell(number, 1).font = Font(bold=True)
        elif len(cells) >= _CELLS:
            for column in (2, 3, 4) if cells[0] == BAR else (2,):
                sheet.cell(number, column).fill = fill
                sheet.cell(number, column).border = frame
    _offer_choices(sheet, empty.rows)
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def _offer_choices(sheet: Worksheet, rows: Sequence[AskedRow]) -> None:
    """Offer the words that a cell may hold, where there are some."""
    from openpyxl.worksheet.datavalidation import DataValidation

    choices = {row.key: row.choices for row in rows if row.choices}
    for number in range(1, sheet.max_row + 1):
        offered = choices.get(str(sheet.cell(number, 1).value))
        if offered:
            rule = DataValidation(type="list", formula1=f'"{",".join(offered)}"')
            sheet.add_data_validation(rule)
            rule.add(sheet.cell(number, 2))
