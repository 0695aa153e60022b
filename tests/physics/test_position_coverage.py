"""Open bars of simulated motors of other nameplates: does the interval hold the true number?

The simulated machine comes from the nameplate by another road than the ensemble that reads it, but
its circuit is the middle of that ensemble; the slow test takes circuits drawn from it anew, and
bars with skin effect, of which the reading knows nothing.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.positions import read_positions
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.positions import position_counts
from cagewise.measurement.test_sheet import TestSheet
from cagewise.quantities import Estimate
from cagewise.simulation import Damage, DeepBar, MachineGeometry
from cagewise.simulation.nameplate import machine_for_motor
from cagewise.simulation.standstill import standstill_impedances
from support.position_sheets import (
    CONNECTIONS,
    PAIRS,
    SETUP,
    Test,
    series_of,
    shaft_angles,
    sheet_of,
)

SAMPLING_HZ = 5000.0
"""Of a recording that nobody makes here: it only limits the orders that the machine keeps."""
ORDERS = 19
"""Winding orders of the simulated test: up to the ripple beside 18 bars per pole pair."""
ALUMINIUM_S_PER_M = 27e6
BAR_HEIGHT_M = (0.008, 0.030)


def plate(
    power_kw: float, voltage_v: float, frequency_hz: float, speed: float, amps: float, poles: int
) -> Nameplate:
    return Nameplate(
        rated_power_w=1e3 * power_kw,
        rated_voltage_v=voltage_v,
        rated_frequency_hz=frequency_hz,
        rated_speed_rpm=speed,
        rated_current_a=amps,
        poles=poles,
    )


MOTORS = {
    motor.tag: motor
    for motor in (
        Motor(
            tag="5.5 kW, 4 poles",
            nameplate=plate(5.5, 400.0, 50.0, 1445.0, 11.1, 4),
            cage=Cage(rotor_bars=28, stator_slots=36, construction="cast"),
        ),
        Motor(
            tag="11 kW, 4 poles",
            nameplate=plate(11.0, 400.0, 50.0, 1460.0, 21.5, 4),
            cage=Cage(rotor_bars=40, stator_slots=48),
        ),
        Motor(
            tag="45 kW, 2 poles",
            nameplate=plate(45.0, 400.0, 50.0, 2960.0, 77.0, 2),
            cage=Cage(rotor_bars=28, stator_slots=36),
        ),
        Motor(
            tag="75 kW, 6 poles, 60 Hz",
            nameplate=plate(75.0, 460.0, 60.0, 1185.0, 118.0, 6),
            cage=Cage(rotor_bars=58, stator_slots=72, construction="cast"),
        ),
        Motor(
            tag="250 kW, 4 poles",
            nameplate=plate(250.0, 690.0, 50.0, 1485.0, 255.0, 4),
            cage=Cage(rotor_bars=58, stator_slots=72, construction="fabricated"),
        ),
        Motor(
            tag="630 kW, 4 poles",
            nameplate=plate(630.0, 6000.0, 50.0, 1488.0, 72.0, 4),
            cage=Cage(rotor_bars=50, stator_slots=60, construction="fabricated"),
        ),
        Motor(
            tag="400 kW, 8 poles",
            nameplate=plate(400.0, 6000.0, 50.0, 742.0, 50.0, 8),
            cage=Cage(rotor_bars=86, stator_slots=96),
        ),
    )
}


def sheet_for(motor: Motor, geometry: MachineGeometry, open_bars: int, seed: int) -> TestSheet:
    """Return the test of this machine at the positions that are advised for the motor."""
    advice, p = position_counts(motor), motor.nameplate.pole_pairs
    test = Test(
        per_pole_pair=advice.positions_per_pole_pair,
        covered=advice.pole_pairs,
        frequency_hz=motor.nameplate.rated_frequency_hz,
        seed=seed,
    )
    found = standstill_impedances(
        replace(SETUP, geometry=geometry, damage=Damage(open_bars=tuple(range(open_bars)))),
        shaft_angles(p, test.per_pole_pair, 1),
        test.frequency_hz,
        list(CONNECTIONS.values()),
        highest_order=ORDERS,
    )
    angles = shaft_angles(p, test.per_pole_pair, test.covered)
    return sheet_of(
        *(
            series_of(pair, angles, np.tile(z.impedance_ohm, test.covered), test)
            for pair, z in zip(PAIRS, found, strict=True)
        )
    )


@cache
def ensemble(tag: str, *, known: bool) -> EquivalentCircuit:
    motor = MOTORS[tag]
    return circuit_ensemble(motor if known else replace(motor, cage=Cage()))


def bars_read(sheet: TestSheet, motor: Motor) -> Estimate:
    circuit = ensemble(motor.tag, known=motor.cage.rotor_bars is not None)
    reading = read_positions(sheet, motor, circuit, PositionLimits()).readings[0]
    assert reading.valid, reading.reason
    assert reading.open_bar_equivalent is not None
    return reading.open_bar_equivalent


@pytest.mark.parametrize("tag", MOTORS)
def test_true_number_lies_in_the_interval(tag: str) -> None:
    """None, one, two and three adjacent open bars: 28 cases; the intervals are not wide."""
    motor = MOTORS[tag]
    geometry = machine_for_motor(motor, SAMPLING_HZ).geometry
    for count in range(4):
        bars = bars_read(sheet_for(motor, geometry, count, seed=count), motor)
        assert bars.low <= count <= bars.high
        assert bars.high - bars.low < 1.2
        assert (bars.low > 0.0) is (count > 0)


def drawn(motor: Motor, rng: np.random.Generator) -> MachineGeometry:
    """Return a machine of another circuit that has this nameplate, with deep bars if they fit."""
    circuits, k = circuit_ensemble(motor, 200, seed=991), int(rng.integers(200))
    circuit = EquivalentCircuit(
        stator_resistance_ohm=circuits.stator_resistance_ohm[k],
        rotor_resistance_ohm=circuits.rotor_resistance_ohm[k],
        stator_leakage_h=circuits.stator_leakage_h[k],
        rotor_leakage_h=circuits.rotor_leakage_h[k],
        magnetizing_inductance_h=circuits.magnetizing_inductance_h[k],
    )
    geometry = machine_for_motor(replace(motor, circuit=circuit), SAMPLING_HZ).geometry
    bar = DeepBar(
        height_m=float(rng.uniform(*BAR_HEIGHT_M)), conductivity_s_per_m=ALUMINIUM_S_PER_M
    )
    try:
        bar.network(geometry.bar_resistance_ohm, geometry.bar_leakage_h)
    except InputError:
        return geometry
    return replace(geometry, bar=bar)


@pytest.mark.slow
def test_other_circuits_and_deep_bars_are_covered_too() -> None:
    """Seven motors, three circuits each, one to three open bars: at least 95 % less three binomial
    standard deviations; the same sheets with bars and slots not known to the reader."""
    rng = np.random.default_rng(5)
    inside, inside_unknown, cases = 0, 0, 0
    for motor in MOTORS.values():
        unknown = replace(motor, cage=Cage())
        for _ in range(3):
            count = int(rng.integers(1, 4))
            sheet = sheet_for(motor, drawn(motor, rng), count, seed=cases)
            known, blind = bars_read(sheet, motor), bars_read(sheet, unknown)
            inside += known.low <= count <= known.high
            inside_unknown += blind.low <= count <= blind.high
            cases += 1
    least = 0.95 - 3.0 * math.sqrt(0.95 * 0.05 / cases)
    assert inside / cases >= least
    assert inside_unknown / cases >= least
