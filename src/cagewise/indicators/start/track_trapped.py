"""The flux that switching on traps in the machine: how it turns, decays and brakes.

Closing the contactor leaves an offset of the flux. Without voltage the two windings obey, in the
stator's frame, ``d psi_s/dt = -R_s i_s`` and ``d psi_r/dt = -R_r i_r + j w_r psi_r``. One of
the two modes dies within milliseconds; the other keeps the main flux, turns with a part of the
rotor's speed and brakes it for the first tenths of a second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import ComplexArray, RealArray

LONGEST_STEP_S = 1e-3
"""Steps within which the speed is constant and the torque is taken once: the mode that dies takes
five of them."""
GONE = 1e-6
"""Part of the flux at which it is not followed any more."""


@dataclass(frozen=True)
class TrappedFlux:
    """The two free modes of a circuit at slips; arrays of their common shape."""

    slow: ComplexArray
    """Rate of the mode that lasts, 1/s: ``psi_s`` goes as the exponential of its integral."""
    fast: ComplexArray
    """Rate of the other."""
    slow_share: ComplexArray
    """psi_r over psi_s in the mode that lasts."""
    fast_share: ComplexArray
    """The same in the other."""

    @classmethod
    def of(cls, circuit: EquivalentCircuit, slip: RealArray, frequency_rad_s: float) -> TrappedFlux:
        """Return the modes."""
        c, m = circuit, circuit.magnetizing_inductance_h
        product = c.stator_inductance_h * c.rotor_inductance_h - m**2
        stator = -c.stator_resistance_ohm * c.rotor_inductance_h / product
        to_stator = c.stator_resistance_ohm * m / product
        rotor = -c.rotor_resistance_ohm * c.stator_inductance_h / product
        turning = rotor + 1j * frequency_rad_s * (1.0 - slip)
        to_rotor = c.rotor_resistance_ohm * m / product
        root = np.sqrt((stator - turning) ** 2 + 4.0 * to_stator * to_rotor)
        one, other = 0.5 * (stator + turning + root), 0.5 * (stator + turning - root)
        slow, fast = np.where(other.real > one.real, (other, one), (one, other))
        shares = (slow - stator) / to_stator, (fast - stator) / to_stator
        return cls(slow, fast, *shares)


def braking_torque(
    circuit: EquivalentCircuit,
    slip: RealArray,
    step_s: float,
    voltage_v: float,
    frequency_rad_s: float,
) -> RealArray:
    """Return the torque of the trapped flux over the number of pole pairs, N m, shape of ``slip``.

    ``T/p = 1.5 Im(conj(psi_s) i_s)``, mean over each step. What is trapped is the reverse of the
    flux that the locked motor would carry.

    Parameters
    ----------
    circuit
        One circuit, fields ().
    slip
        From switching on in steps of ``step_s``, shape (n,).
    voltage_v
        |V| at switching on, peak.
    """
    parts = math.ceil(step_s / LONGEST_STEP_S)
    modes = TrappedFlux.of(circuit, slip, frequency_rad_s)
    decays = [np.exp(rate * step_s / parts) for rate in (modes.slow, modes.fast)]
    in_stator, in_rotor = _trapped_at_first(circuit, voltage_v, frequency_rad_s)
    c = circuit
    product = float(c.stator_inductance_h * c.rotor_inductance_h - c.magnetizing_inductance_h**2)
    pull = -1.5 * float(c.magnetizing_inductance_h) / product
    first = abs(in_stator)
    torque = np.zeros(slip.size)
    for k in range(slip.size):
        slow_share, fast_share = modes.slow_share[k], modes.fast_share[k]
        slow = (in_rotor - fast_share * in_stator) / (slow_share - fast_share)
        fast = in_stator - slow
        for _ in range(parts):
            # i_s = (L_r psi_s - L_m psi_r) / product: the first part makes no torque
            torque[k] += pull * (in_stator.conjugate() * in_rotor).imag / parts
            slow, fast = slow * decays[0][k], fast * decays[1][k]
            in_stator, in_rotor = slow + fast, slow_share * slow + fast_share * fast
        if abs(in_stator) < GONE * first:
            break
    return torque


def _trapped_at_first(
    circuit: EquivalentCircuit, voltage_v: float, frequency_rad_s: float
) -> tuple[complex, complex]:
    """Return psi_s and psi_r just after switching on, less those of the steady locked motor."""
    locked = circuit.at(1.0, frequency_rad_s)
    current = complex(locked.stator_current(voltage_v))
    rotor = complex(locked.rotor_current(current))
    mutual = float(circuit.magnetizing_inductance_h)
    in_stator = float(circuit.stator_inductance_h) * current + mutual * rotor
    in_rotor = float(circuit.rotor_inductance_h) * rotor + mutual * current
    return -in_stator, -in_rotor
