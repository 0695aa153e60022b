"""One recording of the running motor: roles, quality, steady stretch, readings, evidence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from cagewise.conditioning import (
    Ability,
    FindingCode,
    QualityFinding,
    RoleProof,
    StatorSignals,
    Stretch,
    SupplyFrame,
    blocked_abilities,
    judge_duration,
    supply_frame,
)
from cagewise.conditioning.findings import EVERYTHING
from cagewise.conditioning.frame import least_duration_s
from cagewise.decision.examination import (
    CurrentTrend,
    RecordExamination,
    Settings,
)
from cagewise.decision.verdict import judge
from cagewise.evidence.cage import SEPARATING_READING
from cagewise.evidence.competing import ACTIVE_POWER_READING, REACTIVE_POWER_READING
from cagewise.evidence.fusion.posterior import Channels, LoadBand, Stratum
from cagewise.evidence.weigh import weigh
from cagewise.indicators.cage.catalogue import read_cage
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.reading import IndependenceClass, Reading
from cagewise.indicators.running.operating_point import OperatingPoint, find_operating_point
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Starting
from cagewise.measurement import CURRENT_ROLES, Recording, Role
from cagewise.pipeline.looking import Looked, clause, worst_first
from cagewise.quantities import Estimate, NotKnown, synchronous_speed_rpm

TREND_POINTS = 600
"""Points of the current against time: more cannot be seen in a figure of a page's width."""
LARGEST_STATED_SLIP = 0.2
"""No cage motor runs steadily at a larger slip; a stated speed below it is a mistake."""
MEASURED_ROLES = frozenset(Role) - {Role.OTHER, Role.UNASSIGNED}


def examine_running(looked: Looked, motor: Motor, settings: Settings) -> RecordExamination:
    """Examine what a recording shows of the running motor."""
    part = _Part(
        motor=motor,
        settings=settings,
        recording=_without_blocked_voltages(looked.proof.recording, looked.quality),
        proof=looked.proof,
        quality=looked.quality,
        stretch=looked.stretches[0] if looked.stretches else None,
    )
    stopped = _why_not_examined(part, looked.frequency_hz)
    if stopped or isinstance(looked.frequency_hz, NotKnown):
        return _conclude(part, _unread(stopped))
    return _conclude(*_read(part, looked.stretches[0], looked.frequency_hz))


@dataclass(frozen=True, kw_only=True)
class _Part:
    """One recording on its way through the recipe."""

    motor: Motor
    settings: Settings
    recording: Recording
    proof: RoleProof
    quality: tuple[QualityFinding, ...]
    stretch: Stretch | None


@dataclass(frozen=True, kw_only=True)
class _Read:
    """What was read on a recording."""

    point: OperatingPoint | NotKnown
    readings: tuple[Reading, ...] = ()
    spectra: tuple[Spectrum, ...] = ()
    trend: CurrentTrend | None = None
    stopped: str = ""


def _unread(reason: str) -> _Read:
    """Return that nothing was read."""
    return _Read(point=NotKnown(reason), stopped=reason)


def _why_not_examined(part: _Part, frequency_hz: float | NotKnown) -> str:
    """Return why a recording cannot be read at all, as a clause; empty when it can."""
    for finding in part.quality:
        if finding.blocks >= EVERYTHING:
            return clause(finding)
    if isinstance(frequency_hz, NotKnown):
        return frequency_hz.reason
    if impossible := _why_no_speed(part, frequency_hz):
        return impossible
    if part.stretch is None:
        return "the motor never ran steadily in this recording"
    least_s = least_duration_s(frequency_hz)
    if part.stretch.duration_s < least_s:
        return (
            f"the motor ran steadily for {part.stretch.duration_s:.2g} s only; "
            f"nothing can be read on less than {least_s:.2g} s"
        )
    return ""


def _why_no_speed(part: _Part, frequency_hz: float) -> str:
    """Return why the speed that the user stated cannot be right; empty when it can."""
    stated, pairs = part.settings.speed_rpm, part.motor.nameplate.pole_pairs
    highest_rpm = synchronous_speed_rpm(frequency_hz, pairs)
    lowest_rpm = (1.0 - LARGEST_STATED_SLIP) * highest_rpm
    if stated is None or (stated.low < highest_rpm and stated.high > lowest_rpm):
        return ""
    return (
        f"the stated speed of {stated.value:g} r/min cannot be that of {2 * pairs} poles on "
        f"{frequency_hz:.1f} Hz, which lies between {lowest_rpm:.0f} and {highest_rpm:.0f} r/min"
    )


def _read(part: _Part, stretch: Stretch, frequency_hz: float) -> tuple[_Part, _Read]:
    """Read operating point and indicators on a steady stretch."""
    motor, settings = part.motor, part.settings
    signals = StatorSignals.from_recording(stretch.cut(part.recording))
    frame = supply_frame(signals, frequency_hz)
    circuit = circuit_ensemble(motor)
    point = find_operating_point(frame, motor, circuit, settings.speed_rpm)
    point = _with_known_load(point, part.quality)
    cage = read_cage(frame, point, motor, circuit, settings.limits.cage)
    part = replace(part, quality=_judge_again(part, stretch, point))
    read = _Read(
        point=point,
        readings=tuple(_withheld(reading, part.quality) for reading in cage.readings),
        spectra=cage.spectra,
        trend=_trend(frame, stretch.start / part.recording.sampling_rate_hz),
    )
    return part, read


