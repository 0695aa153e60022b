"""Which channel could be which: assignments of roles and polarities, and what each would mean.

An assignment gives every channel of one kind a role and a sign. Renaming the phases of voltages
and currents *together* (cyclically, by reflection, or by turning every sign) changes no physics;
:meth:`Pairing.images` lists these twelve descriptions of one and the same reality.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Role,
)
from cagewise.quantities import PHASE_OPERATOR

MOST_UNBALANCE = 0.7
"""Weaker over stronger sequence of three currents beyond which no phase order can be told."""
MOST_UNBALANCE_PAIR = 0.4
"""The same of two channels: one reversed channel of a balanced pair gives exactly 0.5."""
MOST_UNBALANCE_VOLTAGE = 0.35
"""The same of voltages: one reversed channel of a balanced set gives exactly 0.5."""
MOST_RESIDUAL = 0.4
"""Sum of three currents, or three line voltages, over three and over the stronger sequence: one
reversed channel of a balanced set gives exactly 1; unequal clamps give a few per cent."""

_SETS = (CURRENT_ROLES, PHASE_VOLTAGE_ROLES, LINE_VOLTAGE_ROLES)


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """One channel in an assignment: row in the recording, role, and sign of its samples."""

    row: int
    role: Role
    sign: int = 1


Assignment = tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Sequences:
    """Symmetrical components of one kind of quantity, as phasors of phase a."""

    forward: complex
    """Component that turns a-b-c; of phase-to-neutral voltage for line voltages."""
    backward: complex
    """Component that turns a-c-b."""
    residual: complex
    """A third of the sum; zero where the third channel follows from the others."""
    channels: int

    @property
    def order(self) -> int:
        """+1 when a-b-c prevails, -1 for a-c-b, 0 when a single channel cannot tell."""
        if self.channels == 1:
            return 0
        return 1 if abs(self.forward) >= abs(self.backward) else -1

    @property
    def main(self) -> complex:
        """The prevailing component."""
        return self.backward if self.order < 0 else self.forward

    def of_order(self, order: int) -> complex:
        """Return the component of the given order."""
        return self.backward if order < 0 else self.forward

    @property
    def unbalance(self) -> float:
        """Weaker over stronger sequence; 0 for a single channel."""
        if self.channels == 1:
            return 0.0
        weak, strong = sorted((abs(self.forward), abs(self.backward)))
        return weak / strong if strong > 0.0 else math.inf

    @property
    def residual_part(self) -> float:
        """Residual over the prevailing component."""
        return abs(self.residual) / abs(self.main) if abs(self.main) > 0.0 else math.inf


def sequences(assignment: Assignment, phasors: Mapping[int, complex]) -> Sequences:
    """Return the symmetrical components that an assignment of phasors means."""
    roles = next(pool for pool in _SETS if assignment[0].role in pool)
    given = {roles.index(p.role): p.sign * phasors[p.row] for p in assignment}
    line = roles is LINE_VOLTAGE_ROLES
    if len(given) == 1:
        index, value = next(iter(given.items()))
        forward, backward = value * PHASE_OPERATOR**index, value * PHASE_OPERATOR ** (-index)
        residual = 0j
    else:
        full = [given.get(index, -sum(given.values())) for index in range(3)]
        turns = [PHASE_OPERATOR**index for index in range(3)]
        forward = sum(t * x for t, x in zip(turns, full, strict=True)) / 3.0
        backward = sum(np.conj(t) * x for t, x in zip(turns, full, strict=True)) / 3.0
        residual = sum(full) / 3.0
    if line:
        turn = np.exp(1j * np.pi / 6.0) * math.sqrt(3.0)
        forward, backward = forward / turn, backward / np.conj(turn)
    return Sequences(complex(forward), complex(backward), complex(residual), len(given))


def self_consistent(found: Sequences, *, current: bool, line: bool) -> bool:
    """Return whether a set is the near-balanced three-phase set that its roles promise."""
    if found.channels == 1:
        return True
    limit = MOST_UNBALANCE_PAIR if current else MOST_UNBALANCE_VOLTAGE
    if current and found.channels == 3:
        limit = MOST_UNBALANCE
    sums_to_zero = not (current or line) or found.residual_part <= MOST_RESIDUAL
    return found.unbalance <= limit and sums_to_zero


def all_assignments(rows: Sequence[int], pool: Sequence[Role]) -> Iterator[Assignment]:
    """Yield every assignment of the roles of ``pool`` and of signs to ``rows``."""
    for roles in itertools.permutations(pool, len(rows)):
        for signs in itertools.product((1, -1), repeat=len(rows)):
            yield tuple(Place(*place) for place in zip(rows, roles, signs, strict=True))


@dataclass(frozen=True, slots=True)
class Pairing:
    """An assignment of the voltages together with one of the currents."""

    voltage: Assignment
    """Empty when no voltage was measured."""
    current: Assignment

    def changes_from(self, named: Pairing) -> tuple[int, int]:
        """Return how many channels change, and how many of them are voltages."""
        voltages = sum(a != b for a, b in zip(self.voltage, named.voltage, strict=True))
        currents = sum(a != b for a, b in zip(self.current, named.current, strict=True))
        return voltages + currents, voltages

    def images(self) -> Iterator[Pairing]:
        """Yield the twelve descriptions of the same reality, this one first.

        A single voltage with a single current does not tell the order of the phases; a-b-c is
        then assumed, and the six reflected descriptions would mean another lag.
        """
        pairings = [self]
        if max(len(self.voltage), len(self.current)) > 1:
            pairings.append(Pairing(_reflected(self.voltage), _reflected(self.current)))
        for pairing in pairings:
            for shift in range(3):
                for sign in (1, -1):
                    yield Pairing(
                        _shifted(pairing.voltage, shift, sign),
                        _shifted(pairing.current, shift, sign),
                    )

    def key(self) -> str:
        """Return what all descriptions of the same reality have in common."""
        return min(repr(sorted(pairing.voltage + pairing.current)) for pairing in self.images())

    def nearest(self, named: Pairing, phasors: Mapping[int, complex]) -> Pairing:
        """Return the description that changes fewest channels of ``named``.

        Clamps are changed rather than voltages, and a-b-c is preferred.
        """

        def cost(pairing: Pairing) -> tuple[int, int, int]:
            order = sequences(pairing.voltage or pairing.current, phasors).order
            return (*pairing.changes_from(named), order < 0)

        return min(self.images(), key=cost)


def _shifted(assignment: Assignment, shift: int, sign: int) -> Assignment:
    """Return the assignment with every phase renamed cyclically and every sign multiplied."""
    return tuple(_moved(place, shift, sign) for place in assignment)


def _moved(place: Place, shift: int, sign: int) -> Place:
    """Return one place renamed cyclically."""
    roles = next(pool for pool in _SETS if place.role in pool)
    return Place(place.row, roles[(roles.index(place.role) + shift) % 3], place.sign * sign)


def _reflected(assignment: Assignment) -> Assignment:
    """Return the assignment with phases b and c renamed into each other."""
    return tuple(_swapped(place) for place in assignment)


def _swapped(place: Place) -> Place:
    """Return one place with b and c swapped: v_ab becomes v_ac, which is -v_ca."""
    roles = next(pool for pool in _SETS if place.role in pool)
    index = roles.index(place.role)
    if roles is LINE_VOLTAGE_ROLES:
        return Place(place.row, roles[(2, 1, 0)[index]], -place.sign)
    return Place(place.row, roles[(0, 2, 1)[index]], place.sign)
