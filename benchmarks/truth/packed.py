"""Results of the study in little room: what tables and fit need, and nothing else.

A scene follows from its number, so of a visit only its number, what the simulation found (load,
slip) and what was said are kept, to :data:`DIGITS` digits, one line per visit, compressed.
:func:`results` reads what ``run.py`` writes and what :func:`pack` has made alike and gives the same
rows for both, digit for digit.
"""

from __future__ import annotations

import gzip
import json
import lzma
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, TextIO

from cagewise.decision.verdict import StateGround
from cagewise.indicators.reading import Part
from cagewise.machine.lines import LineFamily
from truth.checks import NO_ANSWER, Line
from truth.equivalent import by_design
from truth.outcome import KEPT
from truth.population import DESIGN, scene

STORED = Path(__file__).with_name("results.jsonl.xz")
"""The results behind the tables in ``docs/truth-study.md`` and behind the shipped calibration."""
MOST_BYTES = 1_500_000
"""Room that the stored results may take in the repository."""
DIGITS = 4
LONGEST_REASON = 120
CHANNELS = tuple(KEPT)
Row = dict[str, Any]


def results(paths: Sequence[Path]) -> list[Row]:
    """Return the rows of files, by scene, each scene and set of channels once.

    Of rows that stand twice the first counts; cut lines are left out.
    """
    found: dict[tuple[int, int], list[Any]] = {}
    for path in paths:
        for row in _rows(path):
            found.setdefault((row[0], row[1]), row)
    return [unpacked(found[key]) for key in sorted(found)]


def pack(path: Path, stored: Iterable[Mapping[str, Any]]) -> int:
    """Write rows to a compressed file and return its size in bytes."""
    unlike: dict[tuple[int, int], list[Any]] = {}
    for one in stored:
        row = packed(one)
        unlike.setdefault((row[0], row[1]), row)
    rows = [unlike[key] for key in sorted(unlike)]
    today = datetime.now(tz=UTC).date().isoformat()
    head = {"design": DESIGN, "digits": DIGITS, "date": today}
    text = "".join(f"{json.dumps(one, separators=(',', ':'))}\n" for one in (head, *rows))
    path.write_bytes(lzma.compress(text.encode(), preset=9 | lzma.PRESET_EXTREME))
    return path.stat().st_size


def examined_on(files: Iterable[Path]) -> str:
    """Return the day on which results were last made."""
    return max(_day_of(file) for file in files)


def _day_of(file: Path) -> str:
    if file.suffix == ".xz":
        return str(
            json.loads(lzma.decompress(file.read_bytes()).decode().split("\n", 1)[0])["date"]
        )
    return datetime.fromtimestamp(file.stat().st_mtime, tz=UTC).date().isoformat()


def as_written(path: Path) -> Iterator[Row]:
    """Yield the objects that ``run.py`` wrote to a file; cut lines are left out."""
    with _opened(path) as text:
        for line in text:
            try:
                yield json.loads(line)
            except json.JSONDecodeError:  # the last line of a run that goes on
                continue


def _rows(path: Path) -> Iterator[list[Any]]:
    """Yield the rows of one file as they are packed."""
    if path.suffix != ".xz":
        yield from (packed(one) for one in as_written(path))
        return
    head, *rows = lzma.decompress(path.read_bytes()).decode().splitlines()
    design = json.loads(head)["design"]
    if design != DESIGN:
        message = f"{path}: results of design {design}; its numbers are other scenes here"
        raise ValueError(message)
    yield from (json.loads(row) for row in rows)


def _opened(path: Path) -> TextIO:
    if path.suffix == ".gz":
        return gzip.open(path, "rt", encoding="utf-8")
    return path.open(encoding="utf-8")


def packed(stored: Mapping[str, Any]) -> list[Any]:
    """Return what is kept of a stored object, in the order in which :func:`unpacked` takes it."""
    case, truth, said = stored["case"], stored["truth"], stored["said"]
    line = Line(dict(stored))
    undecided = line.read and line.alone["state"] in NO_ANSWER
    return [
        case["number"],
        CHANNELS.index(case["channels"]),
        stored["version"],
        stored.get("error"),
        why(line) if undecided else "",
        None if truth is None else _short([truth["load_fraction"], truth["slip"]]),
        None if said is None else _verdict(said),
        [_source(source, said) for source in stored["sources"]] if line.read else [],
        {kinds: _verdict(one) for kinds, one in stored.get("subsets", {}).items()},
    ]


