"""Starts from standstill: reference starts of R3K, mechanics against closed forms, stalls."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from cagewise.errors import InputError, SimulationError
from cagewise.measurement import Role
from cagewise.quantities import PHASE_OPERATOR, RealArray, decibel
from cagewise.simulation import (
    Load,
    Setup,
    Shaft,
    Start,
    Supply,
    Trajectory,
    reference_motor_r3k,
    simulate_start,
    start_trajectory,
    trajectory,
)
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.runs.starting import start_truth
from cagewise.simulation.stepping import runge_kutta
from support.r3k import FAULTS, FULL_LOAD_NM, TENTH_LOAD_NM

RATE_HZ = 5000.0
SUPPLY = Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=50.0)
SYNCHRONOUS = 50.0 * math.pi
INERTIA_FACTOR = 60.9
"""With a tenth of full load: the healthy start takes the printed 1.123 s."""

LIGHT = Setup(
    geometry=reference_motor_r3k(inertia_factor=5.0, orders=(1, 5, 7)),
    supply=SUPPLY,
    load=Load(friction_nm=5.0),
)
ELASTIC = Load(
    torque_nm=2.0,
    shaft=Shaft(load_inertia_kg_m2=0.03, stiffness_nm_per_rad=400.0, damping_nm_s=0.02),
)


@cache
def _reference_start(fault: str) -> tuple[Setup, Trajectory]:
    setup = Setup(
        geometry=reference_motor_r3k(inertia_factor=INERTIA_FACTOR),
        supply=SUPPLY,
        load=Load(torque_nm=TENTH_LOAD_NM),
        damage=FAULTS[fault],
    )
    start = Start(switch_on_s=0.0, phase_rad=0.0)
    return setup, start_trajectory(setup, start, duration_s=1.5, sampling_rate_hz=RATE_HZ)


def _time_to_speed_s(fault: str) -> float:
    setup, path = _reference_start(fault)
    return start_truth(setup, Start(switch_on_s=0.0), path)["time_to_speed_s"]


@pytest.mark.parametrize(
    ("fault", "ratio"), [("1 bar", 1.027), ("2 adjacent", 1.086), ("2 at 90", 1.052)]
)
def test_open_bars_lengthen_the_reference_start(fault: str, ratio: float) -> None:
    """Printed ratios; their load is not. Half a per cent: what light loads differ by."""
    assert _time_to_speed_s("healthy") == pytest.approx(1.123, abs=0.003)
    assert _time_to_speed_s(fault) / _time_to_speed_s("healthy") == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize(("fault", "level"), [("1 bar", -26.5), ("2 adjacent", -17.8)])
def test_backward_wave_of_the_reference_start(fault: str, level: float) -> None:
    """Wave at (1 - 2s) f over the fundamental when s = 0.3, window of 160 ms; printed level."""
    _, path = _reference_start(fault)
    assert _backward_wave_db(path) == pytest.approx(level, abs=0.8)


def test_a_pair_a_quarter_wave_apart_hides_in_the_start_too() -> None:
    """The window alone leaves -50 dB on a sound cage."""
    assert max(_backward_wave_db(_reference_start(f)[1]) for f in ("healthy", "2 at 90")) < -48.0


def _backward_wave_db(path: Trajectory) -> float:
    turn = PHASE_OPERATOR ** np.arange(3)
    vector = 2.0 / 3.0 * np.sum(path.currents_a * turn[:, None], axis=0)
    at = int(np.argmax(path.speed_rad_s > 0.7 * SYNCHRONOUS))
    inner = slice(at - 400, at + 400)
    weight = np.hanning(800)
    forward = vector * np.exp(-1j * path.supply_phase_rad)
    # 2 p theta - supply phase: the wave that stands still on the cage but for -s f
    backward = vector * np.exp(-1j * (4.0 * path.angle_rad - path.supply_phase_rad))
    wave, supply = (np.average(part[inner], weights=weight) for part in (backward, forward))
    return decibel(float(abs(wave) / abs(supply)))


def test_speed_follows_the_torque() -> None:
    """J w = integral of (T - T_load); trapezoids err by the wiggles of 50 Hz."""
    path = start_trajectory(LIGHT, duration_s=0.4, sampling_rate_hz=RATE_HZ)
    gained = np.cumsum(path.torque_nm - path.load_torque_nm) / RATE_HZ
    inertia = LIGHT.geometry.inertia_kg_m2
    assert path.speed_rad_s[-1] == pytest.approx(gained[-1] / inertia, rel=2e-3)


def test_nothing_moves_before_the_contactor_closes() -> None:
    """At rest before; the voltage of the supply's side has the asked phase at the instant."""
    start = Start(switch_on_s=0.1, phase_rad=0.5)
    path = start_trajectory(LIGHT, start, duration_s=0.3, sampling_rate_hz=RATE_HZ)
    closing = GUARD_SAMPLES + 500
    assert not np.any(path.currents_a[:, : closing + 1])
    assert not np.any(path.speed_rad_s[: closing + 1])
    assert np.all(np.abs(path.currents_a[:, closing + 1]) > 0.0)
    peak = 220.0 * math.sqrt(2.0)
    assert path.voltages_v[0, closing] == pytest.approx(peak * math.cos(0.5), rel=1e-9)


