"""What stands in one cell: numbers, dates, yes or no. Nothing is guessed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from cagewise.measurement.test_sheet import Place
from cagewise.readers.test_sheet.form import Cell, Raw, Unusable
from cagewise.readers.test_sheet.headings import quoted
from cagewise.readers.test_sheet.ranges import EARLIEST, LATEST
from cagewise.readers.test_sheet.sheet_schema import LONGEST_TEXT

LARGEST_EXPONENT = 300
SMALLEST_EXPONENT = -400
"""Figures beyond 1e300 are no readings, and overflow when scaled; below 1e-400 there is only 0."""
LONGEST_NUMBER = 60
"""Characters of a figure; longer ones are something else."""

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,4})?", re.ASCII)
LOOKS_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
"""``1,234``: a decimal figure, or one thousand and some."""
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[ '\u00a0\u202f.,]\d{3})+(?:[.,]\d+)?", re.ASCII)
_BEYOND = re.compile(
    r"[<>\u2264\u2265].*|o\.?l\.?|over(?:load|range)?|inf(?:inity|inite)?", re.IGNORECASE
)
_NO_READING = re.compile(r"n[./]?a\.?|none|nil|null|nan|open|-+|\?+|x+", re.IGNORECASE)
_FIGURE_AND_UNIT = re.compile(r"([+-]?[\d.,]+)\s*[^\d\s.,+-].*", re.DOTALL)
_NUMERIC_DATE = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", re.ASCII)
_BOUND_REMEDY = (
    "A reading beyond the range of the instrument is a bound and no number: clear the cell. If it "
    "is the only reading, write the end of the range there and say so in the remark."
)
_CLEAR_REMEDY = "Clear the cell if nothing was measured; write the plain number otherwise."


@dataclass(frozen=True, slots=True)
class DecimalSigns:
    """Which decimal signs a file uses where they can be nothing else."""

    comma: bool = False
    point: bool = False


def decimal_signs(cells: Iterable[Cell]) -> DecimalSigns:
    """Return which decimal signs the cells show beyond doubt."""
    comma = point = False
    for cell in cells:
        text = cell.raw
        if isinstance(text, str) and ("," in text or "." in text):
            text = text.strip()
            if _NUMBER.fullmatch(text) and not LOOKS_GROUPED.fullmatch(text):
                comma |= "," in text
                point |= "." in text
    return DecimalSigns(comma, point)


def number_in(raw: Raw, signs: DecimalSigns) -> Decimal | Unusable:
    """Return the figure in a cell that is not blank, or why it is none."""
    if isinstance(raw, Unusable):
        return raw
    if isinstance(raw, str):
        figure = _from_text(raw.strip().replace("\N{MINUS SIGN}", "-"), signs)
    elif isinstance(raw, bool) or not isinstance(raw, int | float | Decimal):
        return Unusable(
            f"holds {quoted(_words(raw))}, not a number",
            "A spreadsheet may have made it out of a number: type it again into a cell of numbers.",
        )
    else:
        figure = Decimal(repr(raw)) if isinstance(raw, float) else Decimal(raw)
    if isinstance(figure, Unusable):
        return figure
    if not figure.is_finite() or figure.adjusted() > LARGEST_EXPONENT:
        return Unusable(f"holds {quoted(str(raw))}, not a finite number", _CLEAR_REMEDY)
    return figure if figure.adjusted() >= SMALLEST_EXPONENT else Decimal(0)


def _words(raw: Raw) -> str:
    """Return a cell's content as people write it."""
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    return raw.isoformat() if isinstance(raw, date) else str(raw)


def _from_text(text: str, signs: DecimalSigns) -> Decimal | Unusable:
    """Return the figure that a text is, if it can be only one."""
    if len(text) <= LONGEST_NUMBER and _NUMBER.fullmatch(text):
        if LOOKS_GROUPED.fullmatch(text) and not _decimal_here(text, signs):
            whole, _, rest = text.replace(",", ".").partition(".")
            return Unusable(
                f'holds "{text}", which can be read in two ways',
                f"Write {whole}{rest} or {whole}.{rest}0.",
            )
        return Decimal(text.replace(",", "."))
    return Unusable(f"holds {quoted(text)}, not a number", _remedy(text))


