"""The damages that are told apart, or are not: counts, cracks, spaced bars, a cut ring.

Spacings are electrical: bars 90 degrees apart cancel in every reading of the kernel K2, bars 45
degrees apart in K4 (``docs/theory/kernels.md``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cagewise.machine.cage.damage import Damage

DamageOfCage = Callable[[int, int], Damage]
"""A damage for a cage with so many bars and pole pairs: spacings depend on both."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One way in which a cage may be damaged."""

    name: str
    """In words, as it can stand in a sentence."""
    damage_of: DamageOfCage
    """The damage, for a number of bars and of pole pairs."""
    bars: int
    """Bars that are broken or cracked."""


def adjacent(count: int) -> DamageOfCage:
    """Return the damage of adjacent open bars."""

    def damage_of(rotor_bars: int, pole_pairs: int) -> Damage:
        del rotor_bars, pole_pairs
        return Damage.adjacent_open(count)

    return damage_of


def cracked(factor: float) -> DamageOfCage:
    """Return the damage of one bar whose resistance is multiplied."""

    def damage_of(rotor_bars: int, pole_pairs: int) -> Damage:
        del rotor_bars, pole_pairs
        return Damage.cracked({0: factor})

    return damage_of


def spaced(degrees: float, group: int = 1, second: int = 1) -> DamageOfCage:
    """Return ``group`` adjacent open bars and ``second`` more, electrical degrees further on."""

    def damage_of(rotor_bars: int, pole_pairs: int) -> Damage:
        start = bars_apart(degrees, rotor_bars, pole_pairs, group)
        later = tuple((start + k) % rotor_bars for k in range(second))
        return Damage.open_bars((*range(group), *later))

    return damage_of


def cut_ring() -> DamageOfCage:
    """Return the damage of one cut segment of an end ring."""

    def damage_of(rotor_bars: int, pole_pairs: int) -> Damage:
        del rotor_bars, pole_pairs
        return Damage(cut_ring_segments=(0,))

    return damage_of


def bars_apart(degrees: float, rotor_bars: int, pole_pairs: int, least: int = 1) -> int:
    """Return the number of bars that comes nearest to an electrical spacing.

    Where bars per pole pair are not whole, a bar under another pole may come nearer than one close
    by. Of equally near ones the first is taken; ``least`` keeps off the bars already used.
    """
    steps = np.arange(max(least, 1), rotor_bars - max(least, 1) + 1)
    angles = (360.0 * pole_pairs * steps / rotor_bars - degrees + 180.0) % 360.0 - 180.0
    return int(steps[np.argmin(np.round(np.abs(angles), 6))])


SOUND = Pattern("a sound cage", lambda _bars, _pole_pairs: Damage(), 0)
ADJACENT: tuple[Pattern, ...] = (
    Pattern("one open bar", adjacent(1), 1),
    Pattern("two adjacent open bars", adjacent(2), 2),
    Pattern("three adjacent open bars", adjacent(3), 3),
    Pattern("four adjacent open bars", adjacent(4), 4),
)
OTHERS: tuple[Pattern, ...] = (
    Pattern("one bar cracked to twice its resistance", cracked(2.0), 1),
    Pattern("one bar cracked to five times its resistance", cracked(5.0), 1),
    Pattern("two open bars 45 electrical degrees apart", spaced(45.0), 2),
    Pattern("two open bars 90 electrical degrees apart", spaced(90.0), 2),
    Pattern("two open bars a pole pitch apart", spaced(180.0), 2),
    Pattern("two adjacent open bars and one 90 electrical degrees on", spaced(90.0, 2), 3),
    Pattern("two pairs of open bars 90 electrical degrees apart", spaced(90.0, 2, 2), 4),
    Pattern("one cut segment of an end ring", cut_ring(), 0),
)
PATTERNS: tuple[Pattern, ...] = (SOUND, *ADJACENT, *OTHERS)
"""All patterns that are weighed; more are not told apart by six lines."""
EVEN_CRACK = cracked(1.01)
"""A crack small enough to be linear: what a slightly uneven bar adds to every reading."""
EVEN_CRACK_EXTRA = 0.01
"""Its extra resistance, in units of a sound bar's."""
