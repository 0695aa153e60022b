"""Judge what a recording is good for, and say how many seconds, bits or channels are missing.

Nothing is repaired. Samples that cannot be used are left out by reading the longest steady
stretch, and every finding says what it stops (docs/theory/quality.md).
"""

from __future__ import annotations

from collections.abc import Iterator

from cagewise.conditioning.findings import (
    EVERYTHING,
    NEEDS_VOLTAGE,
    Ability,
    FindingCode,
    QualityFinding,
    Severity,
    merged,
)
from cagewise.conditioning.frame import least_duration_s
from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.quality_samples import held_samples, judge_samples
from cagewise.conditioning.quality_steady import (
    dead_channels,
    judge_duration,
    judge_phases,
    judge_steadiness,
    judge_voltage,
)
from cagewise.conditioning.quality_time import judge_aliasing, judge_rate, judge_time
from cagewise.conditioning.steady import STATOR_ROLES, Stretch, find_steady_stretches
from cagewise.conditioning.survey import LEAST_LINE_SHARE, Survey, survey_recording
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.quantities import NotKnown

QUARTER_LOAD = 0.25
"""Slip at a quarter of the load is a quarter of the rated slip (straight torque-slip line)."""

_ORDER = {Severity.BLOCKING: 0, Severity.CAUTION: 1, Severity.NOTE: 2}


def judge_quality(
    recording: Recording,
    limits: QualityLimits | None = None,
    *,
    nameplate: Nameplate | None = None,
    survey: Survey | None = None,
    stretches: tuple[Stretch, ...] | None = None,
) -> tuple[QualityFinding, ...]:
    """Return the findings on a recording, the worst first; never raises on what it holds.

    Parameters
    ----------
    recording
        Recording with roles.
    limits
        Limits of opinion.
    nameplate
        Rated slip says how long the record must be; without it that is judged once the slip is
        known (:func:`judge_duration`).
    survey, stretches
        Block values and steady stretches of the same recording, if they are at hand.
    """
    limits = limits or QualityLimits()
    if recording.n_samples == 0 or not any(recording.find(role) for role in CURRENT_ROLES):
        return (_nothing_to_read(recording),)
    survey = survey or survey_recording(recording)
    if stretches is None:
        stretches = find_steady_stretches(recording, limits, survey=survey)
    findings = [
        *judge_time(recording, limits),
        *_dead(survey),
        *_content(survey, stretches, limits, nameplate),
    ]
    return tuple(sorted(merged(findings), key=lambda finding: _ORDER[finding.severity]))


def _content(
    survey: Survey,
    stretches: tuple[Stretch, ...],
    limits: QualityLimits,
    nameplate: Nameplate | None,
) -> Iterator[QualityFinding]:
    """Yield the findings that need a supply frequency."""
    if isinstance(survey.frequency_hz, NotKnown):
        yield _no_line(survey.frequency_hz)
        return
    cycle = survey.recording.sampling_rate_hz / survey.frequency_hz
    yield from _without_sine(survey)
    held, finding = held_samples(survey)
    read = slice(0, survey.recording.n_samples)
    if stretches:
        read = slice(stretches[0].start, stretches[0].stop)
    yield from judge_samples(survey, limits, cycle, held, read)
    if finding is not None:
        yield finding
    yield from judge_rate(survey, limits, held)
    yield from judge_aliasing(survey, limits)
    yield from judge_voltage(survey)
    if not stretches:
        yield _no_stretch()
        return
    yield from judge_phases(survey, stretches[0], limits)
    yield from judge_steadiness(survey, stretches, limits)
    if stretches[0].duration_s < least_duration_s(survey.frequency_hz):
        yield _too_short(stretches[0].duration_s, least_duration_s(survey.frequency_hz))
    elif nameplate is not None:
        rated_hz = 2.0 * nameplate.rated_slip * survey.frequency_hz
        yield from judge_duration(
            stretches[0].duration_s,
            (QUARTER_LOAD * rated_hz, rated_hz),
            limits,
            condition=" (quarter to full load)",
        )


def _dead(survey: Survey) -> Iterator[QualityFinding]:
    """Yield a finding when channels never change."""
    names = dead_channels(survey, STATOR_ROLES)
    if names:
        yield QualityFinding(
            code=FindingCode.DEAD_CHANNEL,
            severity=Severity.BLOCKING,
            channels=names,
            message=f"{', '.join(names)} never changed, or holds no numbers.",
            remedy="Check clamp, range and wiring. A dead sensor's channel can be given the role "
            "'other'.",
            blocks=_lost_with(survey, names),
        )


def _lost_with(survey: Survey, names: tuple[str, ...]) -> frozenset[Ability]:
    """Return what cannot be read when these stator channels hold no supply sine."""
    roles = {channel.role for channel in survey.recording.channels if channel.name in names}
    return EVERYTHING if roles & set(CURRENT_ROLES) else NEEDS_VOLTAGE


def _without_sine(survey: Survey) -> Iterator[QualityFinding]:
    """Yield a finding on live channels in which the supply frequency hardly stands."""
    names = tuple(
        survey.recording.channels[row].name
        for row in survey.rows(STATOR_ROLES)
        if survey.line_share[row] < LEAST_LINE_SHARE
    )
    names = tuple(name for name in names if name not in dead_channels(survey, STATOR_ROLES))
    if names:
        yield QualityFinding(
            code=FindingCode.NO_LINE_FREQUENCY,
            severity=Severity.BLOCKING,
            channels=names,
            message=f"Hardly anything stands at the supply frequency in {', '.join(names)}.",
            remedy="Check clamp, range and wiring, or give the channel the role 'other'.",
            blocks=_lost_with(survey, names),
        )


def _nothing_to_read(recording: Recording) -> QualityFinding:
    """Return the finding on a recording without samples or without a current."""
    empty = recording.n_samples == 0
    return QualityFinding(
        code=FindingCode.EMPTY if empty else FindingCode.NO_CURRENT,
        severity=Severity.BLOCKING,
        message="The recording holds no samples."
        if empty
        else "No channel of the recording is a stator current.",
        remedy="Record again." if empty else 'Name one with --role "NAME=i_a".',
        blocks=EVERYTHING,
    )


def _no_line(reason: NotKnown) -> QualityFinding:
    """Return the finding on a recording without a supply frequency."""
    return QualityFinding(
        code=FindingCode.NO_LINE_FREQUENCY,
        severity=Severity.BLOCKING,
        message=f"No supply frequency can be found: {reason.reason}.",
        remedy="Check the sampling rate; if it is right, record a running motor for a minute.",
        blocks=EVERYTHING,
    )


def _too_short(duration_s: float, least_s: float) -> QualityFinding:
    """Return the finding on a stretch too short for any spectrum."""
    return QualityFinding(
        code=FindingCode.TOO_SHORT,
        severity=Severity.BLOCKING,
        message=f"The motor ran steadily for {duration_s:.3g} s only; nothing can be read from "
        f"less than {least_s:.3g} s.",
        value=least_s,
        unit="s",
        remedy="Record a minute at constant load.",
        blocks=EVERYTHING,
    )


def _no_stretch() -> QualityFinding:
    """Return the finding on a recording in which the motor never ran steadily."""
    return QualityFinding(
        code=FindingCode.NOT_RUNNING,
        severity=Severity.BLOCKING,
        message="The motor never ran steadily in this recording.",
        remedy="Record a running motor at constant load for a minute.",
        blocks=EVERYTHING - {Ability.VOLTAGE_FRAME},
    )
