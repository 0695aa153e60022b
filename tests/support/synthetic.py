"""Recordings in closed form: a supply, a current and chosen lines. No machine physics."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
)
from cagewise.quantities import RealArray


@dataclass(frozen=True, kw_only=True)
class Line:
    """One rotating line of the current space vector, locked to the supply phase.

    ``offset_hz`` from ``order`` times the supply: order 1, offset -2sf is the lower side line.
    """

    level_dbc: float
    offset_hz: float = 0.0
    order: float = 1.0
    phase_rad: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Synthetic:
    """Parameters of a closed-form recording; defaults are a clean 50 Hz, 400 V, 100 A record."""

    sampling_rate_hz: float = 5000.0
    duration_s: float = 60.0
    frequency_hz: float = 50.0
    line_voltage_rms_v: float = 400.0
    current_rms_a: float = 100.0
    lag_rad: float = 0.5
    lines: tuple[Line, ...] = ()
    voltage_lines: tuple[Line, ...] = ()
    noise_db: float | None = None
    """White noise per channel, rms, relative to the rms of the fundamental."""
    wander_hz: float = 0.0
    """Standard deviation of an Ornstein-Uhlenbeck wander of the frequency (10 s)."""
    seed: int = 0
    sequence: int = 1
    """+1 for a-b-c, -1 for a-c-b."""
    truth: dict[str, float] = field(default_factory=dict)

    def supply_phase(self) -> RealArray:
        """Return the phase of the supply in radians, shape (n_samples,)."""
        n = round(self.sampling_rate_hz * self.duration_s)
        time_s = np.arange(n) / self.sampling_rate_hz
        phase = 2.0 * np.pi * self.frequency_hz * time_s
        if self.wander_hz:
            phase = phase + self._wander_phase(n)
        return phase

    def _wander_phase(self, n: int) -> RealArray:
        """Integrate an Ornstein-Uhlenbeck frequency with a correlation time of 10 s."""
        from scipy.ndimage import gaussian_filter1d

        rng = np.random.default_rng(self.seed + 1)
        coarse_hz = 50.0
        m = int(n / self.sampling_rate_hz * coarse_hz) + 2
        decay = np.exp(-1.0 / (10.0 * coarse_hz))
        kicks = rng.standard_normal(m) * np.sqrt(1.0 - decay**2)
        wander = np.empty(m)
        level = 0.0
        for k in range(m):
            level = decay * level + kicks[k]
            wander[k] = level
        wander = gaussian_filter1d(wander, 5.0)
        wander *= self.wander_hz / wander.std()
        fine = np.interp(np.arange(n) / self.sampling_rate_hz, np.arange(m) / coarse_hz, wander)
        return np.asarray(np.cumsum(2.0 * np.pi * fine / self.sampling_rate_hz))

    def recording(self) -> Recording:
        """Return the recording: i_a, i_b, i_c, v_ab, v_bc, v_ca."""
        phase = self.supply_phase()
        time_s = np.arange(phase.size) / self.sampling_rate_hz
        current_peak = self.current_rms_a * np.sqrt(2.0)
        voltage_peak = self.line_voltage_rms_v * np.sqrt(2.0)
        rng = np.random.default_rng(self.seed)
        lead = self.sequence * np.pi / 6.0
        channels = []
        for k, (i_role, v_role) in enumerate(zip(CURRENT_ROLES, LINE_VOLTAGE_ROLES, strict=True)):
            turn = -2.0 * np.pi / 3.0 * k
            current = self._phase_signal(phase - self.lag_rad, time_s, turn, self.lines)
            voltage = self._phase_signal(phase + lead, time_s, turn, self.voltage_lines)
            for role, signal, peak, unit in (
                (i_role, current, current_peak, "A"),
                (v_role, voltage, voltage_peak, "V"),
            ):
                samples = peak * signal
                if self.noise_db is not None:
                    rms = peak / np.sqrt(2.0) * 10.0 ** (self.noise_db / 20.0)
                    samples = samples + rms * rng.standard_normal(phase.size)
                channels.append(Channel(name=role.value, raw=samples, unit=unit, role=role))
        return Recording(
            channels=tuple(channels),
            sampling_rate_hz=self.sampling_rate_hz,
            provenance=Provenance(source="closed form", format_name="synthetic"),
            truth=self.truth,
        )

    def _phase_signal(
        self, phase: RealArray, time_s: RealArray, turn: float, lines: tuple[Line, ...]
    ) -> RealArray:
        """Return one phase: unit fundamental plus lines, each a rotating space vector."""
        signal = np.cos(phase + self.sequence * turn)
        for line in lines:
            angle = line.order * phase + 2.0 * np.pi * line.offset_hz * time_s + line.phase_rad
            amplitude = 10.0 ** (line.level_dbc / 20.0)
            signal = signal + amplitude * np.cos(angle + self.sequence * turn)
        return np.asarray(signal)
