"""What a shop is asked depends on what the motor is sent for; limits are those of the sources."""

from __future__ import annotations

import math
from functools import cache

import pytest

from cagewise.decision.limits import limit_entries
from cagewise.decision.repair_acceptance import beyond_limits, unbalance
from cagewise.decision.repair_specification import (
    Acceptance,
    LimitKind,
    RepairSpecification,
    ShopLimit,
    accept,
    questions_for,
    specify,
)
from cagewise.decision.shop_checks import RULES, Check, Hold, Stage, Standing, Subject, steps_for
from cagewise.machine.motor import Cage, Motor, Winding
from cagewise.measurement.repair_return import BY_KEY
from support.examinations import motor

SENT_FOR = tuple(Subject)


def motor_of(construction: str | None = "random") -> Motor:
    winding = Winding(construction=construction, built_year=2012, insulation="thermosetting")
    return motor(cage=Cage(rotor_bars=58), winding=winding)


@cache
def specified(subject: Subject, construction: str | None = "random") -> RepairSpecification:
    return specify(motor_of(construction), [subject])


@pytest.fixture(scope="module")
def of_cage() -> RepairSpecification:
    return specified(Subject.CAGE)


@pytest.fixture(scope="module")
def accepted() -> Acceptance:
    return accept(motor_of())


def checks(specification: RepairSpecification, stage: Stage) -> list[Check]:
    return [step.check for step in specification.steps if step.stage is stage]


def limit(specification: RepairSpecification, check: Check, kind: LimitKind) -> ShopLimit:
    return next(each for each in specification.limits[check] if each.kind is kind)


def test_what_is_asked_depends_on_what_the_motor_is_sent_for(of_cage: RepairSpecification) -> None:
    opened = checks(of_cage, Stage.OPENED)
    of_bearings = {step.check for step in steps_for(frozenset({Subject.BEARINGS}))}
    of_winding = {step.check for step in steps_for(frozenset({Subject.WINDING}))}

    assert {Check.GROWLER, Check.JOINTS, Check.RINGS} <= set(opened)
    assert Check.CORE_LOSS not in opened
    assert {Check.CORE_LOSS, Check.WINDING_LOOK, Check.TURNS, Check.OVERVOLTAGE} <= of_winding
    assert Check.JOINTS not in of_winding
    assert {Check.ARRIVAL_RUN, Check.SHAFT} <= of_bearings
    assert Check.TURNS not in of_bearings


@pytest.mark.parametrize("subject", SENT_FOR)
def test_every_subject_is_settled_on_the_open_motor_or_before(subject: Subject) -> None:
    steps = steps_for(frozenset({subject}))

    assert any(step.settles for step in steps if step.stage is not Stage.REPAIRED)
    assert any(step.settles for step in steps if step.stage is Stage.REPAIRED)


@pytest.mark.parametrize("subject", SENT_FOR)
def test_everything_that_can_be_counted_is_asked_whatever_it_is_sent_for(subject: Subject) -> None:
    asked = {q.key for q in questions_for(steps_for(frozenset({subject})))}

    assert {"rotor_bars", "stator_slots", "rotor_slots", "cage_construction"} <= asked
    assert {"bar_material", "ring_material", "rotor_axial_ducts", "rotor_spider_arms"} <= asked
    assert {"coil_span_slots", "turns_per_coil", "parallel_circuits", "bearing_de"} <= asked


def test_all_answers_of_the_checks_are_questions_of_the_sheet() -> None:
    for step in steps_for(frozenset(Subject), dissipation=True):
        assert set(step.answers) <= set(BY_KEY), step.check


def test_the_stator_is_proved_before_a_voltage_is_put_on_it(of_cage: RepairSpecification) -> None:
    arrival, repaired = checks(of_cage, Stage.ARRIVAL), checks(of_cage, Stage.REPAIRED)

    assert arrival.index(Check.INSULATION) < arrival.index(Check.SINGLE_PHASE)
    assert repaired.index(Check.INSULATION) < repaired.index(Check.NO_LOAD)


def test_winding_resistances_of_form_wound_coils_lie_closer_together() -> None:
    """ANSI/EASA AR100-2020 (secondary): 1 % form-wound, 2 % random-wound."""
    form, random = (specified(Subject.WINDING, each) for each in ("form", "random"))
    unknown = specified(Subject.WINDING, None)

    assert limit(form, Check.RESISTANCE, LimitKind.UNBALANCE_FORM).values == (0.01,)
    assert limit(random, Check.RESISTANCE, LimitKind.UNBALANCE_RANDOM).values == (0.02,)
    assert len(unknown.limits[Check.RESISTANCE]) == 2


def test_insulation_minimum_and_test_voltage_are_those_of_the_standard(
    of_cage: RepairSpecification,
) -> None:
    """IEEE 43-2013 Table 3 (secondary): 5 megohm random-wound; IEEE 43-2000 Table 1 (secondary):
    500 V below 1 kV."""
    minimum = limit(of_cage, Check.INSULATION, LimitKind.INSULATION_MIN)

    assert minimum.values == (5e6,)
    assert limit(of_cage, Check.INSULATION, LimitKind.INSULATION_VOLTAGE).values == (500.0, 500.0)


def test_the_index_of_a_form_wound_motor_is_two_but_for_class_a() -> None:
    """IEEE 43 Table 2 (secondary): class A 1.5; B, F and H 2.0."""
    found = specified(Subject.INSULATION, "form").limits[Check.INSULATION]

    indices = {each.form: each.values for each in found if each.kind is LimitKind.POLARIZATION_MIN}
    assert indices == {"A": (1.5,), "F": (2.0,)}


