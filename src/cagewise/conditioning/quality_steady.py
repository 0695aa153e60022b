"""Findings on what the motor and its supply did: steps, drift, missing phases, length."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from cagewise.conditioning.findings import (
    EVERYTHING,
    NEEDS_VOLTAGE,
    Ability,
    FindingCode,
    QualityFinding,
    Severity,
)
from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.steady import Boundary, Stretch
from cagewise.conditioning.survey import Survey
from cagewise.measurement import CURRENT_ROLES, LINE_VOLTAGE_ROLES, PHASE_VOLTAGE_ROLES, Role
from cagewise.quantities import PHASE_OPERATOR, RealArray

FREQUENCY_WINDOW_S = 1.0
"""The supply frequency is averaged over this long before its drift is judged."""
NEEDS_SIDE_LINES = frozenset(
    {Ability.FUNDAMENTAL_LINES, Ability.HARMONIC_LINES, Ability.DIRECT_COMPONENT}
)
"""What needs lines near the supply line to be told from it."""
KINDS = (
    ("current", CURRENT_ROLES),
    ("phase voltage", PHASE_VOLTAGE_ROLES),
    ("line voltage", LINE_VOLTAGE_ROLES),
)
"""Sets of channels that should be of one size."""


def judge_steadiness(
    survey: Survey, stretches: tuple[Stretch, ...], limits: QualityLimits
) -> Iterator[QualityFinding]:
    """Yield findings on load steps, load drift and frequency drift."""
    best = stretches[0]
    whole_s = survey.recording.duration_s
    ordered = sorted(stretches, key=lambda stretch: stretch.start)
    steps = [
        (before, after)
        for before, after in itertools.pairwise(ordered)
        if after.began is Boundary.LOAD_STEP and before.ended is Boundary.LOAD_STEP
    ]
    if steps:
        change = max(abs(a.current_rms_a / b.current_rms_a - 1.0) for b, a in steps)
        yield QualityFinding(
            code=FindingCode.LOAD_STEP,
            severity=Severity.CAUTION,
            message=f"The load changed {len(steps)} times, by up to {100.0 * change:.0f} % of the "
            f"current; {best.duration_s:.3g} s of {whole_s:.3g} s are read.",
            value=change,
            unit="per unit",
            remedy="Record at constant load.",
        )
    if best.drift > limits.load_drift:
        yield QualityFinding(
            code=FindingCode.LOAD_DRIFT,
            severity=Severity.CAUTION,
            message=f"The current strays by {100.0 * best.drift:.1f} % (rms) while it is read.",
            value=best.drift,
            unit="per unit",
            remedy="Record at constant load; lines are smeared by the changing slip.",
        )
    yield from _frequency_drift(survey, best, limits)


def judge_phases(survey: Survey, best: Stretch, limits: QualityLimits) -> Iterator[QualityFinding]:
    """Yield findings on dead, missing and unequal phases."""
    blocks = _blocks(survey, best)
    for kind, roles in KINDS:
        rows = survey.rows(roles)
        if not rows:
            continue
        size = np.array([_median_size(survey, row, blocks) for row in rows])
        missing = [
            r for r, a in zip(rows, size, strict=True) if a < limits.missing_phase * max(size)
        ]
        if missing:
            yield _missing(kind, tuple(survey.recording.channels[row].name for row in missing))
        elif len(rows) == 3:
            limit = limits.current_unbalance if roles is CURRENT_ROLES else limits.voltage_unbalance
            yield from _unbalance(kind, survey, rows, blocks, limit)


def judge_voltage(survey: Survey) -> Iterator[QualityFinding]:
    """Yield a finding when there is no voltage, or a single one."""
    phase, line = survey.rows(PHASE_VOLTAGE_ROLES), survey.rows(LINE_VOLTAGE_ROLES)
    if len(phase) == 3 or len(line) >= 2:
        return
    if len(line) == 1:
        yield QualityFinding(
            code=FindingCode.TWO_WIRE_VOLTAGE,
            severity=Severity.CAUTION,
            channels=(survey.recording.channels[line[0]].name,),
            message="Only one line voltage was measured: unbalance of the supply turns the frame "
            "and the power by an unknown small angle.",
            value=1.0,
            unit="line voltages",
            remedy="Record two line voltages.",
        )
        return
    yield QualityFinding(
        code=FindingCode.NO_VOLTAGE,
        severity=Severity.CAUTION,
        message="No usable set of voltages was measured: wander of the supply stays in the "
        "current, and power and its direction are not known.",
        value=float(len(phase)),
        unit="phase voltages",
        remedy="Record two line voltages together with the currents.",
        blocks=NEEDS_VOLTAGE,
    )


def judge_duration(
    duration_s: float,
    pole_pass_hz: tuple[float, float],
    limits: QualityLimits,
    *,
    condition: str = "",
) -> tuple[QualityFinding, ...]:
    """Return a finding when a record is too short for the lines beside the supply line.

    Parameters
    ----------
    duration_s
        Length of the steady stretch.
    pole_pass_hz
        Lowest and highest pole-pass frequency 2 s f that must be reckoned with.
    limits
        ``side_line_separation`` and ``side_line_separation_joint`` are used.
    condition
        What the pole-pass frequency rests on, for the wording (" at rated load").
    """
    low_hz, high_hz = pole_pass_hz
    if low_hz <= 0.0 or duration_s * low_hz >= limits.side_line_separation:
        return ()
    needed_s = (limits.side_line_separation / high_hz, limits.side_line_separation / low_hz)
    hopeless = duration_s * high_hz < limits.side_line_separation_joint
    shortest, longest = (f"{seconds:.0f}" for seconds in needed_s)
    span = longest if shortest == longest else f"{shortest} to {longest}"
    lines = f"{low_hz:.3g}" + (f" to {high_hz:.3g}" if low_hz < high_hz else "")
    return (
        QualityFinding(
            code=FindingCode.TOO_SHORT,
            severity=Severity.BLOCKING if hopeless else Severity.CAUTION,
            message=f"{duration_s:.3g} s are too short to part side lines at {lines} Hz from the "
            f"supply line{condition}: {span} s would be needed.",
            value=math.ceil(needed_s[1]),
            unit="s",
            remedy=f"Record {math.ceil(needed_s[1])} s or more, or at higher load.",
            blocks=NEEDS_SIDE_LINES if hopeless else frozenset(),
        ),
    )


def _frequency_drift(
    survey: Survey, best: Stretch, limits: QualityLimits
) -> Iterator[QualityFinding]:
    """Yield a finding when the mean supply frequency of one second moved too far."""
    frequency = block_frequency_hz(survey, best)
    count = round(FREQUENCY_WINDOW_S / survey.block_s)
    if frequency is None or count < 1 or frequency.size < 2 * count:
        return
    n = frequency.size // count
    drift_hz = float(np.ptp(frequency[: n * count].reshape(n, count).mean(axis=1)))
    if drift_hz <= limits.frequency_drift_hz:
        return
    voltage = bool(survey.rows(PHASE_VOLTAGE_ROLES + LINE_VOLTAGE_ROLES))
    yield QualityFinding(
        code=FindingCode.FREQUENCY_DRIFT,
        severity=Severity.NOTE if voltage else Severity.CAUTION,
        message=f"The supply frequency moved by {drift_hz:.2g} Hz"
        + ("; the frame of the measured voltage follows it." if voltage else "."),
        value=drift_hz,
        unit="Hz",
        remedy="" if voltage else "Record two line voltages together with the currents.",
    )


def block_frequency_hz(survey: Survey, best: Stretch) -> RealArray | None:
    """Return the supply frequency from block to block of a stretch, None without a line."""
    rows = survey.rows(LINE_VOLTAGE_ROLES + PHASE_VOLTAGE_ROLES) or survey.rows(CURRENT_ROLES)
    if not rows or not isinstance(survey.frequency_hz, float):
        return None
    phasor = survey.phasor[rows[0], _blocks(survey, best)]
    advance = np.angle(phasor[1:] * np.conj(phasor[:-1]))
    return np.asarray(survey.frequency_hz + advance / (2.0 * np.pi * survey.block_s))


def _blocks(survey: Survey, best: Stretch) -> slice:
    """Return the blocks of a stretch."""
    return slice(best.start // survey.block_samples, max(best.stop // survey.block_samples, 1))


def _median_size(survey: Survey, row: int, blocks: slice) -> float:
    """Return the median amplitude of a channel's fundamental."""
    size = np.abs(survey.phasor[row, blocks])
    size = size[np.isfinite(size)]
    return float(np.median(size)) if size.size else 0.0


