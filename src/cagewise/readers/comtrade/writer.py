"""Recording to COMTRADE: a .cfg and .dat pair, or a combined .cff file."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Channel, Recording
from cagewise.readers.comtrade.config import DATA_TYPES
from cagewise.readers.comtrade.data import STORED

_LARGEST = {"ASCII": 99998, "BINARY": 32767, "BINARY32": 2**31 - 1}
"""Largest whole number that each data type can store; one beyond means "missing"."""

_TYPE_LIMITS = {
    "ASCII": (-99999.0, 99998.0),
    "BINARY": (-32767.0, 32767.0),
    "BINARY32": (-(2.0**31) + 1.0, 2.0**31 - 1.0),
    "FLOAT32": (-3.4028235e38, 3.4028235e38),
}
"""Limits to state where the instrument's are not known: the field must not be empty."""

_LARGEST_STAMP = 2**32 - 2
_MICROSECONDS = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stored:
    """One channel as it will be stored: engineering value = a x value + b."""

    channel: Channel
    values: NDArray[Any]
    a: float
    b: float
    exact: bool
    """Whether the values are the channel's own and not made to fit."""


def write(recording: Recording, path: Path) -> None:
    """Write revision 2013 in the data type that keeps the samples: whole numbers, else floats."""
    kinds = {channel.raw.dtype for channel in recording.channels}
    if all(kind.kind in "iu" for kind in kinds):
        small = all(np.can_cast(kind, np.int16) for kind in kinds)
        write_comtrade(recording, path, data_type="BINARY" if small else "BINARY32")
    else:
        write_comtrade(recording, path, data_type="FLOAT32")


def write_comtrade(
    recording: Recording, path: Path, *, data_type: str, revision: int = 2013
) -> None:
    """Write a recording as ``path`` (.cfg, with a .dat beside it) or as one file (.cff).

    Samples that a data type cannot hold as they are (fractions in BINARY, anything beyond its
    range) are scaled to its full range, with a and b adjusted.

    Parameters
    ----------
    data_type
        ``ASCII``, ``BINARY``, ``BINARY32`` or ``FLOAT32``.
    revision
        1991, 1999 or 2013; ``BINARY32``, ``FLOAT32`` and .cff belong to 2013.

    Raises
    ------
    RecordingError
        If the data type does not exist in that revision, or there is no channel.
    """
    combined = path.suffix.casefold() == ".cff"
    modern = data_type in ("BINARY32", "FLOAT32") or combined
    if data_type not in DATA_TYPES or revision not in (1991, 1999, 2013) or not recording.channels:
        raise RecordingError("it cannot be written as COMTRADE", where=str(path))
    if modern and revision != 2013:
        raise RecordingError(
            f"{data_type} and combined files do not exist in revision {revision}",
            where=str(path),
            remedy="Write revision 2013.",
        )
    stored = [_stored(c, data_type, revision) for c in recording.channels]
    config = _config_text(recording, stored, data_type, revision)
    data = _data_bytes(recording, stored, data_type, revision)
    if combined:
        path.write_bytes(_combined_head(config, data_type, len(data)) + data)
        return
    path.write_bytes(config.encode())
    path.with_suffix(".DAT" if path.suffix.isupper() else ".dat").write_bytes(data)


def _combined_head(config: str, data_type: str, length: int) -> bytes:
    """Return everything that stands before the data in a combined file."""
    size = "" if data_type == "ASCII" else f": {length}"
    text = f"--- file type: CFG ---\r\n{config}--- file type: INF ---\r\n\r\n"
    text += f"--- file type: HDR ---\r\n\r\n--- file type: DAT {data_type}{size} ---\r\n"
    return text.encode()


def _stored(channel: Channel, data_type: str, revision: int) -> _Stored:
    """Return the channel in a form the data type can hold."""
    raw = channel.raw
    if data_type == "FLOAT32" or (data_type == "ASCII" and revision == 2013):
        return _Stored(channel=channel, values=raw, a=channel.scale, b=channel.offset, exact=True)
    largest = _LARGEST[data_type]
    finite = raw[np.isfinite(raw)]
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (0.0, 0.0)
    if raw.dtype.kind in "iu" and -largest <= low and high <= largest:
        return _Stored(channel=channel, values=raw, a=channel.scale, b=channel.offset, exact=True)
    middle, step = 0.5 * (low + high), max(high - low, 1e-300) / (2.0 * largest)
    values = np.rint((raw.astype(np.float64) - middle) / step)
    return _Stored(
        channel=channel,
        values=values,
        a=channel.scale * step,
        b=channel.offset + channel.scale * middle,
        exact=False,
    )