def _decimal_here(text: str, signs: DecimalSigns) -> bool:
    """Return whether the one sign in a figure such as 1,234 must be a decimal sign."""
    if "," in text:
        return signs.comma and not signs.point
    return not signs.comma


def _remedy(text: str) -> str:
    """Return what to write in place of a text."""
    if _BEYOND.fullmatch(text):
        return _BOUND_REMEDY
    if _NO_READING.fullmatch(text):
        return "Clear the cell if nothing was measured."
    if _GROUPED.fullmatch(text):
        return "Write the digits without separators between thousands."
    unit = _FIGURE_AND_UNIT.fullmatch(text)
    if unit is not None:
        return f"Write {unit[1][:LONGEST_NUMBER]} alone; the unit is in the heading."
    return _CLEAR_REMEDY


def text_in(raw: Raw) -> str | Unusable:
    """Return the text in a cell that is not blank."""
    if isinstance(raw, Unusable):
        return raw
    if isinstance(raw, bool) or not isinstance(raw, str | int):
        return Unusable(f"holds {quoted(_words(raw))}, not a text", "Type it as text.")
    text = str(raw).strip()
    if len(text) > LONGEST_TEXT:
        return Unusable(f"is longer than {LONGEST_TEXT} characters", "Shorten it.")
    return text


def date_in(raw: Raw) -> date | Unusable:
    """Return the date in a cell that is not blank; written figures only if they fit one date."""
    if isinstance(raw, Unusable):
        return raw
    if isinstance(raw, datetime):
        day: date | Unusable = raw.date()
    elif isinstance(raw, date):
        day = raw
    else:
        day = _date_from_text(str(raw).strip())
    if isinstance(day, date) and not EARLIEST <= day <= LATEST:
        return Unusable(
            f"is {day.isoformat()}", f"It must lie from {EARLIEST.year} to {LATEST.year}."
        )
    return day


def _date_from_text(text: str) -> date | Unusable:
    """Return the date that a text is, if it can be only one."""
    remedy = "Write year-month-day, as in 2031-05-17."
    try:
        return date.fromisoformat(text)
    except ValueError:
        pass
    match = _NUMERIC_DATE.fullmatch(text)
    if match is None:
        return Unusable(f"holds {quoted(text)}, not a date", remedy)
    first, second, year = int(match[1]), int(match[3]), int(match[4])
    possible = sorted(
        {
            day
            for month, number in ((first, second), (second, first))
            if (day := _day(year, month, number)) is not None
        }
    )
    if not possible:
        return Unusable(f"holds {quoted(text)}, which is no day", remedy)
    if len(possible) > 1:
        choices = " or ".join(day.isoformat() for day in possible)
        return Unusable(f"holds {quoted(text)}: day first or month first?", f"Write {choices}.")
    return possible[0]


def _day(year: int, month: int, number: int) -> date | None:
    """Return a day, None where the calendar has none."""
    try:
        return date(year, month, number)
    except ValueError:
        return None


def yes_no_in(raw: Raw) -> bool | Unusable:
    """Return whether a cell that is not blank says yes."""
    if isinstance(raw, Unusable):
        return raw
    words = {"yes": True, "true": True, "no": False, "false": False}
    said = raw if isinstance(raw, bool) else words.get(str(raw).strip().casefold())
    return Unusable(f"holds {quoted(_words(raw))}", "Write yes or no.") if said is None else said


def place_in(raw: Raw) -> Place | Unusable:
    """Return where the instrument was connected."""
    if isinstance(raw, Unusable):
        return raw
    text = str(raw).strip().casefold()
    for place in Place:
        if text == place.value:
            return place
    choices = " or ".join(f'"{place.value}"' for place in Place)
    return Unusable(f"holds {quoted(_words(raw))}", f"Write {choices}.")
