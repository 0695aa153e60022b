"""Did the repair help? Baseline after it against before (docs/theory/trend.md, 9)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from cagewise.history.limits import RepairLimits, repair_limits
from cagewise.history.missing import MEASURED_AFTER, RepairKind
from cagewise.indicators.reading import IndependenceClass, Part, Reading, ReferenceLimit, Sense
from cagewise.quantities import Estimate, NotKnown

RUNNING = frozenset({IndependenceClass.RUNNING_FUNDAMENTAL, IndependenceClass.RUNNING_HARMONIC})
"""Classes whose readings need a load."""


class Acceptance(StrEnum):
    """What a reading after a repair, or all of them, amount to."""

    ACCEPTED = "accepted"
    NOT_ACCEPTED = "not accepted"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """What was measured on one occasion."""

    day: float
    """Days from any fixed day."""
    readings: tuple[Reading, ...]
    load_fraction: Estimate | NotKnown = field(default_factory=lambda: NotKnown("not measured"))
    """Load of the running record."""
    leads: Mapping[IndependenceClass, str] = field(default_factory=dict)
    """Reading that speaks for its class; the first valid one where none is named."""

    def of(self, name: str) -> Reading | None:
        """Return the reading of a name."""
        return next((r for r in self.readings if r.name == name), None)

    def lead_of(self, independence_class: IndependenceClass) -> Reading | None:
        """Return the reading that speaks for a class, or None when none is valid."""
        mine = [r for r in self.readings if r.independence_class is independence_class and r.valid]
        named = [r for r in mine if r.name == self.leads.get(independence_class)]
        return next(iter(named or mine), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityComparison:
    """One reading, before and after."""

    name: str
    title: str
    independence_class: IndependenceClass
    unit: str
    before: Estimate | None
    after: Estimate | None
    ratio: Estimate | NotKnown
    """After over before."""
    detection_limit: float | None
    """Smallest damage the record after the repair could have shown, open bars."""
    leads: bool
    """Whether it speaks for its class; the others are shown only."""
    acceptance: Acceptance
    because: str
    """Why, as a clause."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairComparison:
    """A repair, judged by what was measured after it."""

    quantities: tuple[QuantityComparison, ...]
    missing: tuple[IndependenceClass, ...]
    """Classes that this kind of repair asks for and that have no valid reading after it."""
    acceptance: Acceptance
    because: str
    """Why, as a clause."""


def compare_repair(
    before: Baseline | None,
    after: Baseline,
    kind: RepairKind,
    *,
    repaired_on: float,
    limits: RepairLimits | None = None,
) -> RepairComparison:
    """Return whether a repair is accepted.

    Parameters
    ----------
    before
        The last occasion before the repair; None if there was none.
    after
        The baseline after it.
    kind
        What was done.
    repaired_on
        Day of the repair, in the days of the baselines.
    limits
        Those in force where None.
    """
    limits = limits or repair_limits()
    quantities = tuple(
        _compare(None if before is None else before.of(reading.name), reading, after, limits)
        for reading in after.readings
    )
    missing = tuple(c for c in MEASURED_AFTER[kind] if after.lead_of(c) is None)
    asked = [q for q in quantities if q.leads and q.independence_class in MEASURED_AFTER[kind]]
    acceptance, because = _overall(quantities, asked, missing, after.day - repaired_on, limits)
    return RepairComparison(
        quantities=quantities, missing=missing, acceptance=acceptance, because=because
    )


def _overall(
    quantities: tuple[QuantityComparison, ...],
    asked: Sequence[QuantityComparison],
    missing: tuple[IndependenceClass, ...],
    age_days: float,
    limits: RepairLimits,
) -> tuple[Acceptance, str]:
    """Return what the leading readings amount to.

    A bad one stands whatever is missing, also one that this repair did not ask for; one that it
    did not ask for and that cannot be told stands in nobody's way.
    """
    bad = [q.title for q in quantities if q.leads and q.acceptance is Acceptance.NOT_ACCEPTED]
    if age_days < 0.0:
        return Acceptance.CANNOT_TELL, "it was measured before the repair"
    if bad:
        return Acceptance.NOT_ACCEPTED, f"not accepted: {', '.join(bad)}"
    if age_days > limits.largest_age_days:
        return Acceptance.CANNOT_TELL, (
            f"the baseline was measured {age_days:.0f} days after the repair, more than "
            f"{limits.largest_age_days:.0f}"
        )
    if missing:
        return Acceptance.CANNOT_TELL, f"not measured: {'; '.join(missing)}"
    open_ones = [
        f"{q.title} ({q.because})" for q in asked if q.acceptance is not Acceptance.ACCEPTED
    ]
    if open_ones:
        return Acceptance.CANNOT_TELL, "; ".join(open_ones)
    return Acceptance.ACCEPTED, "all that this repair asks for was measured and is within its limit"


