"""Columns of one table to arrays: only rows that were measured, and no gaps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.machine.crosscheck import Fault
from cagewise.quantities import RealArray
from cagewise.readers.test_sheet.form import several
from cagewise.readers.test_sheet.table_values import Key, TableValues


@dataclass(frozen=True, slots=True)
class Series:
    """Readings that belong together, row by row."""

    index: RealArray
    """What they were read against, shape (n,)."""
    readings: Mapping[Key, RealArray]
    """Each of shape (n,); what was not measured at all is absent."""
    rows: Sequence[int]
    """Rows of the file, n of them."""


def gather(
    values: TableValues, index: Key, group: Sequence[Key], faults: list[Fault]
) -> Series | None:
    """Return the readings of a group of columns against an index, None where there are none.

    Rows without any reading of the group were not measured and are left out. A row with a reading
    needs its index, and every other quantity of the group that was measured anywhere.
    """
    present = [key for key in group if key in values.columns]
    if not present:
        return None
    length = len(values.rows)
    columns = {key: _padded(values.columns.get(key, []), length) for key in (index, *present)}
    taken = [k for k in range(length) if any(columns[key][k] is not None for key in present)]
    for key, column in columns.items():
        gaps = [values.rows[k] for k in taken if column[k] is None]
        if gaps:
            faults.append(_gap(values, key, gaps, present))
            return None
    return Series(
        index=_array(columns[index], taken),
        readings={key: _array(columns[key], taken) for key in present},
        rows=[values.rows[k] for k in taken],
    )


def _padded(column: list[float | None], length: int) -> list[float | None]:
    """Return a column with blanks to the length of the longest."""
    return column + [None] * (length - len(column))


def _array(column: list[float | None], taken: Sequence[int]) -> RealArray:
    """Return the taken rows of a column without gaps."""
    return np.array([column[k] for k in taken], dtype=np.float64)


def _gap(values: TableValues, key: Key, gaps: Sequence[int], present: Sequence[Key]) -> Fault:
    """Return the fault of a column that is blank where its neighbours are not."""
    word = values.table.row_word + ("s" if len(gaps) > 1 else "")
    others = [values.headings[other] for other in present if other != key]
    beside = f" where {others[0]} is not" if others else ""
    return Fault(
        values.where(key),
        f"is blank in {word} {several(gaps)}{beside}",
        "Fill it in, or clear what stands beside it.",
    )


def require_ascending(values: TableValues, key: Key, series: Series, faults: list[Fault]) -> None:
    """Add a fault if the index does not increase from row to row."""
    steps = np.diff(series.index)
    stuck = np.flatnonzero(steps <= 0.0)
    if stuck.size:
        row = series.rows[int(stuck[0]) + 1]
        faults.append(
            Fault(
                values.where(key, row),
                "is not larger than the value before it",
                "One table is one test, from the smallest to the largest.",
            )
        )


UNIFORM_WITHIN = 0.02
"""Part of a time step by which rounding in the file may shift a sample."""


def require_uniform(values: TableValues, key: Key, series: Series, faults: list[Fault]) -> None:
    """Add a fault if the times of a waveform are not in equal steps."""
    times = series.index
    if times.size < 2:
        faults.append(Fault(values.where(key), "a waveform needs more than one sample"))
        return
    even = np.linspace(times[0], times[-1], times.size)
    step = (times[-1] - times[0]) / (times.size - 1)
    off = np.flatnonzero(~(np.abs(times - even) <= UNIFORM_WITHIN * step))
    if off.size:
        faults.append(
            Fault(
                values.where(key, series.rows[int(off[0])]),
                "the times are not in equal steps",
                "Export the waveforms with one sampling interval.",
            )
        )
