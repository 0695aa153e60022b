"""The flux that switching on traps in the machine: how it turns, decays and brakes.

Closing the contactor leaves an offset of the flux. Without voltage the two windings obey, in the
stator's frame, ``d psi_s/dt = -R_s i_s`` and ``d psi_r/dt = -R_r i_r + j w_r psi_r``. One of
the two modes dies within milliseconds; the other keeps the main flux, turns with a part of the
rotor's speed and brakes it for the first tenths of a second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import ComplexArray, RealArray


@dataclass(frozen=True)
class TrappedFlux:
    """The two free modes of a circuit (n_draws,) at slips (..., n_draws)."""

    slow: ComplexArray
    """Rate of the mode that lasts, 1/s: ``psi_s`` goes as the exponential of its integral."""
    slow_share: ComplexArray
    """psi_r over psi_s in it."""
    fast_share: ComplexArray
    """The same in the other mode."""

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
        return cls(slow, (slow - stator) / to_stator, (fast - stator) / to_stator)


def braking_torque(
    circuit: EquivalentCircuit,
    slip: RealArray,
    step_s: float,
    voltage_v: RealArray,
    frequency_rad_s: float,
) -> RealArray:
    """Return the torque of the trapped flux over the number of pole pairs, N m, shape of ``slip``.

    ``T/p = 1.5 Im(conj(psi_s) i_s)`` with ``i_s = -lambda psi_s / R_s``. What is trapped is the
    reverse of the flux that the locked motor would carry.

    Parameters
    ----------
    circuit
        Fields (n_draws,).
    slip
        From switching on in steps of ``step_s``, shape (n, n_draws).
    voltage_v
        |V| at switching on, peak, (n_draws,) or ().
    """
    modes = TrappedFlux.of(circuit, slip, frequency_rad_s)
    locked = circuit.at(1.0, frequency_rad_s)
    current = locked.voltage_response(0.0) * voltage_v
    rotor = locked.rotor_current(current)
    in_stator = circuit.stator_inductance_h * current + circuit.magnetizing_inductance_h * rotor
    in_rotor = circuit.rotor_inductance_h * rotor + circuit.magnetizing_inductance_h * current
    share = modes.slow_share[0] - modes.fast_share[0]
    flux = np.abs((in_rotor - modes.fast_share[0] * in_stator) / share)
    decay = np.exp(np.cumsum(modes.slow.real, axis=0) * step_s)
    square = (flux * decay) ** 2
    return np.asarray(-1.5 * square * modes.slow.imag / circuit.stator_resistance_ohm)
