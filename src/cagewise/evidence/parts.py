"""What tests of winding and insulation say (docs/theory/evidence.md, section 7)."""

from __future__ import annotations

from collections.abc import Iterable

from cagewise.evidence.findings import Finding, Ground, Hypothesis, Support
from cagewise.evidence.limits import EvidenceLimits
from cagewise.indicators.reading import Part, Reading, ReferenceLimit, Sense
from cagewise.quantities import Estimate

HYPOTHESIS = {
    Part.WINDING: Hypothesis.WINDING_DEFECT,
    Part.INSULATION: Hypothesis.INSULATION_DEFECT,
}


def weigh_for_parts(readings: Iterable[Reading], limits: EvidenceLimits) -> tuple[Finding, ...]:
    """Return one finding per reading of a part other than the cage.

    A reading is compared with its published limit, if there is one. Where there is none, a reading
    may still carry the probability that chance alone made the change it looks for.
    """
    return tuple(_weigh(reading, limits) for reading in readings if reading.part in HYPOTHESIS)


def _weigh(reading: Reading, limits: EvidenceLimits) -> Finding:
    """Weigh one reading."""
    support, ground = _support(reading, limits)
    return Finding(
        hypothesis=HYPOTHESIS[reading.part],
        reading=reading.name,
        title=reading.title,
        independence_class=reading.independence_class,
        support=support,
        ground=ground,
        value=reading.value,
        unit=reading.unit,
        limit=reading.limit,
        note=reading.reason,
        caveats=reading.caveats,
    )


def _support(reading: Reading, limits: EvidenceLimits) -> tuple[Support, Ground]:
    """Return support and ground of a reading."""
    if not reading.valid or reading.value is None:
        return Support.CANNOT_TELL, Ground.NOT_READ
    if reading.limit is not None:
        return _beside_limit(reading.value, reading.limit)
    if reading.false_alarm_probability is None:
        return Support.CANNOT_TELL, Ground.NO_LIMIT
    if reading.false_alarm_probability <= limits.false_alarm_probability_max:
        return Support.FOR, Ground.CHANGE_FOUND
    return Support.AGAINST, Ground.NO_CHANGE


def _beside_limit(value: Estimate, limit: ReferenceLimit) -> tuple[Support, Ground]:
    """Return on which side of a limit an interval lies."""
    low, high = value.low - limit.value, value.high - limit.value
    if limit.sense is Sense.AT_MOST:
        low, high = -high, -low
    if low >= 0.0:
        return Support.AGAINST, Ground.WITHIN_LIMIT
    if high < 0.0:
        beyond = (Support.FOR, Ground.BEYOND_LIMIT)
        return beyond if limit.decides else (Support.CANNOT_TELL, Ground.BEYOND_REFERENCE)
    return Support.CANNOT_TELL, Ground.AT_LIMIT
