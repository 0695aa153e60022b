"""The configuration of a COMTRADE recording: what stands in the .cfg file, line by line."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import datetime

from cagewise.errors import RecordingError
from cagewise.readers.comtrade.clock import parse_offset, parse_stamp
from cagewise.readers.text import decode_text

DATA_TYPES = ("ASCII", "BINARY", "BINARY32", "FLOAT32")

_LARGEST_LIMIT = 2.0**31 - 2.0
"""Declared limits beyond this are the limits of 32-bit numbers and not of the instrument."""

_COUNTS = re.compile(r"\s*(\d{1,9})\s*,\s*(\d{1,9})\s*[aA]\s*,\s*(\d{1,9})\s*[dD]\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Analog:
    """One analogue channel; engineering value = ``a`` x stored value + ``b``."""

    name: str
    unit: str
    a: float
    b: float
    skew_us: float
    """Delay of this channel's samples against the stated sample time, in microseconds."""
    low: float | None
    """Lowest stored value the instrument can deliver, or None when not stated."""
    high: float | None
    ratio: float
    """Primary over secondary value of the instrument transformer, 1.0 when not stated."""
    secondary: bool
    """Whether the scaled values are secondary ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A part of the recording with one sampling rate; 0 means that the time stamps rule."""

    rate_hz: float
    last_sample: int
    """Number of the last sample of the segment, from 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Configuration:
    """What the .cfg file says."""

    revision: int
    """1991, 1999 or 2013."""
    analogs: tuple[Analog, ...]
    n_status: int
    line_frequency_hz: float | None
    segments: tuple[Segment, ...]
    start_time: datetime | None
    data_type: str
    stamp_unit_s: float
    """Seconds per unit of the time stamps of the samples."""
    notes: tuple[str, ...]

    @property
    def n_samples(self) -> int:
        """Number of samples that the configuration states."""
        return self.segments[-1].last_sample


class _Cursor:
    """Lines of the configuration, taken one after the other."""

    def __init__(self, text: str, where: str) -> None:
        self.lines = re.split(r"\r\n|\n|\r", text.replace("\x1a", "").rstrip())
        self.where = where
        self.number = 0

    def take(self, what: str) -> list[str]:
        """Return the fields of the next line."""
        if self.number >= len(self.lines):
            raise self.error(
                f"it ends before {what}", remedy="The file is cut short; copy it again."
            )
        line = self.lines[self.number]
        self.number += 1
        return [field.strip() for field in line.split(",")]

    def more(self) -> bool:
        """Return whether a line with content follows."""
        return any(line.strip() for line in self.lines[self.number :])

    def float_of(self, text: str, what: str, default: float | None = None) -> float:
        """Return a field as a finite number; blank fields have a default if one is given."""
        if not text and default is not None:
            return default
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise self.error(f"{what} must be a number, got {text!r}")
        return value

    def int_of(self, text: str, what: str) -> int:
        """Return a field as a whole number that is not negative."""
        value = self.float_of(text, what)
        if value < 0.0 or value != int(value):
            raise self.error(f"{what} must be a whole number, got {text!r}")
        return int(value)

    def error(self, what: str, remedy: str = "") -> RecordingError:
        """Return an error at the line that was taken last."""
        place = f"{self.where}, line {max(self.number, 1)}"
        hint = remedy or "Copy the configuration again from the instrument."
        return RecordingError(what, where=place, remedy=hint)


def parse_configuration(data: bytes, where: str) -> Configuration:
    """Return the configuration from the bytes of a .cfg file or section.

    Raises
    ------
    RecordingError
        If a line is missing or does not hold what it must; the message names the line.
    """
    text, encoding = decode_text(data.removeprefix(b"\xef\xbb\xbf").lstrip(b"\r\n"))
    notes = [] if encoding == "utf-8" else [f"channel names are not UTF-8, read as {encoding}"]
    cursor = _Cursor(text, where)
    revision = _revision(cursor.take("the station line"), notes)
    n_analog, n_status = _counts(cursor, notes)
    analogs = tuple(_analog(cursor, number, revision) for number in range(1, n_analog + 1))
    for number in range(1, n_status + 1):
        cursor.take(f"status channel {number} of {n_status}")
    frequency = cursor.float_of(cursor.take("the line frequency")[0], "the line frequency", 0.0)
    segments = _segments(cursor, notes)
    start_time, nanoseconds = _times(cursor, revision, notes)
    data_type = _data_type(cursor)
    factor = cursor.float_of(cursor.take("")[0], "the time factor", 1.0) if cursor.more() else 1.0
    if cursor.more() and start_time is not None:
        offset = parse_offset(cursor.take("the time code")[0])
        start_time = start_time if offset is None else start_time.replace(tzinfo=offset)
    return Configuration(
        revision=revision,
        analogs=analogs,
        n_status=n_status,
        line_frequency_hz=frequency if frequency > 0.0 else None,
        segments=segments,
        start_time=start_time,
        data_type=data_type,
        stamp_unit_s=(1e-9 if nanoseconds else 1e-6) * (factor if factor > 0.0 else 1.0),
        notes=tuple(notes),
    )


def _revision(fields: list[str], notes: list[str]) -> int:
    """Return the revision; the 1991 standard had no field for it."""
    if len(fields) < 3 or not re.fullmatch(r"\d{4}", fields[-1]):
        return 1991
    year = int(fields[-1])
    if year not in (1991, 1999, 2013):
        notes.append(f"revision {year} does not exist; read as {2013 if year > 2013 else 1999}")
    if year <= 1991:
        return 1991
    return 2013 if year >= 2013 else 1999


def _counts(cursor: _Cursor, notes: list[str]) -> tuple[int, int]:
    """Return the numbers of analogue and status channels."""
    fields = cursor.take("the channel counts")
    match = _COUNTS.fullmatch(",".join(fields[:3]))
    if match is None:
        raise cursor.error(f"channel counts like 8,4A,4D expected, got {','.join(fields)[:60]!r}")
    total, n_analog, n_status = (int(group) for group in match.groups())
    if total != n_analog + n_status:
        notes.append(f"states {total} channels in all, but {n_analog} + {n_status}")
    if n_analog == 0:
        raise cursor.error("there is no analogue channel", remedy="Record currents and voltages.")
    return n_analog, n_status


def _analog(cursor: _Cursor, number: int, revision: int) -> Analog:
    """Return one analogue channel."""
    fields = cursor.take(f"analogue channel {number}")
    if len(fields) < 7:
        raise cursor.error(f"analogue channel {number} needs at least 7 fields, got {len(fields)}")
    fields += [""] * (13 - len(fields))
    what = f"of analogue channel {number}"
    a = cursor.float_of(fields[5], f"the factor a {what}", 1.0)
    primary = cursor.float_of(fields[10], f"the primary value {what}", 1.0)
    secondary = cursor.float_of(fields[11], f"the secondary value {what}", 1.0)
    low, high = _limits(fields[8], fields[9])
    if a == 0.0:
        raise cursor.error(f"the factor a {what} is zero: the channel has no scale")
    return Analog(
        name=fields[1] or f"analog {number}",
        unit=fields[4],
        a=a,
        b=cursor.float_of(fields[6], f"the offset b {what}", 0.0),
        skew_us=cursor.float_of(fields[7], f"the skew {what}", 0.0),
        low=low,
        high=high,
        ratio=primary / secondary if primary > 0.0 and secondary > 0.0 else 1.0,
        secondary=revision > 1991 and fields[12].upper() == "S",
    )


def _limits(low_text: str, high_text: str) -> tuple[float | None, float | None]:
    """Return the limits of stored values, or None for both when they are not sensible."""
    try:
        low, high = float(low_text), float(high_text)
    except ValueError:
        return None, None
    if not (low < high and max(abs(low), abs(high)) < _LARGEST_LIMIT):
        return None, None
    return low, high


def _segments(cursor: _Cursor, notes: list[str]) -> tuple[Segment, ...]:
    """Return the sampling rates; a count of zero is followed by one line all the same."""
    n_rates = cursor.int_of(cursor.take("the number of sampling rates")[0], "the number of rates")
    segments: list[Segment] = []
    for number in range(1, max(n_rates, 1) + 1):
        fields = [*cursor.take(f"sampling rate {number}"), ""]
        rate = cursor.float_of(fields[0], f"sampling rate {number}", 0.0)
        last = cursor.int_of(fields[1], f"the last sample of rate {number}")
        if rate < 0.0:
            raise cursor.error(f"sampling rate {number} is negative ({rate:g} Hz)")
        if segments and last < segments[-1].last_sample:
            raise cursor.error("the last samples of the sampling rates do not increase")
        if segments and last == segments[-1].last_sample:
            notes.append(f"sampling rate {number} covers no sample")
            continue
        segments.append(Segment(rate_hz=0.0 if n_rates == 0 else rate, last_sample=last))
    return tuple(segments)


def _times(cursor: _Cursor, revision: int, notes: list[str]) -> tuple[datetime | None, bool]:
    """Return the time of the first sample and whether stamps count nanoseconds."""
    first = parse_stamp(",".join(cursor.take("the start time")), month_first=revision == 1991)
    trigger = parse_stamp(",".join(cursor.take("the trigger time")), month_first=revision == 1991)
    if first.swapped:
        notes.append("day and month of the start time were exchanged to make a date")
    if first.time is None:
        notes.append("the start time cannot be read")
    return first.time, first.nanoseconds or trigger.nanoseconds


def _data_type(cursor: _Cursor) -> str:
    """Return the data type."""
    text = cursor.take("the data type")[0]
    if text.upper() not in DATA_TYPES:
        raise cursor.error(
            f"the data type must be one of {', '.join(DATA_TYPES)}, got {text[:30]!r}"
        )
    return text.upper()
