"""Converters: carrier lines that are recognised, and a regulator that hides the side line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError, SimulationError
from cagewise.quantities import ComplexArray, RealArray, decibel, space_vector
from cagewise.simulation import (
    Damage,
    Load,
    Setup,
    Supply,
    Trajectory,
    reference_motor_r3k,
    simulate,
    start_trajectory,
    trajectory,
)
from cagewise.simulation.machine.two_axis import two_axis_machine
from cagewise.simulation.plant.converter import PulseWidth, VectorControl, volts_per_hertz
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.plant.supply import SupplyRun
from cagewise.simulation.stepping import runge_kutta

SETUP = Setup(
    geometry=reference_motor_r3k(orders=(1, 5, 7), inertia_factor=20.0),
    supply=Supply(line_voltage_rms_v=381.05, frequency_hz=50.0),
    load=Load(torque_nm=15.0),
)
INNER = slice(GUARD_SAMPLES, -GUARD_SAMPLES)


def _vector(three: RealArray) -> ComplexArray:
    return space_vector(three[0], three[1], three[2])[INNER]


def _switched(carrier_hz: float, dc_link_v: float, peak_v: float, n: int) -> RealArray:
    """Return 20 ms of three legs of a converter, sine compared with triangle at every instant."""
    time_s = (np.arange(n) + 0.5) * 0.02 / n
    triangle = -2.0 / math.pi * np.arcsin(np.cos(2.0 * math.pi * carrier_hz * time_s))
    depth = 2.0 * peak_v / dc_link_v
    legs = []
    for k in range(3):
        wanted = depth * np.cos(2.0 * math.pi * (50.0 * time_s - k / 3.0))
        legs.append(np.where(wanted > triangle, 0.5, -0.5) * dc_link_v)
    return np.stack(legs)


def test_carrier_lines_are_those_of_the_switched_converter() -> None:
    """Every line of the first two groups against the Fourier sum of the switched waveform.

    1e6 points in a cycle place the edges to 20 ns: 2e-4 of the d.c. link voltage.
    """
    device = PulseWidth(carrier_hz=2000.0, dc_link_v=650.0)
    legs = _switched(2000.0, 650.0, 311.0, 1_000_000)
    switched = np.fft.fft(space_vector(legs[0], legs[1], legs[2])) / legs.shape[1]
    lines = device.lines(311.0)
    assert len(lines) > 10
    for line in lines:
        bin_ = round(line.frequency_hz(2000.0, 50.0) / 50.0)
        seen = switched[bin_ if line.order % 3 == 1 else -bin_]
        # half a sample of delay in the sampling of the waveform
        turn = np.exp(-1j * math.pi * (bin_ if line.order % 3 == 1 else -bin_) / 1_000_000)
        assert complex(seen * turn) == pytest.approx(line.amplitude_v, abs=2e-4 * 650.0)
    assert abs(switched[1]) == pytest.approx(311.0, rel=1e-3)


def test_carrier_lines_stand_in_the_spectrum_of_voltage_and_current() -> None:
    """Of the voltage's lines above 1 kHz, all strong ones are m f_c + n f; the current has the same
    ones through the machine's transient inductance (10 %: space harmonics and resistance)."""
    device = PulseWidth(carrier_hz=2000.0, dc_link_v=650.0)
    setup = replace(SETUP, supply=replace(SETUP.supply, pulse_width=device))
    path = trajectory(setup, duration_s=0.4, sampling_rate_hz=40e3, settling_s=0.5)
    voltage, current = (np.fft.fft(_vector(x)) / 16_000 for x in (path.voltages_v, path.currents_a))
    frequency_hz = np.fft.fftfreq(16_000, 1.0 / 40e3)
    high = np.abs(frequency_hz) > 1000.0
    found = set(np.round(frequency_hz[high & (np.abs(voltage) > 3.0)]).astype(int))
    expected = {
        round(line.frequency_hz(2000.0, 50.0)) * (1 if line.order % 3 == 1 else -1)
        for line in device.lines(SETUP.supply.phase_voltage_peak_v)
        if abs(line.amplitude_v) > 3.0
    }
    assert found == expected
    assert {1900, -2100} <= found
    inductance = two_axis_machine(SETUP.geometry).transient_inductance_h
    strongest = int(np.argmax(np.where(high, np.abs(voltage), 0.0)))
    reactance = 2.0 * math.pi * abs(frequency_hz[strongest]) * inductance
    assert abs(current[strongest]) == pytest.approx(abs(voltage[strongest]) / reactance, rel=0.1)


