"""Which reading speaks for a class: the leading valid one, whatever it says.

The choice must not depend on the value, or the likelihood would be that of the largest of several
tries (docs/theory/fusion.md, section 3).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cagewise.evidence.classes import proof_rank
from cagewise.evidence.findings import Finding, Ground, Hypothesis
from cagewise.evidence.fusion.patterns import Family
from cagewise.evidence.fusion.posterior import SourceKind
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate

SOURCE_OF = {
    IndependenceClass.RUNNING_FUNDAMENTAL: SourceKind.RUNNING,
    IndependenceClass.RUNNING_HARMONIC: SourceKind.RUNNING,
    IndependenceClass.START: SourceKind.START,
    IndependenceClass.STANDSTILL_PATTERN: SourceKind.SHEET,
    IndependenceClass.STANDSTILL_MEAN: SourceKind.SHEET,
}
"""Classes that speak of the cage, and what they are read on."""

_FAMILY_WITHOUT_VOLTAGES = {Family.DIRECT: Family.DIRECT_CURRENTS}
_FAMILY_OF_READING = {
    "direct_component": Family.DIRECT,
    "start_side_line_track": Family.START_LINE,
}
_FAMILY_OF_CLASS = {
    IndependenceClass.RUNNING_FUNDAMENTAL: Family.SIDE_LINES,
    IndependenceClass.RUNNING_HARMONIC: Family.HARMONIC,
    IndependenceClass.START: Family.START_CHANGE,
    IndependenceClass.STANDSTILL_PATTERN: Family.POSITION,
    IndependenceClass.STANDSTILL_MEAN: Family.MEAN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One reading of the cage as the fusion takes it."""

    name: str
    independence_class: IndependenceClass
    bars: Estimate
    """Open-bar equivalent. A line that was looked for and not found is 0 with its detection limit
    as the upper end: it says as much as one that was found."""
    limit_bars: float
    """Smallest damage the record would have shown."""
    with_voltages: bool = True
    """Whether voltages were recorded with what was read."""

    @property
    def family(self) -> Family:
        """Readings that err alike."""
        own = _FAMILY_OF_READING.get(self.name, _FAMILY_OF_CLASS[self.independence_class])
        return own if self.with_voltages else _FAMILY_WITHOUT_VOLTAGES.get(own, own)

    @property
    def width(self) -> float:
        """How much the reading leaves open, in open bars."""
        return max(self.bars.high - self.bars.low, self.limit_bars)


def heard(
    name: str,
    independence_class: IndependenceClass,
    bars: Estimate | None,
    limit_bars: float | None,
    *,
    with_voltages: bool = True,
) -> Heard | None:
    """Return a valid reading as the fusion takes it, None where it is not in open bars."""
    if independence_class not in SOURCE_OF:
        return None
    if bars is None and limit_bars is None:
        return None
    if bars is None:
        bars = Estimate(0.0, 0.0, float(limit_bars or 0.0))
    limit = bars.high - bars.low if limit_bars is None else limit_bars
    if bars.low <= 0.0:
        # what was not found bounds the damage no lower than what could have been found
        bars = Estimate(bars.value, bars.low, max(bars.high, limit))
    return Heard(
        name=name,
        independence_class=independence_class,
        bars=bars,
        limit_bars=limit,
        with_voltages=with_voltages,
    )


def heard_of(findings: Iterable[Finding]) -> tuple[Heard, ...]:
    """Return the readings of the cage among findings that are valid and in open bars."""
    found = (
        heard(
            f.reading,
            f.independence_class,
            f.bars,
            f.numbers.get("limit_bars"),
            with_voltages=f.with_voltages,
        )
        for f in findings
        if f.hypothesis is Hypothesis.CAGE_DEFECT and f.ground is not Ground.NOT_READ
    )
    return tuple(reading for reading in found if reading is not None)


def leading(readings: Iterable[Heard]) -> tuple[tuple[Heard, ...], ...]:
    """Return who speaks for every class: one reading, or several recordings that contradict it.

    Of several recordings the sharpest speaks, of those with voltages where there are any. Where the
    intervals of the same reading on two recordings do not meet, one of them is wrong and nobody
    knows which: both are returned.
    """
    readings = tuple(readings)
    chosen = []
    for independence_class in SOURCE_OF:
        members = [r for r in readings if r.independence_class is independence_class]
        if members:
            chosen.append(_of_class(members))
    return tuple(chosen)


def _of_class(members: Sequence[Heard]) -> tuple[Heard, ...]:
    """Return who speaks for one class."""
    rank = min(proof_rank(r.name) for r in members)
    best = [r for r in members if proof_rank(r.name) == rank]
    best.sort(key=lambda r: (not r.with_voltages, r.width, r.bars.value, r.bars.low))
    apart = any(_apart(first, second) for first in best for second in best)
    return tuple(best) if apart else (best[0],)


def _apart(first: Heard, second: Heard) -> bool:
    """Return whether the intervals of two readings do not meet."""
    return first.bars.high < second.bars.low or second.bars.high < first.bars.low
