"""What is wrong with the rotor: open bars, cracks, cut rings, an eccentric gap.

An open bar ties the currents of its two meshes together and a cut segment of the ring ties its mesh
to the ring loop. Both are imposed exactly by a constraint ``i = C x`` (then
``L -> C' L C``, ``R -> C' R C``), never by a huge resistance, which would make the equations stiff.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """Damage of the cage; bars count from 0 in the direction of rotation."""

    open_bars: tuple[int, ...] = ()
    """Bars that carry no current."""
    resistance_factors: Mapping[int, float] = field(default_factory=dict)
    """Bar to the factor on its resistance (cracks: above 1)."""
    open_outer_bars: tuple[int, ...] = ()
    """Bars of a double cage whose outer part carries no current."""
    cut_ring_segments: tuple[int, ...] = ()
    """Cut segments of one end ring; segment ``k`` lies between bars ``k`` and ``k + 1``."""

    def check(self, rotor_bars: int) -> None:
        """Raise if the damage does not fit a cage of ``rotor_bars``."""
        faults = []
        for name, bars in (
            ("open_bars", self.open_bars),
            ("resistance_factors", tuple(self.resistance_factors)),
            ("open_outer_bars", self.open_outer_bars),
            ("cut_ring_segments", self.cut_ring_segments),
        ):
            if any(not 0 <= bar < rotor_bars for bar in bars):
                faults.append(f"{name} must lie between 0 and {rotor_bars - 1}, got {bars}")
        if any(not factor > 0.0 for factor in self.resistance_factors.values()):
            faults.append("resistance_factors must be positive (name an open bar in open_bars)")
        if set(self.open_bars) & set(self.open_outer_bars):
            faults.append("a bar is either open or open in its outer part")
        if len(set(self.open_bars)) > rotor_bars - 3:
            faults.append("fewer than three bars would be left")
        if faults:
            raise InputError("; ".join(faults), where="damage")

    def bar_resistances(self, sound_ohm: float, rotor_bars: int) -> RealArray:
        """Return the resistance of every bar, shape (n,)."""
        values = np.full(rotor_bars, sound_ohm)
        for bar, factor in self.resistance_factors.items():
            values[bar] *= factor
        return values


@dataclass(frozen=True, slots=True, kw_only=True)
class Eccentricity:
    """Displacement of the rotor as a fraction of the gap; both together give lines at f +- f_r."""

    static: float = 0.0
    """e_s, fixed in space."""
    dynamic: float = 0.0
    """e_d, turning with the rotor."""

    def __post_init__(self) -> None:
        if min(self.static, self.dynamic) < 0.0 or self.static + self.dynamic >= 0.8:
            raise InputError(
                f"static {self.static} and dynamic {self.dynamic} must not be negative and must "
                "add to less than 0.8 of the gap",
                where="eccentricity",
            )

    @property
    def mean_factor(self) -> float:
        """Mean of the order-zero permeance over a turn: 1 + (e_s^2 + e_d^2) / 2."""
        return 1.0 + (self.static**2 + self.dynamic**2) / 2.0

    @property
    def ripple(self) -> float:
        """Relative ripple of the order-zero permeance with the rotor angle."""
        return self.static * self.dynamic / self.mean_factor


def constraint(damage: Damage, rotor_bars: int) -> RealArray:
    """Return C of ``i = C x``, shape (n + 1, n_free): meshes, then the ring loop.

    Every column is a set of loops that the damage forces to carry one common current.
    """
    n = rotor_bars
    group = list(range(n + 1))

    def leader(loop: int) -> int:
        while group[loop] != loop:
            loop = group[loop]
        return loop

    for bar in damage.open_bars:
        group[leader(bar)] = leader((bar - 1) % n)
    for segment in damage.cut_ring_segments:
        group[leader(segment)] = leader(n)
    leaders = [leader(loop) for loop in range(n + 1)]
    free = list(dict.fromkeys(leaders))
    matrix = np.zeros((n + 1, len(free)))
    for loop, head in enumerate(leaders):
        matrix[loop, free.index(head)] = 1.0
    return matrix
