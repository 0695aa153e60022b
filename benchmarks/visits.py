"""Verdicts on visits of known truth: ``python benchmarks/visits.py``.

Every motor of ``visit_cases.py`` is started and tested at rest; the start alone, the sheet alone
and both together are examined with what an engineer knows. ``--once`` takes a few cases; ``--only
TEXT`` those whose name holds it; ``--from N`` adds to all seeds; ``--processes N`` shares the work.
It fails when a sound cage is called defective or an open bar sound.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # two processes share two cores

import argparse
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace

from cagewise.decision.examination import Examination, Source
from cagewise.decision.verdict import State, Verdict, judge
from cagewise.errors import CagewiseError
from cagewise.evidence.weigh import combine
from cagewise.indicators.reading import Reading
from cagewise.pipeline import Earlier, examine_visit
from visit_cases import ONCE, Case, cases, plate_motor
from visit_machines import TrueMotor

MODES = ("start", "sheet", "both")
READINGS = (
    "start_side_line_track",
    "start_time",
    "initial_start_current",
    "position_pattern",
    "mean_inductance",
)
FALSE_ALARM = 1e-3


@dataclass(frozen=True, kw_only=True)
class Read:
    """What one reading said."""

    value: float
    low: float
    high: float
    limit: float
    chance: float
    percent: float


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What was said beside what is true."""

    case: Case
    states: dict[str, str] = field(default_factory=dict)
    grounds: dict[str, str] = field(default_factory=dict)
    bounds: dict[str, float | None] = field(default_factory=dict)
    readings: dict[str, Read] = field(default_factory=dict)
    reasons: dict[str, str] = field(default_factory=dict)
    time_to_speed_s: float = 0.0
    seconds: float = 0.0
    failed: str = ""

    def row(self) -> str:
        """Return the row of the table."""
        scene = self.case.scene
        known = "n" if scene.bars_known else "-"
        head = (
            f"{self.case.seed} {self.case.name:34} {known} {scene.channels:7} "
            f"{self.time_to_speed_s:4.2f} s "
        )
        if self.failed:
            return head + self.failed
        said = " ".join(f"{self.states[mode]:13}" for mode in MODES)
        shown = "; ".join(_told(self, name) for name in (READINGS[0], READINGS[3]))
        return f"{head}{said} {self.grounds['both']:16} {shown} ({self.seconds:.1f} s)"


def _told(outcome: Outcome, name: str) -> str:
    """Return a reading in bars, or why there is none."""
    read = outcome.readings.get(name)
    if read is None:
        return outcome.reasons.get(name, "-")[:60]
    return (
        f"{read.value:.2f} [{read.low:.2f}, {read.high:.2f}] > {read.limit:.2f} p {read.chance:.0e}"
    )


def visited(case: Case) -> Outcome:
    """Simulate and examine one visit."""
    try:
        return _visited(case)
    except CagewiseError as error:
        return Outcome(case=case, failed=f"{type(error).__name__}: {error}"[:150])


def _visited(case: Case) -> Outcome:
    truth = TrueMotor(case)
    scene = case.scene
    start, sheet = truth.start(0), truth.sheet(0)
    seconds = start.truth["time_to_speed_s"]
    start = replace(start, truth={})
    old_starts = [truth.start(k) for k in range(1, 1 + scene.earlier_starts)]
    old_sheets = [truth.sheet(k) for k in range(1, 1 + scene.earlier_sheets)]
    motor = plate_motor(case.plate, bars_known=scene.bars_known)
    begin = time.perf_counter()
    both = examine_visit(
        motor,
        [start],
        sheets=[sheet],
        earlier=Earlier(recordings=old_starts, sheets=old_sheets),
    )
    told = {
        "start": _alone(both, (*both.records, *both.starts)),
        "sheet": _alone(both, both.sheets),
        "both": both.verdict,
    }
    found = {r.name: r for r in _readings(both)}
    return Outcome(
        case=case,
        states={mode: v.state.value for mode, v in told.items()},
        grounds={mode: v.ground.value for mode, v in told.items()},
        bounds={mode: v.bound_bars for mode, v in told.items()},
        readings={n: read for n in READINGS if n in found and (read := _read(found[n]))},
        reasons={n: found[n].reason for n in READINGS if n in found},
        time_to_speed_s=seconds,
        seconds=time.perf_counter() - begin,
    )


