"""The first look at a recording, shared by what it shows of the motor running and starting."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cagewise.conditioning import (
    FindingCode,
    QualityFinding,
    RoleProof,
    Severity,
    Stretch,
    find_steady_stretches,
    judge_quality,
    prove_roles,
    survey_recording,
)
from cagewise.conditioning.starts import MotorStart, StartKind, find_starts
from cagewise.decision.examination import Settings
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.quantities import NotKnown


@dataclass(frozen=True, kw_only=True)
class Looked:
    """What is known of a recording before anything is read on it."""

    proof: RoleProof
    """Holds the recording with its roles."""
    quality: tuple[QualityFinding, ...]
    """Worst first."""
    stretches: tuple[Stretch, ...]
    """Where the motor ran steadily, longest first."""
    starts: tuple[MotorStart, ...]
    """Where it was started, in the order of time."""
    frequency_hz: float | NotKnown
    """Of the supply."""


def look_at(motor: Motor, recording: Recording, settings: Settings) -> Looked:
    """Look at a recording: roles, quality, steady stretches, starts.

    Raises
    ------
    ChannelRoleError
        If the channel roles are wrong or not known; the remedy says which would be right.
    """
    limits = settings.limits
    survey = survey_recording(recording)
    stretches = find_steady_stretches(recording, limits.quality, survey=survey)
    proof = prove_roles(
        recording,
        motor.nameplate,
        limits.quality,
        confirmed=settings.roles_confirmed,
        survey=survey,
        stretches=stretches,
    )
    starts = find_starts(proof.recording, limits.start, survey=survey)
    at_speed = tuple(s for s in stretches if not _within_start(s, starts))
    judged = judge_quality(
        recording,
        limits.quality,
        nameplate=motor.nameplate,
        survey=survey,
        stretches=at_speed or stretches,
    )
    return Looked(
        proof=proof,
        quality=worst_first((*_apart_from_starts(judged, starts), *proof.findings)),
        stretches=at_speed,
        starts=starts,
        frequency_hz=survey.frequency_hz,
    )


def _apart_from_starts(
    findings: Iterable[QualityFinding], starts: Sequence[MotorStart]
) -> tuple[QualityFinding, ...]:
    """Return findings without steps of the load that are the ramp of a converter."""
    ramped = any(start.kind is StartKind.CONVERTER for start in starts)
    return tuple(f for f in findings if not (ramped and f.code is FindingCode.LOAD_STEP))


def _within_start(stretch: Stretch, starts: Sequence[MotorStart]) -> bool:
    """Return whether a stretch of even current is part of a start: the motor was not at speed."""
    return any(
        start.switched_on <= stretch.start
        and (start.settled is None or stretch.start < start.settled)
        and start.kind is not StartKind.CONVERTER  # its current never falls: no end to wait for
        for start in starts
    )


def worst_first(findings: Iterable[QualityFinding]) -> tuple[QualityFinding, ...]:
    """Return findings in the order of their severity, each once."""
    order = (Severity.BLOCKING, Severity.CAUTION, Severity.NOTE)
    return tuple(sorted(dict.fromkeys(findings), key=lambda f: order.index(f.severity)))


def clause(finding: QualityFinding) -> str:
    """Return a message as a clause that can stand after a colon; names keep their capital."""
    text = finding.message.strip().removesuffix(".")
    first, _, rest = text.partition(" ")
    is_name = any(text.startswith(name) for name in finding.channels)
    is_word = len(first) > 1 and first[1:].islower() and not is_name
    return f"{first.lower()} {rest}".strip() if is_word else text
