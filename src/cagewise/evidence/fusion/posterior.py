"""What fusion gives: probabilities by pattern, the damage, and the rates of its own stratum."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from cagewise.evidence.fusion.patterns import DamagePattern, Prior
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown


class Channels(StrEnum):
    """What was recorded of the running motor."""

    VOLTAGES_AND_CURRENTS = "V and I"
    CURRENTS = "currents"
    ONE_CURRENT = "one current"
    NONE = "not recorded running"
    UNKNOWN = "not stated"

    @classmethod
    def of(cls, currents: int, voltages: int) -> Channels:
        """Return the kind of a record with so many currents and voltages."""
        if currents == 0:
            return cls.NONE
        if voltages > 0 and currents > 1:
            return cls.VOLTAGES_AND_CURRENTS
        return cls.CURRENTS if currents > 1 else cls.ONE_CURRENT


class LoadBand(StrEnum):
    """Load of the running motor over its rating."""

    LIGHT = "below 25 %"
    MIDDLE = "25 to 50 %"
    HEAVY = "50 % and more"
    NONE = "not recorded running"
    UNKNOWN = "not known"
    ANY = "any"
    """All of the above together: only in what rates are quoted from."""

    @classmethod
    def of(cls, load_fraction: Estimate | NotKnown | None) -> LoadBand:
        """Return the band of a load."""
        if not isinstance(load_fraction, Estimate):
            return cls.UNKNOWN
        if load_fraction.value < 0.25:
            return cls.LIGHT
        return cls.MIDDLE if load_fraction.value < 0.5 else cls.HEAVY


class SourceKind(StrEnum):
    """What a reading was taken on."""

    RUNNING = "running"
    START = "start"
    SHEET = "sheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """The kind of visit for which rates are quoted."""

    channels: Channels = Channels.UNKNOWN
    load: LoadBand = LoadBand.UNKNOWN
    sources: tuple[SourceKind, ...] = ()
    """Kinds of sources that gave a reading, in the order of :class:`SourceKind`."""
    converter_fed: bool = False

    def with_sources(self, kinds: Iterable[SourceKind]) -> Stratum:
        """Return the stratum of a visit whose readings come from these kinds of sources."""
        found = set(kinds)
        sources = tuple(kind for kind in SourceKind if kind in found)
        if SourceKind.RUNNING in found:
            return replace(self, sources=sources)
        return Stratum(
            channels=Channels.NONE,
            load=LoadBand.NONE,
            sources=sources,
            converter_fed=self.converter_fed,
        )

    @classmethod
    def merged(cls, strata: Iterable[Stratum]) -> Stratum:
        """Return the stratum of a visit: the best recorded and most heavily loaded record."""
        strata = tuple(strata)
        running = [s for s in strata if SourceKind.RUNNING in s.sources]
        best = max(running, key=_worth, default=cls())
        fed = any(s.converter_fed for s in strata)
        return replace(best, converter_fed=fed).with_sources(k for s in strata for k in s.sources)

    def coarser(self) -> Iterator[Stratum]:
        """Yield the strata whose rates are quoted where this one has too few, the nearest first.

        The same sources at any load; then the running record alone, at this load and at any. Never
        other channels, and never another way of feeding the motor.
        """
        if SourceKind.RUNNING not in self.sources:
            return
        yield replace(self, load=LoadBand.ANY)
        if self.sources != (SourceKind.RUNNING,):
            alone = replace(self, sources=(SourceKind.RUNNING,))
            yield alone
            yield replace(alone, load=LoadBand.ANY)

    def __str__(self) -> str:
        fed = ", converter-fed" if self.converter_fed else ""
        read = " and ".join(self.sources) or "nothing read"
        if SourceKind.RUNNING not in self.sources:
            return f"{read}{fed}"
        load = "any load" if self.load is LoadBand.ANY else f"load {self.load}"
        return f"{read}, {self.channels}, {load}{fed}"


def _worth(stratum: Stratum) -> tuple[int, int, bool]:
    """Return how much a running record of a stratum tells."""
    channels = (
        Channels.VOLTAGES_AND_CURRENTS,
        Channels.CURRENTS,
        Channels.ONE_CURRENT,
        Channels.UNKNOWN,
        Channels.NONE,
    )
    loads = (
        LoadBand.HEAVY,
        LoadBand.MIDDLE,
        LoadBand.UNKNOWN,
        LoadBand.LIGHT,
        LoadBand.NONE,
        LoadBand.ANY,
    )
    return -channels.index(stratum.channels), -loads.index(stratum.load), stratum.converter_fed


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """How often something happened, with its 95 % interval."""

    events: int
    """k."""
    cases: int
    """n; 0 when there were none."""

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's 95 % interval; (0, 1) without cases.

        Source: Wilson, J. American Statistical Association 22, 1927 (from memory).
        """
        if self.cases == 0:
            return 0.0, 1.0
        n, z2 = float(self.cases), NORMAL_COVERAGE_FACTOR**2
        share = self.events / n
        centre = (share + 0.5 * z2 / n) / (1.0 + z2 / n)
        spread = math.sqrt(share * (1.0 - share) / n + 0.25 * z2 / n**2)
        half = NORMAL_COVERAGE_FACTOR * spread / (1.0 + z2 / n)
        low = 0.0 if self.events == 0 else max(0.0, centre - half)
        high = 1.0 if self.events == self.cases else min(1.0, centre + half)
        return low, high

    @property
    def estimate(self) -> Estimate | NotKnown:
        """The rate with Wilson's interval, per unit."""
        if self.cases == 0:
            return NotKnown("no case of this kind in the study")
        return Estimate(self.events / self.cases, *self.interval)


