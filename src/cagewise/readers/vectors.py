"""Containers of named arrays (MAT, NPZ, TDMS, Parquet): which of them are one recording."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Channel
from cagewise.readers.finish import channel_of
from cagewise.readers.format import ReadOptions, rate_remedy
from cagewise.readers.timing import Timing, timing_from_times
from cagewise.readers.units import split_names, unique_names

TIME_NAMES = frozenset(
    (
        *("t", "tt", "time", "times", "timestamp", "time_s", "t_s", "sample_time_s", "zeit"),
        *("temps", "tiempo", "tempo", "tid"),
    )
)
"""Names of vectors of sample times in seconds, small letters."""

_RATE_NAMES = frozenset(
    (
        *(
            "fs",
            "f_s",
            "fsamp",
            "fsample",
            "f_sample",
            "srate",
            "sampling_rate",
            "sampling_rate_hz",
        ),
        *("samplingrate", "sample_rate", "samplerate", "sampling_frequency", "samplingfrequency"),
        *("sample_frequency", "samplefrequency", "sampling_freq", "abtastrate", "abtastfrequenz"),
    )
)
_INTERVAL_NAMES = frozenset(
    (
        *("dt", "ts", "delta_t", "deltat", "sample_time", "sampletime", "sampling_time"),
        *("sampling_period", "sample_period", "sampling_interval", "sample_interval", "increment"),
    )
)

_RIVAL_SHARE = 0.5
"""A second set of vectors with at least this share of the samples of the largest could just as well
be the recording: the user is asked."""

_SHORTEST_PER_COLUMN = 16
"""A matrix is a set of channels if it has at least this many samples per channel."""

_MOST_COLUMNS = 64
"""A matrix with more columns is no set of channels."""

_MOST_LISTED = 12
_FEWEST_FOR_TIME = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Vector:
    """One candidate for a channel, loaded only when it is chosen."""

    name: str
    length: int
    load: Callable[[], NDArray[Any]]
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    interval_s: float | None = None
    """Sampling interval that the file states for this vector."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What a container holds."""

    vectors: tuple[Vector, ...]
    scalars: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    notes: tuple[str, ...] = ()
    """What was left out and why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembled:
    """Channels of one recording and their timing."""

    channels: tuple[Channel, ...]
    timing: Timing
    notes: tuple[str, ...]


def assemble(content: Content, options: ReadOptions, path: Path) -> Assembled:
    """Return the largest set of equally long vectors as channels, with their sampling rate.

    The rate is what the user states, else the intervals of the vectors, else a vector of times
    among them, else a variable named like ``fs`` or ``dt``.

    Raises
    ------
    RecordingError
        If there is none, if two sets could be meant, or if no rate is found.
    """
    chosen = _chosen(content, options, path)
    others = [v for v in content.vectors if v.length != chosen[0].length]
    notes = list(content.notes)
    if others:
        notes.append(f"left out, of another length: {_listed(others)}")
    times = next((v for v in chosen if _last_word(v.name) in TIME_NAMES), None)
    timing = _stated_timing(chosen, content, options)
    if timing is None:
        times, timing = _timing_from_vectors(chosen, times, path)
        if times is not None and _last_word(times.name) not in TIME_NAMES:
            notes.append(f"{times.name!r} increases evenly: taken as the time in seconds")
    rest = [vector for vector in chosen if vector is not times]
    if not rest:
        raise _nothing(path, "there is only a vector of times in it")
    pairs = split_names([vector.name for vector in rest])
    names = unique_names([name for name, _ in pairs])
    channels = tuple(
        channel_of(name, vector.load(), vector.unit or unit, vector.scale, vector.offset)
        for name, (_, unit), vector in zip(names, pairs, rest, strict=True)
    )
    return Assembled(channels=channels, timing=timing, notes=(*notes, *timing.notes))


def columns_of(name: str, array: NDArray[Any]) -> list[tuple[str, NDArray[Any]]]:
    """Return the vectors of an array: itself, or the columns of a matrix much longer than wide."""
    if array.ndim > 2 or array.size < 2:
        return []
    if array.ndim < 2 or 1 in array.shape:
        return [(name, array.reshape(-1))]
    samples, channels = max(array.shape), min(array.shape)
    if channels > _MOST_COLUMNS or samples < _SHORTEST_PER_COLUMN * channels:
        return []
    matrix = array if array.shape[0] == samples else array.T
    return [(f"{name}.{k + 1}", np.ascontiguousarray(matrix[:, k])) for k in range(channels)]


def _chosen(content: Content, options: ReadOptions, path: Path) -> list[Vector]:
    """Return the vectors that make up the recording."""
    vectors = [v for v in content.vectors if v.length > 1 and _selected(v.name, options.select)]
    if not vectors and options.select:
        raise RecordingError(
            f"nothing in it is named {' or '.join(map(repr, options.select))}",
            where=str(path),
            remedy=f"It holds {_listed(content.vectors)}.",
        )
    if not vectors:
        raise _nothing(path, "there is no vector of numbers in it")
    groups: dict[int, list[Vector]] = {}
    for vector in vectors:
        groups.setdefault(vector.length, []).append(vector)
    ranked = sorted(groups.values(), key=lambda g: len(g) * g[0].length, reverse=True)
    if len(ranked) > 1 and _size(ranked[1]) >= _RIVAL_SHARE * _size(ranked[0]):
        raise RecordingError(
            "more than one set of vectors could be the recording",
            where=str(path),
            remedy=f"Select one with --select NAME: {_listed(ranked[0])}; or {_listed(ranked[1])}.",
        )
    return ranked[0]


def _size(group: Sequence[Vector]) -> int:
    """Return the number of samples in a set of vectors."""
    return len(group) * group[0].length


def _selected(name: str, select: tuple[str, ...]) -> bool:
    """Return whether a name, or something above it, is selected."""
    return not select or any(
        name == chosen or name.startswith((f"{chosen}.", f"{chosen}/")) for chosen in select
    )


def _stated_timing(
    chosen: Sequence[Vector], content: Content, options: ReadOptions
) -> Timing | None:
    """Return the timing that user or file state as a number, or None if times have to tell."""
    if options.sampling_rate_hz is not None:
        return Timing(sampling_rate_hz=options.sampling_rate_hz)
    intervals = {v.interval_s for v in chosen if v.interval_s is not None}
    if len(intervals) == 1:
        interval = intervals.pop()
        if math.isfinite(interval) and interval > 0.0:
            return Timing(sampling_rate_hz=_whole_if_rounded(1.0 / interval))
    if any(_last_word(v.name) in TIME_NAMES for v in chosen):
        return None
    return _timing_from_scalars(chosen, content.scalars)


def _timing_from_scalars(chosen: Sequence[Vector], scalars: Mapping[str, float]) -> Timing | None:
    """Return the timing of a variable named like a rate; the one nearest to the vectors counts."""
    found: list[tuple[int, float, str]] = []
    for name, value in scalars.items():
        word = _last_word(name)
        if not (math.isfinite(value) and value > 0.0):
            continue
        if word in _RATE_NAMES:
            found.append((_shared_depth(name, chosen[0].name), value, name))
        elif word in _INTERVAL_NAMES:
            found.append(
                (_shared_depth(name, chosen[0].name), _whole_if_rounded(1.0 / value), name)
            )
    nearest = [item for item in found if item[0] == max(found)[0]]
    rates = {rate for _, rate, _ in nearest}
    if len(rates) != 1:
        return None
    note = f"sampling rate {rates.copy().pop():g} Hz from {nearest[0][2]!r}"
    return Timing(sampling_rate_hz=rates.pop(), notes=(note,))


def _timing_from_vectors(
    chosen: Sequence[Vector], times: Vector | None, path: Path
) -> tuple[Vector | None, Timing]:
    """Return the vector of times and the timing it implies."""
    where = str(path)
    if times is not None:
        return times, timing_from_times(times.load().astype(np.float64), where=where)
    first = chosen[0]
    if len(chosen) > 1 and first.length >= _FEWEST_FOR_TIME:
        values = first.load().astype(np.float64)
        steps = np.diff(values)
        if bool((steps > 0.0).all()) and not bool((steps == 1.0).all()):
            timing = timing_from_times(values, where=where)
            if timing.sample_times_s is None:
                return first, timing
    raise RecordingError(
        "it states no sampling rate that can be recognised",
        where=where,
        remedy=rate_remedy(path),
    )


def _whole_if_rounded(rate_hz: float) -> float:
    """Return a rate that is whole but for the rounding of its inverse as the whole number."""
    whole = float(round(rate_hz))
    return whole if whole > 0.0 and math.isclose(rate_hz, whole, rel_tol=1e-9) else rate_hz


def _last_word(name: str) -> str:
    """Return the last part of a dotted name without unit, in small letters."""
    plain, _ = split_names([name])[0]
    return re.split(r"[./]", plain)[-1].strip().casefold()


def _shared_depth(first: str, second: str) -> int:
    """Return how many leading parts two dotted names share."""
    parts = zip(re.split(r"[./]", first), re.split(r"[./]", second), strict=False)
    depth = 0
    for mine, theirs in parts:
        if mine != theirs:
            break
        depth += 1
    return depth


def _listed(vectors: Sequence[Vector]) -> str:
    """Return names and lengths for a message."""
    shown = ", ".join(f"{v.name} ({v.length})" for v in vectors[:_MOST_LISTED])
    more = len(vectors) - _MOST_LISTED
    return f"{shown} and {more} more" if more > 0 else shown


def _nothing(path: Path, what: str) -> RecordingError:
    """Return the error for a container without a recording."""
    return RecordingError(
        what, where=str(path), remedy="Export every channel as a vector of numbers."
    )
