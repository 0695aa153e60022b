"""Time columns of text tables: seconds, their parts and multiples, dates and times of day."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from cagewise.quantities import RealArray
from cagewise.readers.csv_text.layout import Layout
from cagewise.readers.files import translated
from cagewise.readers.units import TIME_UNITS

if TYPE_CHECKING:
    import pyarrow as pa

_TIME_NAMES = frozenset(
    (
        *("t", "time", "times", "timestamp", "elapsed", "elapsed time", "rel time"),
        *("relative time", "zeit", "zeitstempel", "temps", "tiempo", "tempo", "tid"),
    )
)
"""Headings of columns of times in numbers, small letters."""

_INDEX_NAMES = frozenset(
    (
        *("sample", "samples", "sample no", "sample number", "index", "idx", "no", "no.", "nr"),
        *("nr.", "n", "#", "point", "row", "count", "record", "messpunkt", "punkt", "muestra"),
        "amostra",
    )
)
"""Headings of columns that only count the samples, small letters."""

_FEWEST_ROWS = 10
"""Rows from which a column that increases all the way can be nothing but time."""

_DATE_OR_TIME = re.compile(rb"\s*(?:\d{1,4}[-./]\d{1,2}[-./]\d|\d{1,2}:\d{2})")
_DATE_DAY_FIRST = r"^(\d{1,2})[./-](\d{1,2})[./-](\d{4})"
_DATE_YEAR_FIRST = r"^(\d{4})[./-](\d{1,2})[./-](\d{1,2})"
_NANOSECONDS = 1e-9
_DAY_S = 86400.0
_DAY_NS = 86400 * 10**9


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeColumn:
    """Times of the samples, and which columns of the table they took up."""

    times_s: RealArray | None
    """Stated times in seconds, shape (n_samples,), or None where there are none."""
    used: frozenset[int]
    """Indices of columns that are time or sample numbers and no channels."""
    start_time: datetime | None = None
    notes: tuple[str, ...] = ()


def find_times(columns: tuple[pa.ChunkedArray, ...], layout: Layout, path: Path) -> TimeColumn:
    """Return the times that the table states, by heading, by unit, or (no heading) by content."""
    n_columns = len(columns)
    counting = frozenset(
        k for k in range(n_columns) if _is_index(k, layout) and _counts(columns[k])
    )
    dates = [k for k in range(n_columns) if _holds_dates(columns[k])]
    numeric = [
        k
        for k in range(n_columns)
        if k not in counting and _is_time(k, layout) and _is_numeric(columns[k])
    ]
    dated = _from_dates(columns, dates[:2], path, counting) if dates else None
    if numeric:
        elapsed = _from_numbers(columns[numeric[0]], numeric[0], layout, counting)
        if dated is None:
            return elapsed
        return replace(elapsed, used=elapsed.used | dated.used, start_time=dated.start_time)
    if dated is not None:
        return dated
    if not layout.named:
        return _from_first_column(columns)
    return TimeColumn(times_s=None, used=counting)


def _is_index(index: int, layout: Layout) -> bool:
    """Return whether the heading says that a column only counts the samples."""
    return layout.named and layout.names[index].casefold() in _INDEX_NAMES


def _is_time(index: int, layout: Layout) -> bool:
    """Return whether heading or unit says that a column is the time."""
    name = layout.names[index].casefold().strip(" _")
    words = set(re.split(r"[\s_]+", name))
    unit = layout.units[index].casefold()
    return name in _TIME_NAMES or (unit in TIME_UNITS and bool(words & _TIME_NAMES or index == 0))


def _is_numeric(column: pa.ChunkedArray) -> bool:
    """Return whether a column holds numbers."""
    import pyarrow as pa

    return bool(pa.types.is_integer(column.type) or pa.types.is_floating(column.type))


def _values(column: pa.ChunkedArray) -> RealArray:
    """Return a numeric column as float64, missing cells as NaN."""
    return np.asarray(column.to_numpy(), dtype=np.float64)


def _counts(column: pa.ChunkedArray) -> bool:
    """Return whether a column increases by one from row to row."""
    if len(column) < 2 or not _is_numeric(column):
        return False
    return bool((np.diff(_values(column)) == 1.0).all())


def _from_numbers(
    column: pa.ChunkedArray, index: int, layout: Layout, counting: frozenset[int]
) -> TimeColumn:
    """Return the times of a numeric column; its unit is the heading's, else seconds."""
    unit = layout.units[index].casefold()
    notes: tuple[str, ...] = ()
    if unit not in TIME_UNITS:
        notes = (f"time column {layout.names[index]!r} has no unit: seconds assumed",)
    times = _values(column) * TIME_UNITS.get(unit, 1.0)
    return TimeColumn(times_s=times, used=counting | {index}, notes=notes)


