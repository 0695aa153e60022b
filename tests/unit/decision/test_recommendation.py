"""What to do, by when, and what to measure next."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from cagewise.decision.examination import Examination, RecordExamination
from cagewise.decision.recommendation import (
    Action,
    NextMeasurement,
    Recommendation,
    record_seconds,
)
from cagewise.machine.motor import Criticality
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate, NotKnown
from support.examinations import (
    LIMITS,
    damaged,
    examination,
    motor,
    operating_point,
    reading,
    record,
    sound,
    unreadable,
)


def recommended(*records: RecordExamination, level: str = "normal") -> Recommendation:
    return visit(*records, level=level).recommendation


def visit(*records: RecordExamination, level: str = "normal") -> Examination:
    return examination(*records, of=motor(criticality=Criticality(level=level)))


def kinds(recommendation: Recommendation) -> list[NextMeasurement]:
    return [step.kind for step in recommendation.next_steps]


@pytest.mark.parametrize(
    ("readings", "action"),
    [
        (damaged(), Action.PLAN_REMOVAL),
        (damaged()[:3], Action.CONFIRM),
        (sound(), Action.CONTINUE),
        (unreadable(), Action.MEASURE_AGAIN),
    ],
)
def test_action_follows_the_state(readings: tuple, action: Action) -> None:  # type: ignore[type-arg]  # readings of any number
    assert recommended(record(readings)).action is action


def test_what_a_shaped_rotor_explains_is_parted_by_a_second_load_and_a_start() -> None:
    ducts = (
        reading("direct_component", (1.8, 2.2, 2.8)),
        reading("harmonic_lines", (0.026, 0.039, 2.2)),
    )
    recommendation = recommended(record(ducts))

    assert recommendation.action is Action.MEASURE_AGAIN
    assert kinds(recommendation)[:2] == [NextMeasurement.SECOND_LOAD, NextMeasurement.START_UP]


def test_what_bars_apart_would_explain_is_parted_at_rest() -> None:
    apart = (
        reading("direct_component", (0.02, 0.05, 0.1)),
        reading("harmonic_lines", (0.22, 1.15, 8.0)),
    )

    assert NextMeasurement.POSITION_TEST in kinds(recommended(record(apart)))


def test_two_methods_from_two_classes_are_to_be_confirmed_not_pulled() -> None:
    direct, _, _, harmonic = damaged()

    assert recommended(record((direct, harmonic))).action is Action.CONFIRM


def test_a_critical_motor_is_acted_on_sooner_and_the_finding_stays_the_same() -> None:
    windows = {}
    for level in ("low", "normal", "high"):
        examined = visit(record(damaged()), level=level)
        windows[level] = examined.recommendation.act_by.latest_days
        assert examined.verdict == visit(record(damaged())).verdict

    assert windows["high"] < windows["normal"] < windows["low"]


def test_the_window_counts_from_the_day_of_the_recording() -> None:
    when = recommended(record(damaged())).act_by
    earliest, latest = LIMITS.decision.defective_normal_days

    assert when.earliest is not None
    assert when.latest is not None
    assert (when.earliest - date(2026, 11, 3)).days == earliest
    assert (when.latest - date(2026, 11, 3)).days == latest


@pytest.mark.parametrize(("outage", "in_time"), [("2026-12-01", True), ("2027-06-01", False)])
def test_a_planned_outage_is_weighed_against_the_window(outage: str, *, in_time: bool) -> None:
    subject = motor(criticality=Criticality(next_outage=outage))
    course = examination(record(damaged()), of=subject).course

    assert course.at_outage is in_time
    assert course.act_by.latest is not None
    assert (course.act_by.latest.isoformat() == outage) is in_time


def test_a_suspect_is_told_first_what_needs_no_stop() -> None:
    order = kinds(recommended(record(damaged()[:3])))

    assert order.index(NextMeasurement.SECOND_LOAD) < order.index(NextMeasurement.START_UP)
    assert order.index(NextMeasurement.START_UP) < order.index(NextMeasurement.POSITION_TEST)


@pytest.mark.parametrize("starting", [Starting.SOFT_STARTER, Starting.CONVERTER])
def test_no_start_up_record_is_asked_of_a_motor_that_is_not_started_directly(
    starting: Starting,
) -> None:
    plate = replace(motor().nameplate, starting=starting)
    subject = motor(nameplate=plate)
    for readings in (damaged(), unreadable()):
        asked = kinds(examination(record(readings), of=subject).recommendation)
        assert NextMeasurement.START_UP not in asked


def test_missing_voltages_are_asked_for() -> None:
    assert NextMeasurement.VOLTAGES in kinds(recommended(record(sound(), voltages=0)))
    assert NextMeasurement.VOLTAGES not in kinds(recommended(record(sound())))


def test_light_load_asks_for_a_higher_one() -> None:
    light = record(unreadable(), point=operating_point(load=0.06))

    assert NextMeasurement.HIGHER_LOAD in kinds(recommended(light))


def test_a_short_undecided_record_asks_for_the_seconds_that_would_do() -> None:
    short = replace(record(unreadable()), duration_s=5.0)
    (step,) = (s for s in recommended(short).next_steps if s.kind is NextMeasurement.LONGER_RECORD)

    assert step.numbers["seconds_s"] == pytest.approx(60.0)


def test_record_length_follows_the_pole_pass_frequency() -> None:
    """30 periods of 0.25 Hz are 120 s; a fast pole-pass frequency still needs the minimum."""
    slow = record_seconds(motor(), Estimate(0.3, 0.25, 0.35), LIMITS)
    fast = record_seconds(motor(), Estimate(3.0, 2.9, 3.1), LIMITS)

    assert slow == pytest.approx(120.0)
    assert fast == pytest.approx(LIMITS.plan.record_s_min)


def test_record_length_without_slip_uses_the_nameplate_at_the_load_to_aim_for() -> None:
    """1485 of 1500 r/min is 1 % slip; 60 % of it at 50 Hz is 0.6 Hz, 30 periods are 50 s."""
    long_slip = motor(nameplate=replace(motor().nameplate, rated_speed_rpm=1494.0))

    assert record_seconds(long_slip, NotKnown("no lines"), LIMITS) == pytest.approx(125.0)


def test_unknown_rotor_bars_are_asked_for() -> None:
    point = replace(operating_point(), rotor_bars=None)

    assert NextMeasurement.ROTOR_BARS in kinds(recommended(record(sound(), point=point)))
    assert NextMeasurement.ROTOR_BARS not in kinds(recommended(record(sound())))


def test_record_length_without_slip_uses_the_load_that_is_known() -> None:
    """6 of 1500 r/min is 0.4 % slip; all of it at 50 Hz is 0.4 Hz, 30 periods are 75 s."""
    long_slip = motor(nameplate=replace(motor().nameplate, rated_speed_rpm=1494.0))

    assert record_seconds(long_slip, NotKnown("no lines"), LIMITS, 1.0) == pytest.approx(75.0)


@pytest.mark.parametrize("known", [True, False])
def test_the_speed_is_asked_for_where_the_slip_is_not_known(known: bool) -> None:  # noqa: FBT001 # a case of the table
    missing = NotKnown("no line stands out")
    point = operating_point()
    if not known:
        point = replace(point, slip=missing, speed_rpm=missing, pole_pass_frequency_hz=missing)

    asked = kinds(recommended(record(unreadable(), point=point)))
    assert (NextMeasurement.SPEED in asked) is not known