def _conclude(part: _Part, read: _Read) -> RecordExamination:
    """Weigh and judge what was read on one recording."""
    limits = part.settings.limits
    roles = tuple(
        (channel.name, channel.role)
        for channel in part.recording.channels
        if channel.role in MEASURED_ROLES
    )
    voltages = sum(role not in CURRENT_ROLES for _, role in roles)
    currents = len(roles) - voltages
    evidence = weigh(
        read.readings,
        limits.evidence,
        voltages_measured=voltages > 0,
        calibration=part.settings.study,
        stratum=_stratum(part.motor, read.point, Channels.of(currents, voltages)),
    )
    rate_hz = part.recording.sampling_rate_hz
    return RecordExamination(
        provenance=part.recording.provenance,
        start_time=part.recording.start_time,
        duration_s=part.recording.duration_s,
        sampling_rate_hz=rate_hz,
        currents_measured=currents,
        voltages_measured=voltages,
        roles=roles,
        roles_proven=part.proof.proven,
        role_statements=part.proof.statements,
        quality=part.quality,
        stretch_s=None
        if part.stretch is None
        else (part.stretch.start / rate_hz, part.stretch.stop / rate_hz),
        operating_point=read.point,
        readings=read.readings,
        evidence=evidence,
        verdict=judge(evidence, limits.decision),
        spectra=read.spectra,
        trend=read.trend,
        stopped=read.stopped,
    )


def _stratum(motor: Motor, point: OperatingPoint | NotKnown, channels: Channels) -> Stratum:
    """Return the kind of record whose rates in the study apply."""
    return Stratum(
        channels=channels,
        load=LoadBand.of(None if isinstance(point, NotKnown) else point.load_fraction),
        converter_fed=motor.nameplate.starting is Starting.CONVERTER,
    )


def _with_known_load(point: OperatingPoint, quality: Iterable[QualityFinding]) -> OperatingPoint:
    """Return the operating point, its load withheld where currents or voltages have wrong sizes."""
    for finding in quality:
        if Ability.LOAD in finding.blocks and isinstance(point.load_fraction, Estimate):
            reason = f"{clause(finding)}: check ratio and unit"
            return replace(point, load_fraction=NotKnown(reason))
    return point


def _judge_again(
    part: _Part, stretch: Stretch, point: OperatingPoint
) -> tuple[QualityFinding, ...]:
    """Judge the length with the measured slip instead of that of the nameplate.

    A rate that might have been too low to find the slip was not, once the slip is known.
    """
    pole_pass = point.pole_pass_frequency_hz
    if isinstance(pole_pass, NotKnown):
        return part.quality
    others = [
        f
        for f in part.quality
        if f.code is not FindingCode.TOO_SHORT
        and not (f.code is FindingCode.LOW_RATE and not f.blocks)
    ]
    limits = part.settings.limits.quality
    span = (pole_pass.low, pole_pass.high)
    return worst_first((*others, *judge_duration(stretch.duration_s, span, limits)))


def _withheld(reading: Reading, quality: Iterable[QualityFinding]) -> Reading:
    """Return a reading, refused if a quality finding blocks what it rests on."""
    needs = {_ABILITY_OF_CLASS[reading.independence_class]} | _ABILITY_OF_READING.get(
        reading.name, set()
    )
    for finding in quality:
        if reading.valid and finding.blocks & needs:
            return replace(
                reading,
                value=None,
                valid=False,
                reason=clause(finding),
                false_alarm_probability=None,
                open_bar_equivalent=None,
                detection_limit_bars=None,
            )
    return reading


def _without_blocked_voltages(recording: Recording, quality: Iterable[QualityFinding]) -> Recording:
    """Return the recording without voltages when a finding says they cannot be used."""
    blocked = Ability.VOLTAGE_FRAME in blocked_abilities(quality)
    voltages = {
        channel.name: Role.OTHER
        for channel in recording.channels
        if channel.role in MEASURED_ROLES and channel.role not in CURRENT_ROLES
    }
    if not blocked or not voltages:
        return recording
    return recording.with_roles(voltages).with_step("voltages set aside: they cannot be used")


def _trend(frame: SupplyFrame, start_s: float) -> CurrentTrend:
    """Return the current envelope on few enough points to draw: means of equal groups."""
    group = max(1, frame.current.size // TREND_POINTS)
    whole = frame.current.size // group * group
    envelope = np.abs(frame.current[:whole]).reshape(-1, group).mean(axis=1) / np.sqrt(2.0)
    time_s = frame.time_s[:whole].reshape(-1, group).mean(axis=1) + start_s
    return CurrentTrend(time_s=time_s, line_current_rms_a=envelope)


_ABILITY_OF_CLASS = {
    IndependenceClass.RUNNING_FUNDAMENTAL: Ability.FUNDAMENTAL_LINES,
    IndependenceClass.RUNNING_HARMONIC: Ability.HARMONIC_LINES,
}
_ABILITY_OF_READING = {
    SEPARATING_READING: {Ability.DIRECT_COMPONENT},
    ACTIVE_POWER_READING: {Ability.POWER},
    REACTIVE_POWER_READING: {Ability.POWER},
}
