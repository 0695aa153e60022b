"""At how many positions of the rotor an impedance may be read without inventing a fault.

The slots of a sound rotor make a ripple of the impedance. Read at too few positions, or at an
unlucky number of them, this ripple has the look of a damaged cage (orders 2 and 4 of the electrical
angle). Which counts are lucky follows from the numbers of bars and poles alone. Derivation:
``docs/theory/position-pattern.md``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from cagewise.machine.cage.plausible import bar_candidates
from cagewise.machine.motor import Motor

FITTED_ORDERS = (0, 2, 4)
"""Orders of the electrical angle that are read: the mean, and those that damage of the cage makes
(kernels K0, K2, K4)."""
DAMAGE_ORDERS = (2, 4)
"""Those of them in which a sound rotor shows nothing."""
FEWEST = 12
"""Positions per pole pair: the fit has eight unknowns, and half must be left to judge it by."""
MOST = 48
"""Positions per pole pair beyond which nobody turns a shaft by hand."""
USUAL = 24
"""Positions per pole pair that are aimed at: 7.5 mechanical degrees on a four-pole motor."""
MOST_BY_HAND = 48
"""Positions in all that are aimed at where more than two pole pairs must be covered."""
LARGE_ODD = 37
"""Count for a motor whose bars nobody knows, if no smaller one suits all it may have: being odd it
acts like 74, and only orders 70, 72, 76, 78 appear as 2 or 4."""
USUAL_SPAN = 2
"""Pole pairs to be covered, where the motor has so many: what comes from the shaft, not from the
cage, differs between them."""
GOOD_ANGLE_DEG = 1.0
"""Error of the electrical angle that leaves the slot ripple's slope unnoticed (from memory)."""
TOLERABLE_ANGLE_DEG = 3.0
"""Error of the electrical angle above which readings scatter more than a bridge does (from
memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """One count of positions at which the ripple of a sound rotor looks like damage."""

    positions: int
    """Per pole pair."""
    rotor_bars: int
    slot_order: float
    """Order of the ripple, per electrical turn."""
    appears_as: int
    """2 or 4."""

    @property
    def sentence(self) -> str:
        """What would be invented, in words."""
        return (
            f"{self.positions} positions per pole pair: slot ripple of order {self.slot_order:g} "
            f"({self.rotor_bars} bars) appears as order {self.appears_as}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionAdvice:
    """How to place the rotor for a test of impedance against position."""

    positions_per_pole_pair: int
    """Recommended count, equally spaced."""
    pole_pairs: int
    """Pole pairs of the shaft's turn to be covered; all of them is one revolution."""
    shaft_angles_deg: tuple[float, ...]
    """Mechanical angles from a mark, ascending, without the return reading."""
    return_angle_deg: float
    """Where the last reading is taken: the first position again (0, or 360 after a revolution)."""
    safe: tuple[int, ...]
    """All counts per pole pair from :data:`FEWEST` to :data:`MOST` that invent nothing."""
    avoid: tuple[Alias, ...]
    """Counts per pole pair that would invent a fault, one entry per count."""
    rotor_bars: tuple[int, ...]
    """Numbers of bars that were considered; one if it is known."""
    angle_tolerance_deg: float
    """Mechanical: better than this costs effort and gains nothing."""
    tolerable_angle_deg: float
    """Mechanical: worse than this costs sensitivity."""
    notes: tuple[str, ...]
    """Why so, where it is not the usual."""

    @property
    def step_deg(self) -> float:
        """Mechanical angle between two positions."""
        return self.shaft_angles_deg[1] - self.shaft_angles_deg[0]


def slot_orders(rotor_bars: int, pole_pairs: int) -> tuple[int, int]:
    """Return the two lowest ripple orders of a sound rotor, per electrical turn.

    The impedance of a sound rotor is the same one bar pitch and one pole pitch further on, so its
    mechanical orders are multiples of the number of bars and of poles. Where n/p is an even whole
    number these are n/p and 2n/p.
    """
    first = math.lcm(rotor_bars, 2 * pole_pairs) // pole_pairs
    return first, 2 * first


def possible_slot_orders(rotor_bars: int, pole_pairs: int) -> tuple[float, ...]:
    """Return all ripple orders that may occur, those of an imperfect motor included, ascending.

    An eccentric rotor or a stator with unlike poles lacks the symmetry between the poles, and then
    n/p and 2n/p appear whatever they are.
    """
    ratio = rotor_bars / pole_pairs
    return tuple(sorted({ratio, 2.0 * ratio, *map(float, slot_orders(rotor_bars, pole_pairs))}))


