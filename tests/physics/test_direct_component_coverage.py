"""Do 95 % intervals of the direct component hold the truth in 95 % of motors nobody has measured?

Each run draws a motor at random (15 % R, 20 % leakage, 10 % L_m), lets its speed swing by a line
exactly at 2sf and by random load torque, adds measuring noise and an asymmetry, and reads it with
an ensemble that knows no more than those spreads. Closed form: the linear response of the drawn
motor; the reader never sees its circuit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
import pytest

from cagewise.indicators.cage.direct_component import direct_component
from cagewise.indicators.cage.open_bars import interval
from cagewise.indicators.cage.point_draws import Fundamental, point_draws
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.lines.fitting import Baseband
from cagewise.indicators.lines.pair import find_pair
from cagewise.indicators.lines.pair_bins import SupplyModulation
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import ComplexArray, Estimate
from support.operating import r3k_circuit, r3k_motor, uncertain

RATE, DURATION_S, SLIP, BARS = 80.0, 25.0, 0.03, 32
VOLTAGE = 380.0 * math.sqrt(2.0 / 3.0)
RUNS = 120
READER = uncertain(r3k_circuit(), seed=5)
MOTORS = uncertain(r3k_circuit(), seed=99, n_draws=RUNS)


@dataclass(frozen=True, kw_only=True)
class Case:
    bars: float = 0.0
    """n |d| / |I_r| put in."""
    swing_rad_s: float = 0.0
    """Speed line at 2sf, electrical."""
    load_noise_rad_s: float = 0.0
    """Random speed, rms per sample before a 3 Hz low pass."""
    noise: float = 3e-4
    """Measuring noise of the current, relative to the fundamental."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    true: float
    counted: Estimate
    chance: float
    calibrated: bool


def run(case: Case, k: int, rng: np.random.Generator) -> Outcome:
    one = {f.name: np.asarray(getattr(MOTORS, f.name)[k]) for f in fields(MOTORS)}
    state = EquivalentCircuit(**one).at(SLIP, 2.0 * math.pi * 50.0)
    fundamental = complex(state.stator_current(VOLTAGE))
    rotor_a = abs(complex(state.rotor_current(fundamental)))
    n, f_pp = round(RATE * DURATION_S), 2.0 * SLIP * 50.0
    time = np.arange(n) / RATE
    phases = 2.0 * math.pi * rng.uniform(size=2)
    speed = _load_noise(n, rng) * case.load_noise_rad_s
    speed = speed + case.swing_rad_s * np.cos(2.0 * np.pi * f_pp * time + phases[0])
    current = fundamental + _response(state.speed_response, speed) * 1j * complex(
        state.rotor_flux(fundamental)
    )
    d = case.bars * rotor_a / BARS
    current = current + d * np.exp(-2j * np.pi * f_pp * time + 1j * phases[1])
    noise = rng.standard_normal((2, n)) * case.noise * abs(fundamental) / math.sqrt(2.0)
    current = (current + noise[0] + 1j * noise[1]) * np.exp(1j * math.radians(rng.uniform(-1, 1)))
    return _read(current, BARS * d / rotor_a, rng)


def _load_noise(n: int, rng: np.random.Generator) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    frequency = np.fft.rfftfreq(n, 1.0 / RATE)
    white = np.fft.rfft(rng.standard_normal(n))
    return np.asarray(np.fft.irfft(white / (1.0 + (frequency / 3.0) ** 2), n))


def _response(
    response: object, series: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> ComplexArray:
    """Return the series through a linear response, band-limited to 20 Hz."""
    frequency = np.fft.fftfreq(series.size, 1.0 / RATE)
    gain = response(2j * np.pi * frequency)  # type: ignore[operator]  # a method of the state
    inside = np.abs(frequency) < 20.0
    return np.asarray(np.fft.ifft(np.fft.fft(series) * np.where(inside, gain, 0.0)))


def _read(current: ComplexArray, true: float, rng: np.random.Generator) -> Outcome:
    limits = CageLimits()
    slip = Estimate.from_standard_deviation(SLIP * (1.0 + 1e-3 * rng.standard_normal()), 3e-5)
    pair = find_pair(Baseband(current, RATE, 16.0), slip.scaled(100.0), 0.0, limits)
    measured = Fundamental(current_a=pair.fundamental, voltage_v=VOLTAGE, frequency_hz=50.0)
    draws = point_draws(r3k_motor(), READER, slip, measured)
    still = SupplyModulation(np.zeros(current.size), np.zeros(current.size), RATE)
    direct = direct_component(pair, still, draws, limits.false_alarm_probability)
    counted = interval(
        BARS * direct.amplitude_a / float(np.median(draws.rotor_current_a)),
        BARS * direct.draws_a / draws.rotor_current_a,
        includes_zero=direct.includes_zero,
    )
    return Outcome(
        true=true,
        counted=counted,
        chance=direct.false_alarm_probability,
        calibrated=direct.calibration.used,
    )


def outcomes(case: Case) -> list[Outcome]:
    rng = np.random.default_rng(1)
    return [run(case, k, rng) for k in range(RUNS)]


@pytest.mark.parametrize(
    "case",
    [
        Case(),
        Case(swing_rad_s=3.0),
        Case(swing_rad_s=3.0, load_noise_rad_s=1.0),
        Case(bars=1.0),
        Case(bars=1.0, swing_rad_s=3.0),
        Case(bars=1.0, swing_rad_s=3.0, load_noise_rad_s=1.0),
        Case(bars=0.3, swing_rad_s=1.0, load_noise_rad_s=0.3),
    ],
    ids=str,
)
def test_intervals_hold_the_truth(case: Case) -> None:
    found = outcomes(case)
    inside = [o.counted.low - 1e-12 <= o.true <= o.counted.high for o in found]
    # 95 % of 120 runs; 89 % is three binomial standard deviations fewer
    assert np.mean(inside) >= 0.89
    if case.bars == 0.0:
        chances = np.array([o.chance for o in found])
        # 5 % of 120 runs and three binomial standard deviations
        assert np.mean(chances < 0.05) <= 0.11
    if case.load_noise_rad_s:
        assert np.mean([o.calibrated for o in found]) > 0.9


def test_load_noise_sharpens_the_answer() -> None:
    """A load that is never still shows rho by itself: the interval narrows several times."""
    widths = {}
    for noise in (0.0, 1.0):
        found = outcomes(Case(bars=1.0, swing_rad_s=3.0, load_noise_rad_s=noise))
        widths[noise] = np.median([o.counted.high - o.counted.low for o in found])
    assert widths[1.0] < 0.4 * widths[0.0]
