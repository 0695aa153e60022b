"""Stored outcomes of the study as the fusion takes them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cagewise.evidence.fusion.heard import SOURCE_OF, Heard, heard
from cagewise.evidence.fusion.patterns import DamagePattern
from cagewise.evidence.fusion.posterior import Channels, LoadBand, Stratum
from cagewise.indicators.reading import IndependenceClass, Part
from cagewise.quantities import Estimate

CALLED = frozenset({"suspect", "defective"})
CLEARED = "sound"
OPEN = frozenset({DamagePattern.ONE, DamagePattern.TWO, DamagePattern.THREE_OR_MORE})


@dataclass(frozen=True, kw_only=True)
class Case:
    """One examined visit of known truth."""

    half: int
    """Of the parameter space: 0 is fitted on, 1 is reported on."""
    scenario: str
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
    """Whether this is the running record of a visit once more, alone: for the rates only."""

    @property
    def is_sound(self) -> bool:
        """Whether the cage is sound."""
        return self.pattern is DamagePattern.SOUND


def cases(path: Path) -> Iterator[Case]:
    """Yield the cases of a file of results; those that broke off are left out."""
    with path.open(encoding="utf-8") as lines:
        for line in lines:
            try:
                row = json.loads(line)
            except json.JSONDecodeError:  # the last line of a run that goes on
                continue
            if row.get("truth") and row.get("said"):
                yield from _cases(row)


def _cases(row: Mapping[str, Any]) -> Iterator[Case]:
    """Yield a visit, and its running record alone where more was measured."""
    sources = row["sources"]
    yield _case(row, sources, row["said"]["state"], part_of_visit=False)
    running = [s for s in sources if s["kind"] == "running" and s.get("alone")]
    if len(sources) > 1 and len(running) == 1:
        yield _case(row, running, running[0]["alone"]["state"], part_of_visit=True)


def _case(
    row: Mapping[str, Any],
    sources: Sequence[Mapping[str, Any]],
    state: str,
    *,
    part_of_visit: bool,
) -> Case:
    """Return a case from the sources that were examined."""
    truth = row["truth"]
    readings = [r for s in sources for r in s["readings"] if r["part"] == Part.CAGE.value]
    found = tuple(one for r in readings if r["valid"] and (one := _heard(r)) is not None)
    load = next((s["load"] for s in sources if s["kind"] == "running"), None)
    stratum = Stratum(channels=Channels(row["case"]["channels"]), load=LoadBand.of(_estimate(load)))
    return Case(
        half=row["case"]["half"],
        scenario=row["case"]["scenario"],
        pattern=DamagePattern(truth["hypothesis"]),
        open_bars=truth["open_bars"],
        readings=found,
        refused=tuple(r["name"] for r in readings if not r["valid"]),
        stratum=stratum.with_sources(SOURCE_OF[r.independence_class] for r in found),
        state=state,
        part_of_visit=part_of_visit,
    )


def _heard(reading: Mapping[str, Any]) -> Heard | None:
    """Return a valid reading as the fusion takes it."""
    return heard(
        reading["name"],
        IndependenceClass(reading["independence_class"]),
        _estimate(reading["open_bar_equivalent"]),
        reading["detection_limit_bars"],
    )


def _estimate(numbers: Sequence[float | None] | None) -> Estimate | None:
    """Return a stored estimate; None where an end was not finite."""
    if numbers is None or any(x is None for x in numbers):
        return None
    value, low, high = (float(x or 0.0) for x in numbers)
    return Estimate(value, low, high)
