"""The population study: ``python benchmarks/truth/run.py --out FILE.jsonl --count N``.

Simulates motors of known truth (``population.py``), examines them with what an engineer knows and
appends what was said to a file, one object per line and examined visit. Scenes that are in the
file are skipped, so that a run can be broken off and taken up again. ``--keep FOLDER`` keeps what
was simulated (4 MB per scene) for the next examination of the same scenes. ``--once`` runs a few
scenes and fails when something that must never happen did. ``table.py`` makes the tables.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = "1"  # processes share the cores, threads would fight for them
os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import argparse
import json
import multiprocessing
import subprocess
import tempfile
import time
from collections.abc import Iterator
from multiprocessing.sharedctypes import Synchronized
from typing import Any

from cagewise import __version__
from truth.checks import broken_rules
from truth.outcome import outcomes
from truth.packed import as_written, results
from truth.population import scene
from truth.subset import SCENES, drifted, numbers, reference


def work(
    numbers: list[int], place: Synchronized[int], until: float, options: argparse.Namespace
) -> None:
    """Take scene after scene from the list that the processes share."""
    while time.time() < until:
        with place.get_lock():
            taken = place.value
            place.value += 1
        if taken >= len(numbers):
            return
        found = outcomes(scene(numbers[taken]), options.version, options.keep)
        append(options.out, "".join(f"{json.dumps(line)}\n" for line in found))


def append(path: Path, text: str) -> None:
    """Append whole lines in one write, so that no other process comes between."""
    file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    try:
        os.write(file, text.encode())
    finally:
        os.close(file)


def version() -> str:
    """Return the version of the program and of its source."""
    command = ["git", "describe", "--always", "--dirty"]
    told = subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=Path(__file__).parent
    )
    return f"{__version__} {told.stdout.strip()}".strip()


def parsed(arguments: list[str]) -> argparse.Namespace:
    """Return the options."""
    parser = argparse.ArgumentParser(description="Population study on motors of known truth.")
    parser.add_argument("--out", type=Path, help="file that lines are appended to (JSON Lines)")
    parser.add_argument("--count", type=int, default=1000, help="number of scenes")
    parser.add_argument("--start", type=int, default=0, help="number of the first scene")
    parser.add_argument("--halves", default="0,1", help="halves of the parameter space")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument(
        "--minutes", type=float, default=float("inf"), help="take no new scene then"
    )
    parser.add_argument("--keep", type=Path, help="folder where simulated records are kept")
    parser.add_argument("--once", action="store_true", help="the fixed subset, with its checks")
    options = parser.parse_args(arguments)
    if not options.once and options.out is None:
        parser.error("--out is needed")
    options.version = version()
    return options


def written(path: Path) -> Iterator[dict[str, Any]]:
    """Yield what was stored so far; nothing where there is no file yet."""
    if path.exists():
        yield from as_written(path)


def wanted(options: argparse.Namespace) -> list[int]:
    """Return the numbers of the scenes that are still to be done."""
    if options.once:
        return list(SCENES)
    halves = {int(half) for half in options.halves.split(",")}
    done = {line["case"]["number"] for line in written(options.out)}
    span = range(options.start, options.start + options.count)
    return [number for number in span if number % 2 in halves and number not in done]


def run(options: argparse.Namespace) -> None:
    """Do the scenes in several processes; one that dies leaves the others at work."""
    if options.out.exists() and not options.out.read_bytes().endswith(b"\n"):
        append(options.out, "\n")  # a line was cut off
    context = multiprocessing.get_context("spawn")
    place = context.Value("l", 0)
    until = time.time() + 60.0 * options.minutes
    shared = (wanted(options), place, until, options)
    workers = [context.Process(target=work, args=shared) for _ in range(options.processes)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()


def once(options: argparse.Namespace) -> int:
    """Run the subset, print it and return whether a rule is broken."""
    with tempfile.TemporaryDirectory() as folder:
        options.out = Path(folder) / "once.jsonl"
        run(options)
        lines = sorted(as_written(options.out), key=lambda line: line["case"]["number"])
        rows = results([options.out])
    for line in lines:
        case, said = line["case"], line["said"] or {}
        truth = (line["truth"] or {}).get("open_bars", float("nan"))
        print(
            f"{case['number']:4} {case['motor']:11} {case['scenario']:20} {case['load']:4.0%} "
            f"{case['channels']:11} {truth:5.2f} {said.get('state', line.get('error'))}"
        )
    now, then = numbers(rows), reference()
    print(f"now:  {now}\nthen: {then}")
    broken = [*broken_rules(lines, scenes=SCENES), *drifted(now, then)]
    for rule in broken:
        print(f"BROKEN: {rule}")
    return 1 if broken else 0


def main(arguments: list[str]) -> int:
    """Run the study."""
    options = parsed(arguments)
    if options.once:
        return once(options)
    begin, before = time.time(), len(wanted(options))
    run(options)
    done, hours = before - len(wanted(options)), (time.time() - begin) / 3600.0
    print(f"{done} of {before} scenes, {done / hours:.0f} per hour, in {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
