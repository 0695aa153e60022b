"""Stored outcomes of the study as the fusion takes them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from cagewise.evidence.fusion.heard import SOURCE_OF, Heard, heard
from cagewise.evidence.fusion.patterns import DamagePattern
from cagewise.evidence.fusion.posterior import Channels, LoadBand, Stratum
from cagewise.indicators.reading import IndependenceClass, Part
from cagewise.quantities import Estimate
from truth.checks import Line
from truth.outcome import KEPT

FIRST_UNSEEN = 224
"""Scenes below this number were seen, of both halves, while readings and fusion were being built:
nothing is reported on them."""
REPORTED = 1
"""Half of the parameter space that nothing was fitted or tuned on."""
CALLED = frozenset({"suspect", "defective"})
CLEARED = "sound"
OPEN = frozenset({DamagePattern.ONE, DamagePattern.TWO, DamagePattern.THREE_OR_MORE})


@dataclass(frozen=True, kw_only=True)
class Case:
    """One examined visit of known truth."""

    number: int
    """Of the scene."""
    half: int
    """Of the parameter space: 0 is fitted on, 1 is reported on."""
    scenario: str
    normal: bool
    """Whether the targets speak of such a record (:attr:`truth.checks.Line.normal`)."""
    pattern: DamagePattern
    """What is true."""
    open_bars: float
    """What is true, by kernel K2."""
    readings: tuple[Heard, ...]
    """Valid readings of the cage in open bars."""
    refused: tuple[str, ...]
    """Names of the readings of the cage that are not valid."""
    stratum: Stratum
    state: str
    """What was said."""
    part_of_visit: bool
    """Whether this is a visit once more with a part of its sources: for the rates only."""
    weight: float
    """One over the number of cases of this scene: the same record with fewer channels is no new
    motor."""

    @property
    def is_sound(self) -> bool:
        """Whether the cage is sound."""
        return self.pattern is DamagePattern.SOUND

    @property
    def reported(self) -> bool:
        """Whether nothing was fitted or tuned on its scene."""
        return self.half == REPORTED and self.number >= FIRST_UNSEEN


def cases(rows: Iterable[Mapping[str, Any]]) -> list[Case]:
    """Return the cases of rows of results; those that broke off are left out."""
    whole = [row for row in rows if row["truth"] and row["said"]]
    copies = Counter(row["case"]["number"] for row in whole if _is_read(row))
    return [c for row in whole for c in _cases(row, 1.0 / max(1, copies[row["case"]["number"]]))]


def _is_read(row: Mapping[str, Any]) -> bool:
    """Return whether any reading of a row is valid."""
    return any(reading["valid"] for source in row["sources"] for reading in source["readings"])


def _cases(row: Mapping[str, Any], weight: float) -> Iterator[Case]:
    """Yield a visit, and what it would have come to with a part of its sources."""
    sources = row["sources"]
    yield _case(row, sources, row["said"]["state"], weight)
    for kinds, said in row["subsets"].items():
        part = [source for source in sources if source["kind"] in kinds.split()]
        yield replace(_case(row, part, said["state"], weight), part_of_visit=True)


def _case(
    row: Mapping[str, Any],
    sources: Sequence[Mapping[str, Any]],
    state: str,
    weight: float,
) -> Case:
    """Return a case from the sources that were examined."""
    truth = row["truth"]
    readings = [
        (r, bool(s.get("voltages_measured", True)))
        for s in sources
        for r in s["readings"]
        if r["part"] == Part.CAGE.value
    ]
    read = (_heard(r, with_voltages=voltages) for r, voltages in readings if r["valid"])
    found = tuple(one for one in read if one is not None)
    return Case(
        number=row["case"]["number"],
        half=row["case"]["half"],
        scenario=row["case"]["scenario"],
        normal=Line(dict(row)).normal,
        pattern=DamagePattern(truth["hypothesis"]),
        open_bars=truth["open_bars"],
        readings=found,
        refused=tuple(r["name"] for r, _ in readings if not r["valid"]),
        stratum=_stratum(row, sources).with_sources(SOURCE_OF[r.independence_class] for r in found),
        state=state,
        part_of_visit=False,
        weight=weight,
    )


def _stratum(row: Mapping[str, Any], sources: Sequence[Mapping[str, Any]]) -> Stratum:
    """Return the stratum as the examination sees it: by the channels it used and its own load."""
    running = next((s for s in sources if s["kind"] == "running"), None)
    if running is None:
        return Stratum(channels=Channels(row["case"]["channels"]))
    currents = KEPT[row["case"]["channels"]]
    return Stratum(
        channels=Channels.of(currents, running["voltages_measured"]),
        load=LoadBand.of(_estimate(running["load"])),
    )


def _heard(reading: Mapping[str, Any], *, with_voltages: bool) -> Heard | None:
    """Return a valid reading as the fusion takes it."""
    return heard(
        reading["name"],
        IndependenceClass(reading["independence_class"]),
        _estimate(reading["open_bar_equivalent"]),
        reading["detection_limit_bars"],
        with_voltages=with_voltages,
    )


def _estimate(numbers: Sequence[float | None] | None) -> Estimate | None:
    """Return a stored estimate; None where an end was not finite."""
    if numbers is None or any(x is None for x in numbers):
        return None
    value, low, high = (float(x or 0.0) for x in numbers)
    return Estimate(value, low, high)
