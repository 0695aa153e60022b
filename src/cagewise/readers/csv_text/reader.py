"""Text table to recording."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from cagewise.errors import RecordingError
from cagewise.measurement import Channel, Provenance, Recording
from cagewise.readers.csv_text.layout import Layout, find_layout, to_utf8
from cagewise.readers.csv_text.preamble import stated_rate
from cagewise.readers.csv_text.table import Table, numbers_of, read_table
from cagewise.readers.csv_text.times import TimeColumn, find_times
from cagewise.readers.files import HEAD_BYTES, translated
from cagewise.readers.finish import channel_of
from cagewise.readers.format import ReadOptions, rate_remedy
from cagewise.readers.timing import Timing, timing_from_times

_LONG_HEAD_BYTES = 4 << 20
"""Bytes searched for the first line of numbers when the usual head holds none."""

SAME_RATE = 1e-3
"""Relative difference up to which two statements of a sampling rate are the same statement."""


def read(path: Path, options: ReadOptions) -> Recording:
    """Read a text table as described in docs/formats.md."""
    layout = _layout(path)
    table = read_table(path, layout)
    times = find_times(table.columns, layout, path)
    timing = _timing(times, layout, options, path)
    channels, text_notes = _channels(table, times, layout, path)
    notes = (*_layout_notes(layout), *table.notes, *times.notes, *timing.notes, *text_notes)
    return Recording(
        channels=channels,
        sampling_rate_hz=timing.sampling_rate_hz,
        sample_times_s=timing.sample_times_s,
        start_time=times.start_time,
        provenance=Provenance(source=path.name, format_name="csv", notes=notes),
    )


def _layout(path: Path) -> Layout:
    """Return the layout, looking further down if the first bytes hold no numbers."""
    size = path.stat().st_size
    for limit in (HEAD_BYTES, _LONG_HEAD_BYTES):
        with translated(path, "the file cannot be read"), path.open("rb") as stream:
            head = stream.read(limit)
        wide = head[:2] in (b"\xff\xfe", b"\xfe\xff")
        layout = find_layout(to_utf8(head), complete=size <= limit)
        if layout is not None and wide:
            return replace(layout, encoding="utf-16")
        if layout is not None:
            return layout
    raise RecordingError(
        "there is no table of numbers in it",
        where=str(path),
        remedy="Export columns of numbers separated by comma, semicolon or tab.",
    )


def _timing(times: TimeColumn, layout: Layout, options: ReadOptions, path: Path) -> Timing:
    """Return the timing: stated by the user, else by the time column, else by the preamble."""
    spoken = stated_rate(layout.preamble)
    if options.sampling_rate_hz is not None:
        notes = ("sampling rate as stated; the time column is not used",)
        return Timing(
            sampling_rate_hz=options.sampling_rate_hz,
            notes=notes if times.times_s is not None else (),
        )
    if times.times_s is not None:
        timing = timing_from_times(times.times_s, where=str(path))
        if timing.sample_times_s is None and spoken and _agree(spoken[0], timing.sampling_rate_hz):
            return Timing(sampling_rate_hz=spoken[0], notes=timing.notes)
        return timing
    if spoken:
        rate, line = spoken
        note = f"sampling rate {rate:g} Hz from the preamble ({line[:80]!r})"
        return Timing(sampling_rate_hz=rate, notes=(note,))
    raise RecordingError(
        "there is no time column and no sampling rate",
        where=str(path),
        remedy=rate_remedy(path),
    )


def _agree(stated: float, measured: float) -> bool:
    """Return whether a rate in words is the one the time column has."""
    return math.isclose(stated, measured, rel_tol=SAME_RATE)


def _channels(
    table: Table, times: TimeColumn, layout: Layout, path: Path
) -> tuple[tuple[Channel, ...], tuple[str, ...]]:
    """Return the channels, and notes about columns that are none."""
    channels: list[Channel] = []
    notes: list[str] = []
    for index, (name, unit) in enumerate(zip(layout.names, layout.units, strict=True)):
        if index in times.used:
            continue
        column = table.columns[index]
        unnamed = name == f"column {index + 1}"
        if unnamed and index == len(layout.names) - 1 and column.null_count == len(column):
            continue  # a separator at the end of every line
        numbers = numbers_of(column, path=path, layout=layout, index=index)
        if numbers is None:
            notes.append(f"column {name!r} is text and was left out")
        else:
            channels.append(channel_of(name, numbers, unit))
    return tuple(channels), tuple(notes)


def _layout_notes(layout: Layout) -> tuple[str, ...]:
    """Return what the reader had to decide about the text."""
    notes = []
    if layout.decimal_sign == ",":
        notes.append("decimal comma")
    if layout.encoding not in ("utf-8", "utf-16"):
        notes.append(f"text is not UTF-8, read as {layout.encoding}")
    if not layout.named:
        notes.append("columns have no names and are numbered")
    return tuple(notes)
