"""Fields of a form whose names are not known beforehand."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import Depends, Request

from cagewise.errors import InputError


async def _fields(request: Request) -> dict[str, str]:
    """Return the text fields of a form by name; of several of one name the last."""
    sent = await request.form()
    return {name: value for name, value in sent.multi_items() if isinstance(value, str)}


Fields = Annotated[dict[str, str], Depends(_fields)]
"""Parameter of a route that takes a form: all of its fields."""


def day_in(text: str, where: str) -> date | None:
    """Return the day in a field; None if it is blank.

    Raises
    ------
    InputError
        If it is no day.
    """
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            "this is not a day", where=where, remedy="Write it as in 2031-05-17."
        ) from None
