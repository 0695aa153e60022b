"""What to measure next: one list, most telling per hour first, never without its cautions."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.decision.examination import Examination
from cagewise.decision.next_measurement import Measurement, MeasurementWorth
from cagewise.decision.recommendation import NextMeasurement, NextStep
from cagewise.decision.verdict import StateGround
from cagewise.report import likelihood_wording as words
from cagewise.report.next_text import LEAST_DOUBT_BITS, next_note, next_rows
from cagewise.report.visit_facts import cautions_of
from support.examinations import damaged, examination, record, sound, suspicious, unreadable


def worth(
    measurement: Measurement, bits: float, *, hours: float = 1.0, doubt: float = 0.8
) -> MeasurementWorth:
    return MeasurementWorth(
        measurement=measurement,
        bits=bits,
        hours=hours,
        change_probability=0.2,
        limit_bars=0.12,
        doubt_bits=doubt,
    )


def visit_with(
    steps: tuple[NextMeasurement, ...],
    worths: tuple[MeasurementWorth, ...],
    of: Examination | None = None,
) -> Examination:
    base = of or examination(record(suspicious()))
    numbers = {"load_fraction": 0.6, "seconds_s": 60.0, "rate_hz": 5000.0}
    made = tuple(NextStep(kind=kind, numbers=numbers) for kind in steps)
    return replace(
        base,
        recommendation=replace(base.recommendation, next_steps=made),
        outlook=replace(base.outlook, next_measurements=worths),
    )


def test_rows_come_in_the_order_of_information_per_hour() -> None:
    visit = visit_with(
        (NextMeasurement.POSITION_TEST, NextMeasurement.SECOND_LOAD, NextMeasurement.START_UP),
        (
            worth(Measurement.POSITION_TEST, 0.7, hours=6.0),
            worth(Measurement.SECOND_LOAD, 0.3, hours=2.0),
            worth(Measurement.START_RECORD, 0.5),
        ),
    )

    assert [row.kinds for row in next_rows(visit)] == [
        {NextMeasurement.START_UP},
        {NextMeasurement.SECOND_LOAD},
        {NextMeasurement.POSITION_TEST},
    ]


def test_what_a_better_record_needs_is_one_row() -> None:
    visit = visit_with(
        (NextMeasurement.HIGHER_LOAD, NextMeasurement.SPEED, NextMeasurement.LONGER_RECORD),
        (worth(Measurement.BETTER_RECORD, 0.4),),
    )
    (row,) = next_rows(visit)

    assert len(row.kinds) == 3
    assert "60 % load" in row.what
    assert "60 s" in row.what
    assert row.worth.startswith("1 h; as good as settling it in 5 of 10 cases; ")


def test_other_parts_and_routine_come_first_and_questions_last() -> None:
    visit = visit_with(
        (NextMeasurement.ROTOR_BARS, NextMeasurement.START_UP, NextMeasurement.PART_TESTS),
        (worth(Measurement.START_RECORD, 0.5),),
    )
    rows = next_rows(visit)

    assert rows[0].kinds == {NextMeasurement.PART_TESTS}
    assert rows[-1].kinds == {NextMeasurement.ROTOR_BARS}
    assert rows[0].worth == rows[-1].worth == ""


def test_a_measurement_that_the_rule_did_not_name_is_added_where_it_tells() -> None:
    ranked = (
        worth(Measurement.SECOND_LOAD, 0.5),
        worth(Measurement.START_RECORD, 0.4),
        worth(Measurement.POSITION_TEST, 0.5, hours=6.0),
        worth(Measurement.BETTER_RECORD, 0.01),
    )
    kinds = [row.kinds for row in next_rows(visit_with((NextMeasurement.START_UP,), ranked))]

    assert kinds == [{NextMeasurement.SECOND_LOAD}, {NextMeasurement.START_UP}]


@pytest.mark.parametrize("readings", [damaged(), sound()])
def test_nothing_is_added_where_nothing_is_open(readings: object) -> None:
    of = examination(record(damaged() if readings == damaged() else sound()))
    visit = visit_with((NextMeasurement.ROUTINE,), (worth(Measurement.SECOND_LOAD, 0.5),), of)

    assert [row.kinds for row in next_rows(visit)] == [{NextMeasurement.ROUTINE}]


def test_voltages_include_a_better_record() -> None:
    ranked = (worth(Measurement.BETTER_RECORD, 0.5), worth(Measurement.VOLTAGES, 0.6))
    rows = next_rows(visit_with((NextMeasurement.VOLTAGES,), ranked))

    assert [row.kinds for row in rows] == [{NextMeasurement.VOLTAGES}]


@pytest.mark.parametrize("ground", [StateGround.SHAPE_EXPLAINS, StateGround.SHAPE_NOT_EXCLUDED])
def test_what_the_shape_of_the_rotor_explains_is_not_recorded_again_in_the_same_way(
    ground: StateGround,
) -> None:
    ranked = (worth(Measurement.BETTER_RECORD, 0.5), worth(Measurement.SECOND_LOAD, 0.3))
    visit = visit_with((NextMeasurement.SECOND_LOAD,), ranked)
    shaped = replace(visit, verdict=replace(visit.verdict, ground=ground))

    assert len(next_rows(visit)) == 2
    assert [row.kinds for row in next_rows(shaped)] == [{NextMeasurement.SECOND_LOAD}]


def test_without_doubt_nothing_is_settled() -> None:
    little = worth(Measurement.START_RECORD, 0.6 * LEAST_DOUBT_BITS, doubt=0.9 * LEAST_DOUBT_BITS)
    visit = visit_with((NextMeasurement.START_UP,), (little,))
    (row,) = next_rows(visit)

    assert not row.settles
    assert row.worth == "1 h; shows 0.12 open bars or more."
    assert next_note(visit) == words.NEXT_LITTLE_DOUBT


def test_the_words_are_explained_where_they_stand() -> None:
    visit = visit_with((NextMeasurement.START_UP,), (worth(Measurement.START_RECORD, 0.5),))

    assert next_note(visit) == words.NEXT_NOTE
    assert next_note(visit_with((NextMeasurement.ROTOR_BARS,), ())) == ""


@pytest.mark.parametrize(
    ("bits", "said"),
    [(0.8, "9 of 10"), (0.4, "5 of 10"), (0.05, "1 of 10"), (0.01, words.SETTLES_HARDLY)],
)
def test_tenths_never_promise_certainty(bits: float, said: str) -> None:
    visit = visit_with((NextMeasurement.START_UP,), (worth(Measurement.START_RECORD, bits),))

    assert said in next_rows(visit)[0].worth


def test_the_share_of_doubt_is_that_of_a_test_that_settles_or_says_nothing() -> None:
    """Such a test leaves (1 - share) of the entropy: information = share x entropy."""
    assert worth(Measurement.START_RECORD, 0.2).settled_share == pytest.approx(0.25)
    assert worth(Measurement.START_RECORD, 0.0, doubt=0.0).settled_share == 0.0


def test_an_added_measurement_carries_its_cautions() -> None:
    ranked = (worth(Measurement.POSITION_TEST, 0.5),)
    with_position = cautions_of(visit_with((), ranked))
    without = cautions_of(visit_with((), ()))

    assert len(with_position) > len(without)


def test_a_visit_without_a_reading_is_ranked_by_the_prior() -> None:
    rows = next_rows(examination(record(unreadable())))

    assert any(row.settles for row in rows)
