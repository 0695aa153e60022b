"""Equivalent circuits of published machines: do they deliver what was published?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.crosscheck import crosscheck
from cagewise.machine.estimate import machine_draws, operating_slip, shaft_power
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import Estimate

COPPER_PER_KELVIN = 0.00392
ALUMINIUM_PER_KELVIN = 0.0040


@dataclass(frozen=True, kw_only=True)
class Machine:
    """A published machine: nameplate and circuit in ohm per star phase at running temperature."""

    power_w: float
    voltage_v: float
    current_a: float
    speed_rpm: float
    frequency_hz: float
    stator_resistance_ohm: float
    rotor_resistance_ohm: float
    stator_leakage_ohm: float
    rotor_leakage_ohm: float
    magnetizing_ohm: float

    @property
    def omega(self) -> float:
        return 2.0 * math.pi * self.frequency_hz

    @property
    def nameplate(self) -> Nameplate:
        return Nameplate(
            rated_power_w=self.power_w,
            rated_voltage_v=self.voltage_v,
            rated_frequency_hz=self.frequency_hz,
            rated_speed_rpm=self.speed_rpm,
            rated_current_a=self.current_a,
            poles=4,
        )

    @property
    def circuit(self) -> EquivalentCircuit:
        return EquivalentCircuit.from_values(
            stator_resistance_ohm=self.stator_resistance_ohm,
            rotor_resistance_ohm=self.rotor_resistance_ohm,
            stator_leakage_h=self.stator_leakage_ohm / self.omega,
            rotor_leakage_h=self.rotor_leakage_ohm / self.omega,
            magnetizing_inductance_h=self.magnetizing_ohm / self.omega,
        )


def hot(cold_ohm: float, per_kelvin: float, rise_k: float, per_star: float = 1.0) -> float:
    """Return a resistance given at 20 degC, warmed, as a star."""
    return cold_ohm * (1.0 + per_kelvin * rise_k) * per_star


MEASURED_18_KW = Machine(
    power_w=18.5e3,
    voltage_v=400.0,
    current_a=32.85,
    speed_rpm=1462.5,
    frequency_hz=50.0,
    stator_resistance_ohm=hot(0.56, COPPER_PER_KELVIN, 70.0, 1.0 / 3.0),
    rotor_resistance_ohm=hot(0.42, ALUMINIUM_PER_KELVIN, 70.0, 1.0 / 3.0),
    stator_leakage_ohm=1.52 / 3.0,
    rotor_leakage_ohm=2.31 / 3.0,
    magnetizing_ohm=66.4 / 3.0,
)
"""18.5 kW, 400 V delta, 50 Hz motor with measurements: Haumer, Kral, Kapeller, Bauml and Gragger,
"The AdvancedMachines Library: Loss Models for Electric Machines", Modelica 2009; example
IMC_withLosses of the Modelica Standard Library. Resistances at 20 degC, running at 90 degC."""
CORE_LOSS_W, FRICTION_W, STRAY_W = 410.0, 180.0, 102.22

MEASUREMENTS = (
    # shaft W, current A, speed rpm, power factor
    (1845.0, 11.20, 1496.0, 0.327),
    (3549.0, 12.27, 1493.0, 0.506),
    (5325.0, 13.87, 1490.0, 0.636),
    (7521.0, 16.41, 1486.0, 0.741),
    (9372.0, 18.78, 1482.0, 0.797),
    (11010.0, 21.07, 1479.0, 0.831),
    (12930.0, 23.92, 1475.0, 0.857),
    (14950.0, 27.05, 1471.0, 0.875),
    (16360.0, 29.40, 1467.0, 0.887),
    (18500.0, 32.85, 1462.0, 0.896),
    (20180.0, 35.92, 1458.0, 0.902),
    (22170.0, 39.35, 1453.0, 0.906),
)
"""Measured table of the same source."""


def steady(machine: Machine, slip: float, core_loss_w: float) -> tuple[float, float]:
    """Return line current (A, rms) and input power (W) at rated voltage."""
    voltage = machine.nameplate.rated_phase_voltage_peak_v
    current = machine.circuit.at(slip, machine.omega).stator_current(voltage)
    current = current + core_loss_w / (1.5 * voltage)
    return float(abs(current)) / math.sqrt(2.0), float(1.5 * voltage * current.real)


def slip_for_output(machine: Machine, output_w: float, mechanical_loss_w: float) -> float:
    """Return the slip that delivers an output, by bisection on the stable branch."""
    low, high = 0.0, 0.06
    voltage = machine.nameplate.rated_phase_voltage_peak_v
    for _ in range(60):
        middle = 0.5 * (low + high)
        found = shaft_power(
            machine.circuit, middle, voltage, machine.frequency_hz, mechanical_loss_w
        )
        low, high = (middle, high) if float(found) < output_w else (low, middle)
    return 0.5 * (low + high)


def test_measured_motor_at_rated_output() -> None:
    """Published: 1462.5 rpm, 32.85 A, 120.79 N m, losses stator 770.13, rotor 481.60 W.

    Here the core loss is drawn at the terminals; the source has it behind the stator impedance, so
    that its current (0.59 of 32.85 A, nearly in phase) also heats the stator winding, 3.2 % of
    the copper loss, and lowers the voltage of the rotor: tolerances 1 rpm, 1 % of current, 3 % of
    the rotor loss, 4 % of the stator loss.
    """
    slip = slip_for_output(MEASURED_18_KW, 18.5e3, FRICTION_W + STRAY_W)
    current_a, input_w = steady(MEASURED_18_KW, slip, CORE_LOSS_W)
    assert 1500.0 * (1.0 - slip) == pytest.approx(1462.5, abs=1.0)
    assert current_a == pytest.approx(32.85, rel=0.01)
    speed_rad_s = math.pi * 50.0 * (1.0 - slip)
    assert 18.5e3 / speed_rad_s == pytest.approx(120.79, rel=1e-3)
    assert MEASURED_18_KW.nameplate.rated_torque_nm == pytest.approx(120.79, abs=0.01)
    assert input_w == pytest.approx(20_443.95, rel=0.003)
    rotor_w = (18.5e3 + FRICTION_W + STRAY_W) * slip / (1.0 - slip)
    assert rotor_w == pytest.approx(481.60, rel=0.03)
    stator_w = input_w - CORE_LOSS_W - rotor_w - 18.5e3 - FRICTION_W - STRAY_W
    assert stator_w == pytest.approx(770.13, rel=0.04)


@pytest.mark.parametrize("row", MEASUREMENTS, ids=lambda r: f"{r[0]:.0f} W")
def test_slip_from_measured_input_power(row: tuple[float, float, float, float]) -> None:
    """From voltage and input power alone the slip comes out as measured.

    Tolerance: the speed was read to 1 rpm (half a rpm of rounding, one taken for the instrument),
    and 5 % of slip for rotor temperature (12 K), which the source holds at 90 degC at every load.
    """
    _, current_a, speed_rpm, power_factor = row
    input_w = math.sqrt(3.0) * 400.0 * current_a * power_factor
    voltage = MEASURED_18_KW.nameplate.rated_phase_voltage_peak_v
    slip = float(
        operating_slip(MEASURED_18_KW.circuit, voltage, 50.0, input_w, core_loss_w=CORE_LOSS_W)
    )
    measured = 1.0 - speed_rpm / 1500.0
    assert slip == pytest.approx(measured, abs=1.0 / 1500.0 + 0.05 * measured)


@pytest.mark.parametrize("row", MEASUREMENTS, ids=lambda r: f"{r[0]:.0f} W")
def test_shaft_power_from_measured_input_power(row: tuple[float, float, float, float]) -> None:
    """Shaft power follows to 1.5 % of rated power (stray load loss is taken as constant)."""
    shaft_w, current_a, _, power_factor = row
    input_w = math.sqrt(3.0) * 400.0 * current_a * power_factor
    voltage = MEASURED_18_KW.nameplate.rated_phase_voltage_peak_v
    slip = operating_slip(MEASURED_18_KW.circuit, voltage, 50.0, input_w, core_loss_w=CORE_LOSS_W)
    found = shaft_power(MEASURED_18_KW.circuit, slip, voltage, 50.0, FRICTION_W + STRAY_W)
    assert float(found) == pytest.approx(shaft_w, abs=0.015 * 18.5e3)


KRAUSE = {
    # hp: (V, rpm, base torque Nm, base current A, R_s, X_ls = X_lr, X_m, R_r, J)
    3: (220.0, 1710.0, 11.9, 5.8, 0.435, 0.754, 26.13, 0.816, 0.089),
    50: (460.0, 1705.0, 198.0, 46.8, 0.087, 0.302, 13.08, 0.228, 1.662),
    500: (2300.0, 1773.0, 1.98e3, 93.6, 0.262, 1.206, 54.02, 0.187, 11.06),
    2250: (2300.0, 1786.0, 8.9e3, 421.2, 0.029, 0.226, 13.04, 0.022, 63.87),
}
"""Krause, Wasynczuk and Sudhoff, Analysis of Electric Machinery, induction machine parameters
(from memory); 4 poles, 60 Hz, ohm, kg m^2."""


def krause(power_hp: int) -> Machine:
    voltage_v, speed_rpm, _, current_a, r_s, x_l, x_m, r_r, _ = KRAUSE[power_hp]
    return Machine(
        power_w=746.0 * power_hp,
        voltage_v=voltage_v,
        current_a=current_a,
        speed_rpm=speed_rpm,
        frequency_hz=60.0,
        stator_resistance_ohm=r_s,
        rotor_resistance_ohm=r_r,
        stator_leakage_ohm=x_l,
        rotor_leakage_ohm=x_l,
        magnetizing_ohm=x_m,
    )


@pytest.mark.parametrize("power_hp", KRAUSE)
def test_base_values_of_the_textbook_machines(power_hp: int) -> None:
    """The table's torque and current are bases: P over synchronous speed, P over sqrt3 V."""
    _, _, torque_nm, current_a, *_ = KRAUSE[power_hp]
    machine = krause(power_hp)
    assert machine.power_w / (60.0 * math.pi) == pytest.approx(torque_nm, rel=5e-3)
    # printed to two digits for the smallest machine
    base_a = machine.power_w / (math.sqrt(3.0) * machine.voltage_v)
    assert base_a == pytest.approx(current_a, rel=0.013)


