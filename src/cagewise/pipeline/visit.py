"""One visit: the motor running, its starts and the tests at rest, examined and weighed together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from cagewise import __version__
from cagewise.conditioning.starts import StartKind
from cagewise.decision.course import Course, with_first
from cagewise.decision.examination import (
    Examination,
    Outlook,
    RecordExamination,
    SetAside,
    Settings,
    SheetExamination,
    Source,
    StartExamination,
)
from cagewise.decision.limits import load_limits
from cagewise.decision.parts import PartVerdict, judge_parts
from cagewise.decision.recommendation import Circumstances, Recommendation, recommend
from cagewise.decision.verdict import State, StateGround, Verdict, judge
from cagewise.evidence.findings import Evidence, Finding, Support
from cagewise.evidence.weigh import combine
from cagewise.indicators.winding.head import why_not_comparable
from cagewise.machine.motor import Criticality, Motor
from cagewise.measurement import Recording, TestSheet
from cagewise.pipeline.looking import look_at
from cagewise.pipeline.outlook import course_of, outlook
from cagewise.pipeline.running import examine_running
from cagewise.pipeline.standing import examine_sheet
from cagewise.pipeline.starting import PastStart, examine_starts, past_starts
from cagewise.quantities import NotKnown


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """What was measured on the same motor before: the baselines of starts and tests."""

    recordings: Iterable[Recording] = ()
    """Recordings that hold a start."""
    sheets: Sequence[TestSheet] = field(default=())


NOTHING_EARLIER = Earlier()


def examine(motor: Motor, recording: Recording, settings: Settings | None = None) -> Examination:
    """Examine one recording of a motor.

    Raises
    ------
    ChannelRoleError
        If the channel roles are wrong or not known; the remedy says which would be right.
    """
    return examine_visit(motor, [recording], settings)


def examine_visit(
    motor: Motor,
    recordings: Iterable[Recording] = (),
    settings: Settings | None = None,
    *,
    sheets: Sequence[TestSheet] = (),
    earlier: Earlier = NOTHING_EARLIER,
) -> Examination:
    """Examine everything that was measured on one visit; nothing is averaged.

    Parameters
    ----------
    motor
        The motor, the same in everything.
    recordings
        Of the running motor, of a start, or of both. An iterator keeps one in memory at a time.
    settings
        Limits and what the user stated; the limits in force when left out.
    sheets
        Tests of the motor at rest.
    earlier
        Starts and tests of the same motor on earlier occasions.

    Raises
    ------
    ChannelRoleError
        As :func:`examine`.
    """
    settings = settings or Settings(limits=load_limits())
    past, aside = past_starts(motor, earlier.recordings, settings)
    records, starts = _examine_recordings(motor, recordings, settings, past)
    at_rest = tuple(examine_sheet(motor, sheet, settings, earlier.sheets) for sheet in sheets)
    sources: tuple[Source, ...] = (*records, *starts, *at_rest)
    evidence = combine([source.evidence for source in sources], settings.study)
    verdict = judge(evidence, settings.limits.decision)
    parts = judge_parts(_findings_of(at_rest), settings.limits.decision)
    shown = tuple(max(kind, key=_tells) for kind in (records, starts, at_rest) if kind)
    advice = _advise(motor, settings, _Judged(evidence, verdict, parts, shown))
    return Examination(
        motor=motor,
        version=__version__,
        settings=settings,
        records=records,
        starts=starts,
        sheets=at_rest,
        evidence=evidence,
        verdict=verdict,
        parts=parts,
        recommendation=advice.rule,
        outlook=advice.ahead,
        course=advice.course,
        shown=shown,
        set_aside=(*aside, *_not_compared(past, starts), *_sheets_aside(motor, earlier, sheets)),
        warnings=motor.warnings,
    )


def with_criticality(examination: Examination, criticality: Criticality) -> Examination:
    """Return what would be advised if being wrong cost something else; the findings stay."""
    motor = replace(examination.motor, criticality=criticality)
    judged = _Judged(
        examination.evidence, examination.verdict, examination.parts, examination.shown
    )
    advice = _advise(motor, examination.settings, judged)
    return replace(
        examination,
        motor=motor,
        recommendation=advice.rule,
        outlook=advice.ahead,
        course=advice.course,
    )


@dataclass(frozen=True)
class _Judged:
    """What was found on a visit."""

    evidence: Evidence
    verdict: Verdict
    parts: tuple[PartVerdict, ...]
    shown: tuple[Source, ...]


@dataclass(frozen=True)
class _Advice:
    """What is to be done about it."""

    rule: Recommendation
    ahead: Outlook
    course: Course


def _advise(motor: Motor, settings: Settings, judged: _Judged) -> _Advice:
    """Return what follows from what was found, and the one action."""
    circumstances = _circumstances(motor, judged.shown, judged.parts)
    day, verdict, evidence = circumstances.recorded_on, judged.verdict, judged.evidence
    rule = recommend(verdict, evidence, motor, circumstances, settings.limits)
    ahead = outlook(motor, evidence, verdict, judged.shown, settings, day)
    course = course_of(verdict, rule, ahead, judged.parts, day)
    rule = replace(rule, next_steps=with_first(course, rule.next_steps))
    return _Advice(rule=rule, ahead=ahead, course=course)


def _findings_of(sheets: Sequence[SheetExamination]) -> Iterator[Finding]:
    """Yield what all sheets say of winding and insulation; each names its sheet if several do."""
    for examined in sheets:
        name, day = examined.sheet.provenance.source, examined.sheet.measured_on
        for finding in examined.findings:
            titled = replace(finding, title=f"{finding.title} ({name}, {day})")
            yield titled if len(sheets) > 1 else finding


def _not_compared(
    past: Sequence[PastStart], starts: Sequence[StartExamination]
) -> Iterator[SetAside]:
    """Yield earlier starts that found no start of this visit."""
    if not any(start.facts for start in starts):
        for source in dict.fromkeys(old.source for old in past):
            yield SetAside(source=source, reason="no start of this visit could be read")


def _sheets_aside(
    motor: Motor, earlier: Earlier, sheets: Sequence[TestSheet]
) -> Iterator[SetAside]:
    """Yield earlier sheets with which no sheet of this visit is compared."""
    for old in earlier.sheets:
        reasons = [why_not_comparable(sheet, old, motor) for sheet in sheets]
        if all(reasons):
            reason = reasons[0] if reasons else "no test sheet of this visit was given"
            yield SetAside(source=old.provenance.source, reason=reason)


def _examine_recordings(
    motor: Motor,
    recordings: Iterable[Recording],
    settings: Settings,
    past: Sequence[PastStart],
) -> tuple[tuple[RecordExamination, ...], tuple[StartExamination, ...]]:
    """Examine recordings one at a time for the motor running and for its starts.

    A capture of a start in which the motor never ran steadily is a start and nothing else: what a
    running record lacks is no fault of it.
    """
    records: list[RecordExamination] = []
    starts: list[StartExamination] = []
    for recording in recordings:
        looked = look_at(motor, recording, settings)
        of_starts = examine_starts(looked, motor, settings, past)
        starts += of_starts
        if of_starts and not looked.stretches:
            continue
        running = examine_running(looked, motor, settings)
        unread = running.verdict.ground is StateGround.NOTHING_READ
        if not unread or not any(start.facts for start in of_starts):
            records.append(running)
    return tuple(records), tuple(starts)


def _tells(source: Source) -> tuple[bool, bool, float, float]:
    """Return how much a source tells: decided, then read, then how sharply, then how long."""
    telling = any(vote.support is not Support.CANNOT_TELL for vote in source.evidence.classes)
    limits = [r.detection_limit_bars for r in source.readings if r.detection_limit_bars]
    sharpness = -min(limits, default=np.inf)
    if isinstance(source, RecordExamination):
        decided = source.verdict.state is not State.NOT_DECIDABLE
        return decided, not source.stopped, sharpness, source.duration_s
    return telling, bool(source.readings), sharpness, 0.0


def _circumstances(
    motor: Motor, shown: Sequence[Source], parts: Sequence[PartVerdict]
) -> Circumstances:
    """Return what of this visit matters for the next one."""
    return replace(
        _circumstances_of_record(motor, shown),
        started_direct=not any(_is_started_otherwise(source) for source in shown),
        part_doubted=any(part.doubted for part in parts),
        part_unanswered=any(part.unanswered for part in parts),
    )


def _is_started_otherwise(source: Source) -> bool:
    """Return whether a source is a start by a converter or a soft starter."""
    kinds = (StartKind.CONVERTER, StartKind.SOFT_STARTER)
    return isinstance(source, StartExamination) and source.start.kind in kinds


def _circumstances_of_record(motor: Motor, shown: Sequence[Source]) -> Circumstances:
    """Return what of the leading record matters for the next one."""
    record = next((s for s in shown if isinstance(s, RecordExamination)), None)
    day = next((day for source in shown if (day := _day_of(source)) is not None), None)
    if record is None:
        return Circumstances.without_record(day, motor.cage.rotor_bars)
    point = record.operating_point
    first_s, last_s = record.stretch_s or (0.0, record.duration_s)
    return Circumstances(
        recorded_on=day,
        duration_s=last_s - first_s,
        sampling_rate_hz=record.sampling_rate_hz,
        currents_measured=record.currents_measured,
        voltages_measured=record.voltages_measured,
        load_fraction=point if isinstance(point, NotKnown) else point.load_fraction,
        pole_pass_frequency_hz=point
        if isinstance(point, NotKnown)
        else point.pole_pass_frequency_hz,
        rotor_bars=motor.cage.rotor_bars if isinstance(point, NotKnown) else point.rotor_bars,
        slip_sought=not isinstance(point, NotKnown),
    )


def _day_of(source: Source) -> date | None:
    """Return the day of a measurement, if it is known."""
    if isinstance(source, SheetExamination):
        return source.sheet.measured_on
    return None if source.start_time is None else source.start_time.date()
