"""The tables of the study, section by section, as Markdown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np

from cagewise.decision.verdict import State
from cagewise.evidence.fusion.posterior import Rate
from truth.checks import NO_ANSWER, WARNED, Line, rate
from truth.outcome import ALL, KEPT

LOADS = (("below 25 %", 0.0, 0.25), ("25 to 50 %", 0.25, 0.5), ("50 % and more", 0.5, 9.0))
DAMAGE = (
    "crack x1.5",
    "crack x2",
    "crack x4",
    "open 1",
    "open 1, oscillation",
    "open 2",
    "open 3",
    "open 4",
    "apart",
)
MOST_LISTED = 40

Rows = Iterator[str]
Test = Callable[[Line], bool]


def shown(found: Rate) -> str:
    """Return "k of n (low to high %)"."""
    if not found.cases:
        return "none"
    low, high = (100.0 * x for x in found.interval)
    return f"{found.events} of {found.cases} ({low:.1f} to {high:.1f} %)"


def warned(line: Line) -> bool:
    """Return whether the record alone was called suspect or defective."""
    return line.alone["state"] in WARNED


def defective(line: Line) -> bool:
    """Return whether the record alone was called defective."""
    return bool(line.alone["state"] == State.DEFECTIVE.value)


def cleared(line: Line) -> bool:
    """Return whether the record alone was called sound."""
    return bool(line.alone["state"] == State.SOUND.value)


def undecided(line: Line) -> bool:
    """Return whether nothing was decided on the record alone."""
    return line.alone["state"] in NO_ANSWER


def share(lines: Iterable[Line], test: Test) -> str:
    """Return how many pass a test."""
    return shown(rate(test(line) for line in lines))


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Rows:
    """Yield a Markdown table."""
    yield f"| {' | '.join(head)} |"
    yield f"|{'---|' * len(head)}"
    for row in rows:
        yield f"| {' | '.join(row)} |"


def by_damage(lines: Sequence[Line], test: Test) -> Rows:
    """Yield how many of each damage pass a test, by load; the load is a condition of its own."""
    rows = []
    for scenario in DAMAGE:
        of = [x for x in lines if x.case["scenario"] == scenario]
        cells = (share((x for x in of if low <= x.load < high), test) for _, low, high in LOADS)
        rows.append((scenario, *cells))
    yield from table(("damage", *(name for name, _, _ in LOADS)), rows)


def false_calls(lines: Sequence[Line]) -> Rows:
    """Yield what was said of sound cages, by what disturbed them."""
    sound = [x for x in lines if x.sound]
    groups = {
        name: [x for x in sound if x.case["scenario"] == name]
        for name in dict.fromkeys(x.case["scenario"] for x in sound)
    }
    for low, high in ((0.0, 0.02), (0.02, 0.04), (0.04, 0.07)):
        groups[f"oscillation, {low:.0%} to {high:.0%} of rated torque"] = [
            x
            for x in sound
            if x.case["scenario"] == "oscillation" and low <= x.case["oscillation"] < high
        ]
    groups["all"] = sound
    rows = (
        (name, *(share(of, test) for test in (warned, defective, cleared, undecided)))
        for name, of in sorted(groups.items())
    )
    yield from table(("scenario", "warned of", "of these defective", "sound", "not decided"), rows)


def channels(lines: Sequence[Line]) -> Rows:
    """Yield what fewer channels cost."""
    rows = []
    for name in KEPT:
        of = [x for x in lines if x.case["channels"] == name]
        one = [x for x in of if x.adjacent == 1]
        half = [x for x in of if x.case["scenario"] == "crack x2" and x.load >= 0.5]
        sound = [x for x in of if x.sound and not x.ducts]
        rows.append(
            (
                name,
                share(one, warned),
                share(one, cleared),
                share(half, warned),
                share(sound, warned),
                share(of, undecided),
            )
        )
    head = ("channels", "one open bar found", "called sound", "bar x2 found at half load or more")
    yield from table((*head, "sound motors warned of", "not decided"), rows)


def abstentions(lines: Sequence[Line]) -> Rows:
    """Yield why nothing was decided."""
    undecided_ones = [x for x in lines if undecided(x)]
    reasons = Counter(str(x.stored["why"]) for x in undecided_ones)
    rows = (
        (reason, str(n), f"{n / len(undecided_ones):.0%}", share(_with(lines, reason), _is_sound))
        for reason, n in reasons.most_common(12)
    )
    yield f"Nothing was decided on {share(lines, undecided)} records. The commonest reasons:"
    yield ""
    yield from table(("reason", "records", "of these records", "sound cages among them"), rows)


def _with(lines: Sequence[Line], reason: str) -> Iterator[Line]:
    return (x for x in lines if undecided(x) and x.stored["why"] == reason)


def _is_sound(line: Line) -> bool:
    return line.sound


def coverage(lines: Sequence[Line]) -> Rows:
    """Yield how often the interval of each reading holds the truth."""
    names = dict.fromkeys(r["name"] for x in lines for r in x.readings())
    rows = []
    for name in names:
        cells = []
        for test in (lambda x: x.sound, lambda x: not x.sound and not x.apart):
            of = [(x, r) for x in lines if test(x) for r in x.readings() if r["name"] == name]
            known = [(x, r, held) for x, r in of if (held := x.holds(r)) is not None]
            missed = [(x, r) for x, r, held in known if not held]
            above = sum(r["open_bar_equivalent"][1] > x.truth["open_bars"] for x, r in missed)
            cells += [shown(rate(held for _, _, held in known)), f"{above} of {len(missed)}"]
        rows.append((name, *cells))
    head = ("reading", "sound cage", "misses that read too much", "damaged", "too much")
    yield from table(head, rows)
    yield ""
    yield from table(("operating point", "holds the truth"), _operating(lines))


def _operating(lines: Sequence[Line]) -> Iterator[tuple[str, str]]:
    """Yield the same of slip and load."""
    for name, true in (("slip", "slip"), ("load", "load_fraction")):
        told = [
            (x.truth[true], s[name])
            for x in lines
            for s in x.stored["sources"][:1]
            if s["kind"] == "running" and s[name]
        ]
        held = rate(low <= value <= high for value, (_, low, high) in told)
        yield name, shown(held)
    bounded = [x for x in lines if cleared(x) and x.alone["bound_bars"] and not x.apart]
    yield (
        "bound of a sound verdict",
        share(bounded, lambda x: x.truth["open_bars"] <= x.alone["bound_bars"]),
    )


def bar_count(lines: Sequence[Line]) -> Rows:
    """Yield how far the number of bars is off where damage was found."""
    rows = []
    for known in (True, False):
        for count in (1, 2, 3, 4):
            found = [x for x in lines if x.adjacent == count and x.alone["damage_bars"]]
            found = [x for x in found if x.case["bars_known"] is known]
            off = [x.alone["damage_bars"][0] - count for x in found]
            cells = (shown(rate(abs(x) <= 0.5 for x in off)), _spread(off))
            name = f"{count}, bars of the cage {'known' if known else 'not known'}"
            rows.append((name, *cells))
    yield from table(("adjacent open bars", "within half a bar", "5, 50, 95 % of the error"), rows)


def _spread(values: Sequence[float]) -> str:
    """Return percentiles of errors."""
    if not values:
        return "-"
    return ", ".join(f"{x:+.2f}" for x in np.percentile(values, (5.0, 50.0, 95.0)))


def sensor_faults(lines: Sequence[Line]) -> Rows:
    """Yield what was said with each fault of the instruments."""
    rows = []
    for fault in sorted({x.case["fault"] for x in lines if x.faulty}):
        of = [x for x in lines if x.case["fault"] == fault]
        states = Counter(x.state for x in of)
        told = ", ".join(f"{state} {n}" for state, n in states.most_common())
        rows.append((fault, told, share(of, confidently_wrong)))
    yield from table(("fault", "what was said", "confident and wrong"), rows)


def confidently_wrong(line: Line) -> bool:
    """Return whether a sound cage was called defective, or a cage with an open bar sound."""
    if line.sound:
        return line.state == State.DEFECTIVE.value
    return bool(line.adjacent) and line.state == State.SOUND.value


def visits(lines: Sequence[Line]) -> Rows:
    """Yield what start and sheet add to the record of the running motor."""
    of = [x for x in lines if x.case["visit"] and x.case["channels"] == ALL]
    groups: dict[str, Test] = {
        "sound": lambda x: x.sound,
        "open bars": lambda x: x.adjacent > 0,
        "bar cracked": lambda x: x.truth["hypothesis"] == "partial",
        "apart": lambda x: x.apart,
    }
    rows = []
    for name, test in groups.items():
        chosen = [x for x in of if test(x)]
        alone = Counter(x.alone["state"] for x in chosen)
        whole = Counter(x.state for x in chosen)
        rows.append((name, *(_listed(c) for c in (alone, whole))))
    yield from table(("truth", "running alone", "with start and sheet"), rows)


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{state} {n}" for state, n in counts.most_common()) or "-"


def wrong(lines: Sequence[Line]) -> Rows:
    """Yield the scenes behind wrong verdicts, so that each can be looked at."""
    found = [
        x
        for x in lines
        if (x.sound and x.state in WARNED) or (not x.sound and x.state == State.SOUND.value)
    ]
    found.sort(key=lambda x: (not x.sound, x.truth["open_bars"] < 1.0, x.case["number"]))
    rows = (
        (
            str(x.case["number"]),
            x.case["motor"],
            x.case["scenario"] + (f", {x.case['fault']}" if x.faulty else ""),
            x.case["channels"],
            f"{x.load:.0%}",
            f"{x.truth['open_bars']:.2f}",
            f"{x.state}, {x.stored['said']['ground']}",
            "-"
            if x.stored["said"]["bound_bars"] is None
            else f"{x.stored['said']['bound_bars']:.2f}",
        )
        for x in found[:MOST_LISTED]
    )
    head = ("scene", "motor", "scenario", "channels", "load", "open bars", "said", "bound")
    yield from table(head, rows)
    if len(found) > MOST_LISTED:
        yield f"\nand {len(found) - MOST_LISTED} more."
