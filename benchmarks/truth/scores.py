"""How good the probabilities are: reliability, scores, coverage; and what the model leaves out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from cagewise.evidence.fusion.fuse import Fused, credible_bars, fuse, guarded
from cagewise.evidence.fusion.heard import Heard, leading
from cagewise.evidence.fusion.parameters import Calibrated, FusionParameters
from cagewise.evidence.fusion.patterns import DamagePattern, Family, Prior
from cagewise.evidence.fusion.posterior import Rate
from cagewise.quantities import RealArray
from truth.population import BLOCK, SCENARIOS
from truth.stored import OPEN, Case

SURE = 0.99
"""A probability beyond this, or below its complement, is a confident one."""
BINS = (0.0, 0.01, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99, 1.0)
LEAST = 1e-6
DIRECT = (Family.DIRECT, Family.DIRECT_CURRENTS)
SHAPED = dict(SCENARIOS)["ducts"] / BLOCK
"""Share of the study's motors whose rotor has a shape that makes the lines."""


def in_study(parameters: FusionParameters) -> FusionParameters:
    """Return parameters with the share of shaped rotors that the study has.

    It is a statement on a population, as the prevalence is, and takes the place of the stated one
    wherever that of the study does.
    """
    return replace(parameters, shape_outlier=SHAPED)


def prior_of(chosen: Sequence[Case]) -> Prior:
    """Return how common damage is among cases, half a case of every pattern added."""
    counts = Counter(case.pattern for case in chosen)
    damaged: dict[DamagePattern, float] = {
        p: counts[p] + 0.5 for p in DamagePattern if p is not DamagePattern.SOUND
    }
    total = sum(damaged.values())
    prevalence = total / (total + counts[DamagePattern.SOUND] + 0.5)
    return Prior(prevalence=prevalence, shares=damaged, source="the study itself")


def fused_all(parameters: FusionParameters, chosen: Sequence[Case]) -> list[Fused]:
    """Return the fusion of every case under the prior of these cases."""
    prior = prior_of(chosen)
    return [fuse(case.readings, prior, parameters) for case in chosen]


def wrong_and_sure(parameters: FusionParameters, chosen: Sequence[Case]) -> tuple[int, int]:
    """Return how many confident probabilities were wrong, and how many were confident."""
    told = [fused.defect for fused in fused_all(in_study(parameters), chosen)]
    sure = [(p, c.is_sound) for p, c in zip(told, chosen, strict=True) if abs(p - 0.5) > SURE - 0.5]
    return sum((p > 0.5) == is_sound for p, is_sound in sure), len(sure)


def report(calibrated: Calibrated, chosen: Sequence[Case]) -> Iterator[str]:
    """Yield the lines of the report."""
    parameters = calibrated.parameters
    visits = [c for c in chosen if not c.part_of_visit]
    yield f"{len(visits)} cases, {sum(bool(c.readings) for c in visits)} with a valid reading"
    yield from _parameters(parameters)
    for half in (0, 1):
        read = [c for c in visits if c.half == half and c.readings]
        if read:
            use = "fitted on" if half == 0 else "reported on"
            yield f"\nhalf {half} ({use}), {len(read)} cases"
            yield from _scores(in_study(parameters), read)
    yield "\nabstention by truth (refused of asked)"
    yield from _abstention(visits)
    yield "\nstrata: sound called suspect or defective; adjacent open bars called sound; undecided"
    for rates in calibrated.strata:
        counts = (rates.false_calls, rates.missed, rates.undecided)
        yield f"  {rates.stratum!s:58} " + "   ".join(_of(rate) for rate in counts)


def _parameters(parameters: FusionParameters) -> Iterator[str]:
    """Yield the parameters."""
    for name in FusionParameters.__dataclass_fields__:
        if name != "families":
            yield f"  {name:16} {getattr(parameters, name):.4g}"
    for family, model in parameters.families.items():
        yield (
            f"  {family:32} inflation {model.inflation:.2f} bias {model.bias:+.3f} "
            f"outlier {model.outlier:.4f} readings {model.readings}"
        )


def _scores(parameters: FusionParameters, read: Sequence[Case]) -> Iterator[str]:
    """Yield reliability, scores and coverage of one half."""
    fused, prior = fused_all(parameters, read), prior_of(read)
    unguarded = np.array([f.defect for f in fused])
    told = np.clip(unguarded, parameters.guard, 1.0 - parameters.guard)
    truth = np.array([not c.is_sound for c in read])
    yield from _reliability(told, truth)
    base = np.full(told.shape, prior.prevalence)
    yield f"  Brier {_brier(told, truth):.4f} (prevalence alone {_brier(base, truth):.4f})"
    yield f"  log score {_log(told, truth):.4f} nats (prevalence alone {_log(base, truth):.4f})"
    patterns = [f.by_pattern()[c.pattern] for f, c in zip(fused, read, strict=True)]
    yield f"  log score of the pattern {-np.mean(np.log(np.maximum(patterns, LEAST))):.4f} nats"
    yield f"  wrong beyond {SURE}, without the guard: {_of(_wrong(unguarded, truth))}"
    yield from _coverage(parameters, fused, read, prior)
    yield from _whole_bars(parameters, fused, read, prior)
    yield from _within_class(parameters, read, prior)
    stated = replace(parameters, shape_outlier=FusionParameters().shape_outlier)
    usual = np.array([fuse(c.readings, Prior(), stated).defect for c in read])
    open_bars = np.array([c.pattern in OPEN for c in read])
    yield (
        "  at the default prior, probability above one half: "
        f"sound {_of(_share(usual[~truth] > 0.5))}, adjacent open bars "
        f"{_of(_share(usual[open_bars] > 0.5))}"
    )


