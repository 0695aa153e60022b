"""The tables of the study: ``python benchmarks/truth/table.py FILE...``.

Prints them, and with ``--write`` puts them into the marked section of ``docs/truth-study.md``.
Files are what ``run.py`` writes, also compressed (``.gz``).
"""

from __future__ import annotations

import argparse
import gzip
import json
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from cagewise.evidence.fusion.posterior import Rate
from truth import sections
from truth.checks import Line, lines_of, rate
from truth.outcome import ALL
from truth.sections import cleared, confidently_wrong, shown, table, warned

PAGE = Path(__file__).resolve().parents[2] / "docs" / "truth-study.md"
BEGIN = "<!-- made by benchmarks/truth/table.py: begin -->"
END = "<!-- made by benchmarks/truth/table.py: end -->"


def read(paths: Sequence[Path]) -> Iterator[dict[str, Any]]:
    """Yield stored objects, each scene and set of channels once; cut lines are left out."""
    seen = set()
    for path in paths:
        with gzip.open(path, "rt") if path.suffix == ".gz" else path.open() as text:
            for row in text:
                try:
                    stored = json.loads(row)
                except json.JSONDecodeError:
                    continue
                key = (stored["case"]["number"], stored["case"]["channels"])
                if key not in seen:
                    seen.add(key)
                    yield stored


def judged(found: Rate, least: float, most: float) -> str:
    """Return whether a rate lies in a range: met, not met, or too few to tell."""
    low, high = found.interval
    if found.cases and low >= least and high <= most:
        return "met"
    return "not met" if high < least or low > most else "too few to tell"


def targets(lines: Sequence[Line]) -> Iterator[str]:
    """Yield the targets, what was found on each half and on both, and whether they are met."""
    rows = []
    for name, least, most, found in _targets():
        both = found(lines)
        halves = [found([x for x in lines if x.case["half"] == half]) for half in (0, 1)]
        wanted = f"{least:.0%} or more" if most == 1.0 else f"{most:.1%} or less"
        if least > 0.0 and most < 1.0:
            wanted = f"{least:.0%} to {most:.0%}"
        cells = [shown(one) for one in (both, *halves)]
        rows.append((name, wanted, *cells, judged(both, least, most)))
    head = ("target", "wanted", "found", "half 0", "half 1", "")
    yield from table(head, rows)


def _targets() -> Iterator[tuple[str, float, float, Any]]:
    """Yield what is wanted: name, range, and how it is counted."""

    def of(test: Any, hit: Any) -> Any:  # noqa: ANN401  # two tests of a line
        return lambda lines: rate(hit(x) for x in lines if test(x))

    def exactly(line: Line) -> bool:
        return line.normal and line.case["scenario"] == "oscillation"

    def round_rotor(line: Line) -> bool:
        return line.normal and line.sound and not line.case["duct_wave"]

    def one(line: Line) -> bool:
        return line.normal and line.adjacent == 1

    yield "one open bar is found", 0.99, 1.0, of(one, warned)
    yield (
        "one open bar is found, of those that were decided",
        0.99,
        1.0,
        of(lambda x: one(x) and not sections.undecided(x), warned),
    )
    yield "one open bar is called sound", 0.0, 0.001, of(one, cleared)
    yield "sound motors are warned of, ducts apart", 0.0, 0.001, of(round_rotor, warned)
    yield "the same, load oscillates exactly at 2sf", 0.0, 0.001, of(exactly, warned)
    yield (
        "sound motors with as many ducts as poles are warned of",
        0.0,
        0.001,
        of(lambda x: x.normal and x.sound and x.case["duct_wave"] > 0.0, warned),
    )
    yield "intervals of the direct component hold the truth", 0.93, 0.97, _held("direct_component")
    yield "intervals of the 5th and 7th hold the truth", 0.93, 0.97, _held("harmonic_lines")
    yield (
        "bar count within half a bar, 1 to 3 adjacent",
        0.90,
        1.0,
        of(
            lambda x: x.normal and 1 <= x.adjacent <= 3 and bool(x.alone["damage_bars"]),
            lambda x: abs(x.alone["damage_bars"][0] - x.adjacent) <= 0.5,
        ),
    )
    yield (
        "confident and wrong under sensor faults",
        0.0,
        0.001,
        of(lambda x: x.faulty, confidently_wrong),
    )
    yield (
        "a bar of doubled resistance is found at 50 % load or more",
        0.80,
        1.0,
        of(lambda x: x.normal and x.case["scenario"] == "crack x2" and x.load >= 0.5, warned),
    )