def test_coarse_steps_under_a_carrier_are_refused() -> None:
    device = PulseWidth(carrier_hz=4000.0, dc_link_v=650.0)
    setup = replace(SETUP, supply=replace(SETUP.supply, pulse_width=device))
    with pytest.raises(SimulationError, match="too coarse"):
        trajectory(setup, duration_s=0.05, sampling_rate_hz=5000.0, settling_s=0.1)


def test_too_little_voltage_in_the_link_is_refused() -> None:
    with pytest.raises(InputError, match=r"modulation depth of 1\.24"):
        replace(SETUP.supply, pulse_width=PulseWidth(carrier_hz=2e3, dc_link_v=500.0))


def test_open_loop_law() -> None:
    assert volts_per_hertz(400.0, 50.0, 25.0) == 200.0
    assert volts_per_hertz(400.0, 50.0, 0.0, boost_v=20.0) == 20.0
    assert volts_per_hertz(400.0, 50.0, 60.0) == 400.0


def test_half_the_frequency_at_half_the_voltage_carries_the_load() -> None:
    """V/f keeps the flux but for the stator's resistance: slip frequency within 15 %."""
    half = Supply(line_voltage_rms_v=volts_per_hertz(381.05, 50.0, 25.0), frequency_hz=25.0)
    slow, full = (
        simulate(setup, duration_s=0.4, sampling_rate_hz=2500.0, settling_s=1.0).truth
        for setup in (replace(SETUP, supply=half), SETUP)
    )
    assert slow["supply_frequency_hz"] == pytest.approx(25.0)
    assert slow["pole_pass_frequency_hz"] == pytest.approx(full["pole_pass_frequency_hz"], rel=0.15)


HEAVY = replace(
    SETUP,
    geometry=reference_motor_r3k(orders=(1, 5, 7), inertia_factor=500.0),
    damage=Damage(open_bars=(4,)),
)
"""The rotor, and with it the regulator's axes, hardly swing at the pole-pass frequency."""


def _controlled(setup: Setup, current_hz: float, speed_hz: float) -> Trajectory:
    control = VectorControl(current_bandwidth_hz=current_hz, speed_bandwidth_hz=speed_hz)
    setup = replace(setup, supply=replace(setup.supply, control=control))
    return trajectory(setup, duration_s=6.0, sampling_rate_hz=2500.0, settling_s=4.0)


def _side_line_dbc(three: RealArray, path: Trajectory) -> float:
    """Return the lower side line at (1 - 2s) f along the slow drift of both angles.

    A polynomial of the sixth degree follows drifts over seconds, not the ripple at twice the slip.
    """
    time_s = path.time_s[INNER]
    scaled = np.linspace(-1.0, 1.0, time_s.size)
    slip_rad = path.supply_phase_rad - 2.0 * path.angle_rad
    supply, slip = (
        np.polynomial.Chebyshev.fit(scaled, angle[INNER], 6)(scaled)
        for angle in (path.supply_phase_rad, slip_rad)
    )
    vector = _vector(three) * np.hanning(time_s.size) ** 2 * np.exp(-1j * supply)
    lower = np.sum(vector * np.exp(2j * slip))
    return decibel(float(abs(lower) / abs(np.sum(vector))))


def test_regulator_holds_speed_flux_and_orientation() -> None:
    """A sound machine: the reference speed to 1e-6, no ripple, the torque of the load."""
    path = _controlled(SETUP, 200.0, 10.0)
    grid = trajectory(SETUP, duration_s=1.0, sampling_rate_hz=2500.0, settling_s=3.0)
    start_speed = float(np.mean(grid.speed_rad_s))
    assert np.mean(path.speed_rad_s) == pytest.approx(start_speed, rel=2e-4)
    assert np.ptp(path.speed_rad_s) < 1e-5
    # sampled in step with the regulator: the ripple within its period does not average out
    assert np.mean(path.torque_nm[INNER]) == pytest.approx(15.0, rel=1e-3)
    current, voltage = (np.abs(_vector(x)) for x in (path.currents_a, path.voltages_v))
    assert np.mean(current) == pytest.approx(np.mean(np.abs(_vector(grid.currents_a))), rel=0.01)
    assert np.mean(voltage) == pytest.approx(SETUP.supply.phase_voltage_peak_v, rel=0.01)


