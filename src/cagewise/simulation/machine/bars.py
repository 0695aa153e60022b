"""Bars whose current is displaced: deep bars and double cages as chains of sections.

A bar is described by two quadratic forms over its currents: the total current ``c_1`` and the
currents ``c_2 ... c_m`` inside. Its loss is ``c' R c``, its leakage energy ``c' L c / 2``; at
standstill of all change both reduce to the resistance and leakage of the plain bar. Derivation and
sources: ``docs/theory/simulation.md``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import RealArray

_VACUUM_PERMEABILITY_H_PER_M = 4e-7 * np.pi


class BarNetwork(NamedTuple):
    """Quadratic forms of one bar over its total current and its inner currents."""

    resistance_ohm: RealArray
    """R, shape (m, m)."""
    leakage_h: RealArray
    """L, shape (m, m)."""

    def impedance_ohm(self, frequency_rad_s: float) -> complex:
        """Return the impedance met by the total current at this frequency in the bar."""
        whole = self.resistance_ohm + 1j * frequency_rad_s * self.leakage_h
        inner = np.linalg.solve(whole[1:, 1:], whole[1:, 0])
        return complex(whole[0, 0] - whole[0, 1:] @ inner)


class Bar(Protocol):
    """A bar's cross-section."""

    def network(self, resistance_ohm: float, leakage_h: float) -> BarNetwork:
        """Return the forms of a bar with this resistance and leakage for direct current.

        Raises
        ------
        InputError
            If a bar of this shape cannot have so small a leakage.
        """


def plain_bar(resistance_ohm: float, leakage_h: float) -> BarNetwork:
    """Return a bar in which the current is not displaced."""
    return BarNetwork(np.array([[resistance_ohm]]), np.array([[leakage_h]]))


@dataclass(frozen=True, slots=True, kw_only=True)
class DeepBar:
    """A rectangular bar in its slot: ``z coth z`` as its continued fraction, cut off.

    One section is the plain bar. Two err by 1 % of the impedance at a bar height of two depths of
    penetration, three by 0.7 % at four.
    """

    height_m: float
    """h, of the conductor."""
    conductivity_s_per_m: float
    """At the temperature to which the resistance belongs."""
    sections: int = 3

    def __post_init__(self) -> None:
        if not (self.height_m > 0.0 and self.conductivity_s_per_m > 0.0):
            raise InputError("height and conductivity must be positive", where="deep bar")
        if not 1 <= self.sections <= 6:
            raise InputError("sections must lie between 1 and 6", where="deep bar")

    @property
    def diffusion_time_s(self) -> float:
        """Return mu0 sigma h^2."""
        return float(_VACUUM_PERMEABILITY_H_PER_M * self.conductivity_s_per_m * self.height_m**2)

    def network(self, resistance_ohm: float, leakage_h: float) -> BarNetwork:
        """Return the ladder R, L/3 | 5R, L/7 | 9R, L/11 ... with L = R mu0 sigma h^2."""
        m = self.sections
        whole_h = resistance_ohm * self.diffusion_time_s
        tip_h = leakage_h - whole_h / 3.0
        if tip_h < 0.0:
            raise InputError(
                f"a bar {1e3 * self.height_m:.1f} mm high has a leakage of at least "
                f"{whole_h / 3.0:.3g} H, more than the {leakage_h:.3g} H given",
                where="deep bar",
                remedy="Check height, conductivity and bar resistance.",
            )
        resistance = resistance_ohm * np.diag(4.0 * np.arange(m) + 1.0)
        leakage = np.zeros((m, m))
        for k in range(m):
            through = np.zeros(m)  # current of the k-th inductance: c_k - c_(k+1)
            through[k : k + 2] = (1.0, -1.0)[: m - k]
            leakage += whole_h / (4.0 * k + 3.0) * np.outer(through, through)
        leakage[0, 0] += tip_h
        return BarNetwork(resistance, leakage)


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubleCageBar:
    """An outer (starting) and an inner (running) bar on common rings.

    The inner bar's current passes the leakage between the two as well; the plain bar's resistance
    and leakage are those of both in parallel for direct current.
    """

    outer_conductance_share: float
    """Conductance of the outer bar over that of both."""
    inner_leakage_h: float
    """Leakage linked with the inner bar alone."""

    def __post_init__(self) -> None:
        if not 0.0 < self.outer_conductance_share < 1.0 or not self.inner_leakage_h > 0.0:
            raise InputError(
                "the outer share must lie between 0 and 1 and the inner leakage be positive",
                where="double cage",
            )

    def network(self, resistance_ohm: float, leakage_h: float) -> BarNetwork:
        """Return the forms over the total and the inner current."""
        inner_share = 1.0 - self.outer_conductance_share
        common_h = leakage_h - inner_share**2 * self.inner_leakage_h
        if common_h < 0.0:
            raise InputError(
                f"the inner leakage alone makes {leakage_h - common_h:.3g} H, more than the bar's "
                f"{leakage_h:.3g} H",
                where="double cage",
            )
        outer = resistance_ohm / self.outer_conductance_share
        inner = resistance_ohm / inner_share
        resistance = np.array([[outer, -outer], [-outer, outer + inner]])
        return BarNetwork(resistance, np.diag([common_h, self.inner_leakage_h]))