@pytest.mark.parametrize("power_hp", [500, 2250])
def test_power_of_the_textbook_machines_at_rated_speed(power_hp: int) -> None:
    """Tolerance: half a rpm of rounding over the rated slip in rpm (27 and 14), plus 0.5 %.

    The 3 and 50 hp machines deliver 12 % more than rated at their printed speeds, so their printed
    speeds cannot be those of rated output without losses; they are not checked.
    """
    machine = krause(power_hp)
    slip = machine.nameplate.rated_slip
    state = machine.circuit.at(slip, machine.omega)
    torque_nm = float(state.electromagnetic_torque(machine.nameplate.rated_phase_voltage_peak_v, 2))
    power_w = torque_nm * 60.0 * math.pi * (1.0 - slip)
    tolerance = 0.5 / (1800.0 * slip) + 0.005
    assert power_w == pytest.approx(machine.power_w, rel=tolerance)


def test_inertia_constant_of_the_2250_hp_machine() -> None:
    """H = J omega^2 / (2 S) = 0.676 s on the 2250 hp base (Krause machine data in a program)."""
    inertia = KRAUSE[2250][-1]
    assert 0.5 * inertia * (60.0 * math.pi) ** 2 / (2250.0 * 746.0) == pytest.approx(
        0.676, abs=5e-4
    )


