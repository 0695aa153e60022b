"""Whether the pattern moves with the pairs of terminals, as the rotor does, or stays.

The three coefficients of one order, one per pair, are three symmetrical components: one that moves
120 electrical degrees from pair to pair (the rotor), one that moves the other way (pairs exchanged,
or the shaft turned backwards), one that stays. Derivation: ``docs/theory/position-pattern.md``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from cagewise.indicators.standstill.fit import N_WAVES, PairFit
from cagewise.indicators.standstill.series import PAIR_ORDER
from cagewise.machine.cage.standstill import SHIFT_OF_THE_NEXT_PAIR_RAD
from cagewise.machine.positions import DAMAGE_ORDERS
from cagewise.quantities import RealArray


class Movement(Enum):
    """How a pattern goes from one pair of terminals to the next."""

    WITH_ROTOR = 1
    STAYS = 0
    BACKWARDS = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """The part of the patterns of all pairs that moves in one way, relative to the means."""

    movement: Movement
    pattern: RealArray
    """cos 2, sin 2, cos 4, sin 4 as terminals a-b show them, shape (4,)."""
    covariance: RealArray
    """Of the pattern, scatter included, shape (4, 4)."""
    freedom: int
    """Degrees of freedom of the scatter, all pairs together."""
    explained: float
    """Weighted sum of squares of the pairs' patterns that it explains, over their variance."""
    left: float
    """The same, not explained."""
    n_pairs: int

    def amplitude(self, order: int) -> float:
        """Return the amplitude of one order over the mean."""
        return float(np.linalg.norm(self.of(order)))

    def of(self, order: int) -> RealArray:
        """Return cosine and sine of one order, shape (2,)."""
        place = 2 * DAMAGE_ORDERS.index(order)
        return self.pattern[place : place + 2]

    def spread(self, order: int) -> RealArray:
        """Return the covariance of one order, shape (2, 2)."""
        place = 2 * DAMAGE_ORDERS.index(order)
        return self.covariance[place : place + 2, place : place + 2]

    @property
    def false_alarm_probability(self) -> float:
        """F test of orders 2 and 4 against the residual."""
        from scipy.special import fdtrc

        return float(fdtrc(N_WAVES, self.freedom, self.explained / N_WAVES))

    def order_probability(self, order: int) -> float:
        """Return the F test of one order alone."""
        from scipy.special import fdtrc

        pattern, spread = self.of(order), self.spread(order)
        statistic = float(pattern @ np.linalg.solve(spread, pattern)) / 2.0
        return float(fdtrc(2, self.freedom, statistic))

    @property
    def misfit_probability(self) -> float:
        """F test of what does not move like this; 1 with one pair only."""
        from scipy.special import fdtrc

        freedom = N_WAVES * (self.n_pairs - 1)
        return float(fdtrc(freedom, self.freedom, self.left / freedom)) if freedom else 1.0

    @property
    def share(self) -> float:
        """Explained over all."""
        return self.explained / (self.explained + self.left)


def detection_factor(probability: float, freedom: int) -> float:
    """Return amplitude over standard deviation that 95 of 100 tests of four waves will find."""
    from scipy.special import fdtri, ndtri

    critical = float(fdtri(N_WAVES, freedom, 1.0 - probability))
    return math.sqrt(N_WAVES * critical) + float(ndtri(0.95))


def component(fits: Sequence[PairFit], movement: Movement) -> Component:
    """Return the part of the pairs' patterns that moves in one way, by weighted least squares.

    The scatter of a reading, over its mean, is taken to be the same on all pairs.
    """
    freedom = sum(fit.sampling.freedom for fit in fits)
    variance = sum(fit.sum_of_squares for fit in fits) / freedom
    turned = [_turn(fit, movement) for fit in fits]
    weights = [np.linalg.inv(variance * fit.spread) for fit in fits]
    information = sum(
        (t.T @ w @ t for t, w in zip(turned, weights, strict=True)), np.zeros((N_WAVES, N_WAVES))
    )
    pull = sum(
        (t.T @ w @ f.pattern for t, w, f in zip(turned, weights, fits, strict=True)),
        np.zeros(N_WAVES),
    )
    pattern = np.asarray(np.linalg.solve(information, pull), dtype=np.float64)
    whole = sum(float(f.pattern @ w @ f.pattern) for w, f in zip(weights, fits, strict=True))
    explained = float(pattern @ pull)
    return Component(
        movement=movement,
        pattern=pattern,
        covariance=np.asarray(np.linalg.inv(information), dtype=np.float64),
        freedom=freedom,
        explained=explained,
        left=max(whole - explained, 0.0),
        n_pairs=len(fits),
    )


def _turn(fit: PairFit, movement: Movement) -> RealArray:
    """Return the matrix from the pattern of a-b to that of this pair, shape (4, 4)."""
    place = PAIR_ORDER.index(fit.readings.pair)
    matrix = np.zeros((N_WAVES, N_WAVES))
    for k, order in enumerate(DAMAGE_ORDERS):
        late = movement.value * order * place * SHIFT_OF_THE_NEXT_PAIR_RAD
        c, s = math.cos(late), math.sin(late)
        matrix[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] = [[c, -s], [s, c]]
    return matrix
