"""How good were our calls? Against what was found when motors were opened (trend.md, 11)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cagewise.decision.verdict import State
from cagewise.evidence.fusion.posterior import Rate
from cagewise.history.limits import PlantLimits, plant_limits
from cagewise.quantities import Estimate, NotKnown

BANDS = (0.0, 0.05, 0.2, 0.5, 0.8, 1.0)
"""Ends of the bands of probability in which calls are counted; closed above."""
CALLED = frozenset({State.SUSPECT, State.DEFECTIVE})
"""States that warn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One motor that was opened: our last call before, and what was found."""

    state: State
    """Our call."""
    defective: bool
    """Whether the cage was found defective."""
    because_of_call: bool
    """Whether it was opened because of our call; False for another reason."""
    probability: float | None = None
    """Our probability of a defect."""
    damage_bars: Estimate | None = None
    """Our damage."""
    found_bars: float | None = None
    """Bars found broken; None where nobody counted, 0 for none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StateOutcome:
    """What was found behind one call."""

    state: State
    found_defective: Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Calls of similar probability."""

    low: float
    high: float
    mean_probability: float
    """What we said, on average."""
    found_defective: Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class BrierScore:
    """Mean squared error of the probabilities: 0 is perfect."""

    score: float
    reference: float
    """Score of saying the same share for every motor, each left out of its own share."""
    gain: Estimate
    """Reference less score: above zero where the probabilities tell more than the share."""
    cases: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BarErrors:
    """How well the damage was told, of motors whose broken bars were counted."""

    cases: int
    median_error_bars: float
    """Ours less found."""
    median_absolute_error_bars: float
    interval_held: Rate
    """Found number within our 95 % interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CallReport:
    """Our calls against what was found."""

    outcomes: int
    by_state: tuple[StateOutcome, ...]
    right_warnings: Estimate | NotKnown
    """Share of defective cages among those that we warned of."""
    missed: Estimate | NotKnown
    """Share of defective cages that we called sound; only of motors opened for another reason."""
    false_warnings: Estimate | NotKnown
    """Share of sound cages that we warned of; only of motors opened for another reason."""
    undecided: Estimate | NotKnown
    """Share of motors about which we decided nothing."""
    bands: tuple[Band, ...]
    brier: BrierScore | NotKnown
    bars: BarErrors | NotKnown
    surprising: bool | NotKnown
    """Whether some band found a share that our probability is not compatible with (95 %)."""


def report_calls(outcomes: Sequence[Outcome], limits: PlantLimits | None = None) -> CallReport:
    """Return how good our calls were; limits in force where None."""
    least = (limits or plant_limits()).least_outcomes
    other = [o for o in outcomes if not o.because_of_call]
    bands = _bands(outcomes)
    return CallReport(
        outcomes=len(outcomes),
        by_state=tuple(
            StateOutcome(
                state=state,
                found_defective=_rate([o.defective for o in outcomes if o.state is state]),
            )
            for state in State
        ),
        right_warnings=_share(
            [o.defective for o in outcomes if o.state in CALLED], least, "motors that we warned of"
        ),
        missed=_share(
            [o.state is State.SOUND for o in other if o.defective],
            least,
            "defective motors opened for another reason than our call",
        ),
        false_warnings=_share(
            [o.state in CALLED for o in other if not o.defective],
            least,
            "sound motors opened for another reason than our call",
        ),
        undecided=_share([o.state is State.NOT_DECIDABLE for o in outcomes], least, "motors"),
        bands=bands,
        brier=_brier(outcomes, least),
        bars=_bar_errors(outcomes, least),
        surprising=_surprising(bands, least),
    )


def _rate(events: Sequence[bool]) -> Rate:
    """Return how often something happened."""
    return Rate(events=sum(events), cases=len(events))


def _too_few(cases: int, least: int, what: str) -> NotKnown:
    """Return that there are too few cases, with the numbers."""
    return NotKnown(f"too few: {cases} {what}, of at least {least}")


def _share(events: Sequence[bool], least: int, what: str) -> Estimate | NotKnown:
    """Return a share with Wilson's interval, or that there are too few cases."""
    if len(events) < least:
        return _too_few(len(events), least, what)
    return _rate(events).estimate


def _bands(outcomes: Sequence[Outcome]) -> tuple[Band, ...]:
    """Return the calls by band of probability, bands without calls left out."""
    bands = []
    for low, high in pairwise(BANDS):
        mine = [
            (o.probability, o.defective)
            for o in outcomes
            if o.probability is not None
            and (low < o.probability <= high or (low == 0.0 and o.probability == 0.0))
        ]
        if mine:
            said = float(np.mean([probability for probability, _ in mine]))
            found = _rate([defective for _, defective in mine])
            bands.append(Band(low=low, high=high, mean_probability=said, found_defective=found))
    return tuple(bands)


def _brier(outcomes: Sequence[Outcome], least: int) -> BrierScore | NotKnown:
    """Return the Brier score with its reference."""
    known = [(o.probability, o.defective) for o in outcomes if o.probability is not None]
    if len(known) < max(least, 2):
        return _too_few(len(known), least, "motors with a probability")
    said, found = np.array(known, dtype=float).T
    n = len(known)
    others = (found.sum() - found) / (n - 1)
    errors, references = (said - found) ** 2, (others - found) ** 2
    gain = references - errors
    return BrierScore(
        score=float(errors.mean()),
        reference=float(references.mean()),
        gain=Estimate.from_standard_deviation(
            float(gain.mean()), float(gain.std(ddof=1)) / float(np.sqrt(n))
        ),
        cases=n,
    )


def _bar_errors(outcomes: Sequence[Outcome], least: int) -> BarErrors | NotKnown:
    """Return how well the damage was told."""
    counted = [
        (o.damage_bars, o.found_bars)
        for o in outcomes
        if o.damage_bars is not None and o.found_bars is not None
    ]
    if len(counted) < least:
        return _too_few(len(counted), least, "motors with our damage and bars counted")
    errors = np.array([ours.value - found for ours, found in counted])
    held = [ours.low <= found <= ours.high for ours, found in counted]
    return BarErrors(
        cases=len(counted),
        median_error_bars=float(np.median(errors)),
        median_absolute_error_bars=float(np.median(np.abs(errors))),
        interval_held=_rate(held),
    )


def _surprising(bands: Sequence[Band], least: int) -> bool | NotKnown:
    """Return whether what was found contradicts what was said in some band with enough cases."""
    enough = [band for band in bands if band.found_defective.cases >= least]
    if not enough:
        most = max((band.found_defective.cases for band in bands), default=0)
        return _too_few(most, least, "motors in the fullest band of probability")
    outside = []
    for band in enough:
        low, high = band.found_defective.interval
        outside.append(not low <= band.mean_probability <= high)
    return any(outside)
