"""Starting duty: what is stated for whom, what is refused, and that no start is ever asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.decision.starting_duty import (
    MEASURED,
    RUN_UP_SOURCE,
    TABLE_SOURCE,
    Proviso,
    StartGround,
    StartingDuty,
    Stated,
    Succession,
    may_ask_for_a_start,
    starting_duty,
)
from cagewise.decision.verdict import State
from cagewise.machine.motor import DriveTrain, Motor
from cagewise.machine.nameplate import Starting
from cagewise.machine.starting_duty import KG_M2_PER_LB_FT2
from cagewise.quantities import WATT_PER_HORSEPOWER, Estimate, NotKnown
from support.examinations import motor


def catalogue(*, load_lb_ft2: float | None = 100.0, **plate: object) -> Motor:
    """Return a 100 hp motor of 4 poles and design B."""
    base = motor()
    values: dict[str, object] = {
        "rated_power_w": 100 * WATT_PER_HORSEPOWER,
        "rated_voltage_v": 460.0,
        "rated_frequency_hz": 60.0,
        "rated_speed_rpm": 1780.0,
        "rated_current_a": 118.0,
        "design_letter": "B",
    }
    nameplate = replace(base.nameplate, **(values | plate))  # type: ignore[arg-type]  # its fields
    load = None if load_lb_ft2 is None else load_lb_ft2 * KG_M2_PER_LB_FT2
    return replace(
        base,
        nameplate=nameplate,
        drive_train=DriveTrain(load_inertia_kg_m2=load, rotor_inertia_kg_m2=1.0),
    )


def succession(duty: StartingDuty) -> Succession:
    assert isinstance(duty.succession, Succession)
    return duty.succession


def stated(value: Stated | NotKnown) -> Stated:
    assert isinstance(value, Stated)
    return value


def reason(value: object) -> str:
    assert isinstance(value, NotKnown)
    return value.reason


def test_two_from_ambient_or_one_from_rated_temperature() -> None:
    """NEMA MG 1-12.54 (secondary), with its conditions: load inertia, torque, voltage."""
    found = succession(starting_duty(catalogue()))

    assert (found.from_ambient, found.from_rated) == (2, 1)
    assert found.provided == (Proviso.LOAD_TORQUE, Proviso.VOLTAGE)  # the inertia was checked
    assert found.load_inertia_limit_kg_m2 == pytest.approx(441 * KG_M2_PER_LB_FT2, rel=1e-3)
    assert "12.54" in found.source


def test_starts_per_hour_and_rest_are_those_of_the_table() -> None:
    """NEMA MG 10 Table 2-3, 100 hp 4 poles: A 5.2, B 441, C 110 s (read): min(5.2, 441 / 100)."""
    duty = starting_duty(catalogue())

    assert stated(duty.starts_per_hour).value == pytest.approx(4.41)
    assert stated(duty.rest_s).value == pytest.approx(110.0)
    assert stated(duty.rest_s).source == TABLE_SOURCE


def test_a_load_that_is_too_heavy_is_refused_everywhere() -> None:
    duty = starting_duty(catalogue(load_lb_ft2=450.0))

    assert "ask the maker" in reason(duty.succession)
    assert "ask the maker" in reason(duty.starts_per_hour)


def test_an_unknown_load_is_a_condition_and_no_number_of_starts_per_hour() -> None:
    duty = starting_duty(catalogue(load_lb_ft2=None))

    assert Proviso.LOAD_INERTIA in succession(duty).provided
    assert "load_inertia_kg_m2" in reason(duty.starts_per_hour)
    assert stated(duty.rest_s).value == pytest.approx(110.0)


def test_without_a_letter_the_standard_itself_is_a_condition() -> None:
    duty = starting_duty(catalogue(design_letter=None, load_lb_ft2=50.0))
    lettered = starting_duty(catalogue(load_lb_ft2=50.0))

    assert succession(duty).provided[0] is Proviso.BUILT_TO_STANDARD
    limit = succession(duty).load_inertia_limit_kg_m2
    assert limit is not None
    assert limit < (succession(lettered).load_inertia_limit_kg_m2 or 0.0)  # the lighter of the two
    assert "no design letter" in reason(duty.starts_per_hour)


@pytest.mark.parametrize(
    ("plate", "words"),
    [
        ({"rated_voltage_v": 4160.0, "rated_current_a": 13.0}, "above 1 kV"),
        ({"design_letter": "HE"}, "design HE"),
        ({"design_letter": "NY"}, "design NY"),
        ({"rated_power_w": 600 * WATT_PER_HORSEPOWER, "rated_current_a": 690.0}, "373 kW"),
        ({"poles": 14, "rated_speed_rpm": 505.0, "rated_current_a": 140.0}, "14 poles"),
    ],
)
def test_other_machines_are_referred_to_the_maker(plate: dict[str, object], words: str) -> None:
    duty = starting_duty(catalogue(**plate))  # type: ignore[arg-type]  # fields of the nameplate

    assert words in reason(duty.succession)
    assert "ask the maker" in reason(duty.succession)
    assert isinstance(duty.starts_per_hour, NotKnown)


def test_design_n_has_its_own_load_and_no_table() -> None:
    """IEC 60034-12: two cold, one hot, J to 0.023 P^0.9 p^2.5 at 60 Hz (from memory)."""
    duty = starting_duty(catalogue(design_letter="N", load_lb_ft2=50.0))
    limit = 0.023 * 74.57**0.9 * 2**2.5

    assert succession(duty).load_inertia_limit_kg_m2 == pytest.approx(limit, rel=1e-3)
    assert "NEMA designs A and B, not for design N" in reason(duty.starts_per_hour)


@pytest.mark.parametrize("starting", [Starting.SOFT_STARTER, Starting.CONVERTER])
def test_nothing_is_stated_where_something_else_starts_the_motor(starting: Starting) -> None:
    duty = starting_duty(catalogue(starting=starting), measured_start_s=4.0)

    for value in (duty.succession, duty.starts_per_hour, duty.rest_s, duty.stall_margin):
        assert starting.value in reason(value)


def test_stall_time_of_the_standard_and_of_the_motor_itself() -> None:
    """NEMA MG 1-12.49: 12 s from operating temperature (from memory)."""
    by_standard = starting_duty(catalogue(), measured_start_s=4.0)
    own = starting_duty(
        catalogue(locked_rotor_time_hot_s=8.0, locked_rotor_time_cold_s=15.0),
        measured_start_s=4.0,
    )

    assert stated(by_standard.stall_hot_s).value == pytest.approx(12.0)
    assert isinstance(by_standard.stall_margin, Estimate)
    assert by_standard.stall_margin.value == pytest.approx(3.0)
    assert isinstance(by_standard.stall_cold_s, NotKnown)
    assert stated(own.stall_hot_s) == Stated(value=8.0, source="motor file")
    assert stated(own.stall_cold_s).value == pytest.approx(15.0)
    assert own.stall_margin == Estimate(2.0, 2.0, 2.0)


def test_stall_time_of_the_standard_needs_a_letter_of_the_standard() -> None:
    duty = starting_duty(catalogue(design_letter=None), measured_start_s=4.0)

    assert "locked_rotor_time_hot_s" in reason(duty.stall_hot_s)
    assert isinstance(duty.stall_margin, NotKnown)


def test_an_estimated_start_carries_its_interval_into_the_margin() -> None:
    duty = starting_duty(catalogue())

    assert isinstance(duty.start_s, Estimate)
    assert isinstance(duty.stall_margin, Estimate)
    assert duty.start_source == RUN_UP_SOURCE
    assert duty.stall_margin.low == pytest.approx(12.0 / duty.start_s.high)
    assert duty.stall_margin.high == pytest.approx(12.0 / duty.start_s.low)
    assert starting_duty(catalogue(), measured_start_s=3.0).start_source == MEASURED


def test_within_the_duty_only_when_counted_and_checked() -> None:
    assert may_ask_for_a_start(catalogue(), starts_made=0).within_duty
    assert may_ask_for_a_start(catalogue(), starts_made=1, warm=False).within_duty


@pytest.mark.parametrize(
    ("motor_of", "asked", "ground"),
    [
        ({}, {"starts_made": 1}, StartGround.USED_UP),
        ({}, {"starts_made": 2, "warm": False}, StartGround.USED_UP),
        ({}, {}, StartGround.NOT_COUNTED),
        ({"load_lb_ft2": None}, {"starts_made": 0}, StartGround.ON_CONDITIONS),
        ({"design_letter": None}, {"starts_made": 0}, StartGround.ON_CONDITIONS),
        ({"load_lb_ft2": 450.0}, {"starts_made": 0}, StartGround.DUTY_NOT_KNOWN),
        ({"rated_voltage_v": 6000.0}, {"starts_made": 0}, StartGround.DUTY_NOT_KNOWN),
        ({"starting": Starting.CONVERTER}, {"starts_made": 0}, StartGround.NOT_DIRECT),
        ({}, {"starts_made": 0, "state": State.SUSPECT}, StartGround.CAGE_AT_RISK),
        ({}, {"starts_made": 0, "state": State.DEFECTIVE}, StartGround.CAGE_AT_RISK),
        ({}, {"starts_made": 0, "state": State.NOT_DECIDABLE}, StartGround.CAGE_AT_RISK),
    ],
)
def test_more_starts_for_a_record_are_refused(
    motor_of: dict[str, object], asked: dict[str, object], ground: StartGround
) -> None:
    """NEMA MG 1-12.54 (secondary): no start beyond the duty, none on a doubtful cage."""
    request = may_ask_for_a_start(
        catalogue(**motor_of),  # type: ignore[arg-type]  # fields of the nameplate, or the load
        **asked,  # type: ignore[arg-type]  # its keywords
    )

    assert request.grounds == (ground,)
    assert not request.within_duty


def test_a_sound_cage_is_no_ground_and_two_grounds_are_both_said() -> None:
    assert may_ask_for_a_start(catalogue(), starts_made=0, state=State.SOUND).within_duty
    both = may_ask_for_a_start(catalogue(), starts_made=5, state=State.DEFECTIVE)
    assert both.grounds == (StartGround.USED_UP, StartGround.CAGE_AT_RISK)
