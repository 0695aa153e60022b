"""What to measure next: the rule's steps in the order of what they tell per hour.

The rule (``decision.recommendation``) says what the next measurement needs; the ranking
(``decision.next_measurement``) says what each is worth. Steps that belong to one measurement are
one row; a measurement that only the ranking has is added where it would settle something.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from cagewise.decision.course import STEP_OF
from cagewise.decision.examination import Examination
from cagewise.decision.next_measurement import Measurement, MeasurementWorth
from cagewise.decision.recommendation import NextMeasurement, NextStep
from cagewise.decision.verdict import State, StateGround
from cagewise.report import likelihood_wording as words
from cagewise.report import numbers, sentences
from cagewise.report.language import say

LEAST_DOUBT_BITS = 0.01
"""Doubt that a probability of one in a thousand leaves, the least that is ever stated: below it
nothing is said of what a measurement would settle."""
LEAST_SETTLED = 0.05
"""Part of the doubt below which a measurement is not added to the rule's steps, and below which no
tenths are written."""
LEAST_OF_BEST = 0.3
"""Part of the information per hour of the best measurement from which one that the rule did not
name is added: the list stays short."""
FIRST = frozenset({NextMeasurement.PART_TESTS, NextMeasurement.ROUTINE})
"""Steps that the ranking does not know and that come first; others that it does not know come
last."""
_MEASUREMENT_OF = {step: measurement for measurement, step in STEP_OF.items()} | {
    NextMeasurement.HIGHER_LOAD: Measurement.BETTER_RECORD,
    NextMeasurement.LONGER_RECORD: Measurement.BETTER_RECORD,
    NextMeasurement.HIGHER_RATE: Measurement.BETTER_RECORD,
    NextMeasurement.SPEED: Measurement.BETTER_RECORD,
    NextMeasurement.CURRENTS: Measurement.BETTER_RECORD,
}
"""What a step of the rule is part of: load, length, rate, speed and currents are those of one
better record."""

_SHAPE = frozenset({StateGround.SHAPE_EXPLAINS, StateGround.SHAPE_NOT_EXCLUDED})
"""Verdicts that a better record of the same kind would not part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRow:
    """One thing to measure next, worded."""

    kinds: frozenset[NextMeasurement]
    what: str
    worth: str
    """Hours, what it would settle, what it will show; empty where nothing is known of it."""
    why: str
    """Empty where the ranking alone asks for it."""
    per_hour: float
    """Expected information per hour, bits; minus one where nothing is known of it."""
    settles: bool = False
    """Whether the worth says in how many of ten cases it is as good as settled."""


def next_rows(examination: Examination) -> list[NextRow]:
    """Return what to measure next, most telling per hour first."""
    steps = examination.recommendation.next_steps
    worths = {worth.measurement: worth for worth in examination.outlook.next_measurements}
    groups: dict[Measurement | NextMeasurement, list[NextStep]] = {}
    for step in steps:
        measurement = _MEASUREMENT_OF.get(step.kind)
        known = measurement is not None and measurement in worths
        groups.setdefault(measurement if measurement and known else step.kind, []).append(step)
    rows = [_row(group, _worth_of(key, worths)) for key, group in groups.items()]
    rows += [_added(worth) for worth in _more(examination, groups, worths.values())]
    return sorted(rows, key=_rank)


def next_note(examination: Examination) -> str:
    """Return how the rows are ordered and what their words mean; empty where none has any."""
    rows = next_rows(examination)
    if any(row.settles for row in rows):
        return say(words.NEXT_NOTE)
    open_state = examination.verdict.state in (State.SUSPECT, State.DEFECTIVE)
    weighed = any(row.worth for row in rows)
    return say(words.NEXT_LITTLE_DOUBT) if weighed and open_state else ""


def _worth_of(
    key: Measurement | NextMeasurement, worths: dict[Measurement, MeasurementWorth]
) -> MeasurementWorth | None:
    """Return what a group of steps is worth, None where the ranking does not know it."""
    return worths.get(key) if isinstance(key, Measurement) else None


def _more(
    examination: Examination,
    groups: dict[Measurement | NextMeasurement, list[NextStep]],
    worths: Collection[MeasurementWorth],
) -> Iterator[MeasurementWorth]:
    """Yield the measurements that the rule did not name and that would settle something.

    None for a cage that is sound or defective: there the rule knows what confirms it.
    """
    if examination.verdict.state not in (State.SUSPECT, State.NOT_DECIDABLE):
        return
    best = max((worth.bits_per_hour for worth in worths), default=0.0)
    for worth in worths:
        again = worth.measurement is Measurement.BETTER_RECORD
        repeats = again and (Measurement.VOLTAGES in groups or examination.verdict.ground in _SHAPE)
        tells = worth.doubt_bits >= LEAST_DOUBT_BITS and worth.settled_share >= LEAST_SETTLED
        good = tells and worth.bits_per_hour >= LEAST_OF_BEST * best
        if good and worth.measurement not in groups and not repeats:
            yield worth


def _rank(row: NextRow) -> tuple[int, float]:
    """Return the sort key: what comes first, what was weighed, the rest."""
    if row.kinds & FIRST:
        return 0, 0.0
    return (1, -row.per_hour) if row.per_hour >= 0.0 else (2, 0.0)


def _row(steps: list[NextStep], worth: MeasurementWorth | None) -> NextRow:
    """Return the steps of one measurement as a row."""
    worded = sentences.next_steps(tuple(steps))
    return NextRow(
        kinds=frozenset(step.kind for step in steps),
        what=" ".join(what for what, _ in worded),
        worth="" if worth is None else _worth(worth),
        why=" ".join(why for _, why in worded),
        per_hour=-1.0 if worth is None else worth.bits_per_hour,
        settles=worth is not None and _settles(worth),
    )


def _added(worth: MeasurementWorth) -> NextRow:
    """Return a measurement that the ranking alone asks for."""
    kind = STEP_OF[worth.measurement]
    ((what, _),) = sentences.next_steps((NextStep(kind=kind),))
    return NextRow(
        kinds=frozenset({kind}),
        what=what,
        worth=_worth(worth),
        why="",
        per_hour=worth.bits_per_hour,
        settles=_settles(worth),
    )


def _worth(worth: MeasurementWorth) -> str:
    """Return hours, what would be settled, and the smallest damage that will show."""
    said = [say(words.HOURS, hours=f"{worth.hours:g}")]
    if worth.doubt_bits >= LEAST_DOUBT_BITS:
        template = words.SETTLES if _settles(worth) else words.SETTLES_HARDLY
        said.append(say(template, tenths=_tenths(worth.settled_share)))
        if worth.change_probability >= LEAST_SETTLED:
            said.append(say(words.TIPS, tenths=_tenths(worth.change_probability)))
    said.append(say(words.SHOWS, bars=numbers.bars_up(worth.limit_bars)))
    return numbers.sentence("; ".join(said))


def _settles(worth: MeasurementWorth) -> bool:
    """Return whether enough of a doubt would go for tenths to be written."""
    return worth.doubt_bits >= LEAST_DOUBT_BITS and worth.settled_share >= LEAST_SETTLED


def _tenths(share: float) -> str:
    """Return a share as a whole number of tenths, never ten."""
    return f"{min(max(round(10.0 * share), 1), 9)}"
