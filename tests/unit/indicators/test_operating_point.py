"""Load fraction and the assembled operating point."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.running.load import load_fraction
from cagewise.indicators.running.operating_point import OperatingPoint, find_operating_point
from cagewise.indicators.running.slip_window import slip_at_power, slip_window
from cagewise.indicators.running.supply import Supply
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.load import slip_load_ratio
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import Estimate, NotKnown
from support.slip_motor import Cast, SlipMotor

PLATE = Nameplate(
    rated_power_w=3000.0,
    rated_voltage_v=381.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1434.0,
    rated_current_a=6.7,
    poles=4,
)
CIRCUIT = EquivalentCircuit.from_values(
    stator_resistance_ohm=2.2,
    rotor_resistance_ohm=1.6555,
    stator_leakage_h=0.00692,
    rotor_leakage_h=0.00818,
    magnetizing_inductance_h=0.17140,
)
OMEGA = 2.0 * math.pi * 50.0


def supply_at(slip: float, voltage_v: float = 311.1, extra_w: float = 0.0) -> Supply:
    """Return what is measured at the terminals of the circuit, core loss beside it."""
    current = complex(CIRCUIT.at(slip, OMEGA).stator_current(voltage_v))
    return Supply(
        frequency_hz=Estimate(50.0, 49.9999, 50.0001),
        frequency_wander_hz=0.0,
        current_a=current + extra_w / (1.5 * voltage_v),
        voltage_v=complex(voltage_v),
    )


def air_gap_power_w(slip: float, voltage_v: float = 311.1) -> float:
    """Return shaft power plus friction at a slip."""
    torque = float(CIRCUIT.at(slip, OMEGA).electromagnetic_torque(voltage_v, 2))
    return torque * OMEGA / 2.0 * (1.0 - slip)


def test_slip_method_without_compensation() -> None:
    # 25 hp, synchronous 1800, measured 1770, nameplate 1750 rpm: load 60 % (US Department of
    # Energy, DOE/GO-10097-517, from memory; "50 % load has half the slip" read in a trade text).
    assert slip_load_ratio(30.0, 50.0, 1.0) == pytest.approx(0.60, rel=1e-12)


def test_slip_method_compensated_for_voltage() -> None:
    # The same at 1.05 times rated voltage: 0.6 * 1.05^2, printed as 66.2 % (same source).
    assert slip_load_ratio(30.0, 50.0, 1.05) == pytest.approx(0.6615, rel=1e-12)


def test_a_low_voltage_makes_the_plain_method_overstate() -> None:
    # Trap: below rated voltage the same load needs more slip (secondary source, trade article).
    plain = slip_load_ratio(30.0, 50.0, 1.0)
    assert slip_load_ratio(30.0, 50.0, 0.95) < plain


def test_the_circuit_gives_back_the_slip_of_a_power() -> None:
    for slip in (0.005, 0.02, 0.0442):
        supply = supply_at(slip)
        power = supply.complex_power_va
        assert power is not None
        found = slip_at_power(supply, PLATE.rated_slip, CIRCUIT, power.real)
        # 160 points on a logarithmic grid, linear between them.
        assert float(found[0]) == pytest.approx(slip, rel=2e-3)


@pytest.mark.parametrize("slip", [0.004, 0.01, 0.0207, 0.0442])
def test_the_window_holds_the_slip(slip: float) -> None:
    low, high = slip_window(supply_at(slip, extra_w=60.0), PLATE, CIRCUIT)
    assert low < slip < high
    assert high < 1.6 * 1.6 * slip + 0.006


def test_without_voltage_the_window_is_that_of_the_nameplate() -> None:
    supply = replace(supply_at(0.03), voltage_v=None)
    low, high = slip_window(supply, PLATE, CIRCUIT)
    assert low == 0.0
    assert high == pytest.approx(1.6 * PLATE.rated_slip)


@pytest.mark.parametrize("slip", [0.01, 0.0207, 0.0442])
@pytest.mark.parametrize("knows_slip", [True, False])
def test_load_from_power_covers_the_truth(slip: float, *, knows_slip: bool) -> None:
    core_w, friction_w = 60.0, 50.0
    true = (air_gap_power_w(slip) - friction_w) / PLATE.rated_power_w
    known: Estimate | NotKnown = Estimate(slip, slip * 0.999, slip * 1.001)
    load = load_fraction(
        supply_at(slip, extra_w=core_w), PLATE, CIRCUIT, known if knows_slip else NotKnown("x")
    )
    assert isinstance(load, Estimate)
    assert load.low < true < load.high
    assert load.value == pytest.approx(true, abs=0.05)
    assert load.high - load.low < 0.25


def test_a_stated_efficiency_narrows_the_load() -> None:
    slip = Estimate(0.0442, 0.0441, 0.0443)
    supply = supply_at(0.0442, extra_w=60.0)
    open_plate = load_fraction(supply, PLATE, CIRCUIT, NotKnown("x"))
    stated = load_fraction(supply, replace(PLATE, efficiency=0.835), CIRCUIT, NotKnown("x"))
    assert isinstance(open_plate, Estimate)
    assert isinstance(stated, Estimate)
    assert stated.high - stated.low < open_plate.high - open_plate.low
    assert isinstance(load_fraction(supply, PLATE, CIRCUIT, slip), Estimate)


def test_load_from_current_alone_is_wide_and_covers_the_truth() -> None:
    for slip in (0.01, 0.0207, 0.0442):
        supply = replace(supply_at(slip), voltage_v=None)
        load = load_fraction(supply, PLATE, CIRCUIT, NotKnown("no line"))
        assert isinstance(load, Estimate)
        true = (air_gap_power_w(slip) - 50.0) / PLATE.rated_power_w
        assert load.low < true < load.high
        # The circuit is exact here; six per cent of voltage either way are worth this much.
        assert load.high - load.low > 0.05


def test_current_and_slip_together_are_better_than_either() -> None:
    supply = replace(supply_at(0.0207), voltage_v=None)
    alone = load_fraction(supply, PLATE, CIRCUIT, NotKnown("no line"))
    both = load_fraction(supply, PLATE, CIRCUIT, Estimate(0.0207, 0.0206, 0.0208))
    assert isinstance(alone, Estimate)
    assert isinstance(both, Estimate)
    assert both.high - both.low < alone.high - alone.low


def test_no_load_from_power_that_flows_out() -> None:
    supply = supply_at(-0.02)
    assert isinstance(load_fraction(supply, PLATE, CIRCUIT, NotKnown("x")), NotKnown)


def test_an_ensemble_widens_the_interval() -> None:
    rng = np.random.default_rng(1)
    spread = EquivalentCircuit(
        **{
            name: np.asarray(getattr(CIRCUIT, name) * np.exp(0.15 * rng.standard_normal(300)))
            for name in EquivalentCircuit.__dataclass_fields__
        }
    )
    supply = supply_at(0.0207, extra_w=60.0)
    one = load_fraction(supply, PLATE, CIRCUIT, NotKnown("x"))
    many = load_fraction(supply, PLATE, spread, NotKnown("x"))
    assert isinstance(one, Estimate)
    assert isinstance(many, Estimate)
    assert many.high - many.low > one.high - one.low


def r3k_record(slip: float = 0.0442) -> SlipMotor:
    """Return a record whose fundamental is that of the circuit."""
    current = complex(CIRCUIT.at(slip, OMEGA).stator_current(311.1))
    cast = Cast(
        slip=slip,
        rotor_bars=32,
        slot={(1, 1, -1): -50.0},
        eccentric=(-60.0, -62.0),
        pole_pass=(-60.0, -62.0),
    )
    return SlipMotor(
        cast=cast,
        current_peak_a=abs(current),
        voltage_peak_v=311.1,
        lag_rad=-math.atan2(current.imag, current.real),
    )


MOTOR = Motor(tag="R3K", nameplate=PLATE, cage=Cage(rotor_bars=32))


def test_the_operating_point_is_complete() -> None:
    record = r3k_record()
    point = find_operating_point(record.frame(), MOTOR, CIRCUIT)
    assert isinstance(point, OperatingPoint)
    assert isinstance(point.slip, Estimate)
    assert isinstance(point.speed_rpm, Estimate)
    assert isinstance(point.pole_pass_frequency_hz, Estimate)
    assert isinstance(point.load_fraction, Estimate)
    assert point.speed_rpm.value == pytest.approx(1433.7, abs=0.02)
    assert point.speed_rpm.low < 1433.7 < point.speed_rpm.high
    assert point.pole_pass_frequency_hz.value == pytest.approx(100.0 * point.slip.value, rel=1e-9)
    assert point.supply_frequency_hz.value == pytest.approx(50.0, abs=1e-5)
    assert point.active_power_w == pytest.approx(3479.0, rel=0.01)
    assert point.slip_families == ("rotor slots", "eccentricity", "pole pass")
    assert point.rotor_bars == 32
    assert point.rotor_bars_candidates == (32,)
    assert point.slip_wander is not None
    assert point.slip_wander < 0.01


def test_without_slip_the_reason_stands_in_every_field_that_needs_it() -> None:
    bare = replace(r3k_record(), cast=Cast(slip=0.0442, rotor_bars=32))
    point = find_operating_point(bare.frame(), MOTOR, CIRCUIT)
    assert isinstance(point.slip, NotKnown)
    assert point.slip == point.speed_rpm == point.pole_pass_frequency_hz
    assert point.slip_families == ()
    assert point.slip_wander is None
    assert isinstance(point.load_fraction, Estimate)


def test_a_measured_speed_stands_in_for_the_lines_and_is_refined_by_them() -> None:
    strobe = Estimate(1434.5, 1433.0, 1436.0)
    bare = replace(r3k_record(), cast=Cast(slip=0.0442, rotor_bars=32))
    given = find_operating_point(bare.frame(), MOTOR, CIRCUIT, strobe)
    assert isinstance(given.speed_rpm, Estimate)
    assert given.speed_rpm.value == pytest.approx(1434.5, abs=1e-6)
    assert given.slip_families == ()
    refined = find_operating_point(r3k_record().frame(), MOTOR, CIRCUIT, strobe)
    assert isinstance(refined.speed_rpm, Estimate)
    assert refined.speed_rpm.value == pytest.approx(1433.7, abs=0.02)
    assert refined.speed_rpm.high - refined.speed_rpm.low < 0.5


def test_a_strobe_far_from_the_lines_is_believed_and_not_moved() -> None:
    strobe = Estimate(1460.0, 1459.0, 1461.0)
    point = find_operating_point(r3k_record().frame(), MOTOR, CIRCUIT, strobe)
    assert isinstance(point.speed_rpm, Estimate)
    assert point.speed_rpm.value == pytest.approx(1460.0, abs=1e-6)
    assert point.slip_families == ()


def test_a_speed_above_synchronous_is_refused() -> None:
    point = find_operating_point(
        r3k_record().frame(), MOTOR, CIRCUIT, Estimate(1502.0, 1501.0, 1503.0)
    )
    assert isinstance(point.slip, NotKnown)
    assert "not below the synchronous speed" in point.slip.reason
