"""Verdicts on simulated motors of known truth: ``python benchmarks/verdicts.py``.

Every recording comes from a machine whose cage is known (``verdict_cases.py``). It is examined with
a motor file that holds what an engineer knows: nameplate, perhaps the number of bars, never the
circuit. ``--once`` takes six cases of 20 s; ``--keep FOLDER`` keeps the recordings there, so that
an examination can be changed and repeated; ``--only TEXT`` takes the cases whose name holds it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from cagewise.decision.verdict import State
from cagewise.errors import CagewiseError
from cagewise.evidence.cage import SEPARATING_READING
from cagewise.measurement import CURRENT_ROLES, Recording, Role
from cagewise.pipeline import examine
from cagewise.quantities import Estimate
from cagewise.readers.registry import read_recording, write_recording
from verdict_cases import ONCE, PLATES, Case, cases, plate_motor, record


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What was said beside what is true."""

    case: Case
    state: str
    ground: str
    direct: Estimate | None
    bound: float | None
    slip_error_rpm: float | None
    """None when no slip was given."""
    slip_missed: bool
    """Whether the place of the lines is off by more than a resolution cell."""
    counts: str

    @property
    def sound_in_truth(self) -> bool:
        """Whether the cage is as even as cages are."""
        return not self.case.open_bars and self.case.crack == 1.0

    @property
    def one_open_bar(self) -> bool:
        """Whether a bar is open and the load is enough to see it."""
        return bool(self.case.open_bars) and self.case.load >= 0.25

    @property
    def interval_holds(self) -> bool | None:
        """Whether the interval of the direct component holds the truth; None if not asked."""
        true = self.case.true_bars
        if self.direct is None or true is None:
            return None
        return self.direct.low <= true <= self.direct.high

    def row(self) -> str:
        """Return the row of the table."""
        direct, error = self.direct, self.slip_error_rpm
        bars = f"{direct.value:.2f} [{direct.low:.2f}, {direct.high:.2f}]" if direct else "-"
        slip = "-" if error is None else f"{error:+.3f}{' WRONG' if self.slip_missed else ''}"
        true = self.case.true_bars
        truth = "apart" if true is None else f"{true:.2f}"
        return (
            f"{self.case.name:44} {truth:>5} {self.state:13} {bars:20} "
            f"{'' if self.bound is None else f'{self.bound:.2f}':>5} {slip:>8} {self.counts:>4} "
            f"{self.ground}"
        )


def examined(case: Case, recording: Recording) -> Outcome:
    """Examine a recording as the engineer would."""
    blind = replace(_as_captured(case, recording), truth={})
    try:
        examination = examine(plate_motor(case.motor, bars_known=case.bars_known), blind)
    except CagewiseError as error:
        return _outcome(case, state="asked", ground=str(error)[:60])
    lead, verdict = examination.leading, examination.verdict
    if lead is None:
        return _outcome(case, state=verdict.state.value, ground="read as a start only")
    direct = next((r for r in lead.readings if r.name == SEPARATING_READING), None)
    slip = getattr(lead.operating_point, "slip", None)
    poles = PLATES[case.motor][0][5]
    error_rpm = None
    if isinstance(slip, Estimate):
        # at the mean frequency: the truth's own frequency is a weighted mean
        synchronous_rpm = 120.0 * recording.truth["supply_frequency_hz"] / poles
        error_rpm = synchronous_rpm * (recording.truth["slip"] - slip.value)
    off_hz = abs(error_rpm or 0.0) * poles / 60.0
    reasons = {r.reason for r in lead.readings if r.reason}
    return Outcome(
        case=case,
        state=verdict.state.value,
        ground=verdict.ground.value if direct is not None and direct.valid else "; ".join(reasons),
        direct=None if direct is None else direct.open_bar_equivalent,
        bound=verdict.bound_bars,
        slip_error_rpm=error_rpm,
        slip_missed=off_hz * recording.duration_s > 1.0,
        counts=f"{verdict.methods_agreeing}/{verdict.classes_agreeing}",
    )


def _outcome(case: Case, *, state: str, ground: str) -> Outcome:
    """Return that the roles were asked about."""
    return Outcome(
        case=case,
        state=state,
        ground=ground,
        direct=None,
        bound=None,
        slip_error_rpm=None,
        slip_missed=False,
        counts="",
    )


def _as_captured(case: Case, recording: Recording) -> Recording:
    """Return the recording with the channels that were connected."""
    kept: tuple[Role, ...] = tuple(c.role for c in recording.channels)
    if case.channels == "I only":
        kept = tuple(CURRENT_ROLES)
    elif case.channels == "one I":
        kept = tuple(CURRENT_ROLES)[:1]
    return replace(recording, channels=tuple(c for c in recording.channels if c.role in kept))


def summary(outcomes: list[Outcome]) -> Iterator[str]:
    """Yield the counts."""
    warned = {State.SUSPECT.value, State.DEFECTIVE.value}
    sound = [o for o in outcomes if o.sound_in_truth]
    broken = [o for o in outcomes if o.one_open_bar]
    asked = [o for o in outcomes if o.interval_holds is not None]
    bounded = [o for o in outcomes if o.state == State.SOUND.value and o.case.true_bars is not None]
    said = [o for o in outcomes if o.slip_error_rpm is not None]
    undecided = State.NOT_DECIDABLE.value
    yield _count("sound motors warned of", (o.state in warned for o in sound))
    yield _count("sound motors cleared", (o.state == State.SOUND.value for o in sound))
    yield _count("open bars at 25 % load or more called sound", (_silent(o) for o in broken))
    yield _count("open bars at 25 % load or more warned of", (o.state in warned for o in broken))
    yield _count("wrong slip accepted", (o.slip_missed for o in said))
    yield _count("slip not known", (o.slip_error_rpm is None for o in outcomes))
    yield _count("not decidable", (o.state == undecided for o in outcomes))
    yield _count("intervals that hold the truth", (bool(o.interval_holds) for o in asked))
    yield _count(
        "bounds of sound verdicts that hold",
        ((o.bound or 0.0) >= (o.case.true_bars or 0.0) for o in bounded),
    )


def _silent(outcome: Outcome) -> bool:
    """Return whether damage was called sound."""
    return outcome.state == State.SOUND.value


def _count(what: str, hits: Iterable[bool]) -> str:
    """Return a line of the summary."""
    each = list(hits)
    return f"{what}: {sum(each)} of {len(each)}"


def kept(case: Case, folder: Path | None) -> Recording:
    """Return the recording of a case, from the folder if it is there."""
    if folder is None:
        return record(case)
    path = folder / f"{case.name.replace(' ', '_').replace(',', '')}-{case.seed}.npz"
    if not path.exists():
        write_recording(record(case), path)
    return read_recording(path)


def main(arguments: list[str]) -> int:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description="Verdicts on motors of known truth.")
    parser.add_argument("--once", action="store_true")
    parser.add_argument("--only", default="")
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args(arguments)
    chosen = [case for case in cases() if options.only in case.name]
    if options.once:
        chosen = [replace(c, duration_s=20.0, rate_hz=2500.0) for c in chosen if c.name in ONCE]
    outcomes = []
    for case in chosen:
        outcomes.append(examined(case, kept(case, options.keep)))
        sys.stdout.write(outcomes[-1].row() + "\n")
        sys.stdout.flush()
    sys.stdout.writelines(f"{line}\n" for line in summary(outcomes))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
