"""A work order in words: from what is kept to what another program is told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from cagewise.decision.cautions import TestKind, grouped_cautions
from cagewise.decision.recommendation import NextMeasurement
from cagewise.decision.verdict import State
from cagewise.history.limits import repair_limits
from cagewise.report import numbers, wording
from cagewise.report import work_order_wording as words
from cagewise.report.asked import REMOVALS, Asked, hours_of, step_of, what_of
from cagewise.report.case_text import damage_of
from cagewise.report.history_text import percent
from cagewise.report.language import say
from cagewise.report.ranking_text import DOUBTED
from cagewise.report.work_order import WorkOrder
from cagewise.report.work_order_codes import EQUIPMENT_CLASS, STATUS, Codes, codes_of
from cagewise.store import Case, Decision, Event, ExaminationKeys, KeptExamination, MotorEntry

LONGEST_TITLE = 80
"""Characters of a title: what lists of orders usually show."""
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"

_TESTS: Mapping[str, tuple[TestKind, ...]] = {
    NextMeasurement.START_UP.value: (TestKind.START_RECORD,),
    NextMeasurement.POSITION_TEST.value: (TestKind.POSITION,),
    NextMeasurement.PART_TESTS.value: (TestKind.RESISTANCE, TestKind.INSULATION),
}
"""Tests of a step; every other is a record of the running motor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderView:
    """What an order is written from."""

    key: str
    replaces: tuple[str, ...]
    asked: Asked
    motor: MotorEntry
    case: Case | None
    decided: Event | None
    """The decision; None where nobody has decided."""
    examination: KeptExamination | None
    """The last one; None where there is none, or where it was of another cage."""
    repaired_on: date | None
    """Of the cage, where nothing was measured since."""
    earliest: date | None
    latest: date | None
    since: date
    base: str = ""
    """Address of the workbench, without a slash at its end; empty for addresses within it."""


def work_order(view: OrderView) -> WorkOrder:
    """Return the order in words."""
    motor, made, case = view.motor, view.examination, view.case
    codes = _codes(view)
    hours, hours_note = _hours(view)
    return WorkOrder(
        key=view.key,
        replaces=view.replaces,
        sort="advised" if view.decided is None else "decided",
        asked=view.asked,
        site=motor.site,
        tag=motor.tag,
        motor=motor.description,
        equipment_class=EQUIPMENT_CLASS,
        equipment_class_name=say(words.ELECTRIC_MOTORS),
        subunit=say(words.ELECTRIC_MOTOR),
        maintainable_item=codes.maintainable_item,
        failure_mode=codes.failure_mode,
        failure_mode_name=codes.failure_mode_name,
        failure_mechanism="",
        codes_status=STATUS,
        codes_note=codes.note,
        suspected=codes.suspected,
        priority=_when(view),
        earliest=_day(view.earliest),
        latest=_day(view.latest),
        planned_outage=_day(motor.next_outage),
        hours=hours,
        hours_note=say(hours_note),
        title=_title(view),
        text="\n".join(_text(view)),
        decided_by="" if view.decided is None else view.decided.author,
        case=None if case is None else case.id,
        examination=None if made is None else made.id,
        since=view.since.isoformat(),
        motor_link=f"{view.base}/motors/{motor.id}",
        case_link="" if case is None else f"{view.base}/cases/{case.id}",
        examination_link="" if made is None else f"{view.base}/examinations/{made.id}",
    )


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _codes(view: OrderView) -> Codes:
    """Return what the order is filed under."""
    keys = _keys(view)
    return codes_of(
        cage=keys is not None and keys.state in DOUBTED,
        other_parts=keys is not None and bool({keys.winding, keys.insulation} & set(DOUBTED)),
    )


def _when(view: OrderView) -> str:
    """Return from when to when to act, in words."""
    if view.asked == "stop":
        return say(words.AT_ONCE)
    if view.latest is None:
        return say(words.NO_DAY)
    if view.earliest is None or view.earliest >= view.latest:
        return say(words.BY, latest=view.latest.isoformat())
    days = {"earliest": view.earliest.isoformat(), "latest": view.latest.isoformat()}
    return say(words.BETWEEN, **days)


def _title(view: OrderView) -> str:
    """Return the order in one line."""
    said = say(
        words.TITLE[view.asked],
        tag=view.motor.tag,
        action=_action(view),
        what=what_of(view.asked, _keys(view)),
    )
    line = " ".join(said.split())
    return line if len(line) <= LONGEST_TITLE else line[: LONGEST_TITLE - 1].rstrip() + ELLIPSIS


def _action(view: OrderView) -> str:
    """Return what was decided, in the words of whoever did."""
    what = None if view.decided is None else view.decided.what
    return what.action if isinstance(what, Decision) else ""


