"""The starts of a recording, beside the earlier starts of the motor."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cagewise.conditioning.starts import MotorStart
from cagewise.decision.examination import SetAside, Settings, StartExamination
from cagewise.evidence.weigh import weigh
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.start.current import initial_current
from cagewise.indicators.start.facts import StartFacts, start_facts
from cagewise.indicators.start.side_line_track import StartTrack, read_side_line_track
from cagewise.indicators.start.time_to_speed import expected_of, start_time
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.pipeline.looking import Looked, look_at

NO_START = "no start was found in it"


@dataclass(frozen=True, kw_only=True)
class PastStart:
    """A start of an earlier occasion."""

    source: str
    facts: StartFacts


def past_starts(
    motor: Motor, recordings: Iterable[Recording], settings: Settings
) -> tuple[tuple[PastStart, ...], tuple[SetAside, ...]]:
    """Return the starts of earlier recordings that can be compared with, and what holds none.

    Raises
    ------
    ChannelRoleError
        As :func:`cagewise.pipeline.looking.look_at`.
    """
    past: list[PastStart] = []
    aside: list[SetAside] = []
    for recording in recordings:
        looked, source = look_at(motor, recording, settings), recording.provenance.source
        good = [start for start in looked.starts if not start.refused]
        past += [
            PastStart(source=source, facts=start_facts(looked.proof.recording, start, motor))
            for start in good
        ]
        if not good:
            reason = next((start.refused for start in looked.starts), NO_START)
            aside.append(SetAside(source=source, reason=reason))
    return tuple(past), tuple(aside)


def examine_starts(
    looked: Looked, motor: Motor, settings: Settings, past: Sequence[PastStart]
) -> tuple[StartExamination, ...]:
    """Examine every start of a recording."""
    return tuple(_examine_start(looked, start, motor, settings, past) for start in looked.starts)


def _examine_start(
    looked: Looked,
    start: MotorStart,
    motor: Motor,
    settings: Settings,
    past: Sequence[PastStart],
) -> StartExamination:
    """Examine one start."""
    recording, limits = looked.proof.recording, settings.limits
    facts: StartFacts | None = None
    track: StartTrack | None = None
    readings: tuple[Reading, ...] = (_refused(start.refused),)
    if not start.refused:
        circuit = circuit_ensemble(motor)
        earlier = [old.facts for old in past]
        facts = start_facts(recording, start, motor)
        track = read_side_line_track(recording, start, motor, circuit, limits.start_track)
        expected = expected_of(facts, motor, circuit)
        compared = limits.start_comparison
        readings = (
            track.reading,
            start_time(facts, earlier, motor, circuit, compared, expected=expected),
            initial_current(facts, earlier, motor, circuit, compared, expected=expected),
        )
    return StartExamination(
        provenance=recording.provenance,
        start_time=recording.start_time,
        start=start,
        sampling_rate_hz=recording.sampling_rate_hz,
        quality=looked.quality,
        facts=facts,
        track=track,
        earlier=tuple(old.source for old in past),
        readings=readings,
        evidence=weigh(
            readings, limits.evidence, voltages_measured=True, calibration=settings.study
        ),
    )


def _refused(reason: str) -> Reading:
    """Return the reading of a start that cannot be read."""
    return Reading(
        name="start_side_line_track",
        title="side line during the start",
        independence_class=IndependenceClass.START,
        method=Method.START_UP,
        unit="dBc",
        reason=reason,
    )
