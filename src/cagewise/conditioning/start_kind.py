"""Of what kind a start was: full voltage at once, rising voltage, rising frequency, or steps.

Each kind leaves a mark that needs no nameplate: a converter's current begins at a few hertz, a soft
starter leaves gaps without current in every cycle or lets the current rise, a change of connection
makes it step (docs/theory/start.md).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import fft

from cagewise.conditioning.start_level import WINDOWS_PER_CYCLE, CycleFit, smoothed
from cagewise.conditioning.start_limits import StartLimits
from cagewise.quantities import RealArray

OFFSET_CYCLES = 3
"""The direct offset of switching on has mostly died away after as many cycles."""
FIRST_CYCLES = slice(1 * WINDOWS_PER_CYCLE, 3 * WINDOWS_PER_CYCLE)
"""Windows of the second and third cycle: the first current and voltage of a start."""
EARLY_CYCLES = slice(OFFSET_CYCLES * WINDOWS_PER_CYCLE, 10 * WINDOWS_PER_CYCLE)
"""Windows after the offset, in which a soft starter still cuts much out of each cycle."""
NEAR_ZERO = 0.04
"""Part of a cycle's largest sample below which there is no current."""
SPECTRUM_CYCLES = 5.0
"""Length of the transforms that ask for the frequency: a Hann line is then 0.4 of the supply
frequency wide on either side."""
LOW_PART, HIGH_PART = 0.6, 1.4
"""Edges of the band about the supply frequency, per unit of it."""
FREQUENCY_MOVED = 0.25
"""Difference of the last frequency from the record's, per unit, from which on the last one counts:
two and a half steps of its transform."""
LEAST_SINE = 0.5
"""Least part of the power in one line and its surroundings: a thyristor fired half-way through each
half wave leaves 0.6."""
LEAST_PERIODS = 3
"""Least periods in the last cycles that make a line, where there are so many."""
SPECTRA = 2
"""Transforms taken, overlapping by half."""
STEP_CYCLES = 5
"""Cycles on either side of a step that must be flat."""
STEP_FLATNESS = 0.10
"""Largest change within them, per unit."""


class StartKind(StrEnum):
    """How the voltage came to the motor, as far as the record shows it."""

    DIRECT = "direct"
    """Full voltage at once."""
    SOFT_STARTER = "soft starter"
    """Rising voltage, parts of each cycle cut out."""
    CONVERTER = "converter"
    """Rising frequency."""
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartShape:
    """A start from its first sample to where the current has fallen, or to the record's end."""

    currents: RealArray
    """From the first sample on, resting value taken off, A, shape (n_currents, n_samples)."""
    cycle: float
    """Samples per supply cycle."""
    fit: CycleFit
    """Of these currents, with orders 1, 5, 7 as far as the rate allows."""
    voltage: RealArray | None
    """Rms fundamental voltage in the windows of :attr:`fit`, or None without voltages."""
    begins_before_record: bool
    gap_s: float
    """Longest interruption inside."""


@dataclass(frozen=True, slots=True)
class KindFound:
    """Kind of a start, and why it cannot be read if so."""

    kind: StartKind
    refused: str = ""


def judge_kind(shape: StartShape, limits: StartLimits) -> KindFound:
    """Return the kind of a start."""
    if low_frequency_share(shape) > limits.largest_low_share:
        return KindFound(
            StartKind.CONVERTER,
            "the frequency rises during the start: a motor started by a converter draws little "
            "current at small slip, which shows nothing of the cage",
        )
    if shape.gap_s > 0.0:
        return KindFound(
            StartKind.NOT_KNOWN,
            f"the current was interrupted for {1e3 * shape.gap_s:.0f} ms during the start: a "
            "change of connection (star-delta, autotransformer) or samples that are missing",
        )
    step = largest_step(smoothed(shape.fit.level, WINDOWS_PER_CYCLE))
    if step > 1.0 + limits.largest_rise:
        return KindFound(
            StartKind.NOT_KNOWN,
            f"the current steps up by a factor of {step:.1f} during the start: star-delta or "
            "autotransformer, so starting current and time follow the switching",
        )
    return _of_rising_voltage(shape, limits)


def _of_rising_voltage(shape: StartShape, limits: StartLimits) -> KindFound:
    """Return whether the voltage came up slowly, and by what."""
    gaps, rise = gap_part(shape), current_rise(shape)
    harmonic = _early_harmonic(shape)
    first_voltage = _first_voltage(shape)
    slow = rise > limits.largest_rise or first_voltage < limits.least_first_voltage
    if gaps > limits.largest_gap_part or (slow and harmonic > limits.largest_harmonic):
        return KindFound(
            StartKind.SOFT_STARTER,
            "the voltage rises during the start, with parts of each cycle cut out: a soft starter "
            "sets current and time, and its harmonics lie on the lines of the cage",
        )
    if slow:
        how = f"the current rises by {100.0 * rise:.0f} % after switching on"
        if first_voltage < limits.least_first_voltage:
            how = f"the start begins at {100.0 * first_voltage:.0f} % of its later voltage"
        return KindFound(
            StartKind.NOT_KNOWN,
            f"{how}: a start at reduced voltage, or on a supply too weak for it",
        )
    if shape.begins_before_record and shape.voltage is None:
        return KindFound(StartKind.NOT_KNOWN)
    return KindFound(StartKind.DIRECT)


