"""The driven machine: its torque against speed and time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.quantities import RealArray
from cagewise.simulation.noise import coloured_noise
from cagewise.simulation.supply import Modulation

TORQUE_GRID_S = 0.001
"""Grid of the random torque: its band ends near 40 Hz."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Torque = constant + viscous w + quadratic w |w| + oscillations + noise, w mechanical."""

    torque_nm: float = 0.0
    viscous_nm_s: float = 0.0
    quadratic_nm_s2: float = 0.0
    oscillations: tuple[Modulation, ...] = ()
    """Periodic torques, amplitudes in N m."""
    noise_rms_nm: float = 0.0
    """Broad-band torque noise."""
    noise_correlation_s: float = 0.1

    def steady_torque_nm(self, speed_rad_s: float) -> float:
        """Return the mean torque at ``speed_rad_s``."""
        return self.torque_nm + speed_rad_s * (
            self.viscous_nm_s + self.quadratic_nm_s2 * abs(speed_rad_s)
        )


class LoadRun:
    """One realisation of the part of the torque that depends on time only."""

    def __init__(
        self, load: Load, start_s: float, duration_s: float, rng: np.random.Generator
    ) -> None:
        self._load = load
        self._grid_s: RealArray = np.zeros(0)
        self._noise: RealArray = np.zeros(0)
        if load.noise_rms_nm:
            n = math.ceil(duration_s / TORQUE_GRID_S) + 2
            self._grid_s = np.asarray(start_s + TORQUE_GRID_S * np.arange(n))
            noise = coloured_noise(rng, n, TORQUE_GRID_S, load.noise_correlation_s)
            self._noise = np.asarray(load.noise_rms_nm * noise, dtype=np.float64)

    def torque_nm(self, time_s: RealArray) -> RealArray:
        """Return constant torque, oscillations and noise at ``time_s``."""
        torque = np.full(time_s.shape, self._load.torque_nm)
        for oscillation in self._load.oscillations:
            torque += oscillation.at(time_s)
        if self._load.noise_rms_nm:
            torque += np.interp(time_s, self._grid_s, self._noise)
        return torque
