"""Published nameplate arithmetic: speed, slip, tolerances, currents, load."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cagewise.machine import typical
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.crosscheck import crosscheck
from cagewise.machine.lines import characteristic_lines
from cagewise.machine.load import (
    full_load_current_a,
    load_from_current,
    load_from_input_power,
    load_from_slip,
    three_phase_power_w,
)
from cagewise.machine.locked_rotor import CODE_LETTERS, code_letter, locked_rotor_current_a
from cagewise.machine.motor import Motor
from cagewise.machine.motor_file import motor_from_mapping
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.tolerances import (
    lowest_efficiency,
    power_factor_tolerance,
    rated_slip_interval,
    slip_tolerance,
)
from cagewise.quantities import WATT_PER_HORSEPOWER, synchronous_speed_rpm

NEWTON_METRE_PER_POUND_FOOT = 1.3558179483314004


def plate(
    power_w: float,
    voltage_v: float,
    frequency_hz: float,
    speed_rpm: float,
    current_a: float,
    poles: int,
) -> Nameplate:
    return Nameplate(
        rated_power_w=power_w,
        rated_voltage_v=voltage_v,
        rated_frequency_hz=frequency_hz,
        rated_speed_rpm=speed_rpm,
        rated_current_a=current_a,
        poles=poles,
    )


def plate_of_speed(frequency_hz: float, poles: int, speed_rpm: float) -> Nameplate:
    return plate(10e3, 400.0, frequency_hz, speed_rpm, 20.0, poles)


def test_synchronous_speeds() -> None:
    """n_s = 120 f / P (from memory, certain)."""
    assert synchronous_speed_rpm(60.0, 2) == 1800.0
    assert synchronous_speed_rpm(50.0, 6) == 500.0


@pytest.mark.parametrize(
    ("synchronous_rpm", "slip", "speed_rpm"), [(1200.0, 0.05, 1140.0), (1000.0, 0.07, 930.0)]
)
def test_speed_from_slip(synchronous_rpm: float, slip: float, speed_rpm: float) -> None:
    """Kosow, Electric Machinery and Transformers 2e, Ex. 9-2."""
    nameplate = plate_of_speed(synchronous_rpm / 20.0, 6, speed_rpm)
    assert nameplate.rated_slip == pytest.approx(slip, rel=1e-12)


def test_four_pole_sixty_hertz() -> None:
    """Worked example 10.11 of a published solution set (FOSSEE 1445/CH10): 5 %, 1710 rpm."""
    assert plate_of_speed(60.0, 4, 1710.0).rated_slip == pytest.approx(0.05, rel=1e-12)


def test_poles_and_slip_from_the_speed() -> None:
    """Deshpande, Electrical Machines, Ex. 11.3: 970 rpm at 50 Hz is 6 poles and 3 %."""
    motor = motor_from_mapping(
        {
            "motor": {
                "rated_power_kw": 11,
                "rated_voltage_v": 400,
                "rated_frequency_hz": 50,
                "rated_speed_rpm": 970,
                "rated_current_a": 22.6,
            }
        }
    )
    assert motor.nameplate.poles == 6
    assert motor.nameplate.rated_slip == pytest.approx(0.03, rel=1e-12)


def test_slip_is_relative_to_synchronous_speed_not_to_rotor_speed() -> None:
    """12 poles, 50 Hz, 485 rpm: 1.500 Hz. A published program (FOSSEE 431/CH4/EX4.10) divides by
    the rotor speed and prints 1.546 Hz."""
    nameplate = plate_of_speed(50.0, 12, 485.0)
    assert nameplate.rated_slip == pytest.approx(0.030, rel=1e-12)
    rotor_hz = nameplate.rated_slip * 50.0
    assert rotor_hz == pytest.approx(1.500, rel=1e-12)
    assert abs(rotor_hz - 1.546) > 0.04


def test_slip_tolerance_is_twenty_percent_not_ten() -> None:
    """NEMA MG 1-12.46: 14 rpm of slip may be 11.2 to 16.8 rpm; a trade page prints +-10 %.
    IEC 60034-1 clause 12.1 (from memory): 20 % from 1 kW, 30 % below."""
    assert slip_tolerance(30e3) * 14.0 == pytest.approx(16.8 - 14.0, rel=1e-12)
    assert slip_tolerance(1e3) == 0.20
    assert slip_tolerance(0.99e3) == 0.30
    interval = rated_slip_interval(plate_of_speed(60.0, 4, 1786.0)).scaled(1800.0)
    # 1786 rpm is not a multiple of 5: half a rpm of rounding is added to the tolerance
    assert (interval.low, interval.high) == pytest.approx((11.2 - 0.5, 16.8 + 0.5), rel=1e-9)


def test_rounding_of_the_nameplate_speed() -> None:
    """US DOE, Determining Electric Motor Load and Efficiency: speeds are rounded to 5 rpm; 2.5 rpm
    are 5 % of a slip of 50 rpm."""
    interval = rated_slip_interval(plate_of_speed(60.0, 4, 1750.0)).scaled(1800.0)
    assert interval.value == pytest.approx(50.0, rel=1e-9)
    assert interval.high == pytest.approx(50.0 * (1.0 + 0.20 + 0.05), rel=1e-9)
    assert interval.low == pytest.approx(50.0 * (1.0 - 0.20 - 0.05), rel=1e-9)


def test_efficiency_and_power_factor_tolerance() -> None:
    """IEC 60034-1 clause 12.1 (secondary source; power factor from memory): 93.0 %, 75 kW may be
    91.95 %; above 150 kW a tenth of the losses; power factor a sixth of 1 - cos phi."""
    assert lowest_efficiency(0.930, 75e3) == pytest.approx(0.9195, rel=1e-12)
    assert lowest_efficiency(0.930, 160e3) == pytest.approx(0.923, rel=1e-12)
    assert power_factor_tolerance(0.76) == pytest.approx(0.04, rel=1e-12)
    assert power_factor_tolerance(0.95) == 0.02
    assert power_factor_tolerance(0.40) == 0.07


def test_code_letters() -> None:
    """NEMA MG 1-10.37.2 / NEC 430.7(B), read in electricalengineeringtoolbox.com (2015/12)."""
    edges = [0, 3.15, 3.55, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.2, 12.5, 14.0, 16.0]
    edges += [18.0, 20.0, 22.4]
    assert [low for low, _ in CODE_LETTERS.values()] == edges
    assert "".join(CODE_LETTERS) == "ABCDEFGHJKLMNPRSTUV"
    assert code_letter(6.3) == "H"
    assert code_letter(6.2999) == "G"
    assert code_letter(30.0) == "V"


@pytest.mark.parametrize(
    ("power_hp", "voltage_v", "kva_per_hp", "current_a", "printed"),
    [
        (20.0, 460.0, 6.29, 157.89, 158.0),  # thebuildingcodeforum.com thread 35488
        (10.0, 460.0, 5.945, 74.62, 75.0),  # mid band G; tools.gera.services
        (25.0, 480.0, 6.695, 201.3, 201.3),  # mid band H; codingace.net
        (50.0, 575.0, 7.545, 378.8, 378.8),  # mid band J; same
        (50.0, 460.0, 5.6, 351.4, None),  # ends of G: a page (toolgrit.com) prints 362 to 406 A,
        (50.0, 460.0, 6.29, 394.7, None),  # which is wrong
        (10.0, 230.0, 6.45, 162.0, 162.0),  # design B limits, NEMA MG 1-12.35 (from memory)
        (100.0, 230.0, 5.78, 1450.0, 1450.0),
    ],
)
def test_locked_rotor_current(
    power_hp: float, voltage_v: float, kva_per_hp: float, current_a: float, printed: float | None
) -> None:
    current = locked_rotor_current_a(kva_per_hp, power_hp * WATT_PER_HORSEPOWER, voltage_v)
    assert current == pytest.approx(current_a, rel=7e-4)  # four printed digits
    if printed is not None:
        assert current == pytest.approx(printed, rel=6e-3)  # as printed, to whole amperes


def test_power_chain() -> None:
    """industrialmonitordirect.com, nameplate article: 460 V, 83 A, 0.9, 95.4 %."""
    nameplate = plate(76.1 * WATT_PER_HORSEPOWER, 460.0, 60.0, 1780.0, 83.0, 4)
    assert nameplate.rated_apparent_power_va == pytest.approx(66.13e3, rel=1e-4)
    assert 0.9 * nameplate.rated_apparent_power_va == pytest.approx(59.52e3, rel=1e-4)
    output_w = 0.954 * 0.9 * nameplate.rated_apparent_power_va
    assert output_w == pytest.approx(56.78e3, rel=1e-4)
    assert output_w / WATT_PER_HORSEPOWER == pytest.approx(76.1, abs=0.05)
    assert nameplate.power_to_apparent_ratio == pytest.approx(0.9 * 0.954, rel=1e-3)


@pytest.mark.parametrize(
    ("power_hp", "current_a"),
    [(1.0, 2.1), (10.0, 14.0), (25.0, 34.0), (50.0, 65.0), (100.0, 124.0), (200.0, 240.0)],
)
def test_table_currents_pass_the_cross_checks(power_hp: float, current_a: float) -> None:
    """NEC Table 430.250 at 460 V (from memory). Taken for kW they are caught."""
    power_w = power_hp * WATT_PER_HORSEPOWER
    speed_rpm = 1800.0 * (1.0 - typical.slip(power_w))
    nameplate = plate(power_w, 460.0, 60.0, speed_rpm, current_a, 4)
    check = crosscheck(nameplate)
    assert (check.errors, check.warnings) == ((), ())
    mistaken = crosscheck(replace(nameplate, rated_power_w=power_hp * 1e3))
    if power_hp >= 10.0:
        faults = (*mistaken.errors, *mistaken.warnings)
        assert any("the power is in hp, not kW" in fault.remedy for fault in faults)


def test_full_load_current() -> None:
    """P / (sqrt3 V pf eta) inverts the power chain above."""
    current = full_load_current_a(56.78e3, 460.0, 0.9, 0.954)
    assert current == pytest.approx(83.0, rel=1e-4)


def test_starting_torque() -> None:
    """Kosow Ex. 9-13: 4 poles, 60 Hz, 55 V, R 0.3, X 1.0 ohm: 2498 W, 9.77 lb-ft."""
    omega = 2.0 * math.pi * 60.0
    circuit = EquivalentCircuit.from_values(
        stator_resistance_ohm=0.0,
        rotor_resistance_ohm=0.3,
        stator_leakage_h=0.0,
        rotor_leakage_h=1.0 / omega,
        magnetizing_inductance_h=1e9,
    )
    torque_nm = float(circuit.at(1.0, omega).electromagnetic_torque(55.0 * math.sqrt(2.0), 2))
    assert torque_nm * omega / 2.0 == pytest.approx(2498.0, abs=0.5)
    assert torque_nm / NEWTON_METRE_PER_POUND_FOOT == pytest.approx(9.77, abs=0.005)


DOE = plate(25.0 * WATT_PER_HORSEPOWER, 460.0, 60.0, 1750.0, 32.0, 4)
"""The 25 hp, 1750 rpm motor of the DOE fact sheet (from memory; the current is ours)."""


def test_load_from_meter_readings() -> None:
    """US DOE fact sheet (from memory): 22.9 kW as printed; the mean power factor was cut to 0.76
    there, exact arithmetic gives 22.976."""
    power = three_phase_power_w((467, 473, 469), (36, 38, 37), (0.75, 0.78, 0.76))
    assert power == pytest.approx(22_976.0, rel=2e-4)
    assert power == pytest.approx(22.9e3, rel=4e-3)


def test_load_from_input_power() -> None:
    """P_ir = hp x 0.7457 / eta (0685.com quoting the DOE sheet): at rated input the load is 1."""
    rated_input = 25.0 * 745.7 / 0.9
    load = load_from_input_power(0.6 * rated_input, DOE, efficiency=0.9)
    assert load == pytest.approx(0.6, rel=1e-6)
    assert load_from_input_power(1e4, DOE) is None


def test_load_from_slip() -> None:
    """US DOE fact sheet (from memory): 1800, 1770, 1750 rpm: slip 30 of 50 rpm, 60 %, 15 hp."""
    load = load_from_slip(1770.0, DOE)
    assert load == pytest.approx(0.60, rel=1e-12)
    assert load * 25.0 == pytest.approx(15.0, rel=1e-12)
    assert load_from_slip(1770.0, DOE, voltage_v=460.0) == pytest.approx(0.60, rel=1e-12)
    assert load_from_slip(1770.0, DOE, voltage_v=1.05 * 460.0) == pytest.approx(0.6615, rel=1e-9)


def test_low_voltage_makes_the_plain_slip_method_overstate() -> None:
    """industrialmonitordirect.com, slip article (secondary)."""
    assert load_from_slip(1770.0, DOE, voltage_v=0.95 * 460.0) < load_from_slip(1770.0, DOE)


def test_load_from_current() -> None:
    """load = (I / I_r)(V / V_r) (from memory)."""
    assert load_from_current(16.0, 437.0, DOE) == pytest.approx(0.5 * 0.95, rel=1e-12)


def test_slip_comes_from_the_measured_supply_frequency() -> None:
    """A supply of 49.83 Hz taken for 50 Hz: a 7 rpm slip reads as 12 rpm (trap seen in print)."""
    speed_rpm = synchronous_speed_rpm(49.83, 2) - 7.0
    assert synchronous_speed_rpm(50.0, 2) - speed_rpm == pytest.approx(12.1, abs=0.01)
    slip = 7.0 / synchronous_speed_rpm(49.83, 2)
    motor = Motor(tag="m", nameplate=plate_of_speed(50.0, 4, 1480.0))
    lines = characteristic_lines(motor, 49.83, slip)
    assert 60.0 * lines.shaft_frequency_hz == pytest.approx(speed_rpm, rel=1e-12)
    assert lines.pole_pass_frequency_hz == pytest.approx(4 * 7.0 / 60.0, rel=1e-12)
