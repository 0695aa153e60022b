"""What else could make the lines at the pole-pass distance, worded and ranked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cagewise.decision.examination import Examination
from cagewise.decision.next_measurement import Measurement, hours_of
from cagewise.decision.verdict import State
from cagewise.evidence.explanations import Cause, Explanation, ExplanationGround, SeparatingTest
from cagewise.evidence.findings import BlindSpot, Hypothesis
from cagewise.quantities import NotKnown
from cagewise.report import likelihood_wording as words
from cagewise.report import number_wording, numbers, sentences
from cagewise.report.language import say
from cagewise.report.likelihood_text import stated_posterior

LEAST_LISTED = 0.01
"""Causes that weigh less are named together."""
_HYPOTHESES = {
    Cause.LOAD_OSCILLATION: Hypothesis.LOAD_OSCILLATION,
    Cause.SUPPLY_MODULATION: Hypothesis.SUPPLY_MODULATION,
}
_BLIND_SPOTS = {
    BlindSpot.LOAD_OSCILLATION: Cause.LOAD_OSCILLATION,
    BlindSpot.SUPPLY_MODULATION: Cause.SUPPLY_MODULATION,
    BlindSpot.ANISOTROPIC_ROTOR: Cause.ROTOR_SHAPE,
}
"""Blind spots that are causes of the same lines."""
_MEASUREMENTS = {
    SeparatingTest.SECOND_CLASS: (Measurement.START_RECORD, Measurement.POSITION_TEST),
    SeparatingTest.STEADY_LOAD: (Measurement.BETTER_RECORD,),
    SeparatingTest.CHANGE_LOAD: (Measurement.SECOND_LOAD,),
    SeparatingTest.TWO_LOADS_OR_START: (Measurement.SECOND_LOAD, Measurement.START_RECORD),
    SeparatingTest.VOLTAGES: (Measurement.VOLTAGES,),
}
"""Measurements that a test consists of, in the order of its words; others have no stated hours."""

_WITHOUT_FINDINGS = frozenset(
    {Cause.CAGE, Cause.UNEVEN_CAGE, Cause.WRONG_READING, Cause.ROTOR_SHAPE}
)
"""Causes of which nothing is measured beside the cage itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplanationRow:
    """One cause, worded."""

    weight: str
    cause: str
    why: str
    test: str
    """What would part it from the cage, with its hours; empty where nothing is to be parted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """The section: the causes that count, the others in a line each, and a note."""

    rows: tuple[ExplanationRow, ...] = ()
    together: tuple[str, ...] = ()
    """Causes of one weight in one sentence: hardly possible, ruled out, not to be weighed."""
    note: str = ""
    causes: frozenset[Cause] = frozenset()
    """Causes that have a row or could not be weighed."""


def explained(examination: Examination) -> Explained:
    """Return the section; empty where nothing was read."""
    found = examination.outlook.explanations
    grounds = {one.ground for one in found if one.cause is not Cause.CAGE}
    if not found or ExplanationGround.NOT_READ in grounds:
        return Explained()
    if grounds == {ExplanationGround.NOTHING_TO_EXPLAIN}:
        speaks = bool(examination.evidence.classes_for)  # another class than these lines
        return Explained(note="" if speaks else say(words.NOTHING_TO_EXPLAIN))
    listed = [one for one in found if _weight(one) >= LEAST_LISTED]
    unknown = [one for one in found if isinstance(one.weight, NotKnown)]
    slight = [one for one in found if 0.0 < _weight(one) < LEAST_LISTED]
    none = [one for one in found if not isinstance(one.weight, NotKnown) and one.weight <= 0.0]
    stated = stated_posterior(examination) is not None
    together = (
        (say(words.NOT_WEIGHED), [_why_and_test(one, examination) for one in unknown]),
        (_written(0.5 * LEAST_LISTED, stated=stated), [_named(one, examination) for one in slight]),
        (say(words.NONE), [_named(one, examination) for one in none]),
    )
    return Explained(
        rows=tuple(_row(one, examination, stated=stated) for one in listed),
        together=tuple(_together(weight, causes) for weight, causes in together if causes),
        note=say(words.WEIGHTS_NOTE) if stated else say(words.WEIGHTS_NOTE_WORDS),
        causes=frozenset(one.cause for one in (*listed, *unknown)),
    )


def not_excluded(examination: Examination) -> list[tuple[str, str]]:
    """Return what stays possible beside the causes that were ranked, and what would exclude it."""
    ranked = explained(examination).causes
    spots = examination.evidence.blind_spots
    worded = sentences.not_excluded(examination.evidence)
    return [
        said
        for spot, said in zip(spots, worded, strict=True)
        if _BLIND_SPOTS.get(spot) not in ranked
    ]


def _weight(explanation: Explanation) -> float:
    """Return the weight, -1 where there is none."""
    return -1.0 if isinstance(explanation.weight, NotKnown) else explanation.weight


def _row(explanation: Explanation, examination: Examination, *, stated: bool) -> ExplanationRow:
    """Return one cause that counts."""
    return ExplanationRow(
        weight=_written(_weight(explanation), stated=stated),
        cause=say(words.CAUSE[explanation.cause]),
        why=_why(explanation, examination),
        test=_test(explanation.test, examination) if _asked(explanation, examination) else "",
    )


def _asked(explanation: Explanation, examination: Examination) -> bool:
    """Return whether a cause is still to be parted from the cage, and was not measured."""
    lead = examination.leading
    measured = lead is not None and lead.voltages_measured > 0
    done = explanation.test is SeparatingTest.VOLTAGES and measured
    sound = examination.verdict.state is State.SOUND
    return not (explanation.cause is Cause.CAGE or done or sound)


def _written(weight: float, *, stated: bool) -> str:
    """Return a weight in percent, or in a word where the study covers nothing."""
    if stated:
        below = weight < LEAST_LISTED
        return say(words.UNDER_ONE) if below else say(words.PERCENT, share=f"{100.0 * weight:.0f}")
    return next(say(word) for least, word in words.IN_WORDS if weight >= least)


def _why(explanation: Explanation, examination: Examination) -> str:
    """Return the reason of a weight as a clause."""
    if explanation.cause is Cause.ROTOR_SHAPE and explanation.ground is ExplanationGround.READINGS:
        return say(words.SHAPE_WEIGHED)
    hypothesis = _HYPOTHESES.get(explanation.cause)
    reasons = sentences.competing_reasons(examination, hypothesis) if hypothesis else ""
    return say(
        words.WHY[explanation.ground],
        reasons=reasons,
        line=explanation.line,
        distance=numbers.significant(explanation.numbers.get("distance_hz", 0.0), 2),
    )


def _test(test: SeparatingTest, examination: Examination) -> str:
    """Return a separating test with its hours, where they are stated."""
    effort = examination.settings.limits.effort
    hours = [f"{hours_of(effort)[measurement]:g}" for measurement in _MEASUREMENTS.get(test, ())]
    if not hours:
        return say(words.TEST[test])
    return say(
        words.TEST_HOURS,
        test=say(words.TEST[test]),
        hours=numbers.listed(list(dict.fromkeys(hours)), number_wording.EITHER),
    )


def _named(explanation: Explanation, examination: Examination) -> str:
    """Return a cause, with its reason in brackets where something was measured of it."""
    if explanation.cause in _WITHOUT_FINDINGS:
        return say(words.CAUSE[explanation.cause])
    why = _why(explanation, examination)
    return say(words.NAMED, cause=say(words.CAUSE[explanation.cause]), why=why)


def _why_and_test(explanation: Explanation, examination: Examination) -> str:
    """Return a cause that cannot be weighed: why, and what would weigh it."""
    return say(
        words.NAMED_WITH_TEST,
        cause=say(words.CAUSE[explanation.cause]),
        why=_why(explanation, examination),
        test=_test(explanation.test, examination),
    )


def _together(weight: str, causes: Iterable[str]) -> str:
    """Return causes of one weight in one sentence."""
    return numbers.begins(say(words.TOGETHER, weight=weight, causes="; ".join(causes)))
