"""What the cage may be: patterns of damage, how common they are, and what each class would read.

The states of a cage are points of a grid: damage in open bars as kernel K2 sees it, and what every
family of readings would show, in its own open-bar equivalents (docs/theory/fusion.md, section 2).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from cagewise.quantities import RealArray


class DamagePattern(StrEnum):
    """What may be the matter with the cage."""

    SOUND = "sound"
    """As uneven as sound cages are."""
    PARTIAL = "partial"
    """One bar that carries less current: 0.25 to 0.75 open bars."""
    ONE = "one"
    """One open bar, or as much."""
    TWO = "two"
    """Two adjacent open bars, or as much."""
    THREE_OR_MORE = "three_or_more"
    """Three or more adjacent open bars."""
    APART = "apart"
    """Two open bars 90 electrical degrees apart, which K2 does not see."""


class Family(StrEnum):
    """Readings that err in the same way; parameters are fitted by family."""

    DIRECT = "direct component"
    """Read with voltages: free of speed ripple and of the supply's modulation."""
    DIRECT_CURRENTS = "direct component, currents alone"
    """The same without voltages: a modulated supply is in it, and its ripple ratio rests on the
    nameplate."""
    SIDE_LINES = "side lines"
    """Side lines and their functions: an oscillating load makes them too."""
    HARMONIC = "cage lines at the 5th and 7th"
    START_LINE = "side line of a start"
    START_CHANGE = "change of a start"
    """Time and current against the motor's own past: load, temperature, voltage change them."""
    POSITION = "position pattern"
    MEAN = "mean inductance"


DEFAULT_PREVALENCE = 0.02
"""Share of motors with a defective cage: 1 to 3 % in surveyed populations (from memory, no source
that could be read); large two-pole motors and many starts lie higher."""
PREVALENCE_RANGE = (0.01, 0.03)
"""Ends of what is usual (from memory, as above)."""
DEFAULT_SHARES: Mapping[DamagePattern, float] = {
    DamagePattern.PARTIAL: 0.35,
    DamagePattern.ONE: 0.30,
    DamagePattern.TWO: 0.15,
    DamagePattern.THREE_OR_MORE: 0.15,
    DamagePattern.APART: 0.05,
}
"""How defective cages divide into patterns: damage starts with one bar and spreads to its
neighbours (our judgement, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """How common damage is before anything is measured; stated with every posterior."""

    prevalence: float = DEFAULT_PREVALENCE
    """Share of motors with a defective cage, 0 to 1, ends excluded."""
    shares: Mapping[DamagePattern, float] = field(default_factory=lambda: dict(DEFAULT_SHARES))
    """How defective cages divide into patterns; any positive weights."""
    source: str = (
        "prevalence: 1 to 3 % in surveyed populations (from memory); shares of the patterns: "
        "our judgement"
    )

    def __post_init__(self) -> None:
        total = sum(self.shares.values())
        ok = 0.0 < self.prevalence < 1.0 and total > 0.0 and min(self.shares.values()) >= 0.0
        if not ok or DamagePattern.SOUND in self.shares:
            message = "a prior needs a prevalence between 0 and 1 and weights of damage patterns"
            raise ValueError(message)

    def probabilities(self) -> dict[DamagePattern, float]:
        """Return the probability of every pattern; they sum to 1."""
        total = sum(self.shares.values())
        scaled = {p: self.prevalence * w / total for p, w in self.shares.items()}
        return {p: scaled.get(p, 0.0) for p in DamagePattern} | {
            DamagePattern.SOUND: 1.0 - self.prevalence
        }


RANGES: Mapping[DamagePattern, tuple[float, float]] = {
    DamagePattern.PARTIAL: (0.25, 0.75),
    DamagePattern.ONE: (0.75, 1.5),
    DamagePattern.TWO: (1.5, 2.5),
    DamagePattern.THREE_OR_MORE: (2.5, 8.0),
}
"""Open bars by K2 that a pattern of adjacent bars stands for; even in the logarithm, because the
neighbour of an open bar is seldom sound: whole numbers are not presumed."""
APART_SEES = (0.05, 0.45)
"""What K2 leaves of two bars about 90 electrical degrees apart, in open bars: 0.15 at exactly 90 on
the 3 kW reference motor (computed); a bar pitch is 360 p/n electrical degrees, so the nearest bars
may be off by half of it, and ``2 sin(13 degrees) = 0.45`` at 28 bars and four poles."""
APART_BARS = (1.6, 1.74, 1.89, 2.05, 2.23, 2.41, 2.6)
"""What other kernels see of the same, in adjacent open bars, each as likely: K4 doubles (+6.0 dB on
(5-4s) f, where two adjacent bars give +4.5 dB; computed), less half a bar pitch off 90 degrees. As
close as readings of it are sharp (8 %): a reading between two of them would be nobody's."""
AT_REST = (0.0, 4.0, 12.0)
"""What else stands in the way of the current of a bar at the slips of a start and at rest, over the
bar's resistance, each as likely: nothing in a small cast cage, 12 in deep bars of a large motor,
where a bar of four times its resistance is 0.71 open running and 0.19 to 0.25 open at slips of 0.8
to 0.6 (computed; docs/theory/evidence.md)."""
CRACKED_BESIDE = 0.5
"""Open bars that are cracks where there is more than one: the neighbours of open bars are seldom
sound (our judgement)."""
MIXED_SHOWS = (0.75, 0.5)
"""What the 5th and 7th show of mixed damage over what K2 sees of it, each as likely: cracked bars
side by side, or beside open ones (computed; docs/theory/fusion.md, section 2). Of a single crack
and of whole adjacent bars they show all."""
LOG_STEP = 0.04
"""Spacing of the grid in the logarithm of the damage; intervals below 5 % are widened to it."""
NATURAL_SCALES = (0.5, 1.0, 2.0)
"""Sound cages are uneven in different degrees, each as likely: factors on the scale."""
NATURAL_REACH = 8.0
"""Range of natural unevenness in units of its scale: one sound cage in 9000 lies beyond."""
NATURAL_POINTS = 28
APART_POINTS = 5


