"""Supply, load, sensors: what is asked for is what the run gets."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.measurement import CURRENT_ROLES, LINE_VOLTAGE_ROLES
from cagewise.quantities import PHASE_OPERATOR, ComplexArray, RealArray
from cagewise.simulation import Harmonic, Load, Modulation, Sensors, Supply
from cagewise.simulation.plant.load import LoadRun
from cagewise.simulation.plant.noise import coloured_noise
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.plant.supply import SupplyRun

TIME_S = np.arange(20_000) / 5000.0 - 2.0
"""Two seconds either side of the first sample: whole cycles of 50 Hz and of the modulations."""


def _line(signal: ComplexArray, frequency_hz: float) -> complex:
    return complex(np.mean(signal * np.exp(-2j * np.pi * frequency_hz * TIME_S)))


def _voltage(supply: Supply) -> ComplexArray:
    run = SupplyRun(supply, -2.0, 5.0, np.random.default_rng(1))
    return run.space_vector_v(TIME_S)


def test_unbalance_and_harmonics_turn_the_right_way() -> None:
    supply = Supply(
        line_voltage_rms_v=400.0,
        frequency_hz=50.0,
        unbalance=0.01,
        harmonics=(Harmonic(order=5, ratio=0.02), Harmonic(order=7, ratio=0.015, phase_rad=1.0)),
    )
    peak, voltage = 400.0 * math.sqrt(2.0 / 3.0), _voltage(supply)
    assert _line(voltage, 50.0) == pytest.approx(peak, rel=1e-9)
    assert _line(voltage, -50.0) == pytest.approx(0.01 * peak, rel=1e-9)
    assert _line(voltage, -250.0) == pytest.approx(0.02 * peak, rel=1e-9)
    assert abs(_line(voltage, 250.0)) < 1e-9 * peak
    assert _line(voltage, 350.0) == pytest.approx(0.015 * peak * np.exp(1j), rel=1e-9)


def test_modulations_have_their_side_lines() -> None:
    """Amplitude m: m/2 on either side; phase b: j b/2 (to b^2/8 = 5e-5)."""
    supply = Supply(
        line_voltage_rms_v=400.0,
        frequency_hz=50.0,
        amplitude_modulation=(Modulation(amplitude=0.01, frequency_hz=2.0),),
        phase_modulation=(Modulation(amplitude=0.02, frequency_hz=5.0),),
    )
    voltage = _voltage(supply) / (400.0 * math.sqrt(2.0 / 3.0))
    assert _line(voltage, 52.0) == pytest.approx(0.005, rel=1e-3)
    assert _line(voltage, 45.0) == pytest.approx(0.01j, rel=1e-3)


def test_wander_has_the_rms_that_was_asked_for_and_no_jumps() -> None:
    supply = Supply(line_voltage_rms_v=400.0, frequency_hz=50.0, wander_rms_hz=0.01)
    run = SupplyRun(supply, 0.0, 400.0, np.random.default_rng(2))
    time_s = np.arange(400_000) / 1000.0
    frequency_hz = np.diff(run.phase_rad(time_s)) * 1000.0 / (2.0 * np.pi)
    assert np.std(frequency_hz) == pytest.approx(0.01, rel=0.02)
    assert np.mean(frequency_hz) == pytest.approx(50.0, abs=1e-4)
    assert np.abs(np.diff(frequency_hz)).max() < 1e-4


def test_torque_noise_has_its_mean_and_rms() -> None:
    load = Load(torque_nm=10.0, noise_rms_nm=0.5, noise_correlation_s=0.1)
    run = LoadRun(load, 0.0, 100.0, np.random.default_rng(3))
    torque = run.torque_nm(np.arange(100_000) / 1000.0)
    assert np.mean(torque) == pytest.approx(10.0, abs=1e-3)
    assert np.std(torque) == pytest.approx(0.5, rel=0.02)


def test_coloured_noise_forgets_at_the_stated_rate() -> None:
    """exp(-lag / tau) within 0.05: 4000 correlation times (0.02) and the smoothing (0.01)."""
    noise = coloured_noise(np.random.default_rng(6), 800_000, 0.005, 1.0)
    assert np.std(noise) == pytest.approx(1.0)
    for lag in (100, 200, 400):
        seen = np.mean(noise[lag:] * noise[:-lag])
        assert seen == pytest.approx(math.exp(-lag * 0.005), abs=0.05)


def _true(n: int) -> tuple[RealArray, RealArray]:
    """Return currents of 10 A and phase voltages of 100 V, peak, at 50 Hz sampled at 5 kHz."""
    turn = np.exp(2j * np.pi * 50.0 * (np.arange(n + 2 * GUARD_SAMPLES) - GUARD_SAMPLES) / 5000.0)
    phases = np.stack([(turn * np.conj(PHASE_OPERATOR**k)).real for k in range(3)])
    return 10.0 * phases, 100.0 * phases


def _phasor(samples: RealArray) -> complex:
    turn = np.exp(-2j * np.pi * 50.0 * np.arange(samples.size) / 5000.0)
    return complex(2.0 * np.mean(samples * turn))


def test_sensor_errors_appear_as_stated() -> None:
    sensors = Sensors(
        current_ratio_error=(0.01, 0.0, -0.02), current_phase_error_deg=(1.0, -0.5, 3.7)
    )
    channels = sensors.channels(*_true(1000), 2.0 * np.pi / 100.0, np.random.default_rng(0))
    assert tuple(c.role for c in channels) == CURRENT_ROLES + LINE_VOLTAGE_ROLES
    for k, (ratio, lead_deg) in enumerate(((0.01, 1.0), (0.0, -0.5), (-0.02, 3.7))):
        expected = 10.0 * (1.0 + ratio) * np.exp(1j * math.radians(lead_deg - 120.0 * k))
        assert _phasor(channels[k].samples) == pytest.approx(expected, rel=1e-4)
    assert _phasor(channels[3].samples) == pytest.approx(
        100.0 * math.sqrt(3.0) * np.exp(1j * math.pi / 6.0), rel=1e-9
    )


def test_a_phase_error_is_a_delay_of_every_frequency_recorded() -> None:
    """A line at 0.17 of the sampling rate is shifted in time as the fundamental is, to 1e-3."""
    n = 2000 + 2 * GUARD_SAMPLES
    turn = np.exp(2j * np.pi * 850.0 * (np.arange(n) - GUARD_SAMPLES) / 5000.0).real
    sensors = Sensors(current_phase_error_deg=(1.0, 0.0, 0.0))
    channels = sensors.channels(
        np.stack([turn] * 3), np.zeros((3, n)), 2.0 * np.pi / 100.0, np.random.default_rng(0)
    )
    inner = np.exp(-2j * np.pi * 850.0 * np.arange(2000) / 5000.0)
    seen = 2.0 * np.mean(channels[0].samples * inner)
    assert seen == pytest.approx(np.exp(1j * math.radians(17.0)), rel=1e-3)


def test_counts_have_the_resolution_and_clip_at_full_scale() -> None:
    sensors = Sensors(bits=12, current_full_scale_a=8.0, voltage_full_scale_v=400.0)
    channels = sensors.channels(*_true(1000), 2.0 * np.pi / 100.0, np.random.default_rng(0))
    current, voltage = channels[0], channels[3]
    assert current.raw.dtype == np.int16
    assert current.raw.max() == current.range_high == 2047
    assert voltage.scale == pytest.approx(400.0 / 2047)
    assert np.ptp(voltage.samples) == pytest.approx(200.0 * math.sqrt(3.0), rel=2e-3)


def test_noise_has_its_rms() -> None:
    sensors = Sensors(current_noise_rms_a=0.01, voltage_noise_rms_v=0.2, line_voltages=False)
    true = _true(20_000)
    channels = sensors.channels(*true, 2.0 * np.pi / 100.0, np.random.default_rng(4))
    inner = slice(GUARD_SAMPLES, -GUARD_SAMPLES)
    assert np.std(channels[1].samples - true[0][1, inner]) == pytest.approx(0.01, rel=0.03)
    assert np.std(channels[5].samples - true[1][2, inner]) == pytest.approx(0.2, rel=0.03)


def test_impossible_parts_are_refused() -> None:
    with pytest.raises(InputError, match="multiples of three"):
        Supply(
            line_voltage_rms_v=400.0, frequency_hz=50.0, harmonics=(Harmonic(order=3, ratio=0.1),)
        )
    with pytest.raises(InputError, match="positive"):
        Supply(line_voltage_rms_v=0.0, frequency_hz=50.0)
    with pytest.raises(InputError, match="full scales"):
        Sensors(bits=12)
    with pytest.raises(InputError, match="between 2 and 32"):
        Sensors(bits=64, current_full_scale_a=1.0, voltage_full_scale_v=1.0)
    with pytest.raises(InputError, match="more than the model of the sensor"):
        Sensors(current_phase_error_deg=(90.0, 0.0, 0.0)).channels(
            *_true(100), 2.0 * np.pi / 400.0, np.random.default_rng(0)
        )