def _missing(kind: str, names: tuple[str, ...]) -> QualityFinding:
    """Return the finding on channels without a fundamental."""
    current = kind == "current"
    return QualityFinding(
        code=FindingCode.MISSING_PHASE,
        severity=Severity.BLOCKING,
        channels=names,
        message=f"No {kind} at the supply frequency in {', '.join(names)}, but in the others.",
        remedy="Check clamp, fuse and wiring. If the sensor is dead, give its channel the role "
        "'other'; two currents, or two line voltages, are enough.",
        blocks=EVERYTHING if current else NEEDS_VOLTAGE,
    )


def _unbalance(
    kind: str, survey: Survey, rows: list[int], blocks: slice, limit: float
) -> Iterator[QualityFinding]:
    """Yield a finding when one sequence is a large part of the other."""
    phasors = survey.phasor[rows, blocks]
    phasors = phasors[:, np.isfinite(phasors).all(axis=0)]
    if phasors.size == 0:
        return
    a, b, c = phasors
    one = float(np.median(np.abs(a + PHASE_OPERATOR * b + PHASE_OPERATOR**2 * c)))
    two = float(np.median(np.abs(a + PHASE_OPERATOR**2 * b + PHASE_OPERATOR * c)))
    if max(one, two) <= 0.0 or min(one, two) <= limit * max(one, two):
        return
    ratio = min(one, two) / max(one, two)
    yield QualityFinding(
        code=FindingCode.UNBALANCE,
        severity=Severity.CAUTION,
        channels=tuple(survey.recording.channels[row].name for row in rows),
        message=f"The {kind}s are unbalanced by {100.0 * ratio:.0f} % (negative over positive "
        "sequence).",
        value=ratio,
        unit="per unit",
        remedy="Check supply, connections and sensors.",
    )


def dead_channels(survey: Survey, roles: tuple[Role, ...]) -> tuple[str, ...]:
    """Return the names of the channels with one of ``roles`` that never change."""
    names = []
    for row in survey.rows(roles):
        inspection = survey.inspections[row]
        if inspection is None or inspection.low == inspection.high:
            names.append(survey.recording.channels[row].name)
    return tuple(names)
