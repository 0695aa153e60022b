"""What must not change the physics: a turned rotor, a mirror, another instant, the clock."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.quantities import RealArray
from cagewise.simulation import (
    Damage,
    Eccentricity,
    Load,
    Setup,
    Supply,
    reference_motor_r3k,
    trajectory,
)
from cagewise.simulation.runs.run import machine_under_load
from cagewise.simulation.stepping import runge_kutta

SETUP = Setup(
    geometry=reference_motor_r3k(orders=(1, 5, 7, 11, 13)),
    supply=Supply(line_voltage_rms_v=381.05, frequency_hz=50.0),
    load=Load(torque_nm=5.0),
    damage=Damage(open_bars=(3, 4), resistance_factors={9: 2.0}),
)
STEP_S = 5e-5
N_STEPS = 2000


def _from_rest(setup: Setup, angle_rad: float, voltage_turn: RealArray) -> RealArray:
    """Return rows of a start from rest at ``angle_rad``; ``voltage_turn`` is the supply's phase."""
    model = machine_under_load(setup)
    peak = math.sqrt(1.5) * setup.supply.phase_voltage_peak_v
    drive = np.column_stack(
        (peak * np.cos(voltage_turn), peak * np.sin(voltage_turn), np.zeros(voltage_turn.size))
    )
    state, out = np.zeros(model.n_states), np.empty((N_STEPS, runge_kutta.N_OBSERVED))
    state[0] = angle_rad
    runge_kutta.fastest_advance()[0](model, drive, STEP_S, state, out)
    return out


def _turn(phase_rad: float = 0.3) -> RealArray:
    return np.asarray(2.0 * np.pi * 50.0 * 0.5 * STEP_S * np.arange(2 * N_STEPS + 1) + phase_rad)


def _moved(damage: Damage, step: int, n: int) -> Damage:
    return Damage(
        open_bars=tuple((bar + step) % n for bar in damage.open_bars),
        resistance_factors={
            (bar + step) % n: factor for bar, factor in damage.resistance_factors.items()
        },
    )


def test_a_rotor_turned_by_a_bar_pitch_is_the_same_rotor() -> None:
    """Damage five bars on, rotor five pitches back: every sample of a start, to 1e-8."""
    pitch = SETUP.geometry.bar_pitch_rad
    here = _from_rest(SETUP, 0.1, _turn())
    moved = replace(SETUP, damage=_moved(SETUP.damage, 5, 32))
    there = _from_rest(moved, 0.1 - 5.0 * pitch, _turn())
    scale = np.abs(here[:, :2]).max()
    assert np.abs(there[:, :2] - here[:, :2]).max() < 1e-8 * scale
    assert there[:, 2] + 5.0 * pitch == pytest.approx(here[:, 2], abs=1e-8)


def test_a_third_of_a_turn_of_supply_and_rotor_changes_names_only() -> None:
    """Supply and rotor 120 electrical degrees on: the currents turn with them, torque stays."""
    here = _from_rest(SETUP, 0.0, _turn())
    there = _from_rest(SETUP, 2.0 * np.pi / 6.0, _turn(0.3 + 2.0 * np.pi / 3.0))
    turned = (here[:, 0] + 1j * here[:, 1]) * np.exp(2j * np.pi / 3.0)
    assert np.abs(there[:, 0] + 1j * there[:, 1] - turned).max() < 1e-8 * np.abs(turned).max()
    assert there[:, 4] == pytest.approx(here[:, 4], abs=1e-8 * np.abs(here[:, 4]).max())


def test_two_swapped_phases_run_the_mirrored_machine_backwards() -> None:
    """Reversed sequence, damage mirrored (bar k to -k): conjugate current, reversed speed, 1e-8."""
    mirrored = Damage(open_bars=(29, 28), resistance_factors={23: 2.0})
    eccentric = Eccentricity(static=0.1, dynamic=0.1)
    here = _from_rest(replace(SETUP, eccentricity=eccentric), 0.2, _turn())
    there = _from_rest(replace(SETUP, damage=mirrored, eccentricity=eccentric), -0.2, -_turn())
    scale = np.abs(here[:, :2]).max()
    assert np.abs(there[:, 0] - here[:, 0]).max() < 1e-8 * scale
    assert np.abs(there[:, 1] + here[:, 1]).max() < 1e-8 * scale
    assert there[:, 3] == pytest.approx(-here[:, 3], abs=1e-8 * np.abs(here[:, 3]).max())


def test_when_the_record_begins_does_not_matter() -> None:
    """Settled for 2 and for 2.25 s, a sound rotor is in the same steady state.

    Fundamental and speed to 1e-5; bars pass the phases at other instants, so slot lines differ.
    """
    sound = replace(SETUP, damage=Damage())
    paths = [
        trajectory(sound, duration_s=0.1, sampling_rate_hz=5000.0, settling_s=settling_s)
        for settling_s in (2.0, 2.25)
    ]
    whole = slice(32, 532)
    early, late = (
        2.0 * np.mean(path.currents_a[0, whole] * np.exp(-1j * path.supply_phase_rad[whole]))
        for path in paths
    )
    assert late == pytest.approx(early, rel=1e-5)
    assert np.mean(paths[1].speed_rad_s) == pytest.approx(np.mean(paths[0].speed_rad_s), rel=1e-5)


def test_sixty_hertz_is_fifty_played_faster() -> None:
    """Inductances over 1.2 at unchanged resistances, inertia over 1.2^3: with the same voltage
    every current is the same at 1.2 times the pace (another scaling than that of resistances)."""
    base = SETUP.geometry
    ratio = 1.2
    fast = replace(
        base,
        gap_m=ratio * base.gap_m,
        stator_leakage_h=base.stator_leakage_h / ratio,
        bar_leakage_h=base.bar_leakage_h / ratio,
        ring_leakage_h=base.ring_leakage_h / ratio,
        inertia_kg_m2=base.inertia_kg_m2 / ratio**3,
    )
    here = _from_rest(replace(SETUP, load=Load()), 0.1, _turn())
    model = machine_under_load(replace(SETUP, load=Load(), geometry=fast))
    peak = math.sqrt(1.5) * SETUP.supply.phase_voltage_peak_v
    drive = np.column_stack(
        (peak * np.cos(_turn()), peak * np.sin(_turn()), np.zeros(2 * N_STEPS + 1))
    )
    state, out = np.zeros(model.n_states), np.empty((N_STEPS, runge_kutta.N_OBSERVED))
    state[0] = 0.1
    runge_kutta.fastest_advance()[0](model, drive, STEP_S / ratio, state, out)
    scale = np.abs(here[:, :2]).max()
    assert np.abs(out[:, :2] - here[:, :2]).max() < 1e-8 * scale
    assert out[:, 3] == pytest.approx(ratio * here[:, 3], abs=1e-6)
