"""Closed-form currents of a motor whose slip is known at every instant. No machine physics.

Every line turns with ``a`` times the supply phase plus ``b`` times the slip phase, which is what
defines its family (docs/theory/slip.md). Lines that belong to no motor ("strays") have a fixed
frequency; lines of another motor come from its own slip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from cagewise.conditioning.frame import SupplyFrame, supply_frame
from cagewise.conditioning.signals import StatorSignals
from cagewise.quantities import ComplexArray, RealArray

COARSE_RATE_HZ = 50.0


@dataclass(frozen=True, kw_only=True)
class Stray:
    """A line at a fixed frequency, in the current and, if given, in the voltage."""

    frequency_hz: float
    """Signed: negative turns backwards."""
    level_dbc: float
    voltage_db: float | None = None
    """Level in the voltage relative to its fundamental."""
    voltage_phase_rad: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Cast:
    """Which lines a motor shows, levels in dBc."""

    slip: float
    rotor_bars: int
    slot: dict[tuple[int, int, int], float] = field(default_factory=dict)
    """(k, nu, sign) to level: the line ``sign * (k n (1-s)/p + nu)``."""
    eccentric: tuple[float | None, float | None] = (None, None)
    """f - f_r, f + f_r."""
    pole_pass: tuple[float | None, float | None] = (None, None)
    """f - 2 s f, f + 2 s f."""
    extra: dict[tuple[float, float], float] = field(default_factory=dict)
    """(a, b) to level."""

    def lines(self, pole_pairs: int) -> list[tuple[float, float, float]]:
        """Return (a, b, level) of every line."""
        out: list[tuple[float, float, float]] = []
        for (k, nu, sign), level in self.slot.items():
            ratio = k * self.rotor_bars / pole_pairs
            out.append((sign * (ratio + nu), -sign * ratio, level))
        shaft = 1.0 / pole_pairs
        for pair, a, b in ((self.eccentric, shaft, -shaft), (self.pole_pass, 0.0, 2.0)):
            for pair_level, side in zip(pair, (-1.0, 1.0), strict=True):
                if pair_level is not None:
                    out.append((1.0 + side * a, side * b, pair_level))
        return out + [(a, b, level) for (a, b), level in self.extra.items()]


@dataclass(frozen=True, kw_only=True)
class SlipMotor:
    """A record of one motor and whatever else is on its cable."""

    cast: Cast
    pole_pairs: int = 2
    sampling_rate_hz: float = 4000.0
    duration_s: float = 20.0
    frequency_hz: float = 50.0
    frequency_wander_hz: float = 0.0
    slip_wander: float = 0.0
    """Standard deviation over the slip."""
    slip_wander_time_s: float = 2.0
    slip_drift: float = 0.0
    """Change from begin to end over the slip."""
    noise_db: float = -75.0
    """White noise of the space vector, rms, relative to the fundamental."""
    voltage_noise_db: float = -75.0
    others: tuple[Cast, ...] = ()
    strays: tuple[Stray, ...] = ()
    current_peak_a: float = 10.0
    voltage_peak_v: float = 326.6
    lag_rad: float = 0.5
    torque_follows: bool = False
    """Whether the active current moves with the slip, as that of a real motor does."""
    seed: int = 0

    @property
    def _n(self) -> int:
        return round(self.sampling_rate_hz * self.duration_s)

    @property
    def _time_s(self) -> RealArray:
        return np.arange(self._n) / self.sampling_rate_hz

    def _wander(self, seed: int, correlation_s: float) -> RealArray:
        """Return an Ornstein-Uhlenbeck course of unit deviation, shape (n_samples,)."""
        from scipy.ndimage import gaussian_filter1d

        rng = np.random.default_rng([self.seed, seed])
        m = int(self.duration_s * COARSE_RATE_HZ) + 3
        decay = math.exp(-1.0 / (correlation_s * COARSE_RATE_HZ))
        kicks = rng.standard_normal(m) * math.sqrt(1.0 - decay**2)
        course = np.empty(m)
        level = rng.standard_normal()
        for i in range(m):
            level = decay * level + kicks[i]
            course[i] = level
        course = gaussian_filter1d(course, 3.0)
        return np.asarray(np.interp(self._time_s, np.arange(m) / COARSE_RATE_HZ, course))

    def frequency_course_hz(self) -> RealArray:
        """Return the supply frequency, shape (n_samples,)."""
        course = np.full(self._n, self.frequency_hz)
        if self.frequency_wander_hz:
            course += self.frequency_wander_hz * self._wander(1, 10.0)
        return course

    def slip_course(self) -> RealArray:
        """Return the true slip, shape (n_samples,)."""
        relative = np.ones(self._n)
        if self.slip_wander:
            relative += self.slip_wander * self._wander(2, self.slip_wander_time_s)
        relative += self.slip_drift * (np.arange(self._n) / self._n - 0.5)
        return self.cast.slip * relative

    @property
    def true_slip(self) -> float:
        """Mean slip."""
        return float(np.mean(self.slip_course()))

    @property
    def true_speed_rpm(self) -> float:
        """Mean speed."""
        speed = self.frequency_course_hz() * (1.0 - self.slip_course()) / self.pole_pairs
        return 60.0 * float(np.mean(speed))

    def signals(self, *, currents_measured: int = 3, with_voltage: bool = True) -> StatorSignals:
        """Return the space vectors."""
        rng = np.random.default_rng([self.seed, 0])
        frequency, step = self.frequency_course_hz(), 2.0 * np.pi / self.sampling_rate_hz
        theta = step * np.cumsum(frequency)
        theta_slip = step * np.cumsum(frequency * self.slip_course())
        current = self._fundamental() * np.exp(1j * theta)
        for a, b, level in self.cast.lines(self.pole_pairs):
            current += _line(a * theta + b * theta_slip, level, rng)
        for i, other in enumerate(self.others):
            wander = 1.0 + 0.01 * self._wander(10 + i, 3.0)
            its_slip = step * np.cumsum(frequency * other.slip * wander)
            for a, b, level in other.lines(self.pole_pairs):
                current += _line(a * theta + b * its_slip, level, rng)
        voltage = np.exp(1j * theta)
        for stray in self.strays:
            phase = 2.0 * np.pi * stray.frequency_hz * self._time_s
            current += _line(phase, stray.level_dbc, rng)
            if stray.voltage_db is not None:
                voltage += _line(phase, stray.voltage_db, rng)
        current = self.current_peak_a * (current + self._noise(rng, self.noise_db))
        voltage = self.voltage_peak_v * (voltage + self._noise(rng, self.voltage_noise_db))
        if currents_measured == 1:
            current = _analytic(current.real)
        return StatorSignals(
            current,
            voltage if with_voltage else None,
            self.sampling_rate_hz,
            currents_measured,
            3 if with_voltage else 0,
        )

    def _fundamental(self) -> ComplexArray | complex:
        """Return the current phasor over its mean."""
        if not self.torque_follows:
            return complex(np.exp(-1j * self.lag_rad))
        active = math.cos(self.lag_rad) * self.slip_course() / self.true_slip
        return np.asarray(active - 1j * math.sin(self.lag_rad))

    def frame(self, *, currents_measured: int = 3, with_voltage: bool = True) -> SupplyFrame:
        """Return the record in the frame of the supply."""
        signals = self.signals(currents_measured=currents_measured, with_voltage=with_voltage)
        return supply_frame(signals, self.frequency_hz)

    def _noise(self, rng: np.random.Generator, level_db: float) -> ComplexArray:
        """Return complex white noise of unit-fundamental level."""
        rms = 10.0 ** (level_db / 20.0) / math.sqrt(2.0)
        return np.asarray(rms * (rng.standard_normal(self._n) + 1j * rng.standard_normal(self._n)))


def _line(phase: RealArray, level_dbc: float, rng: np.random.Generator) -> ComplexArray:
    """Return one line with a random phase."""
    amplitude = 10.0 ** (level_dbc / 20.0)
    return np.asarray(amplitude * np.exp(1j * (phase + rng.uniform(0.0, 2.0 * np.pi))))


def _analytic(samples: RealArray) -> ComplexArray:
    """Return the analytic signal."""
    spectrum = np.fft.fft(samples)
    n = samples.size
    spectrum[0] = 0.0
    spectrum[1 : (n + 1) // 2] *= 2.0
    spectrum[n // 2 + 1 :] = 0.0
    return np.asarray(np.fft.ifft(spectrum))