def aliased_orders(
    positions: int,
    slot_order: float,
    *,
    pole_pairs: int = 1,
    orders: tuple[int, ...] = FITTED_ORDERS,
) -> tuple[int, ...]:
    """Return the orders as which a ripple appears at equally spaced positions.

    Parameters
    ----------
    positions
        Number of positions over the whole stretch, its end (the same place again) not counted.
    slot_order
        Of the ripple, per electrical turn.
    pole_pairs
        Length of the stretch.
    orders
        Orders of interest, per electrical turn.
    """
    turns = slot_order * pole_pairs
    whole = round(turns)
    if abs(turns - whole) > 1e-9 * max(1.0, turns):
        return ()  # no whole number of waves: it leaks a little everywhere and folds nowhere
    return tuple(
        order
        for order in orders
        if any((whole - sign * order * pole_pairs) % positions == 0 for sign in (1, -1))
    )


def false_orders(positions: int, rotor_bars: int, pole_pairs: int) -> Iterator[Alias]:
    """Yield what a count per pole pair would invent, orders 2 before 4."""
    for appears_as in DAMAGE_ORDERS:
        for slot_order in possible_slot_orders(rotor_bars, pole_pairs):
            if aliased_orders(positions, slot_order, orders=(appears_as,)):
                yield Alias(
                    positions=positions,
                    rotor_bars=rotor_bars,
                    slot_order=slot_order,
                    appears_as=appears_as,
                )


def position_counts(motor: Motor) -> PositionAdvice:
    """Return how many positions to read on this motor, and where.

    The ripple is told from damage if no slot order of any number of bars that the motor may have
    appears as order 2 or 4.
    """
    p, bars = motor.nameplate.pole_pairs, bar_candidates(motor)
    known = motor.cage.rotor_bars is not None
    counts = range(FEWEST, MOST + 1)
    avoid = tuple(
        alias for count in counts if (alias := next(_any_false(count, bars, p), None)) is not None
    )
    unlucky = {alias.positions for alias in avoid}
    safe = tuple(count for count in counts if count not in unlucky)
    whole = all(n % p == 0 for n in bars)
    span = min(p, USUAL_SPAN) if whole or not known else p
    count = _recommended(safe, bars, p, span)
    return PositionAdvice(
        positions_per_pole_pair=count,
        pole_pairs=span,
        shaft_angles_deg=tuple(360.0 * k / (p * count) for k in range(count * span)),
        return_angle_deg=360.0 if span == p else 0.0,
        safe=safe,
        avoid=avoid,
        rotor_bars=bars,
        angle_tolerance_deg=GOOD_ANGLE_DEG / p,
        tolerable_angle_deg=TOLERABLE_ANGLE_DEG / p,
        notes=tuple(_notes(motor, count, safe, span)),
    )


def _any_false(positions: int, bars: tuple[int, ...], pole_pairs: int) -> Iterator[Alias]:
    """Yield what a count would invent on any of these rotors."""
    for rotor_bars in bars:
        yield from false_orders(positions, rotor_bars, pole_pairs)


def _recommended(safe: tuple[int, ...], bars: tuple[int, ...], pole_pairs: int, span: int) -> int:
    """Return the safe count nearest the usual one; of two, the one that keeps the mean clean."""
    if not safe:
        return LARGE_ODD
    aim = min(USUAL, max(FEWEST, MOST_BY_HAND // span))

    def cost(count: int) -> tuple[int, int]:
        on_mean = any(
            aliased_orders(count, order, orders=(0,))
            for n in bars
            for order in possible_slot_orders(n, pole_pairs)
        )
        return abs(count - aim) + (USUAL if on_mean else 0), -count

    return min(safe, key=cost)


def _notes(motor: Motor, count: int, safe: tuple[int, ...], span: int) -> Iterator[str]:
    """Yield why the advice is not the usual one."""
    p, n = motor.nameplate.pole_pairs, motor.cage.rotor_bars
    if n is None:
        yield (
            "the number of rotor bars is not known: the count suits those that were considered; "
            "ask the repair shop for it"
        )
        if not safe:
            yield f"no smaller count suits all of them; {count} is odd and large"
    elif n % p:
        yield f"{n} bars over {p} pole pairs is not a whole number: turn a whole revolution"
    if p > span:
        yield f"{span} of {p} pole pairs are enough"
    if p == 1:
        yield (
            "one pole pair is the whole revolution: an eccentric or oval rotor looks like the "
            "cage's order 2"
        )