def _compare(
    before: Reading | None, reading: Reading, after: Baseline, limits: RepairLimits
) -> QuantityComparison:
    """Return one reading before and after."""
    in_bars = reading.part is Part.CAGE
    now = _quantity(reading, in_bars=in_bars)
    then = None if before is None else _quantity(before, in_bars=in_bars)
    if then is not None and not in_bars and before is not None and before.unit != reading.unit:
        then = None
    ratio = ratio_of(now, then)
    load = after.load_fraction if reading.independence_class in RUNNING else None
    acceptance, because = (
        _judge_bars(reading, now, load, limits) if in_bars else _judge(reading, now, ratio, limits)
    )
    return QuantityComparison(
        name=reading.name,
        title=reading.title,
        independence_class=reading.independence_class,
        unit="open bars" if in_bars else reading.unit,
        before=then,
        after=now,
        ratio=ratio,
        detection_limit=reading.detection_limit_bars,
        leads=after.lead_of(reading.independence_class) is reading,
        acceptance=acceptance,
        because=because,
    )


def _quantity(reading: Reading, *, in_bars: bool) -> Estimate | None:
    """Return what is compared: open bars of a cage reading, else the value."""
    if not reading.valid:
        return None
    return reading.open_bar_equivalent if in_bars else reading.value


def ratio_of(after: Estimate | None, before: Estimate | None) -> Estimate | NotKnown:
    """Return after over before with its 95 % interval (MOVER on the logarithm)."""
    if after is None:
        return NotKnown("not read after the repair")
    if before is None:
        return NotKnown("not read before the repair")
    if before.low <= 0.0 or after.high <= 0.0:
        return NotKnown("nothing stood out before the repair that could have fallen")
    ratio = after.value / before.value
    if after.low <= 0.0:
        # no logarithm at zero: both intervals at their worst, which is on the safe side
        return Estimate(max(ratio, 0.0), 0.0, after.high / before.low)
    below = math.hypot(_down(after), _up(before))
    above = math.hypot(_up(after), _down(before))
    return Estimate(ratio, ratio * math.exp(-below), ratio * math.exp(above))


def _up(one: Estimate) -> float:
    """Return how far the interval reaches upwards, on the logarithm."""
    return math.log(one.high / one.value)


def _down(one: Estimate) -> float:
    """Return how far the interval reaches downwards, on the logarithm."""
    return math.log(one.value / one.low)


def _judge_bars(
    reading: Reading, now: Estimate | None, load: Estimate | NotKnown | None, limits: RepairLimits
) -> tuple[Acceptance, str]:
    """Return whether a cage reading after a repair is accepted."""
    most, hidden = limits.accepted_bars_max, reading.detection_limit_bars
    if now is None:
        return Acceptance.CANNOT_TELL, reading.reason or "it is not expressed in open bars"
    if now.low > most:
        return Acceptance.NOT_ACCEPTED, f"{now.low:.2g} open bars or more remain"
    doubt = _doubt_of_load(load, limits)
    if not doubt and now.high > most:
        doubt = f"up to {now.high:.2g} open bars are not excluded"
    if doubt:
        return Acceptance.CANNOT_TELL, doubt
    if hidden is None or hidden > most:
        size = "an unknown number of" if hidden is None else f"{hidden:.2g}"
        return Acceptance.CANNOT_TELL, f"the record could have hidden {size} open bars"
    return Acceptance.ACCEPTED, f"no more than {max(now.high, hidden):.2g} open bars"


def _doubt_of_load(load: Estimate | NotKnown | None, limits: RepairLimits) -> str:
    """Return why the load does not accept a cage; empty when it may, or none is needed (None)."""
    if isinstance(load, NotKnown):
        return f"the load is not known ({load.reason})"
    if load is not None and load.value < limits.least_load_fraction:
        return f"the load of {load.value:.0%} is below {limits.least_load_fraction:.0%}"
    return ""


def _judge(
    reading: Reading, now: Estimate | None, ratio: Estimate | NotKnown, limits: RepairLimits
) -> tuple[Acceptance, str]:
    """Return whether another reading is accepted: by its published limit, else against before."""
    if now is None:
        return Acceptance.CANNOT_TELL, reading.reason or "it has no value"
    if reading.limit is not None and reading.limit.decides:
        return _judge_limit(reading.limit, now, reading.unit)
    if isinstance(ratio, NotKnown):
        return Acceptance.CANNOT_TELL, f"no published limit, and {ratio.reason}"
    if 1.0 / limits.unchanged_ratio <= ratio.low and ratio.high <= limits.unchanged_ratio:
        return Acceptance.ACCEPTED, "as before the repair; there is no published limit"
    return (
        Acceptance.CANNOT_TELL,
        f"{ratio.value:.3g} times before, and there is no published limit",
    )


def _judge_limit(limit: ReferenceLimit, now: Estimate, unit: str) -> tuple[Acceptance, str]:
    """Return whether the whole interval lies on one side of a published limit."""
    at_least = limit.sense is Sense.AT_LEAST
    words = f"{limit.value:g} {unit}"
    if now.low >= limit.value if at_least else now.high <= limit.value:
        return Acceptance.ACCEPTED, f"within {words} ({limit.source})"
    if now.high < limit.value if at_least else now.low > limit.value:
        return Acceptance.NOT_ACCEPTED, f"beyond {words} ({limit.source})"
    return Acceptance.CANNOT_TELL, f"the limit of {words} is inside the interval"