def test_permissible_unbalance_is_the_grade_over_the_angular_speed(
    of_cage: RepairSpecification,
) -> None:
    """ISO 21940-11 (from memory): e = G / omega; G 2.5 at 1500 r/min is 15.9 micrometres."""
    grade, per_kg = limit(of_cage, Check.BALANCE, LimitKind.BALANCE).values

    assert grade == 2.5
    assert per_kg == pytest.approx(2.5e3 / (2.0 * math.pi * 25.0), rel=1e-12)
    assert round(per_kg, 1) == 15.9


def test_vibration_limits_are_those_of_grade_a(
    of_cage: RepairSpecification, accepted: Acceptance
) -> None:
    """IEC 60034-14 grade A (secondary), mm/s rms; ISO 20816-3 zone A/B (from memory)."""
    free = limit(of_cage, Check.VIBRATION, LimitKind.VIBRATION_FREE).values
    rigid = limit(of_cage, Check.VIBRATION, LimitKind.VIBRATION_RIGID).values

    assert (free, rigid) == ((1.6, 2.2, 2.8), (1.3, 1.8, 2.3))
    assert accepted.vibration_mm_s == (1.4, 2.3)  # 250 kW: group 2


def test_single_phase_voltage_spans_what_two_authors_quote(of_cage: RepairSpecification) -> None:
    """10 % and 25 % of rated voltage (secondary); 3 % read, 5 to 10 % secondary: guidance."""
    rated_v = of_cage.motor.nameplate.rated_voltage_v
    found = of_cage.limits[Check.SINGLE_PHASE]

    assert found[0].values == pytest.approx((0.10 * rated_v, 0.25 * rated_v))
    assert found[1].values == (0.03, 0.10)


def test_no_load_current_is_expected_between_a_fifth_and_rated(
    of_cage: RepairSpecification,
) -> None:
    value, low, high = limit(of_cage, Check.NO_LOAD, LimitKind.NO_LOAD_EXPECTED).values
    rated_a = of_cage.motor.nameplate.rated_current_a

    assert 0.15 * rated_a < low < value < high < rated_a


def test_the_sound_cage_reads_far_below_one_open_bar(accepted: Acceptance) -> None:
    for point in accepted.points:
        sound, one = point.damages[0], point.damages[1]
        for line, level in one.levels_dbc.items():
            assert sound.levels_dbc[line].value < level.value


def test_nobody_strips_cleans_or_starts_without_being_asked(of_cage: RepairSpecification) -> None:
    winding = specified(Subject.WINDING)

    assert {Hold.RUN, Hold.DISMANTLE, Hold.CLEAN, Hold.DESIGN, Hold.SHIP} <= set(of_cage.holds)
    assert Hold.STRIP in winding.holds
    assert Hold.STRIP not in of_cage.holds


def test_overvoltage_levels_are_of_a_new_winding_only_where_it_may_become_one() -> None:
    rewound = specified(Subject.WINDING, "form").levels
    dried = specified(Subject.INSULATION, "form").levels

    assert any(level.name == "acceptance_alternating" for level in rewound)
    assert not any(level.name.startswith("acceptance") for level in dried)
    assert specified(Subject.CAGE).levels == ()


def test_every_check_says_how_its_method_was_had() -> None:
    for check in Check:
        assert RULES[check], check
        assert all(rule.standing in Standing for rule in RULES[check])


@pytest.mark.parametrize(
    ("check", "field"),
    [
        (Check.SHAFT_RUNOUT, "shaft_runout_mm"),
        (Check.AIR_GAP, "air_gap_deviation"),
        (Check.BALANCE, "balance_grade_mm_s"),
        (Check.VIBRATION, "housing_vibration_free_mm_s"),
        (Check.CORE_LOSS, "core_loss_rise"),
    ],
)
def test_the_source_on_the_paper_is_the_source_of_the_number(check: Check, field: str) -> None:
    entry = next(e for e in limit_entries() if (e.section, e.name) == ("shop", field))
    rule = RULES[check][0]

    assert rule.standard in entry.source
    assert rule.standing.value in entry.source


def test_unbalance_is_the_largest_deviation_from_the_mean() -> None:
    """ANSI/EASA AR100 definition: 1.02, 1.03, 1.01 is 0.98 % (arithmetic)."""
    assert 100.0 * unbalance((1.02, 1.03, 1.01)) == pytest.approx(0.980392, rel=1e-6)


def test_what_was_returned_is_held_against_the_limits(of_cage: RepairSpecification) -> None:
    good = {
        "repaired_ab_ohm": 0.041, "repaired_bc_ohm": 0.041, "repaired_ca_ohm": 0.0412,
        "repaired_winding_degc": 20.0, "repaired_insulation_megaohm": 100.0,
        "repaired_runout_mm": 0.05, "no_load_a_a": 80.0, "no_load_b_a": 81.0, "no_load_c_a": 82.0,
    }  # fmt: skip
    bad = {**good, "repaired_ca_ohm": 0.044, "repaired_insulation_megaohm": 6.0,
           "repaired_gap_min_mm": 0.8, "repaired_gap_max_mm": 1.2}  # fmt: skip

    assert beyond_limits(good, of_cage.motor) == ()
    found = {each.kind: each for each in beyond_limits(bad, of_cage.motor)}
    assert set(found) == {
        LimitKind.UNBALANCE_RANDOM,
        LimitKind.AIR_GAP,
        LimitKind.INSULATION_MIN,
    }
    # IEEE 43-2013 cl. 6.3 (constants from memory): 6 megohm at 20 degC times 0.7622
    assert found[LimitKind.INSULATION_MIN].value == pytest.approx(6e6 * 0.7622, rel=1e-4)
    assert found[LimitKind.AIR_GAP].value == pytest.approx(0.2)
