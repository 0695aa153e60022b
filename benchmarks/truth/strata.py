"""What was found in each part of the population."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from truth.checks import Line, rate
from truth.outcome import ALL, KEPT
from truth.sections import LOADS, Test, share, shown, table, undecided, warned

POWERS_KW = (
    ("below 15 kW", 0.0, 15.0),
    ("15 to 150 kW", 15.0, 150.0),
    ("150 kW to 2 MW", 150.0, 9e9),
)


def by_stratum(lines: Sequence[Line]) -> Iterator[str]:
    """Yield one row per part of the population: each dimension on its own, the others mixed."""
    rows = []
    for name, test in _groups().items():
        of = [x for x in lines if test(x)]
        rows.append((name, *_cells(of)))
    head = ("records", "one open bar found", "sound called, ducts apart", "not decided")
    yield from table((*head, "intervals that hold the truth", "count within half a bar"), rows)


def _cells(of: Sequence[Line]) -> Iterator[str]:
    """Yield detection, false calls, abstentions, coverage and count of bars."""
    yield share((x for x in of if x.adjacent == 1), warned)
    yield share((x for x in of if x.sound and not x.ducts), warned)
    yield share(of, undecided)
    round_ones = [x for x in of if not x.apart and not x.ducts]
    held = (x.holds(r) for x in round_ones for r in x.leading())
    yield shown(rate(h for h in held if h is not None))
    counted = (x for x in of if 1 <= x.adjacent <= 3 and x.alone["damage_bars"])
    yield share(counted, lambda x: abs(x.alone["damage_bars"][0] - x.adjacent) <= 0.5)


def _groups() -> dict[str, Test]:
    """Return which records belong to each row.

    All are what the targets speak of but for the one dimension of the row: a row of light loads
    holds records of 60 s with V and I.
    """
    groups: dict[str, Test] = {"V and I, 60 s, load of 25 % or more": _normal}
    groups |= {f"{poles} poles": _poles(poles) for poles in (2, 4, 6, 8)}
    groups |= {name: _power(low, high) for name, low, high in POWERS_KW}
    groups |= {f"load {name}": _load(low, high) for name, low, high in LOADS}
    groups |= {f"channels: {name}": _channels(name) for name in KEPT if name != ALL}
    return groups | {
        "bars of the cage known": lambda x: x.normal and bool(x.case["bars_known"]),
        "bars of the cage not known": lambda x: x.normal and not x.case["bars_known"],
        "5 kHz and more": lambda x: x.normal and x.fast,
        "2.5 kHz": lambda x: x.normal and not x.fast,
        "20 or 30 s": lambda x: x.full and x.loaded and not x.faulty and not x.long,
        "weak supply": lambda x: x.normal and x.case["short_circuit_ratio"] > 0.0,
        "load swings at exactly 2sf": lambda x: x.normal and "oscillation" in _exactly(x),
        "undisturbed load": lambda x: x.normal and "oscillation" not in x.case["scenario"],
    }


def _exactly(line: Line) -> str:
    """Return the scenario, empty where the load swings beside 2sf."""
    scenario = str(line.case["scenario"])
    return "" if scenario == "oscillation near" else scenario


def _normal(line: Line) -> bool:
    return line.normal


def _poles(poles: int) -> Test:
    return lambda x: x.normal and x.case["poles"] == poles


def _power(low_kw: float, high_kw: float) -> Test:
    return lambda x: x.normal and low_kw <= x.case["power_w"] / 1e3 < high_kw


def _load(low: float, high: float) -> Test:
    return lambda x: x.full and x.long and not x.faulty and low <= x.load < high


def _channels(name: str) -> Test:
    return lambda x: x.long and x.loaded and not x.faulty and x.case["channels"] == name