def low_frequency_share(shape: StartShape) -> float:
    """Return the part of the power that lies below the later frequency's band at the beginning."""
    cycle = final_cycle(shape.currents, shape.cycle)
    length = round(SPECTRUM_CYCLES * cycle)
    begin = 0 if shape.begins_before_record else round(OFFSET_CYCLES * shape.cycle)
    low = main = 0.0
    for number in range(SPECTRA):
        first = begin + number * length // 2
        piece = shape.currents[:, first : first + length]
        if piece.shape[1] < length:
            break
        place = np.arange(length) - 0.5 * (length - 1)
        piece = piece - np.outer(piece @ place / (place @ place), place)
        power = _power(piece)
        order = np.arange(power.size) * cycle / length
        low += float(power[order < LOW_PART].sum())
        main += float(power[(order >= LOW_PART) & (order <= HIGH_PART)].sum())
    return low / (low + main) if low + main > 0.0 else 0.0


def is_sine(shape: StartShape) -> bool:
    """Return whether the last cycles are mostly one line: other currents start no motor."""
    piece = shape.currents[:, -round(2.0 * SPECTRUM_CYCLES * shape.cycle) :]
    power = _power(piece)[1:]
    least = min(LEAST_PERIODS, LOW_PART * piece.shape[1] / shape.cycle)
    if not power.size or not power.max() > 0.0:
        return False
    peak = int(np.argmax(power))
    beside = max(2, round(FREQUENCY_MOVED * peak))
    line = power[max(peak - beside, 0) : peak + beside + 1].sum()
    return peak + 1 >= least and bool(line > LEAST_SINE * power.sum())


def final_cycle(currents: RealArray, cycle: float) -> float:
    """Return the samples per cycle at the end of the currents, shape (n_currents, n_samples).

    The frequency of the whole record is that of its strongest line, which a rising frequency passes
    at some time.
    """
    length = round(2.0 * SPECTRUM_CYCLES * cycle)
    if currents.shape[1] < length:
        return cycle
    power = _power(currents[:, -length:])
    power[0] = 0.0
    order = int(np.argmax(power)) * cycle / length
    return cycle / order if abs(order - 1.0) > FREQUENCY_MOVED else cycle


def _power(piece: RealArray) -> RealArray:
    """Return the Hann power spectrum, mean taken off, all channels together, shape (n_bins,)."""
    centred = piece - piece.mean(axis=1, keepdims=True)
    windowed = centred * np.hanning(piece.shape[1])
    return np.asarray(np.sum(np.abs(np.asarray(fft.rfft(windowed))) ** 2, axis=0))


def gap_part(shape: StartShape) -> float:
    """Return the part of the early cycles without current, the largest of the phases."""
    starts = shape.fit.first[EARLY_CYCLES].astype(np.intp)
    parts = []
    for start in starts:
        window = np.abs(shape.currents[:, start : start + shape.fit.length])
        top = window.max(axis=1, keepdims=True)
        parts.append(np.mean(window < NEAR_ZERO * top, axis=1))
    return float(np.median(parts, axis=0).max()) if parts else 0.0


def current_rise(shape: StartShape) -> float:
    """Return by how much the current rises above that of the first cycles, per unit."""
    level = smoothed(shape.fit.level, WINDOWS_PER_CYCLE)
    if shape.begins_before_record or level.size <= FIRST_CYCLES.stop:
        return 0.0
    first = float(np.median(level[FIRST_CYCLES]))
    return float(level.max()) / first - 1.0 if first > 0.0 else 0.0


def largest_step(level: RealArray) -> float:
    """Return the largest factor by which the level rises between two flat parts; 1 for none.

    A slow rise that still passes for flat within the parts stays below 1.2 between them.
    """
    flat = STEP_CYCLES * WINDOWS_PER_CYCLE
    apart = flat + flat // 2
    if level.size < flat + apart:
        return 1.0
    part = np.lib.stride_tricks.sliding_window_view(level, flat)
    middle = np.median(part, axis=1)
    even = (np.ptp(part, axis=1) < STEP_FLATNESS * middle) & (middle > 0.0)
    both = even[:-apart] & even[apart:]
    steps = np.divide(middle[apart:], middle[:-apart], out=np.ones(both.size), where=both)
    return float(steps.max(initial=1.0))


def _early_harmonic(shape: StartShape) -> float:
    """Return the larger of the 5th and 7th harmonic in the early cycles, per unit."""
    ratios = [shape.fit.harmonic_ratio(order)[EARLY_CYCLES] for order in (5, 7)]
    known = [float(np.median(ratio)) for ratio in ratios if np.isfinite(ratio).any()]
    return max(known, default=0.0)


def _first_voltage(shape: StartShape) -> float:
    """Return the voltage of the first cycles over that of the last; 1 without voltages."""
    if shape.voltage is None or shape.voltage.size <= FIRST_CYCLES.stop:
        return 1.0
    last = float(np.median(shape.voltage[-WINDOWS_PER_CYCLE:]))
    return float(np.median(shape.voltage[FIRST_CYCLES])) / last if last > 0.0 else 1.0
