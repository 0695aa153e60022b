"""Where a run begins: the steady state at a load, fundamental waves only.

In the rotor's frame the stator current turns at slip frequency; the modes of the cage answer with
``x = mu / (mu + j s w) W u``. Backward waves that damage produces are left out here: the run
settles from this point, it is not the result.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.errors import SimulationError
from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.plant.load import Load

_SLIPS = np.concatenate((-np.geomspace(0.2, 1e-6, 60), [0.0], np.geomspace(1e-6, 0.9, 240)))
"""Slips searched for the first crossing of motor and load torque."""


@dataclass(frozen=True, slots=True)
class SteadyState:
    """Phasors at one slip, power-invariant, at the instant when v is real."""

    slip: float
    current_a: complex
    flux_vs: complex
    modes_vs: RealArray
    """Flux linkages of the modes at that instant with the rotor at angle zero, shape (N,)."""
    torque_nm: float


def steady_state(
    model: CoupledModel, voltage_v: float, frequency_rad_s: float, slip: float
) -> SteadyState:
    """Return the steady state at ``slip`` under a peak phase voltage ``voltage_v``."""
    slip_frequency = 1j * slip * frequency_rad_s
    waves = model.waves[:2] * model.amplitude_h[0]
    drive = waves.T @ np.array([1.0, -1.0j])
    forward = waves.T @ np.array([0.5, 0.5j])
    lag = slip_frequency / (model.decay_per_s + slip_frequency)
    response = (forward @ model.coupling) @ (lag * (model.coupling.T @ drive))
    inductance = model.stator_inductance_h - response
    voltage = math.sqrt(1.5) * voltage_v
    current = voltage / (model.stator_resistance_ohm + 1j * frequency_rad_s * inductance)
    flux = inductance * current
    modes = (1.0 - lag) * (model.coupling.T @ drive) * current
    torque = model.pole_pairs * (np.conj(flux) * current).imag
    return SteadyState(slip, complex(current), complex(flux), modes.real, float(torque))


def steady_state_under_load(
    model: CoupledModel, voltage_v: float, frequency_rad_s: float, load: Load
) -> SteadyState:
    """Return the steady state on the stable branch where the motor carries ``load``.

    Raises
    ------
    SimulationError
        If the motor cannot carry the load at any slip below breakdown.
    """

    def surplus(slip: float) -> float:
        speed = (1.0 - slip) * frequency_rad_s / model.pole_pairs
        state = steady_state(model, voltage_v, frequency_rad_s, slip)
        return state.torque_nm - load.steady_torque_nm(speed)

    surpluses = np.array([surplus(slip) for slip in _SLIPS])
    rising = np.flatnonzero((surpluses[:-1] < 0.0) & (surpluses[1:] >= 0.0))
    if rising.size == 0:
        raise SimulationError(
            f"the motor cannot carry the load (breakdown torque {surpluses.max():+.1f} N m "
            "relative to the load)",
            where="simulation",
            remedy="Lower the load torque or raise the voltage.",
        )
    low, high = _SLIPS[rising[0]], _SLIPS[rising[0] + 1]
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if surplus(middle) < 0.0 else (low, middle)
    return steady_state(model, voltage_v, frequency_rad_s, float(0.5 * (low + high)))