def _from_first_column(columns: tuple[pa.ChunkedArray, ...]) -> TimeColumn:
    """Return the times if a first column without a heading can only be time or a sample number."""
    nothing = TimeColumn(times_s=None, used=frozenset())
    if len(columns) < 2 or len(columns[0]) < _FEWEST_ROWS or not _is_numeric(columns[0]):
        return nothing
    values = _values(columns[0])
    steps = np.diff(values)
    if not bool((steps > 0.0).all()):
        return nothing
    if bool((steps == 1.0).all()):
        note = "column 1 counts the samples and is no channel"
        return TimeColumn(times_s=None, used=frozenset({0}), notes=(note,))
    note = "column 1 increases all the way: taken as the time in seconds"
    return TimeColumn(times_s=values, used=frozenset({0}), notes=(note,))


def _holds_dates(column: pa.ChunkedArray) -> bool:
    """Return whether a column holds dates or times of day."""
    import pyarrow as pa

    if pa.types.is_temporal(column.type):
        return True
    if not pa.types.is_string(column.type) or not len(column):
        return False
    first = column[0].cast(pa.binary()).as_py()
    return first is not None and _DATE_OR_TIME.match(first) is not None


def _from_dates(
    columns: tuple[pa.ChunkedArray, ...], dates: list[int], path: Path, counting: frozenset[int]
) -> TimeColumn:
    """Return the times of one column of date and time, or of a date and a time-of-day column."""
    import pyarrow as pa
    import pyarrow.compute as pc

    with translated(
        path,
        "the date and time column cannot be read",
        remedy="Use dates like 2026-03-01 08:00:00.000, or state `sampling_rate_hz`.",
        also=(pa.ArrowException,),
    ):
        texts = [_as_text(columns[k]) for k in dates]
        joined = texts[0] if len(texts) == 1 else pc.binary_join_element_wise(*texts, " ")
        stamps = _parsed(joined).cast(pa.int64()).to_numpy()
    used = counting | set(dates)
    origin_s = float(stamps[0]) * _NANOSECONDS
    if not np.isfinite(origin_s) or origin_s < _DAY_S:  # times of day only
        midnights = np.cumsum(np.diff(stamps, prepend=stamps[:1]) < -_DAY_NS // 2)
        times = (stamps - stamps[0] + _DAY_NS * midnights) * _NANOSECONDS
        return TimeColumn(times_s=times, used=used)
    times = (stamps - stamps[0]) * _NANOSECONDS
    start = datetime.fromtimestamp(origin_s, UTC).replace(tzinfo=None)
    return TimeColumn(times_s=times, used=used, start_time=start)


def _as_text(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Return a temporal column as text."""
    import pyarrow as pa

    return column if pa.types.is_string(column.type) else column.cast(pa.string())


def _parsed(texts: pa.ChunkedArray) -> pa.ChunkedArray:
    """Return timestamps of texts with dates in any usual order; times of day get 1970-01-01.

    In ``03/04/2026`` the day is taken to come first unless a second number above 12 shows that
    the month does.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    texts = pc.utf8_trim_whitespace(texts)
    second = pc.extract_regex(texts, r"^\d{1,2}[./-](?P<second>\d{1,2})[./-]\d{4}")
    seconds = pc.struct_field(second, "second").drop_null().cast(pa.int32())
    month_first = len(seconds) > 0 and pc.max(seconds).as_py() > 12
    order = r"\3-\1-\2" if month_first else r"\3-\2-\1"
    texts = pc.replace_substring_regex(texts, _DATE_DAY_FIRST, order)
    texts = pc.replace_substring_regex(texts, _DATE_YEAR_FIRST, r"\1-\2-\3")
    texts = pc.replace_substring_regex(texts, r"^(\d{1,2}:\d{2})", r"1970-01-01 \1")
    texts = pc.replace_substring_regex(texts, r"-(\d)(-|[ T])", r"-0\1\2")
    texts = pc.replace_substring_regex(texts, r"-(\d)(-|[ T])", r"-0\1\2")
    texts = pc.replace_substring_regex(texts, r"[ T]+(\d:)", r" 0\1")
    texts = pc.replace_substring_regex(texts, r",(\d+)$", r".\1")
    return texts.cast(pa.timestamp("ns"))
