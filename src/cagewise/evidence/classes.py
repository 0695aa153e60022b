"""From findings to votes: one vote per class, methods counted, one pooled line."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from cagewise.evidence.findings import (
    ClassVerdict,
    Finding,
    Ground,
    Pooled,
    PoolGround,
    Support,
)
from cagewise.indicators.reading import IndependenceClass, Method
from cagewise.quantities import Estimate

WEAK_CLASSES = frozenset({IndependenceClass.STANDSTILL_MEAN})
"""Classes that count as a method but carry no verdict: the mean inductance also follows residual
magnetism, temperature and the level of the test."""

WHOLE_CAGE_CLASSES = frozenset(
    {
        IndependenceClass.RUNNING_FUNDAMENTAL,
        IndependenceClass.START,
        IndependenceClass.STANDSTILL_PATTERN,
    }
)
"""Classes whose reading grows with the number of adjacent bars (kernel K2), so that "nothing seen"
bounds the damage. The harmonic lines do not: four adjacent bars at 90 electrical degrees per pair
cancel in kernel K4, so a weak line that stands is no proof of little damage."""

LEAD_ORDER = (
    "direct_component",
    "side_line_sum",
    "lower_side_line",
    "side_lines",
    "envelope_amplitude",
    "envelope_phase",
    "start_side_line_track",
    "start_time",
    "initial_start_current",
    "position_pattern",
)
"""Who speaks for a class, in the order of proof against inertia and load.

The direct component is free of speed ripple; the sum of both side lines nearly free of inertia;
the lower line is reduced by it; the envelope can vanish (docs/theory/evidence.md, section 4). Of a
start the side line comes from the cage alone; time and current are compared with earlier starts.
"""


START_LINE_READING = "start_side_line_track"
"""The reading of a start that comes from the cage alone; the others of its class compare the start
with earlier ones, and load, temperature and voltage change those too."""


def proof_rank(reading: str) -> int:
    """Return the place of a reading in :data:`LEAD_ORDER`; after the last for all others."""
    return LEAD_ORDER.index(reading) if reading in LEAD_ORDER else len(LEAD_ORDER)


def vote(findings: Sequence[Finding]) -> tuple[ClassVerdict, ...]:
    """Return the vote of every class among findings on the cage, in the order of the classes."""
    return tuple(
        _vote_of_class(members)
        for independence_class in IndependenceClass
        if (members := [f for f in findings if f.independence_class is independence_class])
    )


def _vote_of_class(members: Sequence[Finding]) -> ClassVerdict:
    """Return the vote of one class: its best member speaks."""
    lead = min(members, key=_precedence_in_class)
    return ClassVerdict(
        independence_class=lead.independence_class,
        support=lead.support,
        ground=lead.ground,
        lead=lead.reading,
        bars=lead.bars,
        bound_bars=lead.bound_bars,
    )


def _precedence_in_class(finding: Finding) -> tuple[bool, bool, int]:
    """Return the sort key of a member: who can tell, then who warns, then the order of proof.

    The direct component has already silenced members that contradict it. Without it, a member
    that speaks for a defect is not outvoted by one that does not see it, because speed ripple
    takes from a line more easily than it adds.
    """
    cannot_tell = finding.support is Support.CANNOT_TELL
    return cannot_tell, finding.support is not Support.FOR, proof_rank(finding.reading)


def precedence(verdict: ClassVerdict) -> tuple[bool, float]:
    """Return the sort key of a class over several records: who can tell, then how sharply."""
    width = math.inf
    if verdict.support is Support.AGAINST and verdict.bound_bars is not None:
        width = verdict.bound_bars
    elif verdict.bars is not None:
        width = verdict.bars.high - verdict.bars.low
    return verdict.support is Support.CANNOT_TELL, width


def methods_with(support: Support, findings: Iterable[Finding]) -> tuple[Method, ...]:
    """Return the methods whose readings have this support, a warning outweighing a silence."""
    told: dict[Method, Support] = {}
    for finding in findings:
        if finding.method is None or finding.support is Support.CANNOT_TELL:
            continue
        if told.get(finding.method) is not Support.FOR:
            told[finding.method] = finding.support
    return tuple(method for method in Method if told.get(method) is support)


def pool(classes: Iterable[ClassVerdict]) -> Pooled:
    """Return the pooled line over classes that agree.

    The common unit is adjacent open bars as kernel K2 adds them. Classes that measure just that
    are heard; the others, in which damage adds up otherwise, only where there is none of these.
    Classes of one record share its noise, its slip and its motor model to an unknown degree. For
    unknown correlation the safe fusion of two scalar estimates is the sharper of the two
    (covariance intersection; Julier and Uhlmann, Proc. American Control Conference 1997), so
    agreement raises trust and never sharpens the interval.
    """
    classes = tuple(classes)
    telling = [c for c in classes if c.support is not Support.CANNOT_TELL]
    telling = [c for c in telling if c.independence_class not in WEAK_CLASSES] or telling
    if any(c.ground is Ground.RECORDS_CONFLICT for c in classes):
        return Pooled(ground=PoolGround.RECORDS_CONFLICT)
    if not telling:
        return Pooled(ground=PoolGround.NOTHING)
    if len({c.support for c in telling}) > 1:
        return Pooled(ground=PoolGround.CLASSES_DISAGREE)
    return _pool_agreeing(telling)


def _pool_agreeing(telling: Sequence[ClassVerdict]) -> Pooled:
    """Return the pooled line of at least one class, all with the same support."""
    agree = PoolGround.CLASSES_AGREE if len(telling) > 1 else PoolGround.ONE_CLASS
    in_bars = [c for c in telling if c.bars is not None]
    counting = [c.bars for c in in_bars if c.independence_class in WHOLE_CAGE_CLASSES and c.bars]
    others = [c.bars for c in in_bars if c.independence_class not in WHOLE_CAGE_CLASSES and c.bars]
    if not in_bars:
        return Pooled(ground=agree)
    sharpest = min(counting or others, key=_sharpness)
    # what cannot be adjacent bars: the other kernels may show less of these, but not more
    apart = [e for e in counting or others if not _overlap(sharpest, e)]
    apart += [e for e in others if e.low > sharpest.high]
    if not apart:
        return Pooled(ground=agree, bars=sharpest)
    return Pooled(ground=PoolGround.COUNT_DIFFERS, bars=_hull(sharpest, apart))


def _sharpness(estimate: Estimate) -> tuple[float, float]:
    """Return the sort key of an interval: errors of readings are relative, down to zero."""
    width = estimate.high - estimate.low
    return width / estimate.high if estimate.high > 0.0 else 1.0, width


def _overlap(first: Estimate, second: Estimate) -> bool:
    """Return whether two intervals share a point."""
    return first.low <= second.high and second.low <= first.high


def _hull(centre: Estimate, estimates: Iterable[Estimate]) -> Estimate:
    """Return ``centre`` with the interval that covers it and all ``estimates``."""
    pairs = [(e.low, e.high) for e in (centre, *estimates)]
    return Estimate(centre.value, min(low for low, _ in pairs), max(high for _, high in pairs))


def conflicting(independence_class: IndependenceClass, lead: str) -> ClassVerdict:
    """Return the vote of a class whose recordings contradict each other."""
    return ClassVerdict(
        independence_class=independence_class,
        support=Support.CANNOT_TELL,
        ground=Ground.RECORDS_CONFLICT,
        lead=lead,
    )
