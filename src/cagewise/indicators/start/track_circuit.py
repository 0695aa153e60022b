"""The circuit of a motor at the slips of its start: displaced rotor current, saturated leakage.

A circuit known at the running point is wrong at standstill. Growth of the rotor resistance and
fall of both leakages are drawn beside the circuit and learnt from the start itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import ComplexArray, RealArray

DEEPEST_BAR = 4.0
"""Greatest bar height over the depth of penetration at standstill; evenly from none: round bars of
small motors have less than 1, deep bars of large ones 2 to 4 (common practice, no source)."""
BAR_RESISTANCE_SHARE = 0.85
"""Part of the rotor resistance that lies in the bars, where the current is displaced; the middle of
what ``machine.cage.plausible`` draws."""
SLOT_LEAKAGE_SHARE = 0.5
"""Part of the rotor leakage that lies beside the conductor in its slot and shrinks with it; common
practice, no source."""
DEEPEST_SATURATION = 0.4
"""Greatest logarithmic fall of both leakages at starting current, evenly from none: tooth tips
saturate (0.67 to 1 times; from memory)."""
SATURATED_FROM = 0.05
"""Slip at which half of that fall is reached: the current of a start hardly changes above three
times the breakdown slip."""
_PARAMETERS = (
    "stator_resistance_ohm",
    "rotor_resistance_ohm",
    "stator_leakage_h",
    "rotor_leakage_h",
    "magnetizing_inductance_h",
)
N_EXTRA = 4
"""Normal scores beside the circuit: height of the bars, saturation, shape of the load, and the
frequency where no voltage tells it."""
_SHALLOW = 0.05
"""Height below which the difference from a plain bar is rounding."""
FREQUENCY_ERROR_HZ = 0.05
"""Standard deviation of a frequency that no voltage tells: interconnected mains hold 0.05 Hz nearly
always (from memory)."""


@dataclass(frozen=True)
class StartCircuit:
    """Draws of what is not known of a start, as rows of normal scores or logarithms."""

    state: RealArray
    """Logarithms of the five parameters, then the extra scores, shape (9, n_draws)."""

    @classmethod
    def drawn(cls, circuit: EquivalentCircuit, n_draws: int, seed: int) -> StartCircuit:
        """Return draws before anything of the start is known."""
        every = np.stack([np.atleast_1d(getattr(circuit, name)) for name in _PARAMETERS])
        rng = np.random.default_rng(seed)
        chosen = rng.integers(0, every.shape[1], n_draws)
        extra = rng.standard_normal((N_EXTRA, n_draws))
        return cls(np.vstack([np.log(every[:, chosen]), extra]))

    @property
    def n_draws(self) -> int:
        """Number of draws."""
        return int(self.state.shape[1])

    @property
    def stator_resistance_ohm(self) -> RealArray:
        """R_s, shape (n_draws,)."""
        return np.asarray(np.exp(self.state[0]))

    @property
    def falling_load_part(self) -> RealArray:
        """Part of the running load torque that grows as the square of the speed, 0 to 1."""
        return np.asarray(ndtr(self.state[7]))

    @property
    def frequency_error_hz(self) -> RealArray:
        """Supply frequency less the one of the frame, where no voltage is measured."""
        return np.asarray(FREQUENCY_ERROR_HZ * self.state[8])

    def at_slip(self, slip: RealArray) -> EquivalentCircuit:
        """Return the circuit that acts at ``slip``, shape (..., n_draws) or (n_draws,)."""
        inside = np.clip(slip, 0.0, 1.0)
        resistance, leakage = displaced(DEEPEST_BAR * ndtr(self.state[5]) * np.sqrt(inside))
        growth = 1.0 + BAR_RESISTANCE_SHARE * (resistance - 1.0)
        slot = 1.0 + SLOT_LEAKAGE_SHARE * (leakage - 1.0)
        part = inside / (inside + SATURATED_FROM)
        fall = np.exp(-DEEPEST_SATURATION * ndtr(self.state[6]) * part)
        base = np.exp(self.state[:5])
        return EquivalentCircuit(
            stator_resistance_ohm=base[0] * np.ones_like(growth),
            rotor_resistance_ohm=base[1] * growth,
            stator_leakage_h=base[2] * fall,
            rotor_leakage_h=base[3] * fall * slot,
            magnetizing_inductance_h=base[4] * np.ones_like(growth),
        )

    def admittance(self, slip: RealArray, frequency_rad_s: float) -> ComplexArray:
        """Return stator current per stator voltage, S, shape of ``slip``."""
        return self.at_slip(slip).at(slip, frequency_rad_s).voltage_response(0.0)


def displaced(height: RealArray) -> tuple[RealArray, RealArray]:
    """Return what displaced current does to resistance and leakage of a rectangular bar.

    One-dimensional diffusion (textbook): ``z coth z`` with ``z = (1 + j) height``, real part over 1
    and imaginary part over ``2 height^2 / 3``.

    Parameters
    ----------
    height
        Of the bar over the depth of penetration.
    """
    x = 2.0 * np.maximum(height, _SHALLOW)
    below = np.cosh(x) - np.cos(x)
    resistance = 0.5 * x * (np.sinh(x) + np.sin(x)) / below
    leakage = 3.0 / x * (np.sinh(x) - np.sin(x)) / below
    return np.asarray(resistance), np.asarray(leakage)
