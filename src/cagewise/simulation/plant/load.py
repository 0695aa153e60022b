"""The driven machine: its torque against speed and time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import RealArray
from cagewise.simulation.plant.noise import coloured_noise
from cagewise.simulation.plant.supply import Modulation

TORQUE_GRID_S = 0.001
"""Grid of the random torque: its band ends near 40 Hz."""


FRICTION_SPEED_RAD_S = 0.5
"""Friction is full above a few times this speed: ``tanh(w / 0.5)`` stands for the sign of ``w``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """An elastic shaft or coupling between the rotor and a load with an inertia of its own."""

    load_inertia_kg_m2: float
    """J of the driven machine; the geometry's inertia is then that of the rotor alone."""
    stiffness_nm_per_rad: float
    """K, torque per angle of twist."""
    damping_nm_s: float = 0.0
    """c, torque per rate of twist."""

    def __post_init__(self) -> None:
        if not (self.load_inertia_kg_m2 > 0.0 and self.stiffness_nm_per_rad > 0.0):
            raise InputError("inertia and stiffness must be positive", where="shaft")
        if not self.damping_nm_s >= 0.0:
            raise InputError("damping must not be negative", where="shaft")

    def natural_frequency_rad_s(self, rotor_inertia_kg_m2: float) -> float:
        """Return the undamped torsional frequency with a free rotor."""
        both = 1.0 / rotor_inertia_kg_m2 + 1.0 / self.load_inertia_kg_m2
        return math.sqrt(self.stiffness_nm_per_rad * both)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Torque of the driven machine against its mechanical speed ``w`` and time.

    Constant + viscous w + quadratic w |w| + friction sign(w) + oscillations + noise. The constant
    acts at rest too, as a hanging load does; friction only resists motion.
    """

    torque_nm: float = 0.0
    viscous_nm_s: float = 0.0
    quadratic_nm_s2: float = 0.0
    friction_nm: float = 0.0
    """Dry friction, smoothed below :data:`FRICTION_SPEED_RAD_S`."""
    shaft: Shaft | None = None
    """The shaft between rotor and load; rigid if None."""
    oscillations: tuple[Modulation, ...] = ()
    """Periodic torques, amplitudes in N m."""
    noise_rms_nm: float = 0.0
    """Broad-band torque noise."""
    noise_correlation_s: float = 0.1

    def steady_torque_nm(self, speed_rad_s: float) -> float:
        """Return the mean torque at ``speed_rad_s``."""
        return self.torque_nm + float(self.braking_nm(np.asarray(speed_rad_s)))

    def braking_nm(self, speed_rad_s: RealArray) -> RealArray:
        """Return the part of the torque that follows the speed."""
        fluid = speed_rad_s * (self.viscous_nm_s + self.quadratic_nm_s2 * np.abs(speed_rad_s))
        return np.asarray(fluid + self.friction_nm * np.tanh(speed_rad_s / FRICTION_SPEED_RAD_S))


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