def _wrong(told: RealArray, truth: RealArray) -> Rate:
    sure = np.abs(told - 0.5) > SURE - 0.5
    return Rate(events=int(np.sum((told > 0.5)[sure] != truth[sure])), cases=int(sure.sum()))


def _reliability(told: RealArray, truth: RealArray) -> Iterator[str]:
    """Yield how often there was a defect where a probability was said."""
    yield "  probability said        mean     defects"
    for low, high in pairwise(BINS):
        inside = (told >= low) & ((told < high) | (high == 1.0))
        if inside.any():
            mean = float(told[inside].mean())
            yield f"  {low:4.2f} to {high:4.2f} {mean:12.3f}     {_of(_share(truth[inside]))}"


def _coverage(
    parameters: FusionParameters, fused: Sequence[Fused], read: Sequence[Case], prior: Prior
) -> Iterator[str]:
    """Yield how often intervals hold the truth."""
    credible = []
    for f, case in zip(fused, read, strict=True):
        kept = guarded(f.by_state, f.states.sound, prior, parameters.guard)
        bars = credible_bars(kept, f.states)
        credible.append((case, bars.low <= case.open_bars <= bars.high))
    yield f"  credible intervals that hold the truth: {_of(_share([ok for _, ok in credible]))}"
    for pattern in DamagePattern:
        of = [ok for case, ok in credible if case.pattern is pattern]
        yield f"    {pattern.value:14} {_of(_share(of))}"
    for family in (*DIRECT, Family.HARMONIC, Family.START_LINE, Family.POSITION):
        own = [
            one.bars.low <= case.open_bars <= one.bars.high
            for case in read
            for (one, *_) in leading(case.readings)
            if one.family is family and case.pattern is not DamagePattern.APART
        ]
        yield f"  own intervals, {family.value}: {_of(_share(own))}"


def _whole_bars(
    parameters: FusionParameters, fused: Sequence[Fused], read: Sequence[Case], prior: Prior
) -> Iterator[str]:
    """Yield how far the count of adjacent open bars is off."""
    off = []
    for f, case in zip(fused, read, strict=True):
        if case.pattern in OPEN and case.open_bars <= 3.0:
            kept = guarded(f.by_state, f.states.sound, prior, parameters.guard)
            off.append(abs(credible_bars(kept, f.states).value - case.open_bars) <= 0.5)
    yield f"  count within half a bar, one to three adjacent: {_of(_share(off))}"


def _within_class(
    parameters: FusionParameters, read: Sequence[Case], prior: Prior
) -> Iterator[str]:
    """Yield what hearing one reading of a class loses, against hearing all as independent."""
    truth = np.array([not c.is_sound for c in read])

    def score(readings: Sequence[Sequence[Heard]]) -> float:
        told = np.array([fuse(r, prior, parameters).defect for r in readings])
        return _log(np.clip(told, parameters.guard, 1.0 - parameters.guard), truth)

    lead = score([c.readings for c in read])
    independent = _log(np.array([_independent(c, prior, parameters) for c in read]), truth)
    lines = {*DIRECT, Family.SIDE_LINES}
    others = [
        [r for r in c.readings if r.family not in DIRECT]
        if sum(r.family in lines for r in c.readings) > 1
        else c.readings
        for c in read
    ]
    yield (
        f"  log score with the leading reading {lead:.4f}, with all of a class as if independent "
        f"{independent:.4f}, with side lines in the place of the direct component "
        f"{score(others):.4f}"
    )
    apart = replace(parameters, shared_sd=1e-6)
    told = np.array([fuse(c.readings, prior, apart).defect for c in read])
    told = np.clip(told, parameters.guard, 1.0 - parameters.guard)
    yield f"  log score without the shared factor {_log(told, truth):.4f}"


def _independent(case: Case, prior: Prior, parameters: FusionParameters) -> float:
    """Return the probability of a defect if all readings of a class were independent."""
    logs = np.log(np.maximum(fuse([], prior, parameters).by_state, 1e-300))
    base = logs.copy()
    named = {r.name: r for r in case.readings}
    for reading in named.values():
        logs = logs + np.log(np.maximum(fuse([reading], prior, parameters).by_state, 1e-300)) - base
    weights = np.exp(logs - logs.max())
    sound = fuse([], prior, parameters).states.sound
    found = float(weights[~sound].sum() / weights.sum())
    return min(max(found, parameters.guard), 1.0 - parameters.guard)


def _abstention(chosen: Sequence[Case]) -> Iterator[str]:
    """Yield how often the leading indicators refused, by truth: it should not depend on it."""
    for name in ("direct_component", "harmonic_lines", "start_side_line_track", "position_pattern"):
        parts = []
        for is_sound in (True, False):
            asked = [
                name in c.refused
                for c in chosen
                if c.is_sound is is_sound
                and (name in c.refused or any(r.name == name for r in c.readings))
            ]
            parts.append(f"{'sound' if is_sound else 'damaged'} {_of(_share(asked))}")
        yield f"  {name:24} " + "   ".join(parts)


def _share(each: Sequence[bool] | RealArray) -> Rate:
    """Return the rate of true ones."""
    return Rate(events=int(np.sum(each)), cases=len(each))


def _of(rate: Rate) -> str:
    """Return "k of n (low to high %)"."""
    low, high = (100.0 * x for x in rate.interval)
    return f"{rate.events:3d} of {rate.cases:3d} ({low:4.1f} to {high:5.1f} %)"


def _brier(told: RealArray, truth: RealArray) -> float:
    return float(np.mean((told - truth) ** 2))


def _log(told: RealArray, truth: RealArray) -> float:
    chance = np.where(truth, told, 1.0 - told)
    return -float(np.mean(np.log(np.maximum(chance, LEAST)))) if chance.size else math.nan
