"""From findings on winding and insulation to the state of each part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.limits import DecisionLimits
from cagewise.decision.verdict import State
from cagewise.evidence.findings import Finding, Ground, Support
from cagewise.evidence.parts import HYPOTHESIS
from cagewise.indicators.reading import Part, Sense


class PartGround(StrEnum):
    """Why a part is in its state; each has its sentence in ``report.wording``."""

    SEVERAL_BEYOND = "several_beyond"
    """Tests of several classes lie beyond their limits or show a change."""
    ONE_BEYOND = "one_beyond"
    """Tests of one class do."""
    WITHIN = "within"
    """All tests that have a limit lie within it."""
    WITHIN_BUT = "within_but"
    """All that could be decided lie within their limits; others were measured, and the limit lies
    within their uncertainty."""
    AT_LIMIT = "at_limit"
    """Nothing is proven beyond its limit, but a reading itself lies beyond it."""
    MAIN_NOT_VALID = "main_not_valid"
    """The test without which the part cannot be called sound was made and could not be used."""
    NO_LIMIT = "no_limit"
    """Tests were made, but nothing says what would be sound."""
    NOT_VALID = "not_valid"
    """No test of the part was valid."""


MAIN_TESTS = frozenset({"insulation_resistance", "resistance_unbalance"})
"""Tests without which their part is not called sound, once they were tried: the others see less."""


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
    def doubted(self) -> bool:
        """Whether the part is suspect or defective."""
        return self.state in (State.SUSPECT, State.DEFECTIVE)

    @property
    def unanswered(self) -> bool:
        """Whether tests that could have judged the part did not."""
        return self.state is State.NOT_DECIDABLE and self.ground is not PartGround.NO_LIMIT

    @property
    def undecided(self) -> tuple[Finding, ...]:
        """Findings whose limit lies within their uncertainty."""
        return tuple(f for f in self.findings if f.ground is Ground.AT_LIMIT)

    @property
    def main_refused(self) -> tuple[Finding, ...]:
        """Main tests that were made and could not be used."""
        return tuple(
            f for f in self.findings if f.ground is Ground.NOT_READ and f.reading in MAIN_TESTS
        )


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
    else:
        ground = _ground_of_silence(findings)
        within = ground in (PartGround.WITHIN, PartGround.WITHIN_BUT)
        state = State.SOUND if within else State.NOT_DECIDABLE
    return PartVerdict(part=part, state=state, ground=ground, findings=findings)


def _ground_of_silence(findings: tuple[Finding, ...]) -> PartGround:
    """Return what it means that no test speaks for a defect."""
    grounds = {f.ground for f in findings}
    if grounds == {Ground.NOT_READ}:
        return PartGround.NOT_VALID
    if any(f.ground is Ground.AT_LIMIT and _beyond(f) for f in findings):
        return PartGround.AT_LIMIT
    if any(f.ground is Ground.NOT_READ and f.reading in MAIN_TESTS for f in findings):
        return PartGround.MAIN_NOT_VALID
    if any(f.support is Support.AGAINST for f in findings):
        return PartGround.WITHIN_BUT if Ground.AT_LIMIT in grounds else PartGround.WITHIN
    return PartGround.AT_LIMIT if Ground.AT_LIMIT in grounds else PartGround.NO_LIMIT


def _beyond(finding: Finding) -> bool:
    """Return whether a reading, whatever its uncertainty, lies beyond its limit."""
    if finding.value is None or finding.limit is None:
        return False
    above = finding.value.value - finding.limit.value
    return above > 0.0 if finding.limit.sense is Sense.AT_MOST else above < 0.0
