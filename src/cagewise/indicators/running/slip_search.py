"""Which slip the families agree on, and how likely that agreement is an accident.

Every record has lines that have nothing to do with this motor's speed ("strays"). A stray in one
family is harmless; two strays that by accident read the same slip in two families are a wrong
answer. So the evidence of a family for a slip s is not the height of its line (any stray may be
high) but how closely a line stands where s wants it, against how many lines of comparable strength
stand about in that family's own part of this record (docs/theory/slip.md, section 3)::

    evidence_F(s) = ln( 1/2 + 1/2  max_i  N(s; s_i, sigma_i) / lambda_i )

with lambda_i the density of strays of that strength per unit of slip. The constant
term is the family that shows no line of this motor at all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from cagewise.indicators.running.slip_families import Family, Readings
from cagewise.quantities import RealArray

VISIBLE = 0.5
"""Prior probability that a family shows a line of a motor; nothing speaks for another value."""
SAME_DEVIATIONS = 4.0
"""Readings closer than this many standard deviations are one and the same slip."""
SUPPORT_NATS = 3.0
"""Evidence from which a family counts as agreeing: 20 to 1."""
COMPARABLE = 0.1
"""Strays count from this part of a line's strength: a stray that is a little weaker says as much
about how full of strays the record is as one that is a little stronger."""
FLAT_SHARE = 0.2
"""Weight of "somewhere in the window, whatever the power says": a wrong nameplate, a hot rotor."""
LARGEST_PARTNER = 3.0
"""Most that the partner of a cage line beside a harmonic adds, nats: 20 to 1."""
LARGEST_EXACT_COUNT = 1500
"""Above this many readings (all numbers of bars tried) strays are counted by rank alone."""


@dataclass(frozen=True, slots=True)
class Support:
    """One reading that supports a candidate."""

    family: Family
    slip: float
    deviation: float
    evidence_nats: float
    line_nats: float
    width: float
    origin: float
    slope: float
    rotor_bars: int
    follow_nats: float = 0.0
    """Log-likelihood ratio that the line follows the torque; part of the evidence."""

    @property
    def order(self) -> float:
        """Order at which the line stands."""
        return self.origin + self.slope * self.slip


@dataclass(frozen=True, slots=True)
class SlipPrior:
    """Where the measured power lets the slip be expected: lognormal on a flat ground."""

    middle: float
    spread: float
    """Standard deviation of the logarithm."""

    def log_density(self, slips: RealArray, window: tuple[float, float]) -> RealArray:
        """Return the log density over that of a flat prior over the window."""
        low, high = window
        z = np.log(slips / self.middle) / self.spread
        bell = np.exp(-0.5 * z**2) / (np.sqrt(2.0 * np.pi) * self.spread * slips)
        return np.asarray(np.log(FLAT_SHARE + (1.0 - FLAT_SHARE) * bell * (high - low)))


@dataclass(frozen=True, slots=True)
class Candidate:
    """One slip on which lines agree."""

    slip: float
    deviation: float
    evidence_nats: float
    """Sum over the families."""
    log_mass: float
    """Log of posterior mass before normalisation (prior relative to a flat one)."""
    supports: tuple[Support, ...]
    """The families that agree."""

    @property
    def families(self) -> tuple[Family, ...]:
        """Names of the families that agree."""
        return tuple(support.family for support in self.supports)

    @property
    def rotor_bars(self) -> int:
        """Number of bars the slot line implies, 0 without one."""
        return max((s.rotor_bars for s in self.supports), default=0)


@dataclass(frozen=True, slots=True)
class Search:
    """Outcome of the search in one window."""

    candidates: tuple[Candidate, ...]
    """By falling posterior mass, each a different slip."""
    log_odds: float
    """Log odds of the first candidate against everything else, no line at all included (nats)."""
    window: tuple[float, float]


def search_slip(
    families: list[Readings],
    window: tuple[float, float],
    least_distance: float,
    prior: SlipPrior | None = None,
) -> Search:
    """Return the slips on which the families agree.

    Parameters
    ----------
    families
        Readings of each family.
    window
        Where the slip can be.
    least_distance
        Slips closer than this are not rivals.
    prior
        Where the power lets the slip be expected; None for a flat prior over the window.
    """
    low, high = window
    log_weight = [log_weights(readings) for readings in families]
    start = _starting_points(families, low, high)
    if start.slip.size == 0:
        return Search((), -np.inf, window)
    mean, spread = _joined(families, log_weight, start)
    keep = (mean >= low) & (mean <= high)
    mean, spread = mean[keep], spread[keep]
    if mean.size == 0:
        return Search((), -np.inf, window)
    terms = [_evidence(r, w, mean) for r, w in zip(families, log_weight, strict=True)]
    evidence = np.sum([best for best, _ in terms], axis=0)
    log_mass = evidence + 0.5 * np.log(2.0 * np.pi) + np.log(spread)
    if prior is not None:
        log_mass += prior.log_density(mean, window)
    chosen = _distinct(mean, spread, log_mass, least_distance)
    floor = np.log(high - low) + len(families) * np.log(1.0 - VISIBLE)
    rest = logsumexp([floor, *log_mass[chosen[1:]]])
    candidates = tuple(
        Candidate(
            float(mean[i]),
            float(spread[i]),
            float(evidence[i]),
            float(log_mass[i]),
            _supports(families, terms, i),
        )
        for i in chosen
    )
    return Search(candidates, float(log_mass[chosen[0]] - rest), window)


def log_weights(readings: Readings) -> RealArray:
    """Return ``ln(VISIBLE / lambda_i)`` of every reading.

    What the channel and the course of the line say is included: strays that stand where the winding
    shows lines, or that follow the torque of this motor, are rarer.

    One stray is added to the count: that none was seen does not prove that there are none.
    """
    span = VISIBLE * readings.span
    likelier = readings.log_prior + readings.follow_nats
    return np.asarray(np.log(span / (1.0 + _strays(readings))) + likelier)


def with_partners(readings: Readings) -> Readings:
    """Return readings of which those count for more whose partner beside the same harmonic agrees.

    A cage makes both lines beside the 5th harmonic (4s and 6s off it) and both beside the 7th. What
    is read with the wrong b has no partner. What the partner adds is bounded: a rich comb of a
    pulsating load holds pairs of any ratio.
    """
    n = readings.slip.size
    if n == 0:
        return readings
    partner = readings.origin[:, None] == readings.origin
    partner &= readings.slope[:, None] != readings.slope
    variance = readings.deviation[:, None] ** 2 + readings.deviation**2
    squared = (readings.slip[:, None] - readings.slip) ** 2 / variance
    score = log_weights(readings) - 0.5 * (squared + np.log(2.0 * np.pi * variance))
    best = np.max(np.where(partner, score, -np.inf), axis=1)
    gain = np.minimum(np.logaddexp(np.log(1.0 - VISIBLE), best), LARGEST_PARTNER)
    return replace(readings, log_prior=readings.log_prior + gain)


def _strays(readings: Readings) -> RealArray:
    """Return how many readings of other lines compete with each reading, shape (n_readings,).

    A line that reads the same slip in any channel is no stray, and neither is what it reads in the
    other channels.
    """
    n = readings.slip.size
    comparable = readings.nats[None, :] >= COMPARABLE * readings.nats[:, None]
    if n == 0 or n > LARGEST_EXACT_COUNT:
        return np.asarray(np.sum(comparable, axis=1) - 1.0)
    apart = np.abs(readings.slip[:, None] - readings.slip[None, :])
    both = np.hypot(readings.deviation[:, None], readings.deviation[None, :])
    same_slip = apart <= SAME_DEVIATIONS * both
    _, line = np.unique(np.round(readings.order, 6), return_inverse=True)
    members = np.zeros((n, int(line.max()) + 1), dtype=np.float32)
    members[np.arange(n), line] = 1.0
    explained = (same_slip.astype(np.float32) @ members) > 0.0
    return np.asarray(np.sum(comparable & ~explained[:, line], axis=1), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Start:
    """Every reading inside the window; arrays of shape (n_starts,)."""

    slip: RealArray
    deviation: RealArray
    family: NDArray[np.intp]
    """Index of the family it comes from."""


def _starting_points(families: list[Readings], low: float, high: float) -> _Start:
    """Return every reading inside the window."""
    slip = np.concatenate([r.slip for r in families])
    deviation = np.concatenate([r.deviation for r in families])
    family = np.repeat(np.arange(len(families)), [r.slip.size for r in families])
    inside = (slip >= low) & (slip <= high)
    return _Start(slip[inside], deviation[inside], family[inside])


def _joined(
    families: list[Readings], weights: list[RealArray], start: _Start
) -> tuple[RealArray, RealArray]:
    """Return each starting point joined with the best agreeing reading of every other family."""
    weight = start.deviation**-2
    moment = start.slip * weight
    for k, (readings, log_weight) in enumerate(zip(families, weights, strict=True)):
        if readings.slip.size == 0:
            continue
        variance = readings.deviation[None, :] ** 2 + start.deviation[:, None] ** 2
        squared = (start.slip[:, None] - readings.slip[None, :]) ** 2 / variance
        score = log_weight[None, :] - 0.5 * (squared + np.log(2.0 * np.pi * variance))
        best = np.argmax(score, axis=1)
        rows = np.arange(start.slip.size)
        close = (squared[rows, best] <= SAME_DEVIATIONS**2) & (score[rows, best] > 0.0)
        joins = close & (start.family != k)
        its_weight = np.where(joins, readings.deviation[best] ** -2, 0.0)
        weight = weight + its_weight
        moment = moment + its_weight * readings.slip[best]
    return moment / weight, weight**-0.5


def _evidence(
    readings: Readings, log_weight: RealArray, slips: RealArray
) -> tuple[RealArray, NDArray[np.intp]]:
    """Return the evidence of a family at each slip and the reading it rests on (-1: none)."""
    absent = np.log(1.0 - VISIBLE)
    if readings.slip.size == 0:
        return np.full(slips.size, absent), np.full(slips.size, -1)
    z = (slips[:, None] - readings.slip[None, :]) / readings.deviation[None, :]
    normal = -0.5 * z**2 - np.log(np.sqrt(2.0 * np.pi) * readings.deviation[None, :])
    score = log_weight[None, :] + normal
    best = np.argmax(score, axis=1)
    value = score[np.arange(slips.size), best]
    return np.logaddexp(absent, value), np.where(value > absent, best, -1)


def _distinct(
    mean: RealArray, spread: RealArray, log_mass: RealArray, least_distance: float
) -> list[int]:
    """Return the indices of different slips, by falling mass."""
    chosen: list[int] = []
    for i in np.argsort(-log_mass):
        others = np.asarray(chosen, dtype=np.intp)
        apart = np.maximum(least_distance, SAME_DEVIATIONS * np.hypot(spread[i], spread[others]))
        if not np.any(np.abs(mean[i] - mean[others]) <= apart):
            chosen.append(int(i))
    return chosen


def _supports(
    families: list[Readings], terms: list[tuple[RealArray, NDArray[np.intp]]], index: int
) -> tuple[Support, ...]:
    """Return the readings that support one candidate."""
    supports = []
    for readings, (evidence, best) in zip(families, terms, strict=True):
        j = int(best[index])
        if j < 0 or evidence[index] < SUPPORT_NATS:
            continue
        supports.append(
            Support(
                family=readings.family,
                slip=float(readings.slip[j]),
                deviation=float(readings.deviation[j]),
                evidence_nats=float(evidence[index]),
                line_nats=float(readings.nats[j]),
                width=float(readings.width[j]),
                origin=float(readings.origin[j]),
                slope=float(readings.slope[j]),
                rotor_bars=int(readings.rotor_bars[j]),
                follow_nats=float(readings.follow_nats[j]),
            )
        )
    return tuple(supports)