def _config_text(recording: Recording, stored: list[_Stored], data_type: str, revision: int) -> str:
    """Return the configuration."""
    station = "" if revision == 1991 else f",{revision}"
    uniform = recording.sample_times_s is None
    rate = repr(float(recording.sampling_rate_hz)) if uniform else "0"
    moment = _moment(recording.start_time, month_first=revision == 1991)
    lines = [
        f"cagewise,1{station}",
        f"{len(stored)},{len(stored)}A,0D",
        *(_channel_line(k, s, data_type, revision) for k, s in enumerate(stored, start=1)),
        f"{recording.nominal_frequency_hz or 0:g}",
        "1" if uniform else "0",
        f"{rate},{recording.n_samples}",
        moment,
        moment,
        data_type,
    ]
    if revision >= 1999:
        lines.append(f"{_stamp_unit_us(recording)}")
    if revision == 2013:
        lines += [f"{_zone(recording.start_time)},{_zone(recording.start_time)}", "0,0"]
    return "\r\n".join(lines) + "\r\n"


def _channel_line(number: int, stored: _Stored, data_type: str, revision: int) -> str:
    """Return the line of one analogue channel."""
    channel = stored.channel
    low, high = (channel.range_low, channel.range_high) if stored.exact else (None, None)
    if low is None or high is None:
        low, high = _TYPE_LIMITS[data_type]
    limits = [f"{limit:.17g}" for limit in (low, high)]
    name = channel.name.replace(",", " ")
    fields = [f"{number}", name, "", "", channel.unit.replace(",", " ")]
    fields += [repr(float(stored.a)), repr(float(stored.b)), "0", *limits]
    return ",".join(fields + (["1", "1", "P"] if revision >= 1999 else []))


def _data_bytes(
    recording: Recording, stored: list[_Stored], data_type: str, revision: int
) -> bytes:
    """Return the data."""
    n = recording.n_samples
    times = recording.sample_times_s
    elapsed = np.arange(n) / recording.sampling_rate_hz if times is None else times
    stamps = np.rint(elapsed * _MICROSECONDS / _stamp_unit_us(recording))
    stamps = np.where(np.isfinite(stamps) & (stamps >= 0.0), stamps, 0.0).astype(np.uint32)
    if data_type == "ASCII":
        return _ascii(stamps, stored, revision)
    kind = np.dtype(STORED[data_type])
    row = np.dtype([("number", "<u4"), ("stamp", "<u4"), ("analog", kind, (len(stored),))])
    rows = np.empty(n, dtype=row)
    rows["number"] = np.arange(1, n + 1)
    rows["stamp"] = stamps
    for k, item in enumerate(stored):
        values = item.values
        if kind.kind == "i" and values.dtype.kind == "f":
            values = np.where(np.isnan(values), float(np.iinfo(kind).min), values)
        rows["analog"][:, k] = values
    return rows.tobytes()


def _ascii(stamps: NDArray[np.uint32], stored: list[_Stored], revision: int) -> bytes:
    """Return the data as text; missing values are blank in 2013 and nines before."""
    missing = "" if revision == 2013 else "99999"
    text = io.StringIO()
    columns = [item.values.tolist() for item in stored]
    for number, (stamp, *values) in enumerate(zip(stamps.tolist(), *columns, strict=True), start=1):
        cells = [missing if v != v else _plain(v, revision) for v in values]  # noqa: PLR0124 - NaN is the one value unequal to itself
        text.write(f"{number},{stamp},{','.join(cells)}\r\n")
    return text.getvalue().encode("ascii")


def _plain(value: float, revision: int) -> str:
    """Return a number with all its digits; before 2013 it is a whole one."""
    return repr(float(value)) if revision == 2013 else f"{value:.0f}"


def _stamp_unit_us(recording: Recording) -> int:
    """Return the unit of the time stamps in microseconds, so that the last one fits 32 bits."""
    times = recording.sample_times_s
    last_s = recording.duration_s if times is None else float(np.nanmax(times))
    return max(1, math.ceil(last_s * _MICROSECONDS / _LARGEST_STAMP))


def _moment(time: datetime | None, *, month_first: bool) -> str:
    """Return date and time, blank when not known."""
    if time is None:
        return ","
    return time.strftime("%m/%d/%y,%H:%M:%S.%f" if month_first else "%d/%m/%Y,%H:%M:%S.%f")


def _zone(time: datetime | None) -> str:
    """Return the offset from UTC as a time code, "x" when not known."""
    offset = None if time is None else time.utcoffset()
    if offset is None:
        return "x"
    minutes = round(offset.total_seconds() / 60.0)
    sign = "-" if minutes < 0 else ""
    hours, rest = divmod(abs(minutes), 60)
    return f"{sign}{hours}h{rest:02d}" if rest else f"{sign}{hours}"