def _alone(both: Examination, sources: Sequence[Source]) -> Verdict:
    """Return what the visit would have come to with these sources only.

    Sources are examined one by one, so this is the verdict of a visit without the others.
    """
    decision = both.settings.limits.decision
    return judge(combine([source.evidence for source in sources]), decision)


def _readings(examination: Examination) -> Iterator[Reading]:
    """Yield what was read of the starts and at rest."""
    for start in examination.starts:
        yield from start.readings
    for sheet in examination.sheets:
        yield from sheet.readings


def _read(reading: Reading) -> Read | None:
    """Return the numbers of a reading that can be compared with bars."""
    bars = reading.open_bar_equivalent
    if not reading.valid or bars is None:
        return None
    chance = reading.false_alarm_probability
    value = reading.value
    return Read(
        value=bars.value,
        low=bars.low,
        high=bars.high,
        limit=reading.detection_limit_bars or float("nan"),
        chance=1.0 if chance is None else chance,
        percent=value.value if value is not None else float("nan"),
    )


def summary(outcomes: list[Outcome]) -> Iterator[str]:
    """Yield the counts."""
    read = [o for o in outcomes if not o.failed]
    yield f"failed: {len(outcomes) - len(read)} of {len(outcomes)}"
    groups: dict[str, list[Outcome]] = {}
    for outcome in read:
        story = outcome.case.story.replace(", again", "").replace(", once more", "")
        groups.setdefault(story.removesuffix(" again"), []).append(outcome)
    for story, members in groups.items():
        for mode in MODES:
            said = [o.states[mode] for o in members]
            told = ", ".join(f"{s.value} {said.count(s.value)}" for s in State if s.value in said)
            yield f"{story:24} {mode:5} {told}"
    yield from _coverage(read)
    yield from _limits(read)


def _coverage(outcomes: list[Outcome]) -> Iterator[str]:
    """Yield how many intervals hold the number of bars."""
    for name in READINGS:
        for what, wanted in (("sound", (0,)), ("open", (1, 2, 3))):
            asked = [
                (o.readings[name], o.case.adjacent)
                for o in outcomes
                if name in o.readings and o.case.adjacent in wanted
            ]
            held = (r.low - 0.1 * (n == 0) <= (n or 0) <= r.high for r, n in asked)
            yield _count(f"{name} {what}: intervals that hold the truth", held)
        valid = (name in o.readings for o in outcomes)
        yield _count(f"{name}: read", valid)


def _limits(outcomes: list[Outcome]) -> Iterator[str]:
    """Yield how many damages above the detection limit were found."""
    for name in READINGS:
        weak = name in {"start_time", "initial_start_current", "mean_inductance"}
        asked = [
            o.readings[name]
            for o in outcomes
            if name in o.readings and o.case.adjacent and o.case.adjacent >= o.readings[name].limit
        ]
        gate = 0.05 if weak else FALSE_ALARM
        yield _count(f"{name}: open bars above the limit found", (r.chance <= gate for r in asked))


def _count(what: str, hits: Iterable[bool]) -> str:
    """Return a line of the summary."""
    each = list(hits)
    return f"{what}: {sum(each)} of {len(each)}"


def wrong(outcome: Outcome) -> bool:
    """Return whether a verdict is the opposite of the truth."""
    states = set(outcome.states.values())
    if outcome.case.cage_is_sound:
        return State.DEFECTIVE.value in states
    return bool(outcome.case.adjacent) and State.SOUND.value in states


def main(arguments: list[str]) -> int:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description="Verdicts on visits of known truth.")
    parser.add_argument("--once", action="store_true")
    parser.add_argument("--only", default="")
    parser.add_argument("--from", dest="offset", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args(arguments)
    chosen = [replace(c, seed=c.seed + options.offset) for c in cases() if options.only in c.name]
    if options.once:
        chosen = [case for case in chosen if case.name in ONCE]
    outcomes = []
    with ProcessPoolExecutor(options.processes) as pool:
        for outcome in pool.map(visited, chosen):
            outcomes.append(outcome)
            sys.stdout.write(outcome.row() + "\n")
            sys.stdout.flush()
    sys.stdout.writelines(f"{line}\n" for line in summary(outcomes))
    return 1 if any(wrong(outcome) for outcome in outcomes) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