def _held(name: str) -> Any:  # noqa: ANN401  # a count over lines
    """Return how the coverage of a reading is counted: round rotors, no bars apart."""

    def found(lines: Sequence[Line]) -> Rate:
        chosen = (x for x in lines if x.normal and not x.apart and not x.case["duct_wave"])
        return rate(
            h
            for x in chosen
            for r in x.readings()
            if r["name"] == name and (h := x.holds(r)) is not None
        )

    return found


def document(stored: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Yield the tables."""
    lines = lines_of(stored)
    recorded = [x for x in lines if x.well_recorded]
    full = [x for x in recorded if x.case["channels"] == ALL]
    normal = [x for x in lines if x.normal]
    all_channels = [x for x in lines if x.case["channels"] == ALL and not x.faulty]
    scenes = {one["case"]["number"] for one in stored}
    failed = [one for one in stored if not Line(one).read]
    versions = ", ".join(sorted({one["version"] for one in stored}))
    yield (
        f"{datetime.now(UTC):%Y-%m-%d}, version {versions}: {len(scenes)} scenes (numbers "
        f"{min(scenes)} to {max(scenes)}), {len(lines)} examined visits, {len(failed)} that "
        "broke off."
    )
    parts: tuple[tuple[str, Iterator[str]], ...] = (
        ("Targets", targets(lines)),
        ("Found, by damage and load (V and I)", sections.by_damage(full, warned)),
        ("Called sound, by damage and load (V and I)", sections.by_damage(full, cleared)),
        ("Sound cages (V and I, load of 25 % or more)", sections.false_calls(normal)),
        (
            "What fewer channels cost (load of 25 % or more)",
            sections.channels([x for x in recorded if x.load >= 0.25]),
        ),
        ("Not decided (V and I)", sections.abstentions(all_channels)),
        (
            "Intervals that hold the truth (V and I, load of 25 % or more, no ducts)",
            sections.coverage([x for x in normal if not x.case["duct_wave"]]),
        ),
        ("Number of bars (V and I, load of 25 % or more)", sections.bar_count(normal)),
        ("Faults of the instruments", sections.sensor_faults(lines)),
        ("Whole visits", sections.visits(lines)),
        (
            "Probabilities, half 1 (the fit saw half 0)",
            sections.calibration([x for x in lines if x.case["half"] == 1]),
        ),
        ("Scenes behind wrong verdicts", sections.wrong(lines)),
    )
    for name, text in parts:
        yield f"\n### {name}\n"
        yield from text
    yield from _errors(failed)


def _errors(failed: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Yield what broke off."""
    if failed:
        yield "\n### Broke off\n"
        rows = ((str(one["case"]["number"]), one["error"].replace("|", "/")) for one in failed[:20])
        yield from table(("scene", "why"), rows)


def written(page: str, tables: str) -> str:
    """Return the page with these tables between its marks."""
    head, rest = page.split(BEGIN)
    _, tail = rest.split(END)
    return f"{head}{BEGIN}\n\n{tables}\n{END}{tail}"


def main(arguments: list[str]) -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Tables of the population study.")
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--write", action="store_true", help=f"into {PAGE.name}")
    options = parser.parse_args(arguments)
    tables = "\n".join(document(list(read(options.files)))) + "\n"
    print(tables)
    if options.write:
        PAGE.write_text(written(PAGE.read_text(encoding="utf-8"), tables), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
