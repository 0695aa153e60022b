"""The tables of the study: ``python benchmarks/truth/table.py [FILE...]``.

Prints them from the stored results, or from files of ``run.py`` that are named; ``--write`` puts
them into the marked section of ``docs/truth-study.md``, with the figure beside it; ``--pack`` first
makes the stored results anew from the files. Reported are scenes of half 1 that nobody saw while
building, unless a table says otherwise.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from truth import sections
from truth.checks import Line, lines_of
from truth.packed import MOST_BYTES, STORED, Row, as_written, examined_on, pack, results
from truth.reliability import calibration, figure, told
from truth.sections import cleared, table, warned
from truth.stored import FIRST_UNSEEN, REPORTED, cases
from truth.strata import by_stratum
from truth.targets import Found, targets

PAGE = Path(__file__).resolve().parents[2] / "docs" / "truth-study.md"
FIGURE = PAGE.with_name("truth-reliability.svg")
BEGIN = "<!-- made by benchmarks/truth/table.py: begin -->"
END = "<!-- made by benchmarks/truth/table.py: end -->"


def found_in(rows: Sequence[Row], first: int) -> Found:
    """Return what scenes from the first on say."""
    chosen = [row for row in rows if row["case"]["number"] >= first]
    by_half = ([c for c in cases(chosen) if c.half == half] for half in (0, 1))
    return Found(lines=lines_of(chosen), told=[one for of_half in by_half for one in told(of_half)])


def document(rows: Sequence[Row], first: int, day: str) -> Iterator[str]:
    """Yield the tables."""
    found = found_in(rows, first)
    reported = found.of_half(REPORTED)
    lines = reported.lines
    full = [x for x in lines if x.full and x.long and not x.faulty]
    normal = [x for x in lines if x.normal]
    failed = [row for row in rows if not Line(row).read]
    yield from _head(rows, first, day)
    parts: tuple[tuple[str, Iterator[str]], ...] = (
        ("Targets", targets(found)),
        ("By part of the population", by_stratum(lines)),
        ("Found, by damage and load", sections.by_damage(full, warned)),
        ("Called sound, by damage and load", sections.by_damage(full, cleared)),
        ("Sound cages, by what disturbs them", sections.false_calls(normal)),
        (
            "What fewer channels cost",
            sections.channels([x for x in lines if x.long and x.loaded and not x.faulty]),
        ),
        ("Why nothing is decided", sections.abstentions(normal)),
        ("Probabilities", calibration(reported.told, FIGURE.name)),
        (
            "Intervals that hold the truth, ducts apart",
            sections.coverage([x for x in normal if not x.ducts]),
        ),
        ("Number of bars", sections.bar_count(normal)),
        ("Faults of the instruments", sections.sensor_faults(lines)),
        ("Whole visits", sections.visits(lines)),
        ("Scenes behind wrong verdicts", sections.wrong(lines)),
    )
    for name, text in parts:
        yield f"\n### {name}\n"
        yield from text
    yield from _errors(failed)


def _head(rows: Sequence[Row], first: int, day: str) -> Iterator[str]:
    """Yield date, version and numbers."""
    numbers = sorted({row["case"]["number"] for row in rows})
    unseen = [number for number in numbers if number >= first]
    versions = ", ".join(sorted({row["version"] for row in rows}))
    failed = sum(not Line(row).read for row in rows)
    reported = sum(number % 2 == REPORTED for number in unseen)
    yield (
        f"{day}, version {versions}: {len(numbers)} scenes (numbers {numbers[0]} to "
        f"{numbers[-1]}), {len(rows)} examined visits, {failed} that broke off. Scenes below "
        f"{first} were seen while building and are left out below: {len(unseen)} scenes remain. "
        f"Unless a table says otherwise it is of the **{reported} of half 1**; half 0 was fitted "
        "on and tuned on."
    )


def _errors(failed: Sequence[Row]) -> Iterator[str]:
    """Yield what broke off."""
    if failed:
        yield "\n### Broke off\n"
        of = ((str(row["case"]["number"]), row["error"].replace("|", "/")) for row in failed[:20])
        yield from table(("scene", "why"), of)


def written(page: str, tables: str) -> str:
    """Return the page with these tables between its marks."""
    head, rest = page.split(BEGIN)
    _, tail = rest.split(END)
    return f"{head}{BEGIN}\n\n{tables}\n{END}{tail}"


def stored_anew(files: Sequence[Path]) -> None:
    """Make the stored results from what ``run.py`` wrote.

    Raises
    ------
    ValueError
        If they take more room than the repository should give them.
    """
    packed_into = STORED.with_suffix(".new")
    size = pack(packed_into, (row for file in files for row in as_written(file)))
    if size > MOST_BYTES:
        message = f"{packed_into}: {size} bytes; at most {MOST_BYTES} go into the repository"
        raise ValueError(message)
    packed_into.replace(STORED)
    print(f"{STORED}: {size} bytes", file=sys.stderr)


def main(arguments: list[str]) -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Tables of the population study.")
    parser.add_argument("files", nargs="*", type=Path, help="of run.py; the stored results else")
    parser.add_argument("--write", action="store_true", help=f"into {PAGE.name}")
    parser.add_argument("--pack", action="store_true", help=f"files into {STORED.name} first")
    parser.add_argument("--from", dest="first", type=int, default=FIRST_UNSEEN)
    options = parser.parse_args(arguments)
    if options.pack:
        stored_anew(options.files)
    files = [STORED] if options.pack else options.files or [STORED]
    rows, day = results(files), examined_on(files)
    tables = "\n".join(document(rows, options.first, day)) + "\n"
    print(tables)
    if options.write:
        of = found_in(rows, options.first).of_half(REPORTED).told
        FIGURE.write_text(figure(of, f"{len(of)} visits of half 1"), encoding="utf-8")
        PAGE.write_text(written(PAGE.read_text(encoding="utf-8"), tables), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
