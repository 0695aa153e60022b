"""What one stored line says, and what must never happen."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from cagewise.decision.verdict import State
from cagewise.evidence.classes import proof_rank
from cagewise.evidence.fusion.posterior import Rate
from cagewise.indicators.reading import IndependenceClass, Part
from truth.outcome import ALL, ASKED

WARNED = frozenset({State.SUSPECT.value, State.DEFECTIVE.value})
NO_ANSWER = frozenset({State.NOT_DECIDABLE.value, ASKED})

LEAST_COVERAGE = 0.7
"""Coverage of the 95 % intervals below which something is broken, however small the subset."""

SIDE_LINES = frozenset(
    {
        IndependenceClass.RUNNING_FUNDAMENTAL.value,
        IndependenceClass.START.value,
        IndependenceClass.STANDSTILL_PATTERN.value,
    }
)
"""Classes that see bars as phasors of the doubled electrical angle (kernel K2)."""

RUNNING = frozenset(
    {
        IndependenceClass.RUNNING_FUNDAMENTAL.value,
        IndependenceClass.RUNNING_HARMONIC.value,
    }
)
"""Classes that see the resistance of a bar as it is stored. At the high frequencies of a start or
of a test at rest the leakage outweighs it, and a crack counts for less."""

_UNEVEN = 0.1
"""Part by which the interval of another class than the fundamental's may miss a cage without open
bars: its unevenness is another in every kernel and at every frequency."""


@dataclass(frozen=True, slots=True)
class Line:
    """One stored object."""

    stored: dict[str, Any]

    @property
    def case(self) -> dict[str, Any]:
        """What was simulated."""
        fields: dict[str, Any] = self.stored["case"]
        return fields

    @property
    def read(self) -> bool:
        """Whether simulation and examination came to their end."""
        return self.stored["truth"] is not None and self.stored["said"] is not None

    @property
    def state(self) -> str:
        """State that was given to the cage."""
        return str(self.stored["said"]["state"])

    @property
    def alone(self) -> dict[str, Any]:
        """What the record of the running motor says alone; what was said where there is none."""
        said: dict[str, Any] = self.stored["said"]
        alone = (s["alone"] for s in self.stored["sources"] if s["kind"] == "running")
        return next(alone, said)

    @property
    def truth(self) -> dict[str, Any]:
        """What is true."""
        fields: dict[str, Any] = self.stored["truth"]
        return fields

    @property
    def sound(self) -> bool:
        """Whether the cage is sound."""
        return bool(self.truth["hypothesis"] == "sound")

    @property
    def apart(self) -> bool:
        """Whether the open bars are 90 electrical degrees apart."""
        return bool(self.truth["hypothesis"] == "apart")

    @property
    def cracked(self) -> bool:
        """Whether a bar has more resistance than the others."""
        return bool(self.truth["hypothesis"] == "partial")

    @property
    def adjacent(self) -> int:
        """Number of adjacent open bars."""
        return 0 if self.apart else int(self.truth["n_open"])

    @property
    def faulty(self) -> bool:
        """Whether the instruments have a fault."""
        return bool(self.case["fault"])

    @property
    def load(self) -> float:
        """Shaft power over rated power."""
        return float(self.truth["load_fraction"])

    @property
    def normal(self) -> bool:
        """Whether the targets speak of such a record: V and I, 60 s, load of 25 % or more.

        At any sampling rate; faults of the instruments have a target of their own.
        """
        return self.full and self.long and self.loaded and not self.faulty

    @property
    def full(self) -> bool:
        """Whether voltages and currents were recorded."""
        return bool(self.case["channels"] == ALL)

    @property
    def long(self) -> bool:
        """Whether it is 60 s long."""
        return bool(self.case["duration_s"] >= 60.0)

    @property
    def loaded(self) -> bool:
        """Whether the load is 25 % or more."""
        return self.load >= 0.25

    @property
    def fast(self) -> bool:
        """Whether it was recorded at 5 kHz or more."""
        return bool(self.case["rate_hz"] >= 5000.0)

    @property
    def ducts(self) -> bool:
        """Whether the rotor has as many ducts as poles."""
        return bool(self.case["duct_wave"])

    @property
    def sources_read(self) -> bool:
        """Whether any reading of the cage in open bars was valid."""
        return next(self.readings(), None) is not None

    @property
    def misjudged(self) -> bool:
        """Whether a sound round rotor is more probably defective, or a heavy open bar not.

        With voltages and faultless instruments: under the stated prevalence less than that need not
        raise a doubt to one half.
        """
        fused = self.stored["said"]["posterior"]
        if not fused or not self.sources_read or self.ducts or self.faulty or not self.full:
            return False
        defect = 1.0 - float(fused["probabilities"]["sound"])
        if self.sound:
            return defect > 0.5
        return bool(self.adjacent) and self.load >= 0.5 and defect < 0.5

    def readings(self) -> Iterator[dict[str, Any]]:
        """Yield the valid readings of the cage in open bars."""
        for source in self.stored["sources"]:
            for reading in source["readings"]:
                of_cage = reading["part"] == Part.CAGE.value
                if of_cage and reading["valid"] and reading["open_bar_equivalent"]:
                    yield reading

    def leading(self) -> Iterator[dict[str, Any]]:
        """Yield the reading that speaks for each class: the first in the order of proof."""
        by_class: dict[str, list[dict[str, Any]]] = {}
        for reading in self.readings():
            by_class.setdefault(reading["independence_class"], []).append(reading)
        for of_class in by_class.values():
            yield min(of_class, key=lambda reading: proof_rank(reading["name"]))

    def holds(self, reading: dict[str, Any]) -> bool | None:
        """Return whether the interval of a reading holds the truth; None if that is not known."""
        of = reading["independence_class"]
        if (self.apart and of not in SIDE_LINES) or (self.cracked and of not in RUNNING):
            return None
        _, low, high = (math.inf if x is None else x for x in reading["open_bar_equivalent"])
        true = float(self.truth["open_bars"])
        if self.truth["n_open"] or of == IndependenceClass.RUNNING_FUNDAMENTAL.value:
            return bool(low <= true <= high)
        return bool(low - _UNEVEN <= true <= high + _UNEVEN)


def rate(each: Iterable[bool]) -> Rate:
    """Return the rate of true ones."""
    known = list(each)
    return Rate(events=sum(known), cases=len(known))


def lines_of(stored: Iterable[dict[str, Any]]) -> list[Line]:
    """Return the lines that were simulated and examined."""
    return [line for one in stored if (line := Line(one)).read]


def broken_rules(stored: Sequence[dict[str, Any]], scenes: Sequence[int]) -> Iterator[str]:
    """Yield what must never happen and did."""
    missing = set(scenes) - {one["case"]["number"] for one in stored}
    if missing:
        yield f"scenes {sorted(missing)} left no line"
    for one in stored:
        if "error" in one:
            yield f"scene {one['case']['number']}: {one['error']}"
    lines = lines_of(stored)
    for line in lines:
        what = f"scene {line.case['number']}, {line.case['motor']}, {line.case['scenario']}"
        yield from (f"{what}: {rule}" for rule in _broken_by(line))
    held = rate(h for line in lines for r in line.readings() if (h := line.holds(r)) is not None)
    if held.events < LEAST_COVERAGE * held.cases or not held.cases:
        yield f"{held.events} of {held.cases} intervals hold the truth"


def _broken_by(line: Line) -> Iterator[str]:
    """Yield what must never be said of a cage and was."""
    round_rotor = line.full and not line.faulty and not line.ducts
    if line.sound and line.state == State.DEFECTIVE.value:
        yield "a sound cage was called defective"
    elif line.sound and round_rotor and line.state == State.SUSPECT.value:
        yield "a sound cage was called suspect"
    if line.adjacent and line.load >= 0.5 and line.state == State.SOUND.value:
        yield "an open bar was called sound"
    if line.misjudged:
        yield "the probability points the wrong way"
