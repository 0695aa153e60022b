"""What a run went through, and what is true of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from cagewise.quantities import PHASE_OPERATOR, ComplexArray, RealArray
from cagewise.simulation.machine.damage import Damage, Eccentricity
from cagewise.simulation.machine.geometry import MachineGeometry
from cagewise.simulation.machine.permeance import GapShape
from cagewise.simulation.machine.saturation import Saturation
from cagewise.simulation.plant.load import Load
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.plant.sensors import Sensors
from cagewise.simulation.plant.supply import Supply


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What is simulated."""

    geometry: MachineGeometry
    supply: Supply
    load: Load = field(default_factory=Load)
    damage: Damage = field(default_factory=Damage)
    eccentricity: Eccentricity = field(default_factory=Eccentricity)
    gap: GapShape | None = None
    """Treats the gap by the modified winding function; None: eccentricity to order zero only."""
    saturation: Saturation | None = None
    """Approximate saturation; None: linear iron, with what the effective gap contains."""
    sensors: Sensors = field(default_factory=Sensors)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trajectory:
    """True quantities at the sampling instants; arrays of shape (n_samples,)."""

    time_s: RealArray
    supply_phase_rad: RealArray
    voltages_v: RealArray
    """Phase-to-star-point voltages of a balanced star, shape (3, n_samples)."""
    currents_a: RealArray
    """Line currents, shape (3, n_samples)."""
    angle_rad: RealArray
    """Mechanical rotor angle."""
    speed_rad_s: RealArray
    torque_nm: RealArray
    """Air-gap torque."""
    load_torque_nm: RealArray
    rotor_loss_w: RealArray
    energy_j: RealArray
    """Magnetic energy."""
    load_speed_rad_s: RealArray
    """Speed of the driven machine; the rotor's where the shaft is rigid."""
    shaft_torque_nm: RealArray
    """What the rotor delivers; with a rigid shaft the load torque."""
    step_error: float
    """Estimated error of the current per supply cycle, relative."""
    stepper: str
    """``"numba"`` or ``"numpy"``."""


def phases(vector: ComplexArray) -> RealArray:
    """Return the three phase quantities of a space vector without zero sequence, shape (3, n)."""
    return np.stack([(vector * np.conj(PHASE_OPERATOR**k)).real for k in range(3)])


def truth_of(setup: Setup, path: Trajectory) -> dict[str, float]:
    """Return what the run knows of itself, over the record without its guards.

    Frequency, speed and slip are means weighted with a Hann window over the record: an incomplete
    cycle of speed ripple at its ends then does not count.
    """
    inner = slice(GUARD_SAMPLES, path.time_s.size - GUARD_SAMPLES)
    weight = np.hanning(path.time_s[inner].size + 2)[1:-1]
    advance_rad_s = np.gradient(path.supply_phase_rad, path.time_s)[inner]
    supply_rad_s = float(np.average(advance_rad_s, weights=weight))
    speed_rad_s = float(np.average(path.speed_rad_s[inner], weights=weight))
    slip = 1.0 - setup.geometry.pole_pairs * speed_rad_s / supply_rad_s
    supply_hz = supply_rad_s / (2.0 * math.pi)
    power = np.sum(path.voltages_v[:, inner] * path.currents_a[:, inner], axis=0)
    shaft = path.load_torque_nm[inner] * path.load_speed_rad_s[inner]
    return {
        "supply_frequency_hz": supply_hz,
        "slip": slip,
        "speed_rpm": 60.0 * speed_rad_s / (2.0 * math.pi),
        "pole_pass_frequency_hz": 2.0 * slip * supply_hz,
        "shaft_frequency_hz": speed_rad_s / (2.0 * math.pi),
        "open_bars": float(len(set(setup.damage.open_bars))),
        "largest_resistance_factor": max((1.0, *setup.damage.resistance_factors.values())),
        "rotor_bars": float(setup.geometry.rotor_bars),
        "load_torque_nm": float(np.mean(path.load_torque_nm[inner])),
        "shaft_power_w": float(np.mean(shaft)),
        "input_power_w": float(np.mean(power)),
        "current_rms_a": float(np.sqrt(np.mean(path.currents_a[:, inner] ** 2))),
        "step_error": path.step_error,
    }
