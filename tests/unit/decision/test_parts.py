"""State of winding and insulation from their tests."""

from __future__ import annotations

import pytest

from cagewise.decision.parts import MAIN_TESTS, PartGround, judge_parts
from cagewise.decision.verdict import State
from cagewise.evidence.findings import Ground, Support
from cagewise.evidence.parts import weigh_for_parts
from cagewise.indicators.reading import (
    IndependenceClass,
    Part,
    Reading,
    ReferenceLimit,
    Sense,
)
from cagewise.indicators.winding.insulation_resistance import RESISTANCE
from cagewise.indicators.winding.resistance import UNBALANCE
from cagewise.quantities import Estimate
from support.examinations import LIMITS, damaged

DIRECT, ALTERNATING = (
    IndependenceClass.INSULATION_DIRECT,
    IndependenceClass.INSULATION_ALTERNATING,
)


def insulation(
    value: tuple[float, float, float] | None,
    limit: tuple[float, Sense] | None = (100.0, Sense.AT_LEAST),
    *,
    of: IndependenceClass = DIRECT,
    chance: float | None = None,
    name: str = "test",
) -> Reading:
    return Reading(
        name=name,
        title="test",
        independence_class=of,
        part=Part.INSULATION,
        value=None if value is None else Estimate(value[1], value[0], value[2]),
        valid=value is not None,
        reason="" if value is not None else "no temperature",
        limit=None
        if limit is None
        else ReferenceLimit(value=limit[0], sense=limit[1], source="a standard"),
        false_alarm_probability=chance,
    )


GOOD, LOW, ACROSS = (200.0, 210.0, 220.0), (50.0, 52.0, 55.0), (90.0, 101.0, 120.0)
BELOW = (80.0, 90.0, 120.0)
MAIN = "insulation_resistance"


@pytest.mark.parametrize(
    ("reading", "support", "ground"),
    [
        (insulation(GOOD), Support.AGAINST, Ground.WITHIN_LIMIT),
        (insulation(LOW), Support.FOR, Ground.BEYOND_LIMIT),
        (insulation(ACROSS), Support.CANNOT_TELL, Ground.AT_LIMIT),
        (insulation(LOW, (100.0, Sense.AT_MOST)), Support.AGAINST, Ground.WITHIN_LIMIT),
        (insulation(GOOD, (100.0, Sense.AT_MOST)), Support.FOR, Ground.BEYOND_LIMIT),
        (insulation(GOOD, None), Support.CANNOT_TELL, Ground.NO_LIMIT),
        (insulation(GOOD, None, chance=1e-6), Support.FOR, Ground.CHANGE_FOUND),
        (insulation(GOOD, None, chance=0.3), Support.AGAINST, Ground.NO_CHANGE),
        (insulation(None), Support.CANNOT_TELL, Ground.NOT_READ),
    ],
)
def test_a_test_is_compared_with_its_limit(
    reading: Reading, support: Support, ground: Ground
) -> None:
    (finding,) = weigh_for_parts([reading], LIMITS.evidence)

    assert (finding.support, finding.ground) == (support, ground)


@pytest.mark.parametrize(
    ("readings", "state", "ground"),
    [
        ((insulation(GOOD),), State.SOUND, PartGround.WITHIN),
        ((insulation(GOOD), insulation(LOW)), State.SUSPECT, PartGround.ONE_BEYOND),
        ((insulation(LOW), insulation(LOW)), State.SUSPECT, PartGround.ONE_BEYOND),
        (
            (insulation(LOW), insulation(LOW, of=ALTERNATING)),
            State.DEFECTIVE,
            PartGround.SEVERAL_BEYOND,
        ),
        ((insulation(None),), State.NOT_DECIDABLE, PartGround.NOT_VALID),
        ((insulation(GOOD, None),), State.NOT_DECIDABLE, PartGround.NO_LIMIT),
        ((insulation(GOOD), insulation(ACROSS)), State.SOUND, PartGround.WITHIN_BUT),
        ((insulation(GOOD), insulation(BELOW)), State.NOT_DECIDABLE, PartGround.AT_LIMIT),
        ((insulation(ACROSS),), State.NOT_DECIDABLE, PartGround.AT_LIMIT),
        ((insulation(GOOD), insulation(None)), State.SOUND, PartGround.WITHIN),
        (
            (insulation(GOOD), insulation(None, name=MAIN)),
            State.NOT_DECIDABLE,
            PartGround.MAIN_NOT_VALID,
        ),
    ],
)
def test_a_part_is_as_good_as_its_worst_test(
    readings: tuple[Reading, ...], state: State, ground: PartGround
) -> None:
    findings = weigh_for_parts(readings, LIMITS.evidence)
    (verdict,) = judge_parts(findings, LIMITS.decision)

    assert (verdict.part, verdict.state, verdict.ground) == (Part.INSULATION, state, ground)


def test_the_names_of_the_main_tests_are_those_of_indicators() -> None:
    assert {RESISTANCE.name, UNBALANCE.name} == MAIN_TESTS


def test_the_cage_is_no_part_of_it() -> None:
    assert weigh_for_parts(damaged(), LIMITS.evidence) == ()
    assert judge_parts((), LIMITS.decision) == ()
