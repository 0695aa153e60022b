"""The subset of the study that runs in CI, held against what it gave when the fit was made.

Its scenes are those of every scenario that are simulated soonest and mostly decided: no sample, so
that no rate can be taken from it. ``fit.py`` writes what the shipped calibration makes of them to
``subset.toml``; ``run.py --once`` simulates and examines them anew and fails where they tell less,
or less truly.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from cagewise.evidence.fusion.fuse import fuse
from cagewise.evidence.fusion.parameters import FusionParameters, shipped
from truth.checks import WARNED, lines_of
from truth.packed import Row
from truth.reliability import brier, told
from truth.scores import in_study, prior_of
from truth.sections import undecided
from truth.stored import cases

REFERENCE = Path(__file__).with_name("subset.toml")
SCENES = (
    *(3, 4, 5, 14, 23, 24, 36, 46, 49, 52, 53, 54, 61, 64, 76, 92, 97, 100, 119, 121),
    *(
        132,
        137,
        158,
        164,
        168,
        169,
        170,
        171,
        172,
        186,
        189,
        195,
        209,
        211,
        212,
        214,
        216,
        229,
        233,
        234,
    ),
    *(
        236,
        244,
        262,
        276,
        290,
        292,
        293,
        311,
        319,
        326,
        328,
        337,
        347,
        350,
        352,
        358,
        359,
        375,
        382,
        383,
    ),
)
"""A few of everything, two whole visits among it; a second and a half each on average. On most of
them something is decided, or there would be little to be held against."""
FLOOR_BARS = 0.05
"""Added to the ends of an interval before its width is taken as a ratio."""

BRIER_ROOM = 0.02
SCORE_ROOM = 0.08
"""Nats per case by which the score of the patterns may be worse."""
CASES_ROOM = 2
"""Visits, or intervals, by which a count may be worse: another machine rounds otherwise."""
WIDTH_ROOM = 1.08
"""Factor by which intervals may be wider or narrower."""
MOST_BRIER = 0.12
LEAST_HELD = 0.85
"""Whatever the reference says: half the score of knowing nothing, and no 95 % intervals at all."""


@dataclass(frozen=True, kw_only=True)
class SubsetNumbers:
    """What the subset gives."""

    visits: int
    decided: int
    found: int
    """Damaged cages called suspect or defective."""
    false_calls: int
    """Sound cages called suspect or defective, ducts included."""
    intervals: int
    held: int
    """Intervals of leading readings that hold the truth."""
    width: float
    """Median of the upper end of these intervals over the lower one."""
    credible: int
    credible_held: int
    """Credible intervals of all readings together that hold the truth."""
    brier: float
    score: float
    """Mean of minus the logarithm of the probability of the true pattern, nats."""


def numbers(rows: Sequence[Row], parameters: FusionParameters | None = None) -> SubsetNumbers:
    """Return what rows of the subset give, under the shipped calibration when none is stated."""
    parameters = parameters or shipped().parameters
    lines = lines_of(rows)
    known = [(r, h) for x in lines for r in x.leading() if (h := x.holds(r)) is not None]
    said = told(cases(rows), parameters)
    called = [x for x in lines if x.state in WARNED]
    return SubsetNumbers(
        visits=len(rows),
        decided=sum(not undecided(x) for x in lines),
        found=sum(not x.sound for x in called),
        false_calls=sum(x.sound for x in called),
        intervals=len(known),
        held=sum(held for _, held in known),
        width=float(np.median([_width(reading) for reading, _ in known])),
        credible=len(said),
        credible_held=sum(x.holds for x in said),
        brier=brier(said),
        score=_score(rows, parameters),
    )


def _width(reading: Mapping[str, Any]) -> float:
    _, low, high = reading["open_bar_equivalent"]
    return math.inf if high is None else (high + FLOOR_BARS) / ((low or 0.0) + FLOOR_BARS)


def _score(rows: Sequence[Row], parameters: FusionParameters) -> float:
    """Return how surprising the true patterns are, on average."""
    read = [case for case in cases(rows) if case.readings and not case.part_of_visit]
    prior, parameters = prior_of(read), in_study(parameters)
    chances = [fuse(c.readings, prior, parameters).by_pattern()[c.pattern] for c in read]
    return -float(np.mean(np.log(np.maximum(chances, 1e-6))))


def of_subset(rows: Sequence[Row]) -> list[Row]:
    """Return the rows of the scenes of the subset."""
    return [row for row in rows if row["case"]["number"] in SCENES]


def drifted(now: SubsetNumbers, then: SubsetNumbers) -> Iterator[str]:
    """Yield what is worse than it was, and what no calibration may be."""
    for name, least in _least(then):
        if getattr(now, name) < least:
            yield f"{name}: {getattr(now, name)}, at least {least} wanted"
    for name, most in _most(then):
        if getattr(now, name) > most:
            yield f"{name}: {getattr(now, name):.4g}, at most {most:.4g} wanted"
    for name, cases_of in (("held", now.intervals), ("credible_held", now.credible)):
        if getattr(now, name) < LEAST_HELD * cases_of:
            yield f"{name}: {getattr(now, name)} of {cases_of}, which no 95 % intervals do"


def _least(then: SubsetNumbers) -> Iterator[tuple[str, float]]:
    """Yield what may not be less."""
    yield "visits", then.visits
    for name in ("decided", "found", "intervals", "held", "credible", "credible_held"):
        yield name, getattr(then, name) - CASES_ROOM
    yield "width", then.width / WIDTH_ROOM


def _most(then: SubsetNumbers) -> Iterator[tuple[str, float]]:
    """Yield what may not be more."""
    yield "false_calls", then.false_calls
    yield "width", then.width * WIDTH_ROOM
    yield "brier", min(MOST_BRIER, then.brier + BRIER_ROOM)
    yield "score", then.score + SCORE_ROOM


def reference(path: Path = REFERENCE) -> SubsetNumbers:
    """Return what the subset gave when the fit was made."""
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    return SubsetNumbers(**document["subset"])


def reference_text(of: SubsetNumbers, date: str, version: str) -> str:
    """Return the text of the file; :func:`reference` reads it back."""
    lines = [
        "# What the shipped calibration makes of the subset in CI; written by fit.py, do not edit.",
        "# Meaning: benchmarks/truth/subset.py.",
        f'date = "{date}"',
        f'version = "{version}"',
        "",
        "[subset]",
    ]
    values = asdict(of)
    for field in fields(of):
        value = values[field.name]
        lines.append(f"{field.name} = {value if isinstance(value, int) else f'{value:.4g}'}")
    return "\n".join(lines) + "\n"
