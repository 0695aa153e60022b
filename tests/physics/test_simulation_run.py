"""Whole runs: symmetries of the physics, reproducibility, and runs that must fail."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError, SimulationError
from cagewise.simulation import (
    Damage,
    Load,
    Modulation,
    Sensors,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
    trajectory,
)
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.stepping import runge_kutta

SETUP = Setup(
    geometry=reference_motor_r3k(orders=(1, 5, 7)),
    supply=Supply(line_voltage_rms_v=381.0, frequency_hz=50.0),
    load=Load(torque_nm=15.0),
    damage=Damage(open_bars=(4,)),
)


def test_phases_are_alike() -> None:
    """With the supply a third of a turn earlier, rotor and all, phase a does what b did."""
    path = trajectory(SETUP, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=0.2)
    earlier = replace(SETUP.supply, initial_phase_rad=-2.0 * np.pi / 3.0)
    shifted = trajectory(
        replace(SETUP, supply=earlier), duration_s=0.2, sampling_rate_hz=2500.0, settling_s=0.2
    )
    scale = np.abs(path.currents_a).max()
    assert np.abs(shifted.currents_a - np.roll(path.currents_a, -1, axis=0)).max() < 1e-9 * scale
    assert np.ptp(path.speed_rad_s - shifted.speed_rad_s) < 1e-9


def test_the_machine_is_linear() -> None:
    """Twice the voltage and four times torque and inertia: twice the current, the same speed."""
    big = Setup(
        geometry=replace(SETUP.geometry, inertia_kg_m2=4.0 * SETUP.geometry.inertia_kg_m2),
        supply=replace(SETUP.supply, line_voltage_rms_v=762.0),
        load=Load(torque_nm=60.0),
        damage=SETUP.damage,
    )
    one, two = (
        trajectory(setup, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=0.2)
        for setup in (SETUP, big)
    )
    assert two.currents_a == pytest.approx(2.0 * one.currents_a, rel=1e-7, abs=1e-7)
    assert two.speed_rad_s == pytest.approx(one.speed_rad_s, rel=1e-9)


def test_time_scales_with_frequency() -> None:
    """60 Hz with resistances, inertia and voltage scaled is the 50 Hz machine played faster."""
    ratio = 1.2
    base = SETUP.geometry
    fast = replace(
        base,
        stator_resistance_ohm=ratio * base.stator_resistance_ohm,
        bar_resistance_ohm=ratio * base.bar_resistance_ohm,
        ring_resistance_ohm=ratio * base.ring_resistance_ohm,
        inertia_kg_m2=base.inertia_kg_m2 / ratio**2,
    )
    supply = Supply(line_voltage_rms_v=381.0 * ratio, frequency_hz=60.0)
    slow_path = trajectory(SETUP, duration_s=0.12, sampling_rate_hz=2500.0, settling_s=0.24)
    fast_path = trajectory(
        replace(SETUP, geometry=fast, supply=supply),
        duration_s=0.1, sampling_rate_hz=3000.0, settling_s=0.2,
    )  # fmt: skip
    n = slow_path.time_s.size
    assert fast_path.currents_a[:, :n] == pytest.approx(slow_path.currents_a, rel=1e-4, abs=1e-4)
    assert fast_path.speed_rad_s[:n] == pytest.approx(ratio * slow_path.speed_rad_s, rel=1e-6)


def test_both_steppers_record_the_same() -> None:
    """The numpy stepper gives the samples of the compiled one to 1e-9 of the current."""
    fast, plain = (
        trajectory(
            SETUP, duration_s=0.02, sampling_rate_hz=2500.0, settling_s=0.02, advance=advance
        )
        for advance in (None, runge_kutta.advance)
    )
    assert plain.currents_a == pytest.approx(fast.currents_a, rel=1e-8, abs=1e-8)
    assert plain.torque_nm == pytest.approx(fast.torque_nm, rel=1e-8)


def test_equal_seeds_give_equal_samples() -> None:
    noisy = replace(
        SETUP,
        supply=replace(SETUP.supply, wander_rms_hz=0.01, flicker_rms=0.001),
        load=Load(torque_nm=15.0, noise_rms_nm=0.3),
        sensors=Sensors(
            bits=16, current_full_scale_a=20.0, voltage_full_scale_v=700.0,
            current_noise_rms_a=0.002, voltage_noise_rms_v=0.1,
        ),
    )  # fmt: skip
    first, again, other = (
        simulate(noisy, duration_s=0.3, sampling_rate_hz=2500.0, settling_s=0.1, seed=seed)
        for seed in (3, 3, 4)
    )
    for one, two, three in zip(first.channels, again.channels, other.channels, strict=True):
        assert np.array_equal(one.raw, two.raw)
        assert not np.array_equal(one.raw, three.raw)


def test_truth_keeps_the_books() -> None:
    """Mean input = copper losses + shaft power; air-gap torque = load torque."""
    sound = replace(SETUP, damage=Damage())
    path = trajectory(sound, duration_s=0.4, sampling_rate_hz=2500.0, settling_s=2.0)
    truth = simulate(sound, duration_s=0.4, sampling_rate_hz=2500.0, settling_s=2.0).truth
    inner = slice(GUARD_SAMPLES, -GUARD_SAMPLES)
    stator_loss = 3.0 * 2.2 * truth["current_rms_a"] ** 2
    rotor_loss = float(np.mean(path.rotor_loss_w[inner]))
    balance = stator_loss + rotor_loss + truth["shaft_power_w"]
    assert truth["input_power_w"] == pytest.approx(balance, rel=1e-5)
    assert np.mean(path.torque_nm[inner]) == pytest.approx(15.0, rel=1e-5)


def test_speed_dependent_load_is_carried() -> None:
    speed = 151.8
    fan = Load(torque_nm=1.0, viscous_nm_s=2.0 / speed, quadratic_nm_s2=12.0 / speed**2)
    setup = replace(SETUP, load=fan, damage=Damage())
    truth = simulate(setup, duration_s=0.4, sampling_rate_hz=2500.0, settling_s=1.0).truth
    carried = fan.steady_torque_nm(truth["speed_rpm"] * np.pi / 30.0)
    assert truth["load_torque_nm"] == pytest.approx(carried, rel=1e-6)
    assert carried == pytest.approx(15.0, rel=0.02)


def test_too_much_load_is_refused_at_once() -> None:
    with pytest.raises(SimulationError, match="cannot carry the load"):
        simulate(
            replace(SETUP, load=Load(torque_nm=100.0)), duration_s=1.0, sampling_rate_hz=2500.0
        )


def test_a_stall_on_the_way_is_reported() -> None:
    slow_heavy = Load(torque_nm=15.0, oscillations=(Modulation(amplitude=60.0, frequency_hz=0.2),))
    with pytest.raises(SimulationError, match="stalled"):
        simulate(replace(SETUP, load=slow_heavy), duration_s=5.0, sampling_rate_hz=2500.0)


def test_a_runaway_is_reported() -> None:
    push = Modulation(amplitude=250.0, frequency_hz=0.5, phase_rad=np.pi / 2.0)  # forwards first
    driven = Load(torque_nm=0.0, oscillations=(push,))
    with pytest.raises(SimulationError, match="ran away"):
        simulate(replace(SETUP, load=driven), duration_s=5.0, sampling_rate_hz=2500.0)


def test_a_step_too_coarse_is_refused_with_its_error() -> None:
    """At 1 kHz of supply a step of 50 us turns 0.31 rad; a hundred times 50 Hz's."""
    fast = Supply(line_voltage_rms_v=7620.0, frequency_hz=1000.0)
    with pytest.raises(SimulationError, match=r"50 us are too coarse .* errs by .*e-05"):
        simulate(replace(SETUP, supply=fast), duration_s=0.1, sampling_rate_hz=2500.0)


@pytest.mark.parametrize(
    ("duration_s", "rate_hz"),
    [(0.0, 1000.0), (1.0, 0.0), (1.0, -5.0), (np.inf, 1e3), (1.0, np.nan)],
)
def test_impossible_records_are_refused(duration_s: float, rate_hz: float) -> None:
    with pytest.raises(InputError, match="cannot record"):
        simulate(SETUP, duration_s=duration_s, sampling_rate_hz=rate_hz)