@dataclass(frozen=True, slots=True)
class States:
    """The grid; arrays of shape (n_states,), the sound ones first."""

    natural_bars: float
    """Scale of the natural unevenness of a sound cage, open bars."""
    pattern: NDArray[np.int64]
    """Index into ``tuple(DamagePattern)``."""
    bars: RealArray
    """Open bars by kernel K2."""
    low: RealArray
    """Lower end of the cell in open bars."""
    high: RealArray
    """Upper end of the cell."""
    weight: RealArray
    """Probability within the pattern; sums to 1 for every pattern."""
    expected: Mapping[Family, RealArray]
    """What a family would read, in its own open-bar equivalents."""

    def prior(self, prior: Prior) -> RealArray:
        """Return the probability of every state under a prior."""
        by_pattern = np.array([prior.probabilities()[p] for p in DamagePattern])
        return np.asarray(self.weight * by_pattern[self.pattern])

    @property
    def as_damaged(self) -> RealArray:
        """Return the probability of every state among damaged ones, by the default shares.

        Also that of what the shape of a sound rotor imitates: the lines at the fundamental do not
        tell one from the other, whatever their size.
        """
        total = sum(DEFAULT_SHARES.values())
        shares = np.array([DEFAULT_SHARES.get(p, 0.0) / total for p in DamagePattern])
        return np.asarray(self.weight * shares[self.pattern])

    @property
    def sound(self) -> NDArray[np.bool_]:
        """Which states are those of a sound cage."""
        return np.asarray(self.pattern == _index(DamagePattern.SOUND))


