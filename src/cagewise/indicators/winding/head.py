"""What a reading at rest is called, and what all of them share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from cagewise.indicators.reading import IndependenceClass, Part, Reading, ReferenceLimit, Sense
from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import Published
from cagewise.measurement.test_sheet import Place, TestSheet
from cagewise.quantities import Estimate

WHOLE_WINDING = "winding to earth"
"""The test sheet's words for the whole winding against the frame."""
ONE_PHASE = "phase"
"""A description with this word is of one phase."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RestHead:
    """Name, unit and class of a reading at rest."""

    name: str
    title: str
    unit: str
    part: Part
    independence_class: IndependenceClass

    def refused(self, reason: str, caveats: tuple[str, ...] = ()) -> Reading:
        """Return the reading that could not be made."""
        return replace(self._empty(), reason=reason, caveats=caveats)

    def read(self, value: Estimate, caveats: Iterable[str] = ()) -> Reading:
        """Return a valid reading in the unit of the head."""
        return replace(self._empty(), value=value, valid=True, caveats=tuple(caveats))

    def titled(self, addition: str) -> RestHead:
        """Return the head with an addition to its title."""
        return replace(self, title=f"{self.title}, {addition}") if addition else self

    def _empty(self) -> Reading:
        return Reading(
            name=self.name,
            title=self.title,
            unit=self.unit,
            part=self.part,
            independence_class=self.independence_class,
        )


def subject(tested: str) -> str:
    """Return what was tested as an addition to a title; empty for the whole winding."""
    return "" if tested == WHOLE_WINDING else tested


def is_one_phase(tested: str) -> bool:
    """Return whether the words for what was tested speak of one phase."""
    return ONE_PHASE in tested.lower()


def least(published: Published, scale: float = 1.0) -> ReferenceLimit:
    """Return a published minimum as the limit of a reading, times ``scale`` into its unit."""
    return ReferenceLimit(
        value=scale * published.value,
        sense=Sense.AT_LEAST,
        source=published.source,
        form=published.form,
    )


def comparable(sheet: TestSheet, earlier: Iterable[TestSheet], motor: Motor) -> list[TestSheet]:
    """Return the earlier sheets that may be compared with this one, oldest first.

    They were taken no later, at the same place, and not before the winding was made (a rewind ends
    a history).
    """
    return sorted(
        (
            other
            for other in earlier
            if other is not sheet and not why_not_comparable(sheet, other, motor)
        ),
        key=_day,
    )


def why_not_comparable(sheet: TestSheet, other: TestSheet, motor: Motor) -> str:
    """Return why an earlier sheet may not be compared with this one; empty if it may."""
    made = motor.winding.built_year
    if other.measured_on > sheet.measured_on:
        return f"its tests of {other.measured_on} are later than those of {sheet.measured_on}"
    if other.place is not sheet.place:
        return f"measured at the {other.place.value}, not at the {sheet.place.value}"
    if made is not None and other.measured_on.year < made:
        return f"made on {other.measured_on}, before the winding was ({made})"
    return ""


def _day(sheet: TestSheet) -> date:
    return sheet.measured_on


def cable_caveat(sheet: TestSheet, effect: str) -> tuple[str, ...]:
    """Return what the cable does to a reading taken at the switchboard."""
    if sheet.place is Place.TERMINALS:
        return ()
    return (f"measured at the switchboard: {effect}",)


def settled_limit(
    value: float, candidates: Sequence[ReferenceLimit], unknown: str
) -> tuple[ReferenceLimit | None, tuple[str, ...]]:
    """Return the limit that decides a value when it is not known which of several applies.

    A value that keeps the strictest limit keeps all, one that breaks the mildest breaks all: that
    limit is returned. In between the answer depends on what is not known, and None is returned.

    Parameters
    ----------
    value
        In the unit of the candidates.
    candidates
        At least one; all of one sense.
    unknown
        What is not known of the winding, for the caveat.
    """
    distinct = {limit.value: limit for limit in candidates}
    if len(distinct) == 1:
        return candidates[0], ()
    sense = candidates[0].sense
    ordered = [distinct[key] for key in sorted(distinct, reverse=sense is Sense.AT_LEAST)]
    forms = "; ".join(limit.form for limit in ordered)
    strictest, mildest = ordered[0], ordered[-1]
    if keeps(value, strictest):
        return strictest, (f"{unknown}: the strictest limit is kept ({forms})",)
    if not keeps(value, mildest):
        return mildest, (f"{unknown}: even the mildest limit is not kept ({forms})",)
    return None, (f"valid, but the limit is not known: {unknown} ({forms})",)


def keeps(value: float, limit: ReferenceLimit) -> bool:
    """Return whether a value lies on the sound side of a limit."""
    return value >= limit.value if limit.sense is Sense.AT_LEAST else value <= limit.value