def _verdict(said: Mapping[str, Any]) -> list[Any]:
    bars = said["damage_bars"]
    return [
        said["state"],
        said["ground"] if said["state"] not in NO_ANSWER else "",
        None if bars is None else _short(bars),
        *_short([said["bound_bars"]]),
    ]


def _source(source: Mapping[str, Any], said: Mapping[str, Any]) -> list[Any]:
    """Return what is kept of a record, a start or a sheet."""
    of_cage = [r for r in source["readings"] if r["part"] == Part.CAGE.value]
    valid = [r for r in of_cage if r["valid"]]
    alone = source.get("alone")
    same = alone is None or _verdict(alone) == _verdict(said)
    return [
        source["kind"],
        source["voltages_measured"],
        None if source["load"] is None else _short(source["load"]),
        None if not source.get("slip") else _short(source["slip"]),
        None if same else _verdict(alone or {}),
        [_reading(r) for r in valid if r["open_bar_equivalent"] or r["detection_limit_bars"]],
        [r["name"] for r in of_cage if not r["valid"]],
    ]


def _reading(reading: Mapping[str, Any]) -> list[Any]:
    bars = reading["open_bar_equivalent"]
    return [
        reading["name"],
        reading["independence_class"],
        None if bars is None else _short(bars),
        *_short([reading["detection_limit_bars"]]),
    ]


def _short(values: Sequence[float | None]) -> list[float | None]:
    """Return numbers to a few digits."""
    return [None if x is None else float(f"{x:.{DIGITS}g}") for x in values]


def why(line: Line) -> str:
    """Return why nothing was decided on the running record, numbers and names left out."""
    for source in line.stored["sources"]:
        if source["kind"] == "running":
            reasons = [r["reason"] for r in source["readings"] if not r["valid"]]
            if line.alone["ground"] != StateGround.NOTHING_READ.value:
                return str(line.alone["ground"]).replace("_", " ")
            return _in_short(source["stopped"] or next(iter(reasons), ""))
    return "the user was asked about the channels"


def _in_short(reason: str) -> str:
    """Return the first clause of a reason without its numbers and names of lines."""
    words = reason.replace("the slip is not known (", "slip: ").split(";")[0].split(" (")[0]
    for family in sorted(LineFamily, key=len, reverse=True):
        for told in (f"the family '{family}'", f"{family}s", family):
            words = words.replace(told, "a family")
    return re.sub(r"[0-9][0-9.,e+-]*", "#", words).strip(" )")[:LONGEST_REASON]


@lru_cache(maxsize=8)
def _scene(number: int) -> tuple[Row, Row]:
    """Return the fields of a scene and what is true of it by design."""
    made = scene(number)
    return made.fields(), by_design(made)


def unpacked(row: Sequence[Any]) -> Row:
    """Return a packed row in the words of what ``run.py`` writes."""
    number, channels, version, error, reason, simulated, said, sources, subsets = row
    fields, truth = _scene(number)
    found: Row = {
        "case": {**fields, "channels": CHANNELS[channels]},
        "version": version,
        "why": reason,
        "truth": None,
        "said": None if said is None else _said(said),
        "sources": [_heard_of(source, said) for source in sources],
        "subsets": {kinds: _said(one) for kinds, one in subsets.items()},
    }
    if error:
        found["error"] = error
    if simulated is not None:
        load, slip = simulated
        found["truth"] = {**truth, "load_fraction": load, "slip": slip}
    return found


def _said(values: Sequence[Any]) -> Row:
    return dict(zip(("state", "ground", "damage_bars", "bound_bars"), values, strict=True))


def _heard_of(values: Sequence[Any], said: Sequence[Any]) -> Row:
    """Return a source with its readings."""
    kind, voltages, load, slip, alone, valid, refused = values
    told: Row = {"kind": kind, "voltages_measured": voltages, "load": load, "slip": slip}
    told["readings"] = [_valid(one) for one in valid]
    if kind == "running":
        told["alone"] = _said(alone or said)
    told["readings"] += [{"name": n, "part": Part.CAGE.value, "valid": False} for n in refused]
    return told


def _valid(values: Sequence[Any]) -> Row:
    """Return a valid reading of the cage."""
    name, of, bars, limit = values
    return {
        "name": name,
        "independence_class": of,
        "part": Part.CAGE.value,
        "valid": True,
        "open_bar_equivalent": bars,
        "detection_limit_bars": limit,
    }
