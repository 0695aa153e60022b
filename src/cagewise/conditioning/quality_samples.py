"""Findings on the stored samples: rails, gaps, repetitions, resolution, offset."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cagewise.conditioning.findings import (
    EVERYTHING,
    Ability,
    FindingCode,
    QualityFinding,
    Severity,
)
from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.samples import Inspection, find_repetition, held_factor
from cagewise.conditioning.steady import STATOR_ROLES
from cagewise.conditioning.survey import Survey

LINES = frozenset({Ability.FUNDAMENTAL_LINES, Ability.HARMONIC_LINES, Ability.DIRECT_COMPONENT})
"""What lives on the floor of the spectrum beside strong lines."""
FLOOR_FALSE_ALARM = 1e-6
"""False-alarm probability of the floor that quantisation is expressed in."""


def judge_samples(
    survey: Survey, limits: QualityLimits, cycle: float, held: int, read: slice
) -> Iterator[QualityFinding]:
    """Yield the findings on each stator channel.

    ``cycle`` is in samples; where samples are ``held``, standing still is no sign of dropouts;
    ``read`` are the samples that will be read (clipping in the start of the motor is a note).
    """
    for row in survey.rows(STATOR_ROLES):
        inspection = survey.inspections[row]
        if inspection is None or inspection.low == inspection.high:
            continue  # told by the finding on dead channels
        name = survey.recording.channels[row].name
        yield from _clipping(inspection, name, limits, cycle, read)
        yield from _not_numbers(inspection, name)
        if held == 1:
            yield from _dropouts(inspection, name, survey, limits, cycle)
        yield from _quantisation(inspection, name, survey, row, limits)
        yield from _offset(name, survey, row, limits)
    yield from _repetition(survey, cycle)


def held_samples(survey: Survey) -> tuple[int, QualityFinding | None]:
    """Return how often samples are repeated (1: not at all) and the finding that says so."""
    factors = {}
    for row in survey.rows(STATOR_ROLES):
        inspection, channel = survey.inspections[row], survey.recording.channels[row]
        factors[channel.name] = 1 if inspection is None else held_factor(channel.raw, inspection)
    held = {name: factor for name, factor in factors.items() if factor > 1}
    if not held:
        return 1, None
    factor = max(held.values())
    rate_hz = survey.recording.sampling_rate_hz / factor
    return factor, QualityFinding(
        code=FindingCode.HELD_SAMPLES,
        severity=Severity.CAUTION,
        channels=tuple(held),
        message=f"Every sample is stored {factor} times: the true sampling rate is {rate_hz:g} Hz.",
        value=float(factor),
        unit="repetitions",
        remedy="Record at the rate the instrument really samples at.",
    )


def quantisation_floor_dbc(amplitude: float, step: float, n_samples: int) -> float:
    """Return the line amplitude that quantisation noise exceeds once in a million, in dBc.

    White noise of variance ``step^2 / 12`` gives a spectral line amplitude A with
    ``P(A > x) = exp(-x^2 n / (4 sigma^2))`` in a transform of n samples.
    """
    per_step = 4.0 / 12.0 / n_samples * math.log(1.0 / FLOOR_FALSE_ALARM)
    return 10.0 * math.log10(per_step) + 20.0 * math.log10(step / amplitude)


def _clipping(
    inspection: Inspection, name: str, limits: QualityLimits, cycle: float, read: slice
) -> Iterator[QualityFinding]:
    """Yield a finding when tops are flat."""
    tops = inspection.flat_tops(cycle)
    inside = tops.overlapping(read.start, read.stop)
    blocking = inside.samples > limits.clipped_part * (read.stop - read.start)
    if blocking:
        tops = inside
    elif tops.samples == 0:
        return
    where = "" if blocking else ", outside the stretch that is read"
    yield QualityFinding(
        code=FindingCode.CLIPPING,
        severity=Severity.BLOCKING if blocking else Severity.NOTE,
        channels=(name,),
        message=f"{tops.samples} samples of {name} are clipped, in {tops.length.size} flat "
        f"tops{where}.",
        value=float(tops.samples),
        unit="samples",
        remedy="Choose a larger measuring range and record again.",
        blocks=LINES if blocking else frozenset(),
    )


def _not_numbers(inspection: Inspection, name: str) -> Iterator[QualityFinding]:
    """Yield a finding on samples that are no numbers."""
    if inspection.not_numbers:
        yield QualityFinding(
            code=FindingCode.NOT_A_NUMBER,
            severity=Severity.CAUTION,
            channels=(name,),
            message=f"{inspection.not_numbers} samples of {name} are not numbers.",
            value=float(inspection.not_numbers),
            unit="samples",
            remedy="They are left out, not replaced; the longest unbroken stretch is read.",
        )


def _dropouts(
    inspection: Inspection, name: str, survey: Survey, limits: QualityLimits, cycle: float
) -> Iterator[QualityFinding]:
    """Yield a finding on constant runs inside the sine."""
    n = survey.recording.n_samples
    runs = inspection.dropouts(cycle, limits.dropout_cycles)
    if runs.length.size == 0:
        return
    severe = runs.samples > limits.dropout_part * n
    longest_s = float(runs.length.max()) / survey.recording.sampling_rate_hz
    yield QualityFinding(
        code=FindingCode.DROPOUT,
        severity=Severity.CAUTION if severe else Severity.NOTE,
        channels=(name,),
        message=f"{name} stands still {runs.length.size} times, for {longest_s * 1e3:.3g} ms at "
        "most: samples were lost.",
        value=float(runs.samples),
        unit="samples",
        remedy="They are left out, not replaced; the longest unbroken stretch is read.",
    )


def _quantisation(
    inspection: Inspection, name: str, survey: Survey, row: int, limits: QualityLimits
) -> Iterator[QualityFinding]:
    """Yield the resolution of a channel whose values have a visible step."""
    scale = abs(survey.recording.channels[row].scale)
    phasor = survey.phasor[row]
    finite = np.abs(phasor[np.isfinite(phasor)])
    if inspection.step is None or finite.size == 0 or scale == 0.0:
        return
    amplitude = float(np.median(finite)) / scale
    if amplitude <= 0.0:
        return
    floor_dbc = quantisation_floor_dbc(amplitude, inspection.step, survey.recording.n_samples)
    bits = math.log2(max(2.0 * amplitude / inspection.step, 1.0))
    coarse = floor_dbc > limits.quantisation_level_dbc
    yield QualityFinding(
        code=FindingCode.QUANTISATION,
        severity=Severity.CAUTION if coarse else Severity.NOTE,
        channels=(name,),
        message=f"{name} uses {bits:.1f} effective bits; quantisation alone hides lines below "
        f"{floor_dbc:.0f} dBc.",
        value=floor_dbc,
        unit="dBc",
        remedy="Choose a smaller measuring range, or a converter with more bits." if coarse else "",
    )


def _offset(name: str, survey: Survey, row: int, limits: QualityLimits) -> Iterator[QualityFinding]:
    """Yield a note on a large direct component; it disturbs nothing that is read."""
    known = np.isfinite(survey.rms[row])
    if not known.any():
        return
    mean = float(np.median(survey.mean[row][known]))
    rms = float(np.median(survey.rms[row][known]))
    if not (rms > 0.0 and abs(mean) > limits.direct_offset * rms):
        return
    yield QualityFinding(
        code=FindingCode.DIRECT_OFFSET,
        severity=Severity.NOTE,
        channels=(name,),
        message=f"{name} has a direct component of {100.0 * abs(mean) / rms:.0f} % of its rms "
        "value.",
        value=mean / rms,
        unit="per unit",
        remedy="Zero the sensor; nothing that is read here is disturbed.",
    )


def _repetition(survey: Survey, cycle: float) -> Iterator[QualityFinding]:
    """Yield a finding when the same samples occur twice; one channel stands for all."""
    rows = survey.rows(STATOR_ROLES)
    found = find_repetition(survey.recording.channels[rows[0]].raw, cycle) if rows else None
    if found is None:
        return
    rate_hz = survey.recording.sampling_rate_hz
    whole = found.whole(survey.recording.n_samples)
    lag_s, length_s = found.lag / rate_hz, found.length / rate_hz
    message = (
        f"The record repeats itself exactly every {lag_s:.4g} s: it holds no more than that."
        if whole
        else f"{length_s:.4g} s of samples at {found.start / rate_hz:.4g} s repeat those of "
        f"{lag_s:.4g} s before, bit by bit."
    )
    yield QualityFinding(
        code=FindingCode.REPEATED_BLOCK,
        severity=Severity.BLOCKING,
        channels=(survey.recording.channels[rows[0]].name,),
        message=message,
        value=lag_s,
        unit="s",
        remedy="Find out why the recorder delivered a buffer twice, and record again.",
        blocks=EVERYTHING - {Ability.POWER, Ability.LOAD},
    )
