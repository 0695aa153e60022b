"""Simulated test sheets: readings against the machine's truth, one thing wrong at a time."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.positions import position_counts
from cagewise.measurement import PositionSeries, TerminalPair, TestSheet
from cagewise.quantities import RealArray
from cagewise.simulation import Damage, Eccentricity, Setup, Supply
from cagewise.simulation.machine.conductors import at_temperature, with_deep_bars
from cagewise.simulation.nameplate import machine_for_motor
from cagewise.simulation.standstill import Connection, standstill_impedance
from cagewise.workflows.invented_insulation import Insulation, relative_resistance
from cagewise.workflows.simulate_standstill import SheetOptions, simulate_sheet

MOTOR = Motor(
    tag="F-01",
    nameplate=Nameplate(
        rated_power_w=400e3,
        rated_voltage_v=690.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1486.0,
        rated_current_a=398.0,
        poles=4,
    ),
    cage=Cage(rotor_bars=40, stator_slots=48, construction="fabricated"),
)
HIGH = replace(
    MOTOR, nameplate=replace(MOTOR.nameplate, rated_voltage_v=6000.0, rated_current_a=45.8)
)
EXACT = SheetOptions(
    measured_on=date(2031, 3, 4),
    open_bars=(5,),
    positions=16,
    repeatability=0.0,
    angle_error_deg=0.0,
    digits=None,
    seed=3,
)


@cache
def _exact() -> TestSheet:
    return simulate_sheet(MOTOR, EXACT)


def _series(sheet: TestSheet, pair: TerminalPair) -> PositionSeries:
    return next(s for s in sheet.positions if s.pair is pair)


def _inductance(sheet: TestSheet, pair: TerminalPair) -> RealArray:
    inductance = _series(sheet, pair).inductance_h
    assert inductance is not None
    return inductance


@pytest.mark.parametrize(
    ("pair", "connection"),
    [
        (TerminalPair.AB, Connection.A_B),
        (TerminalPair.BC, Connection.B_C),
        (TerminalPair.CA, Connection.C_A),
    ],
)
def test_readings_are_the_impedance_of_the_machine(
    pair: TerminalPair, connection: Connection
) -> None:
    """Two ways to the same numbers: equal to rounding."""
    geometry = with_deep_bars(machine_for_motor(MOTOR, 10e3).geometry, "fabricated")
    setup = Setup(
        geometry=at_temperature(geometry, 20.0, conductor="copper", construction="fabricated"),
        supply=Supply(line_voltage_rms_v=690.0, frequency_hz=50.0),
        damage=Damage(open_bars=(5,)),
        eccentricity=Eccentricity(static=0.10, dynamic=0.05),
    )
    series = _series(_exact(), pair)
    true = standstill_impedance(setup, series.shaft_angle_rad, 50.0, connection)
    assert series.resistance_ohm == pytest.approx(true.resistance_ohm, rel=1e-9)
    assert series.inductance_h == pytest.approx(true.inductance_h, rel=1e-9)


def test_the_pattern_turns_with_the_rotor_and_comes_back() -> None:
    """Order 2 of one open bar is equal in all pairs and a third of a turn later in the next.
    An odd count: with an even one the side bands of the slot ripple, 20 +- 2 here, fold onto it
    (5 % of it at 16 positions). The last reading is the first."""
    sheet = simulate_sheet(MOTOR, replace(EXACT, positions=33))
    turn = np.exp(-2j * 2.0 * math.pi * np.arange(66) / 33.0)
    waves = []
    for pair in TerminalPair:
        readings = _inductance(sheet, pair)
        assert readings[-1] == pytest.approx(readings[0], rel=1e-9)
        waves.append(complex(np.mean(readings[:-1] * turn)))
    first, later, last = waves
    shift = np.exp(-2j * 2.0 * math.pi / 3.0)
    assert abs(first) > 0.01 * _exact().truth["mean_inductance_h_50_hz"]
    assert later == pytest.approx(first * shift, rel=0.02)
    assert last == pytest.approx(first * shift**2, rel=0.02)


def test_mean_inductance_of_the_truth_is_that_of_the_readings() -> None:
    mean = np.mean([_inductance(_exact(), pair)[:-1].mean() for pair in TerminalPair])
    assert _exact().truth["mean_inductance_h_50_hz"] == pytest.approx(mean, rel=1e-12)
    assert _exact().truth["open_bars"] == 1.0


def test_readings_scatter_as_stated() -> None:
    """Ratio to the exact sheet: 0.2 % rms, known to 8 % from 96 readings."""
    sheet = simulate_sheet(MOTOR, replace(EXACT, repeatability=0.002))
    ratio = [_inductance(sheet, p) / _inductance(_exact(), p) for p in TerminalPair]
    assert np.std(ratio) == pytest.approx(0.002, rel=0.25)


def test_a_drift_shows_in_the_return_reading() -> None:
    drifted = _inductance(simulate_sheet(MOTOR, replace(EXACT, drift=0.01)), TerminalPair.AB)
    assert drifted[-1] / drifted[0] == pytest.approx(1.01, rel=1e-9)


def test_an_asymmetry_of_the_stator_stands_still() -> None:
    lopsided = simulate_sheet(MOTOR, replace(EXACT, stator_asymmetry=0.02))
    mean = _exact().truth["mean_inductance_h_50_hz"]
    for pair, added in ((TerminalPair.AB, 0.02), (TerminalPair.BC, 0.0), (TerminalPair.CA, 0.02)):
        more = _inductance(lopsided, pair) - _inductance(_exact(), pair)
        assert more == pytest.approx(added * mean, rel=1e-6, abs=1e-12)


def test_swapped_pairs_bear_each_others_name() -> None:
    swapped = simulate_sheet(MOTOR, replace(EXACT, swapped=(TerminalPair.AB, TerminalPair.CA)))
    assert np.array_equal(
        _inductance(swapped, TerminalPair.AB), _inductance(_exact(), TerminalPair.CA)
    )
    assert np.array_equal(
        _inductance(swapped, TerminalPair.BC), _inductance(_exact(), TerminalPair.BC)
    )
    assert swapped.truth["pairs_swapped"] == 1.0


def test_the_modulus_alone_can_be_read() -> None:
    series = _series(simulate_sheet(MOTOR, replace(EXACT, modulus_only=True)), TerminalPair.BC)
    whole = _series(_exact(), TerminalPair.BC)
    assert whole.resistance_ohm is not None
    assert whole.inductance_h is not None
    assert series.resistance_ohm is None
    assert series.impedance_ohm == pytest.approx(
        np.hypot(whole.resistance_ohm, 100.0 * math.pi * whole.inductance_h)
    )


def test_positions_are_those_that_suit_the_motor() -> None:
    sheet = simulate_sheet(MOTOR, replace(EXACT, positions=None))
    angles = np.degrees(sheet.positions[0].shaft_angle_rad)
    advice = position_counts(MOTOR)
    assert angles == pytest.approx((*advice.shaft_angles_deg, advice.return_angle_deg))


def test_winding_resistance_is_that_of_the_machine_at_its_temperature() -> None:
    """R_2/R_1 = (234.5 + T_2)/(234.5 + T_1): 0.3929 % per kelvin at 20 degC, as printed (trade
    page on temperature rise). Scatter of a reading 0.05 %."""
    hot = machine_for_motor(MOTOR, 10e3).geometry.stator_resistance_ohm
    resistance = _exact().resistance
    assert resistance is not None
    for value in resistance.line_resistance_ohm.values():
        assert value == pytest.approx(2.0 * hot * 254.5 / 329.5, rel=2.5e-3)
    warmer = simulate_sheet(MOTOR, replace(EXACT, winding_temperature_degc=21.0)).truth
    ratio = warmer["phase_resistance_ohm"] / _exact().truth["phase_resistance_ohm"]
    assert ratio - 1.0 == pytest.approx(0.003929, abs=5e-7)


def test_a_bad_joint_is_in_two_pairs() -> None:
    bad = simulate_sheet(MOTOR, replace(EXACT, bad_joint_ohm=0.002)).resistance
    good = _exact().resistance
    assert bad is not None
    assert good is not None
    more = [bad.line_resistance_ohm[p] - good.line_resistance_ohm[p] for p in TerminalPair]
    assert more == pytest.approx([0.002, 0.002, 0.0], abs=5e-6)


@pytest.mark.parametrize("index", [1.0, 2.0, 4.5, 12.0])
def test_absorption_has_the_asked_polarization_index(index: float) -> None:
    times = np.array([15.0, 30.0, 60.0, 300.0, 600.0])
    values = relative_resistance(times, index)
    assert values[2] == pytest.approx(1.0, rel=1e-12)
    assert values[4] == pytest.approx(index, rel=1e-12)
    assert np.all(np.diff(values) >= -1e-12)


def test_insulation_of_a_high_voltage_winding_is_tested_in_five_ways() -> None:
    wrong = Insulation(
        resistance_ohm=5e7, polarization_index=1.3, tip_up=0.006, knee_v=7000.0, turn_short=0.05
    )
    sheet = simulate_sheet(HIGH, replace(EXACT, insulation=wrong))
    (resistance,), (steps,), (loss,) = sheet.insulation, sheet.steps, sheet.dissipation
    assert resistance.test_voltage_v == 2500.0
    assert resistance.resistance_ohm[-1] / resistance.resistance_ohm[3] == pytest.approx(
        1.3, rel=0.05
    )
    conductance = steps.current_a / steps.voltage_v
    below = steps.voltage_v < 7000.0
    assert conductance[below] == pytest.approx(2e-8, rel=0.05)
    assert conductance[-1] > 5.0 * conductance[0]
    assert loss.dissipation_factor is not None
    assert np.diff(loss.dissipation_factor) == pytest.approx(0.006, rel=0.05)


def test_a_turn_short_makes_two_waveforms_faster() -> None:
    """Zero crossings move by half the lost part, in both pairs that contain the phase."""
    insulation = Insulation(turn_short=0.10)
    turns = simulate_sheet(MOTOR, replace(EXACT, insulation=insulation)).turns
    assert turns is not None
    crossing = {
        pair: float(np.interp(0.0, -turns.voltage_v[pair][:20], turns.time_s[:20]))
        for pair in TerminalPair
    }
    for pair in (TerminalPair.AB, TerminalPair.CA):
        ratio = crossing[pair] / crossing[TerminalPair.BC]
        assert ratio == pytest.approx(math.sqrt(0.95), abs=0.01)


def test_a_low_voltage_winding_gets_no_high_voltage_tests() -> None:
    sheet = _exact()
    assert not sheet.steps
    assert not sheet.dissipation
    assert sheet.insulation[0].test_voltage_v == 500.0
    bare = simulate_sheet(MOTOR, replace(EXACT, insulation=Insulation(tested=False)))
    assert not bare.insulation
    assert bare.turns is None


def test_readings_have_the_digits_of_an_instrument() -> None:
    sheet = simulate_sheet(MOTOR, replace(EXACT, digits=4))
    for value in _inductance(sheet, TerminalPair.AB):
        assert float(f"{value:.4g}") == value
    assert _inductance(sheet, TerminalPair.AB) == pytest.approx(
        _inductance(_exact(), TerminalPair.AB), rel=5e-4
    )


def test_equal_seeds_give_equal_sheets() -> None:
    noisy = replace(EXACT, repeatability=0.002)
    first, again, other = (
        _inductance(simulate_sheet(MOTOR, replace(noisy, seed=seed)), TerminalPair.AB)
        for seed in (1, 1, 2)
    )
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_impossible_tests_are_refused_together() -> None:
    wrong = replace(
        EXACT, positions=2, frequencies_hz=(0.0,), relative_humidity=50.0, repeatability=-1.0
    )
    with pytest.raises(InputError) as caught:
        simulate_sheet(MOTOR, wrong)
    for word in ("positions", "frequencies", "humidity", "repeatability"):
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("field", "value"), [("resistance_ohm", 0.0), ("polarization_index", 0.5), ("turn_short", 1.0)]
)
def test_impossible_insulation_is_refused(field: str, value: float) -> None:
    with pytest.raises(InputError):
        replace(Insulation(), **{field: value})  # type: ignore[arg-type]  # all are numbers
