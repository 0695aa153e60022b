"""Which parts of a cage are damaged, and which of the conditions say something new."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import InputError
from cagewise.quantities import RealArray

_DEPENDENT = 1e-9
"""Part of a condition (of length 1.4) that the ones before it leave: rounding below this."""


@dataclass(frozen=True, slots=True)
class Damage:
    """Damaged bars, by how much, and cut segments of one end ring."""

    bars: tuple[int, ...] = ()
    """Bar numbers, counted along the rotor from 0."""
    extra_resistance: tuple[float, ...] = ()
    """Added resistance of each, in units of a sound bar's; ``math.inf`` for an open bar."""
    cut_ring_segments: tuple[int, ...] = ()
    """Cut segments of one end ring; segment ``k`` lies between bars ``k`` and ``k + 1``."""

    @classmethod
    def adjacent_open(cls, count: int) -> Damage:
        """Return ``count`` adjacent open bars."""
        return cls.open_bars(tuple(range(count)))

    @classmethod
    def open_bars(cls, bars: tuple[int, ...]) -> Damage:
        """Return open bars."""
        return cls(bars, (math.inf,) * len(bars))

    @classmethod
    def cracked(cls, factors: Mapping[int, float]) -> Damage:
        """Return bars whose resistance is multiplied by a factor above 1."""
        return cls(tuple(factors), tuple(factor - 1.0 for factor in factors.values()))

    @property
    def is_sound(self) -> bool:
        """Whether nothing is damaged."""
        return not self.bars and not self.cut_ring_segments

    def check(self, rotor_bars: int) -> None:
        """Raise if the damage does not fit a cage of ``rotor_bars``.

        Raises
        ------
        InputError
            With all faults in one message.
        """
        faults = []
        if len(self.bars) != len(self.extra_resistance):
            faults.append("every damaged bar needs one extra resistance")
        for name, numbers in (("bars", self.bars), ("ring segments", self.cut_ring_segments)):
            if any(not 0 <= number < rotor_bars for number in numbers):
                faults.append(f"{name} must lie between 0 and {rotor_bars - 1}, got {numbers}")
            if len(set(numbers)) < len(numbers):
                faults.append(f"{name} are named twice: {numbers}")
        if any(not extra > 0.0 for extra in self.extra_resistance):
            faults.append("the extra resistance of a damaged bar must be positive")
        if sum(map(math.isinf, self.extra_resistance)) > rotor_bars - 3:
            faults.append("fewer than three bars would be left")
        if faults:
            raise InputError("; ".join(faults), where="damage", remedy="Check the bar numbers.")

    def conditions(self, rotor_bars: int) -> Conditions:
        """Return the damage as conditions on the mesh currents, without repetitions.

        An open bar between two cut segments carries no current anyway: the condition that says it
        again would make the equations singular, so it is left out.
        """
        self.check(rotor_bars)
        cut = [_Element(_ring_row(k, rotor_bars), 0.0, True) for k in self.cut_ring_segments]
        bars = [
            _Element(_bar_row(bar, rotor_bars), 1.0 / extra, False)
            for bar, extra in zip(self.bars, self.extra_resistance, strict=True)
        ]
        kept = _independent(cut + sorted(bars, key=lambda element: element.conductance))
        return Conditions(
            meshes=np.array([e.row[:-1] for e in kept]).reshape(len(kept), rotor_bars),
            conductance=np.array([e.conductance for e in kept]),
            in_ring=np.array([e.in_ring for e in kept], dtype=np.bool_),
        )


@dataclass(frozen=True, slots=True)
class Conditions:
    """Elements of the cage with extra resistance: their currents are combinations of meshes."""

    meshes: RealArray
    """+1, -1 or 0: the element's current in terms of mesh currents, (n_elements, rotor_bars)."""
    conductance: RealArray
    """One over the extra resistance in units of a sound bar's; 0 where cut, (n_elements,)."""
    in_ring: NDArray[np.bool_]
    """Whether the element is a segment of the ring: less the ring's own loop, (n_elements,)."""


@dataclass(frozen=True, slots=True)
class _Element:
    """A damaged element; ``row`` gives its current in meshes and, last, the ring loop."""

    row: RealArray
    conductance: float
    in_ring: bool


def _independent(elements: list[_Element]) -> list[_Element]:
    """Return elements whose current is not already held at zero by those before them."""
    kept: list[_Element] = []
    basis: list[RealArray] = []
    for element in elements:
        rest = element.row
        for direction in basis:
            rest = rest - direction * (direction @ rest)
        length = float(np.linalg.norm(rest))
        if length > _DEPENDENT:
            kept.append(element)
            if element.conductance == 0.0:
                basis.append(rest / length)
    return kept


def _bar_row(bar: int, rotor_bars: int) -> RealArray:
    """Return a bar's current: mesh ``bar`` less the mesh before it (last entry: ring loop)."""
    row = np.zeros(rotor_bars + 1)
    row[bar] = 1.0
    row[(bar - 1) % rotor_bars] = -1.0
    return row


def _ring_row(segment: int, rotor_bars: int) -> RealArray:
    """Return a segment's current: its mesh less the loop round the ring."""
    row = np.zeros(rotor_bars + 1)
    row[segment] = 1.0
    row[rotor_bars] = -1.0
    return row