_NO_CASES = Rate(events=0, cases=0)

LEAST_CASES = 20
"""Sound and damaged motors that a stratum of the study must have before its rates are quoted and
its probabilities count as calibrated: none wrong of 20 bounds a rate at 16 % (Wilson)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StratumRates:
    """What the study found in one stratum."""

    stratum: Stratum
    false_calls: Rate
    """Sound motors that were called suspect or defective."""
    missed: Rate
    """Motors with one open bar or more that were called sound."""
    undecided: Rate
    """Motors about which nothing was decided, sound or not."""

    @property
    def enough(self) -> bool:
        """Whether there are enough motors of either kind to quote a rate."""
        return min(self.false_calls.cases, self.missed.cases) >= LEAST_CASES


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What all readings say together, under a stated prior."""

    probabilities: Mapping[DamagePattern, float]
    """By pattern; they sum to 1."""
    open_bars: Estimate
    """Damage by kernel K2 in open bars: median and 95 % credible interval."""
    prior: Prior
    calibrated: bool
    """Whether the truth study covers this stratum with enough cases."""
    not_calibrated_because: str = ""
    """Why not, in one clause; empty when calibrated."""
    stratum: Stratum
    rates_stratum: Stratum
    """Where the rates were counted: the stratum itself, or the nearest coarser one
    (:meth:`Stratum.coarser`) where the study has too few motors of this kind."""
    false_call_rate: Rate
    """Sound motors of ``rates_stratum`` that the study called suspect or defective."""
    missed_rate: Rate
    """Motors of ``rates_stratum`` with one open bar or more that the study called sound."""
    undecided_rate: Rate = _NO_CASES
    """Motors of ``rates_stratum``, sound or not, about which the study decided nothing."""
    guard: float
    """The probability of a defect is kept this far from 1, and as far from 0 as this is at even
    odds: the study supports no more."""
    guarded: bool
    """Whether the guard was needed."""
    heard: tuple[str, ...]
    """Names of the readings that were heard, one per class."""
    shape_share: float
    """Part of the probability of a *sound* cage in which the shape of the rotor made the lines."""

    @property
    def probability_of_defect(self) -> float:
        """Return 1 less the probability of a sound cage."""
        return 1.0 - self.probabilities[DamagePattern.SOUND]

    def at_prevalence(self, prevalence: float) -> float:
        """Return the probability of a defect had defects been as common as this before.

        The odds scale with those of the prior; the guard holds as before.
        """
        said = self.probability_of_defect
        odds = said / max(1.0 - said, 1e-300)
        odds *= prevalence / (1.0 - prevalence) * (1.0 - self.prior.prevalence)
        odds /= self.prior.prevalence
        return min(odds / (1.0 + odds), max(1.0 - self.guard, said))