def test_phase_of_closing_makes_the_offset() -> None:
    """Half a turn later all currents are reversed; in between phase a has hardly any offset.

    Measured: the first cycle's mean of phase a is 10.5 A at 60 degrees and 0.5 A at 150.
    """
    currents = [
        start_trajectory(
            LIGHT, Start(switch_on_s=0.0, phase_rad=math.radians(degrees)), duration_s=0.05,
            sampling_rate_hz=RATE_HZ,
        ).currents_a
        for degrees in (60.0, 150.0, 240.0)
    ]  # fmt: skip
    assert currents[2] == pytest.approx(-currents[0], abs=1e-6)
    cycle = slice(GUARD_SAMPLES, GUARD_SAMPLES + 100)
    offsets = [abs(float(np.mean(current[0, cycle]))) for current in currents]
    assert offsets[0] > 10.0 * offsets[1]


def test_the_start_ends_in_the_steady_state() -> None:
    recording = simulate_start(LIGHT, duration_s=1.0, sampling_rate_hz=RATE_HZ)
    truth = recording.truth
    assert truth["final_slip"] == pytest.approx(truth["steady_slip"], rel=1e-3)
    assert truth["stalled"] == 0.0
    assert 0.05 < truth["time_to_speed_s"] < 0.3
    assert truth["step_error"] < 1e-6
    assert recording.find(Role.CURRENT_A) is not None


def test_heat_of_an_unloaded_start_is_the_kinetic_energy() -> None:
    """Cage heat without load = J w_s^2 / 2 (1 - 0.05^2) to 95 %; the switching offset adds 2 %.

    The fundamental alone: orders 5 and 7 brake, and add 3 % of heat.
    """
    machine = reference_motor_r3k(inertia_factor=80.0, orders=(1,))
    setup = replace(LIGHT, geometry=machine, load=Load())
    truth = simulate_start(setup, duration_s=1.8, sampling_rate_hz=2500.0).truth
    kinetic = 0.5 * setup.geometry.inertia_kg_m2 * SYNCHRONOUS**2
    assert truth["cage_heat_j"] == pytest.approx(kinetic * (1.0 - 0.05**2), rel=0.02)


def test_too_heavy_a_load_stalls_and_is_recorded() -> None:
    stuck = replace(LIGHT, load=Load(friction_nm=150.0))
    truth = simulate_start(stuck, duration_s=0.6, sampling_rate_hz=RATE_HZ).truth
    assert truth["stalled"] == 1.0
    assert math.isnan(truth["time_to_speed_s"])
    assert truth["final_slip"] == pytest.approx(1.0, abs=0.005)
    assert truth["starting_current_rms_a"] > 4.0 * 6.7  # stays: locked rotor


def test_a_slow_start_that_is_not_over_has_not_stalled() -> None:
    heavy = replace(LIGHT, geometry=reference_motor_r3k(inertia_factor=200.0), load=Load())
    truth = simulate_start(heavy, duration_s=1.0, sampling_rate_hz=2500.0).truth
    assert math.isnan(truth["time_to_speed_s"])
    assert truth["stalled"] == 0.0


def test_a_driving_load_is_refused() -> None:
    with pytest.raises(SimulationError, match="drove the motor away: -20 %"):
        simulate_start(
            replace(LIGHT, load=Load(torque_nm=150.0)), duration_s=2.0, sampling_rate_hz=RATE_HZ
        )


@pytest.mark.parametrize("switch_on_s", [-0.1, 1.0, math.inf])
def test_impossible_switching_times_are_refused(switch_on_s: float) -> None:
    with pytest.raises(InputError, match="cannot switch on"):
        simulate_start(
            LIGHT, Start(switch_on_s=switch_on_s), duration_s=0.5, sampling_rate_hz=RATE_HZ
        )


def test_fan_is_slower_than_the_same_torque_reached_early() -> None:
    """Load laws order the starting times: none < quadratic < linear < constant."""
    top = FULL_LOAD_NM / 2.0
    loads = (
        Load(),
        Load(quadratic_nm_s2=top / SYNCHRONOUS**2),
        Load(viscous_nm_s=top / SYNCHRONOUS),
        Load(friction_nm=top),
    )
    times = [
        simulate_start(replace(LIGHT, load=load), duration_s=0.4, sampling_rate_hz=RATE_HZ).truth[
            "time_to_speed_s"
        ]
        for load in loads
    ]
    assert all(early < late for early, late in pairwise(times))