@lru_cache(maxsize=64)
def states_of(natural_bars: float, mixed_share: float) -> States:
    """Return the grid for cages whose natural unevenness has this scale.

    Parameters
    ----------
    natural_bars
        Scale of the Rayleigh distribution of the open-bar equivalent of a sound cage: bars that
        differ add up as a random walk of phasors (docs/theory/plan.md, equation 7).
    mixed_share
        Part of the damage that is mixed (:data:`MIXED_SHOWS`), 0 to 1.
    """
    edges = natural_bars * np.linspace(0.0, NATURAL_REACH, NATURAL_POINTS + 1)
    scaled = edges / (natural_bars * np.array(NATURAL_SCALES)[:, np.newaxis])
    chance = -np.diff(np.exp(-0.5 * scaled**2)).mean(axis=0)
    blocks = [_cells(DamagePattern.SOUND, edges, chance)]
    for pattern, (low, high) in RANGES.items():
        count = max(4, math.ceil(math.log(high / low) / LOG_STEP))
        edges = np.geomspace(low, high, count + 1)
        decay = np.exp(-np.maximum(edges[1:] - 3.0, 0.0))
        blocks += [
            _cells(pattern, edges, share * decay, in_the_way, shows)
            for in_the_way in AT_REST
            for shows, share in _shown(mixed_share)
        ]
    apart = np.linspace(*APART_SEES, APART_POINTS + 1)
    blocks += [_cells(DamagePattern.APART, apart, np.ones(APART_POINTS)) for _ in APART_BARS]
    columns = [np.concatenate(part) for part in zip(*blocks, strict=True)]
    found = columns[0].astype(np.int64)
    bars = 0.5 * (columns[1] + columns[2])
    others = np.zeros(bars.size)
    others[found == _index(DamagePattern.APART)] = np.repeat(APART_BARS, APART_POINTS)
    return States(
        natural_bars=natural_bars,
        pattern=found,
        bars=bars,
        low=columns[1],
        high=columns[2],
        weight=_normalised(columns[3], found),
        expected=_expected(bars, others, columns[4], columns[5]),
    )


def _shown(mixed_share: float) -> list[tuple[float, float]]:
    """Return parts of the damage that the 5th and 7th show, and how probable each is."""
    each = mixed_share / len(MIXED_SHOWS)
    return [(1.0, 1.0 - mixed_share), *((shows, each) for shows in MIXED_SHOWS if each > 0.0)]


def _cells(
    pattern: DamagePattern,
    edges: RealArray,
    weight: RealArray,
    in_the_way: float = 0.0,
    shows: float = 1.0,
) -> tuple[RealArray, ...]:
    """Return the cells between edges, six arrays of shape (n_cells,).

    Pattern index, lower and upper ends, weights, impedance in the way at rest, part that the 5th
    and 7th show.
    """
    constants = (np.full(weight.size, x) for x in (float(_index(pattern)), in_the_way, shows))
    index, way, part = constants
    return index, edges[:-1], edges[1:], weight, way, part


def _normalised(weight: RealArray, pattern: NDArray[np.int64]) -> RealArray:
    """Return weights that sum to 1 within every pattern."""
    return np.asarray(weight / np.bincount(pattern, weights=weight)[pattern])


def _index(pattern: DamagePattern) -> int:
    """Return the place of a pattern."""
    return tuple(DamagePattern).index(pattern)


def _expected(
    bars: RealArray, others: RealArray, in_the_way: RealArray, shows: RealArray
) -> dict[Family, RealArray]:
    """Return what every family would read of every state.

    ``others`` is what kernels other than K2 see of bars apart, 0 where bars are adjacent;
    ``in_the_way`` is one of :data:`AT_REST` and ``shows`` 1 or one of :data:`MIXED_SHOWS`.
    """
    apart = others > 0.0
    at_rest = np.where(apart, bars, _at_rest(bars, in_the_way))
    fourth_order_too = np.hypot(at_rest, others)
    counted = np.where(apart, others, bars * shows)
    counted_at_rest = np.where(apart, others, at_rest)
    return {
        Family.DIRECT: bars,
        Family.DIRECT_CURRENTS: bars,
        Family.SIDE_LINES: bars,
        Family.HARMONIC: counted,
        Family.START_LINE: at_rest,
        Family.START_CHANGE: counted_at_rest,
        Family.POSITION: fourth_order_too,
        Family.MEAN: counted_at_rest,
    }


def _at_rest(bars: RealArray, in_the_way: RealArray) -> RealArray:
    """Return what adjacent damage shows at the slips of a start and at rest, open bars.

    What is open shows there as well. A crack loses ``c = (r - 1) / r`` of the current of its bar at
    full speed and ``(r - 1) / |r + j z| = c / sqrt(1 + (z (1 - c))^2)`` there. Below one bar all is
    crack; of more, :data:`CRACKED_BESIDE` is.
    """
    crack = np.where(bars < 1.0, bars, CRACKED_BESIDE)
    return np.asarray(bars - crack + crack / np.hypot(1.0, in_the_way * (1.0 - crack)))