PUBLISHED = {
    "18.5 kW, measured": MEASURED_18_KW,
    "3 kW, from geometry": Machine(
        # public finite-element model file of Gyselinck, Sabariego and Guerard (3 kW, 36/32 slots);
        # circuit derived from its geometry, cold
        power_w=3e3,
        voltage_v=380.0,
        current_a=6.7,
        speed_rpm=1420.0,
        frequency_hz=50.0,
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_ohm=2.17,
        rotor_leakage_ohm=2.57,
        magnetizing_ohm=53.9,
    ),
    # data records Imc112M04 and Imc132M04 of the public library ElectricalMachines (A. Haumer);
    # resistances at 20 degC, running at 95 degC
    "4 kW": Machine(
        power_w=4e3,
        voltage_v=400.0,
        current_a=8.493,
        speed_rpm=1431.57,
        frequency_hz=50.0,
        stator_resistance_ohm=hot(1.45, COPPER_PER_KELVIN, 75.0),
        rotor_resistance_ohm=hot(1.05, ALUMINIUM_PER_KELVIN, 75.0),
        stator_leakage_ohm=2.25,
        rotor_leakage_ohm=2.75,
        magnetizing_ohm=49.65,
    ),
    "7.5 kW": Machine(
        power_w=7.5e3,
        voltage_v=400.0,
        current_a=14.171,
        speed_rpm=1454.30,
        frequency_hz=50.0,
        stator_resistance_ohm=hot(0.615, COPPER_PER_KELVIN, 75.0),
        rotor_resistance_ohm=hot(0.395, ALUMINIUM_PER_KELVIN, 75.0),
        stator_leakage_ohm=1.41,
        rotor_leakage_ohm=1.95,
        magnetizing_ohm=42.80,
    ),
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_circuits_lie_inside_the_intervals_from_the_nameplate(name: str) -> None:
    """Power, voltage, current and speed alone; every parameter inside its 95 % interval."""
    machine = PUBLISHED[name]
    assert crosscheck(machine.nameplate).errors == ()
    ensemble = machine_draws(machine.nameplate, n_draws=4000).circuit
    truth = machine.circuit
    for field in (
        "stator_resistance_ohm",
        "rotor_resistance_ohm",
        "stator_leakage_h",
        "rotor_leakage_h",
        "magnetizing_inductance_h",
    ):
        interval = Estimate.from_draws(getattr(ensemble, field))
        assert interval.low < float(getattr(truth, field)) < interval.high, (field, interval)


@pytest.mark.parametrize("power_hp", [500, 2250])
def test_textbook_circuits_lie_inside_the_intervals_from_their_own_rating(power_hp: int) -> None:
    """Nameplate current and output are those the circuit itself takes and gives at rated speed; the
    output is lowered by 1 % for the friction the textbook leaves out."""
    machine = krause(power_hp)
    slip = machine.nameplate.rated_slip
    current_a, input_w = steady(machine, slip, 0.005 * machine.power_w)
    voltage = machine.nameplate.rated_phase_voltage_peak_v
    output_w = float(shaft_power(machine.circuit, slip, voltage, 60.0, 0.01 * machine.power_w))
    nameplate = Nameplate(
        rated_power_w=output_w,
        rated_voltage_v=machine.voltage_v,
        rated_frequency_hz=60.0,
        rated_speed_rpm=machine.speed_rpm,
        rated_current_a=current_a,
        poles=4,
        efficiency=output_w / input_w,
    )
    ensemble = machine_draws(nameplate, n_draws=4000).circuit
    for field in ("rotor_resistance_ohm", "magnetizing_inductance_h", "stator_leakage_h"):
        interval = Estimate.from_draws(getattr(ensemble, field))
        assert interval.low < float(getattr(machine.circuit, field)) < interval.high, field


@pytest.mark.parametrize(
    ("torque_nm", "speed_rpm", "current_a"),
    [
        (2.02, 1494.05, 3.944),
        (5.05, 1484.92, 4.099),
        (10.1, 1469.00, 4.677),
        (15.15, 1452.04, 5.568),
        (20.2, 1433.76, 6.684),
        (25.0, 1414.88, 7.904),
    ],
)
def test_reference_motor_against_the_bar_by_bar_model(
    torque_nm: float, speed_rpm: float, current_a: float
) -> None:
    """Steady points of a bar-by-bar coupled-circuit model of the 3 kW machine, computed for this
    project.

    The model has all winding harmonics, and at harmonic slips near 1 the cage shorts part of the
    harmonic leakage that the circuit counts in full (2.2 of 6.92 mH): the circuit takes 0.4 % less
    current and needs 0.7 % more slip. Tolerances 0.5 % and 0.8 % of the slip.
    """
    machine = PUBLISHED["3 kW, from geometry"]
    circuit = EquivalentCircuit.from_values(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_h=0.17832 - 0.17140,
        rotor_leakage_h=0.17958 - 0.17140,
        magnetizing_inductance_h=0.17140,
    )
    slip = 1.0 - speed_rpm / 1500.0
    state = circuit.at(slip, machine.omega)
    voltage = machine.nameplate.rated_phase_voltage_peak_v
    per_slip = float(state.electromagnetic_torque(voltage, 2)) / slip
    assert torque_nm / per_slip == pytest.approx(slip, rel=0.008)
    current = float(np.abs(state.stator_current(voltage))) / math.sqrt(2.0)
    assert current == pytest.approx(current_a, rel=0.005)