def test_reference_speed_is_reached() -> None:
    control = VectorControl(speed_rpm=1300.0)
    setup = replace(SETUP, supply=replace(SETUP.supply, control=control))
    path = trajectory(setup, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=3.0)
    assert path.speed_rad_s * 30.0 / math.pi == pytest.approx(1300.0, abs=0.01)


def test_bandwidth_of_the_loop_hides_the_side_line_in_the_current() -> None:
    """One open bar. On the grid the line stands in the current and not in the voltage. A fast
    current loop under a slow speed loop pushes it into the voltage, 20 dB down in the current. A
    fast speed loop brings it back, since the reference itself then follows the torque."""
    grid = trajectory(HEAVY, duration_s=6.0, sampling_rate_hz=2500.0, settling_s=4.0)
    in_current = _side_line_dbc(grid.currents_a, grid)
    assert -40.0 < in_current < -25.0
    assert _side_line_dbc(grid.voltages_v, grid) < -120.0
    hidden = _controlled(HEAVY, 200.0, 0.5)
    level = _side_line_dbc(hidden.currents_a, hidden)
    assert level < in_current - 20.0
    assert _side_line_dbc(hidden.voltages_v, hidden) > in_current - 5.0
    followed = _controlled(HEAVY, 200.0, 10.0)
    assert _side_line_dbc(followed.currents_a, followed) > level + 10.0


def test_recorded_voltage_is_what_drove_the_machine() -> None:
    """Power balance over the record to 1e-4: the voltage is constant from sample to sample, the
    current between them nearly straight."""
    setup = replace(SETUP, supply=replace(SETUP.supply, control=VectorControl()))
    path = trajectory(setup, duration_s=0.4, sampling_rate_hz=20e3, settling_s=2.0)
    current = path.currents_a
    power = np.sum(path.voltages_v[:, :-1] * 0.5 * (current[:, :-1] + current[:, 1:]), axis=0)
    copper = 2.2 * np.sum(current**2, axis=0)
    loss = copper + path.rotor_loss_w + path.torque_nm * path.speed_rad_s
    whole = slice(100, 8100)  # twenty cycles
    assert np.mean(power[whole]) == pytest.approx(np.mean(loss[whole]), rel=1e-4)


def test_trial_steps_leave_no_trace_in_the_regulator() -> None:
    """The error estimate runs on copies: equal runs with steppers that differ only in speed."""
    setup = replace(SETUP, supply=replace(SETUP.supply, control=VectorControl()))
    fast, plain = (
        trajectory(
            setup, duration_s=0.02, sampling_rate_hz=2500.0, settling_s=0.03, advance=advance
        )
        for advance in (None, runge_kutta.advance)
    )
    assert plain.voltages_v == pytest.approx(fast.voltages_v, rel=1e-7, abs=1e-5)
    assert fast.step_error < 1e-6


def test_a_regulator_starts_no_motor() -> None:
    setup = replace(SETUP, supply=replace(SETUP.supply, control=VectorControl()))
    with pytest.raises(InputError, match="does not start one"):
        start_trajectory(setup, duration_s=1.0, sampling_rate_hz=5000.0)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"current_bandwidth_hz": 0.0}, "positive"),
        ({"current_bandwidth_hz": 1000.0}, "not stable"),
        ({"speed_bandwidth_hz": 150.0}, "three times slower"),
        ({"voltage_margin": 0.5}, "at least 1"),
    ],
)
def test_impossible_regulators_are_refused(settings: dict[str, float], message: str) -> None:
    with pytest.raises(InputError, match=message):
        VectorControl(**settings)


def test_phase_of_the_carrier_follows_time_not_the_output() -> None:
    """Asynchronous modulation: the carrier's lines keep f_c exactly while the output wanders."""
    device = PulseWidth(carrier_hz=2000.0, dc_link_v=650.0, groups=1, side_lines=2)
    supply = Supply(line_voltage_rms_v=381.05, frequency_hz=50.0, pulse_width=device)
    run = SupplyRun(supply, 0.0, 1.0, np.random.default_rng(0))
    time_s = np.arange(10_000) / 20e3
    bare = SupplyRun(replace(supply, pulse_width=None), 0.0, 1.0, np.random.default_rng(0))
    ripple = run.space_vector_v(time_s) - bare.space_vector_v(time_s)
    spectrum = np.abs(np.fft.fft(ripple)) / 10_000
    strong = set(np.round(np.fft.fftfreq(10_000, 1 / 20e3)[spectrum > 1.0]).astype(int))
    assert strong == {1900, -2100}