def test_torsion_rings_at_its_frequency_and_decays() -> None:
    """Shaft torque after the start: f = sqrt(K (1/J + 1/J_l)) / 2 pi, decay c (1/J + 1/J_l) / 2.

    Without field: the supply is nearly nothing, the twist is set free by the load's torque.
    """
    shaft = ELASTIC.shaft
    assert shaft is not None
    setup = Setup(
        geometry=LIGHT.geometry,
        supply=replace(SUPPLY, line_voltage_rms_v=0.01),
        load=replace(ELASTIC, torque_nm=1.0),
    )
    path = start_trajectory(setup, Start(switch_on_s=0.0), duration_s=0.3, sampling_rate_hz=RATE_HZ)
    inertia = setup.geometry.inertia_kg_m2
    both = 1.0 / inertia + 1.0 / shaft.load_inertia_kg_m2
    natural, decay = shaft.natural_frequency_rad_s(inertia), 0.5 * shaft.damping_nm_s * both
    ringing = math.sqrt(natural**2 - decay**2)
    time = path.time_s[GUARD_SAMPLES:]
    mean = inertia / (inertia + shaft.load_inertia_kg_m2)
    wave = np.exp(-decay * time) * (
        np.cos(ringing * time) - decay / ringing * np.sin(ringing * time)
    )
    # both start at rest; the damper carries torque too, hence the sign of the sine
    expected = mean * (1.0 - wave)
    assert path.shaft_torque_nm[GUARD_SAMPLES:] == pytest.approx(expected, abs=2e-4)


def test_a_stiff_shaft_is_one_inertia() -> None:
    """25 kN m/rad, heavily damped: the same start as with the sum of the inertias, to 0.2 %."""
    base = reference_motor_r3k(orders=(1, 5, 7))
    load_inertia = 4.0 * base.inertia_kg_m2
    shaft = Shaft(load_inertia_kg_m2=load_inertia, stiffness_nm_per_rad=2.5e4, damping_nm_s=5.0)
    rigid = start_trajectory(LIGHT, duration_s=0.5, sampling_rate_hz=RATE_HZ)
    elastic = start_trajectory(
        replace(LIGHT, geometry=base, load=replace(LIGHT.load, shaft=shaft)),
        duration_s=0.5, sampling_rate_hz=RATE_HZ,
    )  # fmt: skip
    scale = np.abs(rigid.speed_rad_s).max()
    assert np.abs(rigid.speed_rad_s - elastic.load_speed_rad_s).max() < 2e-3 * scale


def test_a_steady_run_behind_a_shaft_begins_steady() -> None:
    """Twist and speeds of the initial state are those of the load: nothing swings."""
    setup = replace(LIGHT, load=replace(ELASTIC, torque_nm=10.0))
    path = trajectory(setup, duration_s=0.2, sampling_rate_hz=RATE_HZ, settling_s=0.5)
    assert path.shaft_torque_nm == pytest.approx(10.0, abs=0.02)
    assert path.load_speed_rad_s == pytest.approx(path.speed_rad_s, abs=0.01)


def test_a_shaft_too_fast_for_the_steps_is_refused() -> None:
    """50 us x sqrt(1e7 (1/0.028 + 1/0.03)) = 1.3 rad."""
    hard = replace(ELASTIC, shaft=Shaft(load_inertia_kg_m2=0.03, stiffness_nm_per_rad=1e7))
    with pytest.raises(SimulationError, match="too coarse for a shaft that oscillates at 41"):
        simulate_start(replace(LIGHT, load=hard), duration_s=0.5, sampling_rate_hz=RATE_HZ)


def test_a_friction_too_hard_for_the_steps_is_refused() -> None:
    """200 N m stop the bare rotor in 14 us."""
    bare = replace(LIGHT, geometry=reference_motor_r3k(), load=Load(friction_nm=200.0))
    with pytest.raises(SimulationError, match="too coarse for a friction of 200 N m"):
        simulate_start(bare, duration_s=0.5, sampling_rate_hz=RATE_HZ)


def test_both_steppers_start_the_same() -> None:
    setup = replace(LIGHT, load=replace(ELASTIC, friction_nm=3.0), damage=FAULTS["1 bar"])
    fast, plain = (
        start_trajectory(
            setup, Start(switch_on_s=0.0), duration_s=0.03, sampling_rate_hz=RATE_HZ,
            advance=advance,
        )
        for advance in (None, runge_kutta.advance)
    )  # fmt: skip
    for name in ("currents_a", "speed_rad_s", "load_speed_rad_s", "shaft_torque_nm"):
        one: RealArray = getattr(fast, name)
        assert getattr(plain, name) == pytest.approx(one, rel=1e-9, abs=1e-9 * np.abs(one).max())
