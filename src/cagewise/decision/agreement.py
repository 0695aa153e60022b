"""Where the state of the cage and the probability of a defect do not say the same.

The state is settled by rules that ask what readings establish (``evidence.md``, section 5), the
probability by how readings err and how common damage is (``fusion.md``). They answer different
questions, so they may differ; where they do the report says so, and why (``fusion.md``, section 5).
"""

from __future__ import annotations

from enum import StrEnum

from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.evidence.findings import Evidence
from cagewise.quantities import NotKnown

PROBABLE = 0.5
"""More probable than not; our judgement."""
IMPROBABLE = 0.1
"""Improbable though something speaks for it; our judgement."""


class Difference(StrEnum):
    """How state and probability differ; each has its sentence in ``report.likelihood_wording``."""

    SOUND_BUT_PROBABLE = "sound_but_probable"
    """Open bars are bounded below one, and less than one, a crack, is more probable than none."""
    UNDECIDED_BUT_PROBABLE = "undecided_but_probable"
    """The rules decide nothing, and a defect is more probable than not."""
    CALLED_BUT_IMPROBABLE = "called_but_improbable"
    """Something speaks for a defect, but something else made it more probably."""
    CALLED_BUT_RARE = "called_but_rare"
    """What speaks for a defect is the picture of bars 90 electrical degrees apart, which the prior
    takes for rare."""


def difference(verdict: Verdict, evidence: Evidence) -> Difference | None:
    """Return how the state and the probability differ, None where they agree or none is stated."""
    probability = evidence.probability
    if isinstance(probability, NotKnown):
        return None
    if verdict.state in (State.SUSPECT, State.DEFECTIVE):
        rare = verdict.ground is StateGround.MASKED_PAIR
        called = Difference.CALLED_BUT_RARE if rare else Difference.CALLED_BUT_IMPROBABLE
        return called if probability < IMPROBABLE else None
    if probability <= PROBABLE:
        return None
    sound = verdict.state is State.SOUND
    return Difference.SOUND_BUT_PROBABLE if sound else Difference.UNDECIDED_BUT_PROBABLE
