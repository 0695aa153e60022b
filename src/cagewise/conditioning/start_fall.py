"""When the current of a start fell from its starting to its running level."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cagewise.conditioning.start_level import WINDOWS_PER_CYCLE, smoothed
from cagewise.quantities import RealArray

HALF, UPPER = 0.5, 0.8
"""Parts of the fall between which its steepness is measured."""
AT_SPEED = 0.1
"""Part of the fall that is left when the motor is said to be at speed: docs/theory/start.md."""
STAYS_WINDOWS = 2 * WINDOWS_PER_CYCLE
"""The level must stay below for two cycles: one window of a beat is no fall."""
LOW_WINDOWS = 5 * WINDOWS_PER_CYCLE
"""Windows whose median is a running level at all."""
SETTLED_RUNNING, SETTLED_FALL = 0.05, 0.02
"""The current has settled within these parts of the running level and of the fall."""
LARGEST_SLOPE = 0.10
"""Change over the last five cycles of a record, per unit, from which on the current still falls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentFall:
    """The fall of a level, in windows from the first one; levels in A rms."""

    peak_a: float
    """Largest starting level, spikes taken off."""
    lowest_a: float
    """Lowest level that lasts five cycles after the peak."""
    half: int | None
    """First window below half the fall, for good; None where the level never fell so far."""
    running_a: float | None
    """Running level that follows; None where the record ends while the current still falls."""
    at_speed: int | None
    """First window with :data:`AT_SPEED` of the fall left, for good."""
    settled: int | None
    """First window at the running level."""
    steep: int
    """Windows from 80 to 50 % of the fall."""
    again: bool
    """Whether the level came down twice: to half its height and up again before the peak, or up to
    four fifths of the fall once more within as long a time after it."""

    @property
    def ratio(self) -> float:
        """Starting over running level."""
        return self.peak_a / self.lowest_a if self.lowest_a > 0.0 else 1.0


def find_fall(level: RealArray, least_ratio: float) -> CurrentFall:
    """Return the fall of a level, shape (n_windows,), that begins with the start."""
    even = smoothed(level, WINDOWS_PER_CYCLE)
    top = int(np.argmax(even))
    after = smoothed(even, LOW_WINDOWS)[top:]
    peak, lowest = float(even[top]), float(after.min())
    nothing = CurrentFall(
        peak_a=peak, lowest_a=lowest, half=None, running_a=None, at_speed=None, settled=None,
        steep=0, again=False,
    )  # fmt: skip
    if not peak > least_ratio * lowest:
        return nothing
    half = top + _below(even[top:], lowest + HALF * (peak - lowest))
    steep = half - _last_above(even[:half], lowest + UPPER * (peak - lowest))
    again = _comes_down_before(even[: top + 1]) or bool(
        np.any(even[half + STAYS_WINDOWS : 2 * half] > lowest + UPPER * (peak - lowest))
    )
    fallen = replace(nothing, half=half, steep=steep, again=again)
    running = _running(even, half, max(steep, WINDOWS_PER_CYCLE))
    if running is None:
        return fallen
    left = peak - running
    return replace(
        fallen,
        running_a=running,
        at_speed=half + _below(even[half:], running + AT_SPEED * left),
        settled=half
        + _below(even[half:], running + max(SETTLED_RUNNING * running, SETTLED_FALL * left)),
    )


def _comes_down_before(level: RealArray) -> bool:
    """Return whether a level that ends at its peak had come down to half before."""
    begun = level[STAYS_WINDOWS:]
    return bool(np.any(begun < HALF * np.maximum.accumulate(begun)))


def _running(level: RealArray, half: int, steep: int) -> float | None:
    """Return the level some time after the fall; None while it still falls at the record's end.

    ``steep`` windows lead from 80 to 50 %: two to six times as many later the fall is over.
    """
    later = level[half + 2 * steep : max(half + 6 * steep, half + 2 * steep + LOW_WINDOWS)]
    if later.size >= LOW_WINDOWS:
        return float(np.median(later))
    tail = level[half:][-LOW_WINDOWS:]
    if tail.size < LOW_WINDOWS:
        return None
    quarter = LOW_WINDOWS // 4
    first, last = float(np.median(tail[:quarter])), float(np.median(tail[-quarter:]))
    return float(np.median(tail)) if first < (1.0 + LARGEST_SLOPE) * last else None


def _below(level: RealArray, threshold: float) -> int:
    """Return the first window from which on the level stays below for a while; 0 if none does."""
    low = np.concatenate([level < threshold, np.ones(STAYS_WINDOWS - 1, dtype=np.bool_)])
    stays = np.lib.stride_tricks.sliding_window_view(low, STAYS_WINDOWS).all(axis=1)
    return int(np.argmax(stays))


def _last_above(level: RealArray, threshold: float) -> int:
    """Return the last window above a threshold; 0 if there is none."""
    above = np.flatnonzero(level >= threshold)
    return int(above[-1]) if above.size else 0
