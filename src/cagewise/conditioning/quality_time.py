"""Findings on the time base and the sampling rate."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from cagewise.conditioning.findings import (
    EVERYTHING,
    Ability,
    FindingCode,
    QualityFinding,
    Severity,
)
from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.survey import Survey
from cagewise.measurement import CURRENT_ROLES, Channel, Recording
from cagewise.quantities import RealArray, decibel

PROBE_SAMPLES = 32_768
"""Length of the transforms in which folded lines are searched (0.3 Hz at 10 kHz)."""
MOST_PROBES = 4
"""Transforms that are averaged, spread over the record."""
FOLDED_ORDERS = (5, 7, 11, 13, 17, 19, 23, 25, 29, 31, 35, 37)
"""Harmonics that an unfiltered supply or motor current is most likely to fold (6k +- 1)."""
CLEARANCE_BINS = 6
"""A folded line must keep this distance from every true harmonic to be told from it."""
FLOOR_BINS = 60
"""Bins on either side from which the floor about a searched line is taken."""
RATE_TOLERANCE = 0.02
"""Rates are chosen for the nominal frequency; the supply may be this much above it."""
WINDOW_BETA = 14.0
"""Kaiser parameter: side lobes near -105 dB, so that the carrier hides no folded line."""
BAND_EDGE = 0.9
"""Strong lines above this part of half the sampling rate mean that no filter was in the way."""
EDGE_LEVEL_DBC = -60.0
"""Weaker lines there are not mentioned: what they fold is below what is read."""


def judge_time(recording: Recording, limits: QualityLimits) -> Iterator[QualityFinding]:
    """Yield the findings on the stated sample times, if the file states any."""
    times = recording.sample_times_s
    if times is None or times.size < 2:
        return
    interval_s = 1.0 / recording.sampling_rate_hz
    steps = np.diff(times)
    if _coarse_stamps(times, steps, interval_s):
        return
    gaps = ~np.isfinite(steps) | (steps > 1.5 * interval_s) | (steps < 0.5 * interval_s)
    if gaps.any():
        yield _gap(gaps, steps, interval_s)
        return
    index = np.arange(times.size, dtype=np.float64)
    slope, start = np.polynomial.Polynomial.fit(index, times, 1).convert().coef[::-1]
    error = slope / interval_s - 1.0
    if abs(error) > limits.clock_error:
        yield _clock(float(error), float(1.0 / slope))
    jitter = float(np.std(times - start - slope * index)) / interval_s
    if jitter > limits.time_jitter:
        yield _jitter(jitter)


def judge_rate(survey: Survey, limits: QualityLimits, held: int) -> Iterator[QualityFinding]:
    """Yield a finding for what the sampling rate is too low for; ``held`` divides the rate."""
    if not isinstance(survey.frequency_hz, float):
        return
    rate_hz = survey.recording.sampling_rate_hz / held
    per_cycle = (1.0 + RATE_TOLERANCE) * rate_hz / survey.frequency_hz
    needed = {
        Ability.FUNDAMENTAL_LINES: limits.side_line_samples_per_cycle,
        Ability.HARMONIC_LINES: limits.harmonic_samples_per_cycle,
        Ability.SLIP: limits.slip_samples_per_cycle,
    }
    lost = {ability: least for ability, least in needed.items() if per_cycle < least}
    if not lost:
        return
    # Slip may still be had from lines at low frequency: the slot lines alone are out of reach.
    blocks = frozenset(lost) - {Ability.SLIP}
    verb, what = "are", " and the ".join(sorted(blocks))
    if not blocks:
        verb, what = "may be", "rotor-slot lines"
    asked_hz = float(f"{max(lost.values()) * survey.frequency_hz:.2g}")
    yield QualityFinding(
        code=FindingCode.LOW_RATE,
        severity=Severity.BLOCKING if blocks else Severity.CAUTION,
        message=f"{rate_hz:g} samples per second {verb} too few for the {what}.",
        value=rate_hz,
        unit="Hz",
        remedy=f"Record at about {asked_hz:g} Hz or more, with an anti-alias filter.",
        blocks=blocks,
    )


def judge_aliasing(survey: Survey, limits: QualityLimits) -> Iterator[QualityFinding]:
    """Yield a finding when strong lines were folded, or reach up to half the sampling rate."""
    if not isinstance(survey.frequency_hz, float):
        return
    for row in survey.rows(CURRENT_ROLES):
        channel = survey.recording.channels[row]
        power = _probe(channel)
        if power is None:
            continue
        cycles = survey.frequency_hz / survey.recording.sampling_rate_hz
        orders = folded_orders(power, cycles, limits.alias_level_db)
        edge_db = _edge_db(power)
        if orders or edge_db > limits.alias_level_db:
            yield _aliasing(channel.name, orders, edge_db)


def folded_orders(power: RealArray, cycles_per_sample: float, level_db: float) -> tuple[int, ...]:
    """Return the harmonic orders that are found folded about half the sampling rate.

    Parameters
    ----------
    power
        Power spectrum from zero to half the sampling rate, shape (n_bins,).
    cycles_per_sample
        Supply frequency over sampling rate.
    level_db
        How far a line must stand above the floor about it.
    """
    n_bins = power.size - 1
    true = np.arange(0.0, 0.5, cycles_per_sample) * 2.0 * n_bins
    found = []
    for order in FOLDED_ORDERS:
        frequency = order * cycles_per_sample
        folded = abs(frequency - round(frequency)) * 2.0 * n_bins
        clear = np.min(np.abs(true - folded)) > CLEARANCE_BINS and folded > CLEARANCE_BINS
        if frequency > 0.5 and clear and _line_db(power, round(folded)) > level_db:
            found.append(order)
    return tuple(found)


def _line_db(power: RealArray, centre: int) -> float:
    """Return how far the strongest bin near ``centre`` stands above the median about it."""
    near = power[max(0, centre - 2) : centre + 3]
    about = power[max(0, centre - FLOOR_BINS) : centre + FLOOR_BINS + 1]
    floor = float(np.median(about))
    return 10.0 * float(np.log10(near.max() / floor)) if floor > 0.0 and near.size else 0.0


def _edge_db(power: RealArray) -> float:
    """Return how far a strong line just below half the sampling rate stands out; 0 for none."""
    band = power[round(BAND_EDGE * power.size) : -1]
    floor = float(np.median(band)) if band.size else 0.0
    if floor <= 0.0 or decibel(math.sqrt(band.max() / power.max())) < EDGE_LEVEL_DBC:
        return 0.0
    return 10.0 * float(np.log10(band.max() / floor))


def _probe(channel: Channel) -> RealArray | None:
    """Return the mean power spectrum of a few pieces of the record; None when it is too short."""
    n = min(PROBE_SAMPLES, fft.prev_fast_len(max(channel.raw.size, 1), real=True))
    if n < 16 * FLOOR_BINS:
        return None
    count = min(MOST_PROBES, channel.raw.size // n)
    starts = np.linspace(0, channel.raw.size - n, count).astype(np.intp)
    window = _window(n)
    total = np.zeros(n // 2 + 1)
    for start in starts:
        piece = channel.raw[start : start + n].astype(np.float64)
        largest = float(np.abs(piece).max())
        if not 0.0 < largest < np.inf:
            continue
        piece /= largest
        total += np.abs(np.asarray(fft.rfft((piece - piece.mean()) * window))) ** 2
    return total if total.any() else None


@lru_cache(maxsize=1)
def _window(n: int) -> RealArray:
    """Return a window with side lobes below -100 dB, shape (n,)."""
    return np.kaiser(n, WINDOW_BETA)


def _coarse_stamps(times: RealArray, steps: RealArray, interval_s: float) -> bool:
    """Return whether times are even within their own resolution, coarser than the interval."""
    forward = steps[steps > 0.0]
    if not np.isfinite(times).all() or forward.size == 0 or (steps < 0.0).any():
        return False
    resolution_s = float(forward.min())
    stray = times - times[0] - interval_s * np.arange(times.size)
    return resolution_s > 1.5 * interval_s and float(np.ptp(stray)) < 1.5 * resolution_s


def _gap(gaps: NDArray[np.bool_], steps: RealArray, interval_s: float) -> QualityFinding:
    """Return the finding on missing or misplaced samples."""
    count = int(np.count_nonzero(gaps))
    longest_s = float(np.nanmax(steps))
    return QualityFinding(
        code=FindingCode.TIME_GAP,
        severity=Severity.BLOCKING,
        message=f"The stated times jump {count} times, by {longest_s / interval_s:.3g} sampling "
        "intervals at most: samples are missing.",
        value=float(count),
        unit="gaps",
        remedy="Record again without gaps; a spectrum of a torn record is not evidence.",
        blocks=EVERYTHING - {Ability.LOAD, Ability.POWER},
    )


def _clock(error: float, rate_hz: float) -> QualityFinding:
    """Return the finding on a rate that contradicts the stated times."""
    return QualityFinding(
        code=FindingCode.CLOCK_RATE,
        severity=Severity.CAUTION,
        message=f"The stated times give {rate_hz:.6g} samples per second, {100.0 * error:+.2f} % "
        "in the interval from the stated rate.",
        value=error,
        unit="per unit",
        remedy="Correct the sampling rate: every frequency read is wrong by this much.",
    )


def _jitter(jitter: float) -> QualityFinding:
    """Return the finding on uneven sampling."""
    return QualityFinding(
        code=FindingCode.TIME_JITTER,
        severity=Severity.CAUTION,
        message=f"The stated times stray by {jitter:.2g} sampling intervals (rms) from an even "
        "grid.",
        value=jitter,
        unit="sampling intervals",
        remedy="Use a recorder with a hardware clock; the floor beside strong lines is raised.",
    )


def _aliasing(name: str, orders: tuple[int, ...], edge_db: float) -> QualityFinding:
    """Return the finding on folded lines."""
    if orders:
        listed = ", ".join(str(order) for order in orders)
        message = f"Harmonics of order {listed} of {name} are folded: there was no filter."
    else:
        message = (
            f"{name} has a line {edge_db:.0f} dB above the floor just below half the sampling "
            "rate: lines above it may be folded into the record."
        )
    return QualityFinding(
        code=FindingCode.ALIASING,
        severity=Severity.CAUTION,
        channels=(name,),
        message=message,
        value=edge_db,
        unit="dB",
        remedy="Sample faster or switch the anti-alias filter on.",
    )
