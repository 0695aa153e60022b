"""The targets of the study: what is wanted, what was found, and whether that meets it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from cagewise.evidence.fusion.posterior import Rate
from truth.checks import Line, rate
from truth.reliability import Told
from truth.sections import cleared, confidently_wrong, shown, table, undecided, warned
from truth.stored import REPORTED

MET, NOT_MET, TOO_FEW = "met", "not met", "too few to tell"


@dataclass(frozen=True, kw_only=True)
class Found:
    """Everything that a target may count."""

    lines: Sequence[Line]
    told: Sequence[Told]

    def of_half(self, half: int) -> Found:
        """Return what was found on one half of the parameter space."""
        return Found(
            lines=[x for x in self.lines if x.case["half"] == half],
            told=[x for x in self.told if x.case.half == half],
        )


Count = Callable[[Found], Rate]


@dataclass(frozen=True, kw_only=True)
class Target:
    """One thing that is wanted."""

    name: str
    count: Count
    least: float = 0.0
    most: float = 1.0
    never: bool = False
    """Whether a single event is one too many."""

    @property
    def wanted(self) -> str:
        """What is wanted, in words."""
        if self.never:
            return "none"
        if self.least == 0.0:
            return f"{_percent(self.most)} or less"
        if self.most == 1.0:
            return f"{_percent(self.least)} or more"
        return f"{_percent(self.least)} to {_percent(self.most)}"

    def verdict(self, found: Rate) -> str:
        """Return whether the whole 95 % interval lies on the right side, the wrong one, or both."""
        low, high = found.interval
        if not found.cases:
            return TOO_FEW
        if self.never and found.events:
            return NOT_MET
        if low > self.most or high < self.least:
            if self.least > 0.0 and self.most < 1.0:
                return f"{NOT_MET}: too {'wide' if low > self.most else 'narrow'}"
            return NOT_MET
        return MET if low >= self.least and high <= self.most else TOO_FEW


def _percent(share: float) -> str:
    return f"{100.0 * share:g} %"


def _of(test: Callable[[Line], bool], hit: Callable[[Line], bool]) -> Count:
    """Return a count of lines."""
    return lambda found: rate(hit(x) for x in found.lines if test(x))


def _one(line: Line) -> bool:
    return line.normal and line.adjacent == 1


def _round(line: Line) -> bool:
    return line.normal and line.sound and not line.ducts


def _swinging(line: Line) -> bool:
    return line.normal and line.case["scenario"] == "oscillation"


def _ducts(line: Line) -> bool:
    return line.normal and line.sound and line.ducts


def _cracked(line: Line) -> bool:
    return line.normal and line.case["scenario"] == "crack x2" and line.load >= 0.5


def _faulty(line: Line) -> bool:
    return line.faulty


def _counted(line: Line) -> bool:
    return line.normal and 1 <= line.adjacent <= 3 and bool(line.alone["damage_bars"])


def _within_half_a_bar(line: Line) -> bool:
    return bool(abs(line.alone["damage_bars"][0] - line.adjacent) <= 0.5)


def _held(name: str) -> Count:
    """Return how often the interval of a reading holds the truth: no ducts, no bars apart."""

    def count(found: Found) -> Rate:
        chosen = (x for x in found.lines if x.normal and not x.apart and not x.ducts)
        return rate(
            h
            for x in chosen
            for r in x.readings()
            if r["name"] == name and (h := x.holds(r)) is not None
        )

    return count


def _credible(found: Found) -> Rate:
    """Return how often the credible interval of the fusion holds the truth, ducts included."""
    return rate(x.holds for x in found.told if x.normal)


TARGETS = (
    Target(name="one open bar is found", least=0.99, count=_of(_one, warned)),
    Target(name="sound motors are called, ducts apart", most=0.001, count=_of(_round, warned)),
    Target(
        name="sound motors are called, load swings at exactly 2sf by 0.5 to 6 %",
        most=0.001,
        count=_of(_swinging, warned),
    ),
    Target(
        name="sound motors are called, as many ducts as poles",
        most=0.001,
        count=_of(_ducts, warned),
    ),
    Target(
        name="95 % intervals hold the truth: direct component",
        least=0.93,
        most=0.97,
        count=_held("direct_component"),
    ),
    Target(
        name="95 % intervals hold the truth: lines at the 5th and 7th",
        least=0.93,
        most=0.97,
        count=_held("harmonic_lines"),
    ),
    Target(
        name="95 % intervals hold the truth: all readings together",
        least=0.93,
        most=0.97,
        count=_credible,
    ),
    Target(
        name="bar count within half a bar, 1 to 3 adjacent, where one is stated",
        least=0.90,
        count=_of(_counted, _within_half_a_bar),
    ),
    Target(
        name="confident and wrong under sensor faults",
        most=0.001,
        never=True,
        count=_of(_faulty, confidently_wrong),
    ),
    Target(
        name="one bar of doubled resistance is found, load of 50 % or more",
        least=0.80,
        count=_of(_cracked, warned),
    ),
)

BEHIND: tuple[tuple[str, Count], ...] = (
    (
        "one open bar found, recorded at 5 kHz or more",
        _of(lambda x: _one(x) and x.fast, warned),
    ),
    (
        "one open bar found, of those decided",
        _of(lambda x: _one(x) and not undecided(x), warned),
    ),
    ("one open bar called sound", _of(_one, cleared)),
    (
        "sound motors called, load swings at exactly 2sf by 4 to 6 %",
        _of(lambda x: _swinging(x) and x.case["oscillation"] >= 0.04, warned),
    ),
    ("sound motors not decided, ducts apart", _of(_round, undecided)),
    (
        "bar of doubled resistance found, load of 50 % or more, of those decided",
        _of(lambda x: _cracked(x) and not undecided(x), warned),
    ),
    (
        "bar count within half a bar, of all 1 to 3 adjacent open bars",
        _of(
            lambda x: x.normal and 1 <= x.adjacent <= 3,
            lambda x: bool(x.alone["damage_bars"]) and _within_half_a_bar(x),
        ),
    ),
)
"""What stands behind the targets: no verdicts on these."""


def targets(found: Found) -> Iterator[str]:
    """Yield the targets with their verdicts on half 1, and what both halves say."""
    rows = []
    for target in TARGETS:
        reported = target.count(found.of_half(REPORTED))
        verdict = f"**{target.verdict(reported)}**"
        rows.append(
            (target.name, target.wanted, *_cells(reported), verdict, shown(target.count(found)))
        )
    head = ("target", "wanted", "k of n", "share", "95 % interval", "verdict", "both halves")
    yield from table(head, rows)
    yield ""
    yield "Behind them:"
    yield ""
    others = (
        (name, *_cells(count(found.of_half(REPORTED))), shown(count(found)))
        for name, count in BEHIND
    )
    yield from table(("what", "k of n", "share", "95 % interval", "both halves"), others)


def _cells(found: Rate) -> Iterable[str]:
    """Return count, share and interval."""
    if not found.cases:
        return "0 of 0", "-", "-"
    low, high = (100.0 * x for x in found.interval)
    share = 100.0 * found.events / found.cases
    return f"{found.events} of {found.cases}", f"{share:.1f} %", f"{low:.1f} to {high:.1f} %"
