"""The fundamental of the supply: frequency with an honest interval, wander, power."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cagewise.conditioning.frame import least_duration_s
from cagewise.indicators.running.supply import measure_supply
from support.slip_motor import Cast, SlipMotor

NOTHING = Cast(slip=0.02, rotor_bars=32)


def test_power_of_the_fundamental() -> None:
    motor = SlipMotor(cast=NOTHING, current_peak_a=10.0, voltage_peak_v=300.0, lag_rad=0.6)
    supply = measure_supply(motor.frame())
    power = supply.complex_power_va
    assert power is not None
    # P + jQ = 3/2 V I exp(j phi) with peak values; a lagging current takes reactive power.
    # The noise at -75 dB averages out over 20 s; the filters are flat to 1e-6.
    assert power.real == pytest.approx(4500.0 * math.cos(0.6), rel=1e-5)
    assert power.imag == pytest.approx(4500.0 * math.sin(0.6), rel=1e-5)
    assert supply.power_factor == pytest.approx(math.cos(0.6), rel=1e-5)
    assert supply.line_current_rms_a == pytest.approx(10.0 / math.sqrt(2.0), rel=1e-6)
    assert supply.line_voltage_rms_v == pytest.approx(300.0 * math.sqrt(1.5), rel=1e-6)


def test_without_voltage_there_is_no_power() -> None:
    supply = measure_supply(SlipMotor(cast=NOTHING).frame(with_voltage=False))
    assert supply.complex_power_va is None
    assert supply.power_factor is None
    assert supply.line_voltage_rms_v is None
    assert supply.line_current_rms_a == pytest.approx(10.0 / math.sqrt(2.0), rel=1e-6)


@pytest.mark.parametrize("frequency_hz", [49.93, 60.04])
def test_frequency_reaches_the_bound_in_white_noise(frequency_hz: float) -> None:
    errors, widths = [], []
    for seed in range(30):
        motor = SlipMotor(
            cast=NOTHING,
            frequency_hz=frequency_hz,
            duration_s=8.0,
            sampling_rate_hz=2000.0,
            voltage_noise_db=-40.0,
            seed=seed,
        )
        estimate = measure_supply(motor.frame()).frequency_hz
        errors.append(estimate.value - frequency_hz)
        widths.append((estimate.high - estimate.low) / (2.0 * 1.96))
    rms = float(np.sqrt(np.mean(np.square(errors))))
    # Cramer-Rao bound of a complex tone (Rife and Boorstyn 1974, from memory): 6 / (SNR N^3).
    n, used = 16000, (8.0 - 1.0) / 8.0
    bound = math.sqrt(6.0 * 10**-4.0 / (n * used) ** 3) * 2000.0 / (2.0 * math.pi)
    # 30 trials: the ratio is known to 13 % (one deviation).
    assert rms / bound < 1.4
    # The interval also allows for the wander that the noise may hide, so it is the wider one.
    assert 0.8 * rms < float(np.median(widths)) < 6.0 * rms


@pytest.mark.parametrize("wander_hz", [0.005, 0.02])
def test_interval_covers_the_plain_mean_when_the_frequency_wanders(wander_hz: float) -> None:
    misses = 0
    for seed in range(60):
        motor = SlipMotor(
            cast=NOTHING,
            frequency_wander_hz=wander_hz,
            duration_s=20.0,
            sampling_rate_hz=1000.0,
            seed=seed,
        )
        supply = measure_supply(motor.frame())
        mean = float(np.mean(motor.frequency_course_hz()))
        misses += not supply.frequency_hz.low <= mean <= supply.frequency_hz.high
    # Nominally 3 of 60; 8 or more would happen once in a hundred times at 95 % coverage.
    assert misses < 8


def test_wander_is_measured() -> None:
    motor = SlipMotor(cast=NOTHING, frequency_wander_hz=0.01, duration_s=60.0)
    true = float(np.std(motor.frequency_course_hz()))
    measured = measure_supply(motor.frame()).frequency_wander_hz
    # Smoothing over half a second takes a little of the fast part off.
    assert measured == pytest.approx(true, rel=0.1)
    still = SlipMotor(cast=NOTHING, voltage_noise_db=-60.0, duration_s=60.0)
    assert measure_supply(still.frame()).frequency_wander_hz < 2e-4


@pytest.mark.parametrize("kept_s", [0.0, 0.02, 0.2])
def test_the_shortest_stretch_that_makes_a_frame_has_a_frequency(kept_s: float) -> None:
    """A capture of a start holds little of the running motor after it."""
    motor = SlipMotor(
        cast=NOTHING,
        frequency_hz=50.05,
        duration_s=least_duration_s(50.0) + kept_s,
        sampling_rate_hz=5000.0,
    )
    supply = measure_supply(motor.frame())
    assert supply.frequency_hz.low < 50.05 < supply.frequency_hz.high
    assert math.isfinite(supply.frequency_wander_hz)
