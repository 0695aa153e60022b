"""Dates, times and offsets from UTC as COMTRADE writes them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

_STAMP = re.compile(
    r"\s*(\d{1,4})\s*/\s*(\d{1,2})\s*/\s*(\d{1,4})\s*,"
    r"\s*(\d{1,2})\s*:\s*(\d{1,2})\s*:\s*(\d{1,2})(?:\s*\.\s*(\d*))?\s*"
)
_OFFSET = re.compile(r"([+-]?)(\d{1,2})(?:h(\d{1,2}))?")

_CENTURY_TURNS = 70
"""Two-digit years from here on belong to the 20th century."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """A date and time of the configuration."""

    time: datetime | None
    """None if the text is no date and time. Digits beyond microseconds are dropped."""
    nanoseconds: bool = False
    """Whether it was given to nanoseconds, in which case the stamps of samples are, too."""
    swapped: bool = False
    """Whether day and month stood in the other order than the revision asks for."""


def parse_stamp(text: str, *, month_first: bool) -> Stamp:
    """Return the date and time of a line such as ``12/01/2011,05:55:30.075011``."""
    match = _STAMP.fullmatch(text)
    if match is None:
        return Stamp(time=None)
    first, second, year, hour, minute, whole = (int(group) for group in match.groups()[:6])
    fraction = match[7] or ""
    if year < 100:
        year += 1900 if year >= _CENTURY_TURNS else 2000
    clock = (hour, minute, whole, int(fraction[:6].ljust(6, "0")))
    orders = [(first, second), (second, first)]  # (month, day) as in 1991, then (day, month)
    for swapped, (month, day) in enumerate(orders if month_first else orders[::-1]):
        try:
            time = datetime(year, month, day, *clock)  # noqa: DTZ001 - the file names no zone here
        except ValueError:
            continue
        return Stamp(time=time, nanoseconds=len(fraction) > 6, swapped=bool(swapped))
    return Stamp(time=None, nanoseconds=len(fraction) > 6)


def parse_offset(text: str) -> timezone | None:
    """Return the offset from UTC of a time code such as ``-5h30``, or None if there is none."""
    match = _OFFSET.fullmatch(text.strip().casefold())
    if match is None:
        return None
    minutes = int(match[2]) * 60 + int(match[3] or 0)
    if minutes >= 24 * 60:
        return None
    return timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes))
