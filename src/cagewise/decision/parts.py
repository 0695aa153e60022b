"""From findings on winding and insulation to the state of each part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.limits import DecisionLimits
from cagewise.decision.verdict import State
from cagewise.evidence.findings import Finding, Ground, Support
from cagewise.evidence.parts import HYPOTHESIS
from cagewise.indicators.reading import IndependenceClass, Part


class PartGround(StrEnum):
    """Why a part is in its state; each has its sentence in ``report.wording``."""

    SEVERAL_BEYOND = "several_beyond"
    """Tests of several classes lie beyond their limits or show a change."""
    ONE_BEYOND = "one_beyond"
    """Tests of one class do."""
    WITHIN = "within"
    """All tests that have a limit lie within it."""
    NO_LIMIT = "no_limit"
    """Tests were made, but nothing says what would be sound."""
    NOT_VALID = "not_valid"
    """No test of the part was valid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartVerdict:
    """The state of a part of the motor other than its cage."""

    part: Part
    state: State
    ground: PartGround
    findings: tuple[Finding, ...]
    """Everything that was tested, in the order of the tests."""

    @property
    def speaking(self) -> tuple[Finding, ...]:
        """Findings that speak for a defect."""
        return tuple(f for f in self.findings if f.support is Support.FOR)

    @property
    def classes_against_the_part(self) -> tuple[IndependenceClass, ...]:
        """Independence classes that speak for a defect, each once."""
        return tuple(dict.fromkeys(f.independence_class for f in self.speaking))


def judge_parts(findings: Iterable[Finding], limits: DecisionLimits) -> tuple[PartVerdict, ...]:
    """Return the state of every part that was tested, in the order of :class:`Part`."""
    findings = tuple(findings)
    return tuple(
        _judge(part, tested, limits)
        for part, hypothesis in HYPOTHESIS.items()
        if (tested := tuple(f for f in findings if f.hypothesis is hypothesis))
    )


def _judge(part: Part, findings: tuple[Finding, ...], limits: DecisionLimits) -> PartVerdict:
    """Return the state of one part; what is within its limits never outvotes what is not."""
    speaking = {f.independence_class for f in findings if f.support is Support.FOR}
    if len(speaking) >= limits.defective_classes_min:
        state, ground = State.DEFECTIVE, PartGround.SEVERAL_BEYOND
    elif speaking:
        state, ground = State.SUSPECT, PartGround.ONE_BEYOND
    elif any(f.support is Support.AGAINST for f in findings):
        state, ground = State.SOUND, PartGround.WITHIN
    elif all(f.ground is Ground.NOT_READ for f in findings):
        state, ground = State.NOT_DECIDABLE, PartGround.NOT_VALID
    else:
        state, ground = State.NOT_DECIDABLE, PartGround.NO_LIMIT
    return PartVerdict(part=part, state=state, ground=ground, findings=findings)
