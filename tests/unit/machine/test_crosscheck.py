"""Cross-checks of the nameplate: the impossible is refused, slips of the pen are recognised."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.machine import typical
from cagewise.machine.crosscheck import CrossCheck, crosscheck, slip_window
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.tolerances import rated_slip_interval
from cagewise.quantities import WATT_PER_HORSEPOWER

PLATE = Nameplate(
    rated_power_w=75e3,
    rated_voltage_v=400.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1480.0,
    rated_current_a=134.0,
    poles=4,
)


def changed(**changes: object) -> CrossCheck:
    """Return the cross-checks of the sound nameplate with something changed."""
    return crosscheck(replace(PLATE, **changes))  # type: ignore[arg-type]  # any field


def test_a_sound_nameplate_passes() -> None:
    assert changed() == CrossCheck((), ())
    assert crosscheck(PLATE, Cage(rotor_bars=58, stator_slots=72)) == CrossCheck((), ())


@pytest.mark.parametrize(
    ("changes", "what", "remedy"),
    [
        ({"rated_speed_rpm": 1500.0}, "below synchronous", "full-load speed"),
        ({"rated_speed_rpm": 1780.0}, "cannot run above", "60 Hz"),
        ({"rated_speed_rpm": 2970.0}, "cannot run above", "2 poles"),
        ({"rated_speed_rpm": 985.0}, "slip of 34%", "6 poles"),
        ({"poles": 6, "rated_frequency_hz": 60.0}, "cannot run above", "4 poles at 50 Hz"),
        ({"rated_power_w": 100e3}, "more comes out", "the power is in hp, not kW"),
        ({"rated_voltage_v": 231.0}, "more comes out", "phase-to-neutral"),
        ({"rated_current_a": 77.0}, "more comes out", "per winding of a delta"),
        ({"rated_voltage_v": 0.4}, "more comes out", "kV, not V"),
        ({"rated_power_w": 75e6}, "more comes out", "in W, not kW"),
        ({"efficiency": 0.99}, "the rotor alone", "Check efficiency"),
        ({"power_factor": 0.70}, "efficiency would be 1.15", "Check power"),
        ({"efficiency": 0.80}, "power factor would be 1.01", "Check power"),
    ],
)
def test_impossible(changes: dict[str, float], what: str, remedy: str) -> None:
    result = changed(**changes)
    assert any(what in fault.what and remedy in fault.remedy for fault in result.errors), result


@pytest.mark.parametrize(
    ("changes", "what", "remedy"),
    [
        ({"rated_power_w": 75e3 * 0.7457}, "means efficiency times", "in kW, not hp"),
        ({"rated_voltage_v": 690.0}, "means efficiency times", "different connections"),
        ({"rated_frequency_hz": 60.0, "rated_current_a": 140.0}, "slip of 18", "50 Hz"),
        ({"rated_frequency_hz": 55.0, "rated_speed_rpm": 1628.0}, "neither 50 nor 60", "converter"),
        ({"rated_speed_rpm": 1498.0}, "usually have about", "Check speed"),
        ({"power_factor": 0.9, "efficiency": 0.95}, "efficiency times power factor is 0.855", ""),
        ({"code_letter": "V"}, "code letter V", "not the design letter"),
        ({"service_factor": 2.0}, "service factor", ""),
    ],
)
def test_odd(changes: dict[str, object], what: str, remedy: str) -> None:
    result = changed(**changes)
    assert result.errors == ()
    assert any(what in fault.what and remedy in fault.remedy for fault in result.warnings), result


def test_bars_and_slots() -> None:
    assert (
        "as many stator slots"
        in crosscheck(PLATE, Cage(rotor_bars=48, stator_slots=48)).warnings[0].what
    )
    assert "evenly" in crosscheck(PLATE, Cage(stator_slots=50)).warnings[0].what
    assert "cages have" in crosscheck(PLATE, Cage(rotor_bars=3)).errors[0].what


def test_coils_span_a_pole_pitch_at_most() -> None:
    slots = 18 * PLATE.poles
    assert crosscheck(PLATE, Cage(stator_slots=slots, coil_span_slots=15)).warnings == ()
    assert crosscheck(PLATE, Cage(coil_span_slots=40)).warnings == ()
    for span in (9, 19):
        warning = crosscheck(PLATE, Cage(stator_slots=slots, coil_span_slots=span)).warnings[0]
        assert "pole pitch" in warning.what


@given(power_kw=st.floats(0.2, 5000.0), poles=st.sampled_from([2, 4, 6, 8, 10, 12]))
def test_usual_motors_of_any_size_pass(power_kw: float, poles: int) -> None:
    power_w = power_kw * 1e3
    product = typical.efficiency(power_w) * typical.power_factor(power_w, poles)
    plate = Nameplate(
        rated_power_w=power_w,
        rated_voltage_v=400.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=6000.0 / poles * (1.0 - typical.slip(power_w)),
        rated_current_a=power_w / (3.0**0.5 * 400.0 * product),
        poles=poles,
    )
    assert crosscheck(plate) == CrossCheck((), ())


@given(scale=st.floats(0.3, 30.0))
def test_voltage_and_current_may_be_traded(scale: float) -> None:
    """Rewinding for another voltage changes nothing but the ratio."""
    same = changed(rated_voltage_v=400.0 * scale, rated_current_a=134.0 / scale)
    assert same == changed()


def test_horsepower_typed_as_kilowatts_is_caught_over_a_range_of_sizes() -> None:
    for power_hp in (20.0, 50.0, 100.0, 250.0, 500.0):
        power_w = power_hp * WATT_PER_HORSEPOWER
        product = typical.efficiency(power_w) * typical.power_factor(power_w, 4)
        plate = replace(
            PLATE,
            rated_power_w=power_hp * 1e3,
            rated_current_a=power_w / (3.0**0.5 * 400.0 * product),
            rated_speed_rpm=1500.0 * (1.0 - typical.slip(power_w)),
        )
        result = crosscheck(plate)
        assert any("hp, not kW" in f.remedy for f in (*result.errors, *result.warnings)), power_hp


def test_slip_window_and_interval() -> None:
    motor = Motor(tag="m", nameplate=PLATE)
    low, high = slip_window(motor)
    assert low == 0.0
    assert high == pytest.approx(1.6 * 20.0 / 1500.0)
    interval = rated_slip_interval(PLATE)
    assert interval.low == pytest.approx((20.0 - 4.0 - 2.5) / 1500.0)
    assert interval.high == pytest.approx((20.0 + 4.0 + 2.5) / 1500.0)


def test_a_speed_off_the_grid_of_5_rpm_is_known_better() -> None:
    interval = rated_slip_interval(replace(PLATE, rated_speed_rpm=1481.0))
    assert interval.high - interval.value == pytest.approx((0.2 * 19.0 + 0.5) / 1500.0)
