"""What people type into forms, as values."""

from __future__ import annotations

import math
from datetime import date
from typing import Annotated

from fastapi import Form
from pydantic import AfterValidator, Field

from cagewise.errors import InputError

SHORT = 300
"""Characters of a name or a title."""
LONG = 20_000
"""Characters of a text."""

FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 12, 31)
"""Days outside are slips of the keyboard."""


def _without_nul(text: str) -> str:
    """Refuse a character that a database may refuse."""
    if "\0" in text:
        raise ValueError("a text has no NUL character")
    return text


Words = Annotated[str, AfterValidator(_without_nul)]
"""A text that every database takes."""
PlantDay = Annotated[date, Field(ge=FIRST_DAY, le=LAST_DAY)]
"""A day in an interface."""

Day = Annotated[str, Form(max_length=SHORT)]
"""A day as a form sends it: empty, or ISO 8601."""


def said_day(text: str, where: str) -> date | None:
    """Return a day; None where nothing was said.

    Raises
    ------
    InputError
        If it is none.
    """
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(
            "this is no day", where=where, remedy="Write it as in 2031-05-17."
        ) from error
    if not FIRST_DAY <= day <= LAST_DAY:
        raise InputError(f"{day} is a slip", where=where, remedy="Look at the year.")
    return day


def said_number(text: str, where: str) -> float | None:
    """Return a number; None where nothing was said.

    Raises
    ------
    InputError
        If it is none.
    """
    if not text.strip():
        return None
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError("this is no number", where=where, remedy="Write it as in 12.5.")
    return value


def said_count(text: str, where: str) -> int | None:
    """Return a whole number, zero or more; None where nothing was said.

    Raises
    ------
    InputError
        If it is none.
    """
    if not text.strip():
        return None
    if not (text.strip().isascii() and text.strip().isdecimal()) or len(text.strip()) > 6:
        raise InputError("this is no count", where=where, remedy="Write it as in 3.")
    return int(text)
