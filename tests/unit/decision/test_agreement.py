"""State and probability: where they differ, and that they are said to."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.decision.agreement import Difference, difference
from cagewise.decision.examination import Examination
from cagewise.decision.verdict import State, StateGround
from cagewise.quantities import NotKnown
from cagewise.report import likelihood_text, sentences
from support.examinations import damaged, examination, record, sound, study_with


def visit(state: State, probability: float | None) -> Examination:
    """Return an examination that comes to this state and this probability."""
    study = study_with()
    made = examination(record(damaged() if state is not State.SOUND else sound(), study=study))
    said = NotKnown("not counted") if probability is None else probability
    return replace(
        made,
        verdict=replace(made.verdict, state=state),
        evidence=replace(made.evidence, probability=said),
    )


@pytest.mark.parametrize(
    ("state", "probability", "found"),
    [
        (State.SOUND, 0.75, Difference.SOUND_BUT_PROBABLE),
        (State.SOUND, 0.3, None),
        (State.NOT_DECIDABLE, 0.6, Difference.UNDECIDED_BUT_PROBABLE),
        (State.NOT_DECIDABLE, 0.02, None),
        (State.SUSPECT, 0.05, Difference.CALLED_BUT_IMPROBABLE),
        (State.SUSPECT, 0.3, None),
        (State.DEFECTIVE, 0.99, None),
        (State.SOUND, None, None),
    ],
)
def test_where_state_and_probability_differ(
    state: State, probability: float | None, found: Difference | None
) -> None:
    made = visit(state, probability)

    assert difference(made.verdict, made.evidence) is found
    assert bool(likelihood_text.differing(made)) == (found is not None)


def test_bars_apart_are_called_though_the_prior_takes_them_for_rare() -> None:
    made = visit(State.SUSPECT, 0.05)
    apart = replace(made, verdict=replace(made.verdict, ground=StateGround.MASKED_PAIR))

    assert difference(apart.verdict, apart.evidence) is Difference.CALLED_BUT_RARE
    assert "0.1 % of motors" in likelihood_text.differing(apart)  # 5 % of 2 %


def test_what_is_probably_cracked_is_not_put_down_to_another_cause() -> None:
    made = visit(State.SOUND, 0.75)

    assert not sentences.explanation(made)
    assert "sound says" in likelihood_text.differing(made)
    assert likelihood_text.differing(made) in likelihood_text.probability_lines(made)