def _text(view: OrderView) -> Iterator[str]:
    """Yield the lines of the text."""
    yield say(words.TITLED, title=say(words.FINDING), text=" ".join(finding(view)))
    yield say(words.TITLED, title=say(words.TO_DO), text=" ".join(_to_do(view)))
    yield say(words.TITLED, title=say(words.HOLD), text="").rstrip()
    for number, text in enumerate(_hold_points(view), start=1):
        yield say(words.NUMBERED, number=number, text=text)


def finding(view: OrderView) -> Iterator[str]:
    """Yield what was measured, with its interval, in sentences."""
    made = view.examination
    if view.repaired_on is not None:
        yield say(words.REPAIRED, day=view.repaired_on)
    if made is None:
        if view.repaired_on is None:
            yield say(words.NEVER)
        return
    yield from _of_keys(made.keys)
    yield say(words.EXAMINED, number=made.id, day=made.day)


def _of_keys(keys: ExaminationKeys) -> Iterator[str]:
    """Yield what an examination says."""
    state, damage = State(keys.state), damage_of(keys)
    yield say(words.CAGE, state=say(wording.STATE[state]))
    if state is State.SOUND and keys.upper_limit_bars is not None:
        yield say(words.BOUND, bars=numbers.bars_up(keys.upper_limit_bars))
    elif damage is not None:
        yield say(
            words.DAMAGE,
            bars=numbers.bars(damage.value),
            low=numbers.bars_down(damage.low),
            high=numbers.bars_up(damage.high),
        )
    if keys.probability is not None:
        yield say(words.PROBABILITY, probability=percent(keys.probability))
    for template, part in ((words.WINDING, keys.winding), (words.INSULATION, keys.insulation)):
        if part in set(State):
            yield say(template, state=say(wording.STATE[State(part)]))


def _to_do(view: OrderView) -> Iterator[str]:
    """Yield what to do, in sentences."""
    if view.decided is None:
        yield say(words.DO[view.asked], when=_when(view), what=what_of(view.asked, _keys(view)))
    else:
        yield from _decided(view, view.decided)
    if view.motor.next_outage is not None:
        yield say(words.OUTAGE, day=view.motor.next_outage)


def _decided(view: OrderView, event: Event) -> Iterator[str]:
    """Yield what was decided, by whom, and why."""
    yield numbers.sentence(_action(view))
    template = words.DECIDED_BY if event.author else words.DECIDED_ON
    yield say(template, author=event.author, day=event.day)
    if event.text.strip():
        yield say(words.REASONS, text=numbers.sentence(" ".join(event.text.split())))
    made = view.examination
    latest = None if made is None else made.keys.act_by_latest
    if view.latest is not None and latest is not None and view.latest > latest:
        yield say(words.LATER, day=latest)
    if made is not None and made.day > event.day:
        yield say(words.MEASURED_SINCE)


def _removes(view: OrderView) -> bool:
    """Return whether the motor is taken out, as far as anything says so."""
    keys = _keys(view)
    return view.asked in REMOVALS or (
        view.asked == "decided" and keys is not None and keys.action in REMOVALS
    )


def _hold_points(view: OrderView) -> Iterator[str]:
    """Yield where work stops until something is done."""
    if view.decided is None and view.asked in REMOVALS:
        yield say(words.NOT_DECIDED)
    if _removes(view):
        yield from _cautions((TestKind.OFF_LINE,))
        for template in (words.ARRIVAL, words.ROTOR_OUT, words.ACCEPTANCE):
            yield say(template)
        yield say(words.BASELINE, days=f"{repair_limits().largest_age_days:.0f}")
        return
    code = step_of(_keys(view))
    tests = _TESTS.get(code, (TestKind.RUNNING_RECORD,))
    if view.asked == "decided":  # its words may ask for anything, live or at rest
        tests = (TestKind.RUNNING_RECORD, TestKind.OFF_LINE, *tests)
    yield from _cautions(tests)


def _cautions(tests: Sequence[TestKind]) -> Iterator[str]:
    """Yield what can hurt somebody, each said once."""
    for group in grouped_cautions(tests):
        for caution in group.cautions:
            yield say(caution.text)


def _keys(view: OrderView) -> ExaminationKeys | None:
    return None if view.examination is None else view.examination.keys


def _hours(view: OrderView) -> tuple[float | None, str]:
    """Return the hours, and where they come from or why there are none."""
    if view.asked == "decided":
        return None, words.HOURS_DECISION
    if view.asked in REMOVALS:
        return None, words.HOURS_REPAIR
    hours = hours_of(view.asked, _keys(view))
    return hours, words.HOURS_UNKNOWN if hours is None else words.HOURS_JUDGED
