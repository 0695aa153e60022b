"""TDMS file to recording."""

from __future__ import annotations

import logging
import math
import struct
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import MissingExtraError, RecordingError
from cagewise.measurement import Provenance, Recording
from cagewise.readers.files import translated
from cagewise.readers.format import SHORT_REMEDY, ReadOptions
from cagewise.readers.vectors import Content, Vector, assemble

if TYPE_CHECKING:
    from nptdms import TdmsChannel, TdmsFile

_LEAD_IN_BYTES = 28
"""Bytes at the head of every segment: mark, flags, version, length, length of the description."""

_BIG_ENDIAN = 1 << 6
"""Flag of segments with the most significant byte first; the flags themselves never are."""

_UNSET_YEAR = 1904
"""The format's time begins with this year; a start within it was never set."""


def read(path: Path, options: ReadOptions) -> Recording:
    """Read a TDMS file: the largest set of equally long channels is the recording.

    Raises
    ------
    MissingExtraError
        If the package nptdms is not installed.
    """
    try:
        from nptdms import TdmsFile
    except ImportError as error:
        raise MissingExtraError(
            "TDMS files need an optional part of the installation",
            where=str(path),
            remedy="Install it: pip install 'cagewise[tdms]'.",
        ) from error
    problem = _segment_problem(path)
    if problem and not options.accept_length_mismatch:
        raise RecordingError(
            problem,
            where=str(path),
            remedy=f"Copy it again from the instrument, or {SHORT_REMEDY}",
        )
    with (
        _remarks() as remarks,
        translated(path, "the TDMS file cannot be read"),
        path.open("rb") as stream,
    ):
        content, starts = _content_of(TdmsFile.open(stream), path)
        parts = assemble(content, options, path)
    notes = (*([problem] if problem else []), *dict.fromkeys(remarks), *parts.notes)
    return Recording(
        channels=parts.channels,
        sampling_rate_hz=parts.timing.sampling_rate_hz,
        sample_times_s=parts.timing.sample_times_s,
        start_time=min(starts, default=None),
        provenance=Provenance(source=path.name, format_name="tdms", notes=notes),
    )


def _segment_problem(path: Path) -> str:
    """Return what is wrong with the lengths that the segments state, or an empty string."""
    with translated(path, "the TDMS file cannot be read"), path.open("rb") as stream:
        size = stream.seek(0, 2)
        position = 0
        while position < size:
            stream.seek(position)
            head = stream.read(_LEAD_IN_BYTES)
            if len(head) < _LEAD_IN_BYTES or head[:4] != b"TDSm":
                return "it is cut short, or damaged between two segments"
            order = ">" if head[4] & _BIG_ENDIAN else "<"
            (length,) = struct.unpack(f"{order}Q", head[12:20])
            position += _LEAD_IN_BYTES + length
        return "" if position == size else "its last segment was not written to the end"


class _Collector(logging.Handler):
    """Keeps what a library would print."""

    def __init__(self) -> None:
        super().__init__()
        self.messages: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one message."""
        self.messages.append(f"nptdms: {record.getMessage()[:120]}")


@contextmanager
def _remarks() -> Iterator[list[str]]:
    """Collect what nptdms has to say instead of letting it print."""
    from nptdms.log import log_manager

    collector = _Collector()
    loggers = list(log_manager.loggers.values())
    for logger in loggers:
        logger.removeHandler(log_manager.console_handler)
        logger.addHandler(collector)
    try:
        yield collector.messages
    finally:
        for logger in loggers:
            logger.removeHandler(collector)
            logger.addHandler(log_manager.console_handler)


def _content_of(file: TdmsFile, path: Path) -> tuple[Content, list[datetime]]:
    """Return the numeric channels and their start times."""
    vectors: list[Vector] = []
    starts: list[datetime] = []
    skipped: list[str] = []
    size = path.stat().st_size
    several = len([group for group in file.groups() if group.channels()]) > 1
    for group in file.groups():
        for channel in group.channels():
            name = f"{group.name}/{channel.name}" if several else channel.name
            kind = channel.dtype
            if kind is None or kind.kind not in "iufb" or not len(channel):
                skipped.append(name)
                continue
            if len(channel) > size:
                raise RecordingError(
                    f"{name!r} states {len(channel)} values, which the file does not hold",
                    where=str(path),
                    remedy="Copy it again from the instrument.",
                )
            vectors.append(_vector(name, channel))
            starts += _start_of(channel.properties)
    notes = (f"left out, no numbers: {', '.join(skipped[:8])}",) if skipped else ()
    return Content(vectors=tuple(vectors), notes=notes), starts


def _vector(name: str, channel: TdmsChannel) -> Vector:
    """Return one channel: stored numbers with their scale where it is linear, else scaled ones."""
    properties = channel.properties
    interval = properties.get("wf_increment")
    scaling = _linear_scale(properties)
    slope, intercept = scaling or (1.0, 0.0)
    return Vector(
        name=name,
        length=len(channel),
        load=partial(_load, channel, scaled=scaling is None),
        unit=str(properties.get("unit_string", "")),
        scale=slope,
        offset=intercept,
        interval_s=float(interval) if isinstance(interval, int | float) else None,
    )


def _load(channel: TdmsChannel, *, scaled: bool) -> NDArray[Any]:
    """Return the samples of a channel; raw data of the acquisition layer come with a number."""
    data = channel.read_data(scaled=scaled)
    if isinstance(data, dict):
        (data,) = data.values()
    return np.asarray(data)


def _linear_scale(properties: Mapping[str, Any]) -> tuple[float, float] | None:
    """Return slope and intercept if the only scale of the channel is a linear one."""
    if properties.get("NI_Scaling_Status") != "unscaled":
        return None
    kinds = [key for key in properties if key.endswith("_Scale_Type")]
    if len(kinds) != 1 or properties[kinds[0]] != "Linear":
        return None
    stem = kinds[0].removesuffix("_Scale_Type")
    slope = properties.get(f"{stem}_Linear_Slope")
    intercept = properties.get(f"{stem}_Linear_Y_Intercept")
    if not isinstance(slope, float) or not isinstance(intercept, float):
        return None
    return (slope, intercept) if math.isfinite(slope) and slope else None


def _start_of(properties: Mapping[str, Any]) -> list[datetime]:
    """Return the start time that the properties state, in a list of one or none."""
    stamp = properties.get("wf_start_time")
    if not isinstance(stamp, np.datetime64) or np.isnat(stamp):
        return []
    seconds = int(stamp.astype("datetime64[us]").astype(np.int64))
    start = datetime.fromtimestamp(seconds // 10**6, UTC).replace(microsecond=seconds % 10**6)
    return [start] if start.year > _UNSET_YEAR else []
