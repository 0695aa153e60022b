"""Impedance of the standing machine between its terminals, against rotor position and frequency.

The equations of motion at rest are linear: currents are a matrix times the flux linkages of stator
and cage modes. With phasors at ``w``::

    i_s = M_ss l + M_sx x,   a = M_as l + M_ax x,   j w x = -mu a,   v = R_s i_s + j w l

The matrices come from the steps' own :func:`evaluate`, so that whatever the machine model knows
(damage, displaced current, eccentric or shaped gap) is in the impedance. Derivation:
``docs/theory/simulation-standstill.md``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.runs.course import Setup
from cagewise.simulation.runs.run import machine_under_load
from cagewise.simulation.stepping.runge_kutta import evaluate

HIGHEST_ORDER = 99
"""Orders that couple with the cage at standstill: those of the stator's own inductance. The ripple
of a sound rotor is made by orders beside its number of bars per pole pair."""


SMALL_FLUX_VS = 1e-6
"""Flux linkage at which the currents are read: an impedance meter saturates nothing."""


class Connection(Enum):
    """Terminals between which the impedance is measured, and how the current flows.

    The value is the axis of the current in units of 30 electrical degrees and the factor from the
    impedance along that axis to that between the terminals.
    """

    A_B = (-1, 2.0)
    B_C = (3, 2.0)
    C_A = (-5, 2.0)
    A_TO_BOTH = (0, 1.5)
    """Phase a against b and c in parallel: single phase, the other axis is free of current."""

    @property
    def axis(self) -> RealArray:
        """Unit vector of the current in the stator axes."""
        angle = self.value[0] * math.pi / 6.0
        return np.array([math.cos(angle), math.sin(angle)])

    @property
    def factor(self) -> float:
        """Terminal impedance over impedance along the axis."""
        return self.value[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandstillImpedance:
    """Impedance against rotor position; arrays of shape (n_positions,)."""

    angle_rad: RealArray
    """Mechanical rotor angle."""
    impedance_ohm: ComplexArray
    frequency_hz: float

    @property
    def resistance_ohm(self) -> RealArray:
        """R at the test frequency."""
        return np.asarray(self.impedance_ohm.real)

    @property
    def inductance_h(self) -> RealArray:
        """L at the test frequency."""
        return np.asarray(self.impedance_ohm.imag / (2.0 * math.pi * self.frequency_hz))


def positions(pole_pairs: int, per_pole_pair: int) -> RealArray:
    """Return equidistant mechanical angles over one pole pair, shape (per_pole_pair,)."""
    if per_pole_pair < 1:
        raise InputError(f"cannot test at {per_pole_pair} positions", where="standstill test")
    return np.asarray(2.0 * math.pi / pole_pairs * np.arange(per_pole_pair) / per_pole_pair)


def every_order(highest: int) -> tuple[int, ...]:
    """Return the winding orders that act in an isolated star, up to ``highest``."""
    return tuple(h for h in range(1, highest + 1, 2) if h % 3)


def standstill_impedance(
    setup: Setup,
    angles_rad: Sequence[float] | RealArray,
    frequency_hz: float,
    connection: Connection = Connection.A_B,
    *,
    highest_order: int = HIGHEST_ORDER,
) -> StandstillImpedance:
    """Return the impedance of the standing machine at every rotor angle.

    Supply and load of ``setup`` do not matter. All winding orders up to ``highest_order`` couple
    with the cage, whatever the geometry's list says: that one is chosen for running lines.

    Raises
    ------
    InputError
        If the frequency is not positive.
    """
    (found,) = standstill_impedances(
        setup, angles_rad, frequency_hz, (connection,), highest_order=highest_order
    )
    return found


def standstill_impedances(
    setup: Setup,
    angles_rad: Sequence[float] | RealArray,
    frequency_hz: float,
    connections: Sequence[Connection],
    *,
    highest_order: int = HIGHEST_ORDER,
) -> tuple[StandstillImpedance, ...]:
    """Return :func:`standstill_impedance` of several connections for the price of one."""
    if not frequency_hz > 0.0:
        raise InputError("the test frequency must be positive", where="standstill test")
    geometry = replace(setup.geometry, orders=every_order(highest_order))
    model = machine_under_load(replace(setup, geometry=geometry))
    angles = np.asarray(angles_rad, dtype=np.float64)
    axes = np.array(
        [axes_impedance(model, float(angle), frequency_hz) for angle in angles],
        dtype=np.complex128,
    ).reshape((-1, 2, 2))
    return tuple(
        StandstillImpedance(
            angle_rad=angles,
            impedance_ohm=np.asarray(
                connection.factor * (axes @ connection.axis @ connection.axis)
            ),
            frequency_hz=frequency_hz,
        )
        for connection in connections
    )


def axes_impedance(model: CoupledModel, angle_rad: float, frequency_hz: float) -> ComplexArray:
    """Return the impedance of the two stator axes at one rotor angle, shape (2, 2).

    The current is given; flux linkages are what it drives.
    """
    currents = _current_matrix(model, angle_rad)
    n_modes = model.decay_per_s.size
    w = 2.0 * math.pi * frequency_hz
    system = currents.astype(np.complex128)
    system[2:] *= model.decay_per_s[:, None]
    system[2:, 2:] += 1j * w * np.eye(n_modes)
    given = np.zeros((2 + n_modes, 2))
    given[:2] = np.eye(2)
    flux = np.linalg.solve(system, given)[:2]
    return np.asarray(model.stator_resistance_ohm * np.eye(2) + 1j * w * flux)


def _current_matrix(model: CoupledModel, angle_rad: float) -> RealArray:
    """Return stator and mode currents per flux linkage, shape (2 + N, 2 + N)."""
    n = 2 + model.decay_per_s.size
    matrix = np.empty((n, n))
    state = np.zeros(model.n_states)
    state[0] = angle_rad
    for k in range(n):
        state[2 + k] = SMALL_FLUX_VS
        now = evaluate(model, state)
        matrix[:2, k], matrix[2:, k] = now.stator_a / SMALL_FLUX_VS, now.modes / SMALL_FLUX_VS
        state[2 + k] = 0.0
    return matrix


def position_orders(values: RealArray, orders: Sequence[int]) -> RealArray:
    """Return amplitudes of orders of the electrical angle, as a test of few positions sees them.

    ``values`` belong to equidistant positions over one pole pair. The plain Fourier sum folds what
    so few positions cannot tell apart: the ripple of the bars, of order n/p, appears at every order
    that differs from it by a multiple of their number.
    """
    n = values.size
    turn = np.exp(-2j * np.pi * np.outer(np.asarray(orders), np.arange(n)) / n)
    return np.asarray(2.0 / n * np.abs(turn @ values))
