"""Before and after a repair: accepted, not accepted, cannot tell."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.history.limits import RepairLimits
from cagewise.history.missing import (
    ASKED_OF_SHOP,
    MEASURED_AFTER,
    MissingItem,
    RepairKind,
    owed_by_shop,
    unknown_of,
)
from cagewise.history.repair import (
    Acceptance,
    Baseline,
    RepairComparison,
    compare_repair,
    ratio_of,
)
from cagewise.indicators.reading import (
    IndependenceClass,
    Part,
    Reading,
    ReferenceLimit,
    Sense,
)
from cagewise.machine.motor import Cage
from cagewise.quantities import Estimate, NotKnown
from support.examinations import motor

LIMITS = RepairLimits()
CLASSES = MEASURED_AFTER[RepairKind.CAGE]


def cage_reading(
    bars: Estimate | None,
    independence_class: IndependenceClass = IndependenceClass.RUNNING_FUNDAMENTAL,
    hidden: float | None = 0.2,
    name: str = "",
) -> Reading:
    return Reading(
        name=name or independence_class.name.lower(),
        title=independence_class.value,
        independence_class=independence_class,
        valid=bars is not None,
        reason="" if bars is not None else "the load was too low",
        open_bar_equivalent=bars,
        detection_limit_bars=hidden,
    )


def baseline(
    bars: Mapping[IndependenceClass, Estimate | None], day: float = 20.0, load: float = 0.8
) -> Baseline:
    return Baseline(
        day=day,
        readings=tuple(cage_reading(b, c) for c, b in bars.items()),
        load_fraction=Estimate(load, load, load),
    )


GOOD = Estimate(0.1, 0.0, 0.2)
BAD = Estimate(1.9, 1.4, 2.4)
AFTER = baseline(dict.fromkeys(CLASSES, GOOD))
BEFORE = baseline(dict.fromkeys(CLASSES, BAD), day=-30.0)


def compare(after: Baseline, before: Baseline | None = BEFORE) -> RepairComparison:
    return compare_repair(before, after, RepairKind.CAGE, repaired_on=0.0, limits=LIMITS)


def test_a_good_cage_is_accepted() -> None:
    result = compare(AFTER)

    assert result.acceptance is Acceptance.ACCEPTED
    assert result.missing == ()
    assert all(q.acceptance is Acceptance.ACCEPTED for q in result.quantities)
    ratio = result.quantities[0].ratio
    assert isinstance(ratio, Estimate)
    assert ratio.low == 0.0
    assert ratio.high == pytest.approx(0.2 / 1.4)


def test_a_baseline_needs_nothing_before_it() -> None:
    result = compare(AFTER, None)

    assert result.acceptance is Acceptance.ACCEPTED
    assert result.quantities[0].ratio == NotKnown("not read before the repair")


@pytest.mark.parametrize("bad", CLASSES)
def test_one_bad_class_is_not_accepted(bad: IndependenceClass) -> None:
    result = compare(baseline(dict.fromkeys(CLASSES, GOOD) | {bad: BAD}))

    assert result.acceptance is Acceptance.NOT_ACCEPTED
    assert bad.value in result.because


def test_a_bad_reading_stands_whatever_is_missing() -> None:
    result = compare(baseline({CLASSES[0]: BAD}))

    assert result.acceptance is Acceptance.NOT_ACCEPTED
    assert result.missing == CLASSES[1:]


def test_what_was_not_asked_for_hinders_only_where_it_is_bad() -> None:
    asked = [cage_reading(Estimate(0.05, 0.0, 0.1), each) for each in CLASSES]
    extra = IndependenceClass.RUNNING_HARMONIC
    for bars, wanted in (
        (Estimate(0.3, 0.0, 0.8), Acceptance.ACCEPTED),
        (Estimate(1.0, 0.8, 1.2), Acceptance.NOT_ACCEPTED),
    ):
        after = Baseline(
            day=10.0,
            readings=(*asked, cage_reading(bars, extra)),
            load_fraction=Estimate(0.75, 0.7, 0.8),
        )
        result = compare_repair(None, after, RepairKind.CAGE, repaired_on=0.0, limits=LIMITS)

        assert result.acceptance is wanted


def test_what_is_missing_is_named() -> None:
    result = compare(baseline({CLASSES[0]: GOOD, CLASSES[1]: None}))

    assert result.acceptance is Acceptance.CANNOT_TELL
    assert result.because == f"not measured: {CLASSES[1]}; {CLASSES[2]}"


@pytest.mark.parametrize(
    ("changed", "because"),
    [
        ({"open_bar_equivalent": Estimate(0.3, 0.0, 0.7)}, "up to 0.7 open bars are not excluded"),
        ({"detection_limit_bars": 0.9}, "the record could have hidden 0.9 open bars"),
        ({"detection_limit_bars": None}, "could have hidden an unknown number of open bars"),
        ({"open_bar_equivalent": None}, "it is not expressed in open bars"),
    ],
)
def test_why_a_reading_cannot_tell(changed: dict[str, object], because: str) -> None:
    first = replace(AFTER.readings[0], **changed)  # type: ignore[arg-type]  # the case's own fields
    result = compare(replace(AFTER, readings=(first, *AFTER.readings[1:])))

    assert result.acceptance is Acceptance.CANNOT_TELL
    assert because in result.quantities[0].because


def test_a_light_load_accepts_no_running_cage() -> None:
    light = compare(replace(AFTER, load_fraction=Estimate(0.2, 0.2, 0.2)))
    unknown = compare(replace(AFTER, load_fraction=NotKnown("no voltages")))

    assert light.quantities[0].because == "the load of 20% is below 40%"
    assert unknown.quantities[0].because == "the load is not known (no voltages)"
    assert light.acceptance is unknown.acceptance is Acceptance.CANNOT_TELL
    assert light.quantities[2].acceptance is Acceptance.ACCEPTED  # at rest, no load is asked for


def test_the_leading_reading_speaks_for_its_class() -> None:
    other = cage_reading(BAD, CLASSES[0], name="side_lines")
    both = replace(AFTER, readings=(other, *AFTER.readings))
    named = replace(both, leads={CLASSES[0]: AFTER.readings[0].name})

    assert compare(both).acceptance is Acceptance.NOT_ACCEPTED
    assert compare(named).acceptance is Acceptance.ACCEPTED
    assert [q.leads for q in compare(named).quantities[:2]] == [False, True]


@pytest.mark.parametrize(("day", "because"), [(-1.0, "before the repair"), (90.0, "90 days after")])
def test_a_baseline_belongs_to_the_repair(day: float, because: str) -> None:
    result = compare(replace(AFTER, day=day))

    assert result.acceptance is Acceptance.CANNOT_TELL
    assert because in result.because


def winding_reading(value: Estimate, limit: ReferenceLimit | None) -> Reading:
    return Reading(
        name="resistance_unbalance",
        title="resistance unbalance",
        independence_class=IndependenceClass.WINDING_RESISTANCE,
        part=Part.WINDING,
        value=value,
        unit="%",
        valid=True,
        limit=limit,
    )


@pytest.mark.parametrize(
    ("value", "sense", "expected"),
    [
        (Estimate(1.0, 0.5, 1.5), Sense.AT_MOST, Acceptance.ACCEPTED),
        (Estimate(3.0, 2.5, 3.5), Sense.AT_MOST, Acceptance.NOT_ACCEPTED),
        (Estimate(2.0, 1.5, 2.5), Sense.AT_MOST, Acceptance.CANNOT_TELL),
        (Estimate(1.0, 0.5, 1.5), Sense.AT_LEAST, Acceptance.NOT_ACCEPTED),
        (Estimate(3.0, 2.5, 3.5), Sense.AT_LEAST, Acceptance.ACCEPTED),
        (Estimate(2.0, 1.5, 2.5), Sense.AT_LEAST, Acceptance.CANNOT_TELL),
    ],
)
def test_published_limits_decide_other_readings(
    value: Estimate, sense: Sense, expected: Acceptance
) -> None:
    limit = ReferenceLimit(value=2.0, sense=sense, source="invented for this test")
    after = Baseline(day=1.0, readings=(winding_reading(value, limit),))

    assert compare(after, None).quantities[0].acceptance is expected


def test_without_a_limit_only_the_past_can_tell() -> None:
    same, more = Estimate(1.0, 0.98, 1.02), Estimate(2.0, 1.96, 2.04)
    before = Baseline(day=-1.0, readings=(winding_reading(same, None),))

    def outcome(value: Estimate, past: Baseline | None) -> Acceptance:
        after = Baseline(day=1.0, readings=(winding_reading(value, None),))
        return compare(after, past).quantities[0].acceptance

    assert outcome(same, before) is Acceptance.ACCEPTED
    assert outcome(more, before) is Acceptance.CANNOT_TELL
    assert outcome(same, None) is Acceptance.CANNOT_TELL


def test_the_interval_of_a_ratio_holds() -> None:
    """2000 pairs of log-normal readings with 95 % intervals: 95 % to 1.5 %, three standard
    errors."""
    random = np.random.default_rng(8)
    true, spreads, held = 0.4 / 1.6, (0.3, 0.15), 0
    for _ in range(2000):
        a, b = (
            0.4 * math.exp(spreads[0] * random.normal()),
            1.6 * math.exp(spreads[1] * random.normal()),
        )
        ratio = ratio_of(
            *(
                Estimate(x, x * math.exp(-1.96 * s), x * math.exp(1.96 * s))
                for x, s in zip((a, b), spreads, strict=True)
            )
        )
        assert isinstance(ratio, Estimate)
        held += ratio.low <= true <= ratio.high

    assert held / 2000 == pytest.approx(0.95, abs=0.015)


SHARES = st.floats(0.05, 0.95)


@given(st.floats(0.01, 10.0), st.floats(0.01, 10.0), SHARES, SHARES)
def test_the_ratio_turned_round_is_the_reciprocal(a: float, b: float, u: float, v: float) -> None:
    first, second = (Estimate(x, x * (1.0 - s), x * (1.0 + s)) for x, s in ((a, u), (b, v)))
    there, back = ratio_of(first, second), ratio_of(second, first)
    assert isinstance(there, Estimate)
    assert isinstance(back, Estimate)

    assert there.low == pytest.approx(1.0 / back.high, rel=1e-9)
    assert there.value == pytest.approx(1.0 / back.value, rel=1e-9)


def test_nothing_before_gives_no_ratio() -> None:
    assert isinstance(ratio_of(GOOD, GOOD), NotKnown)
    assert isinstance(ratio_of(None, BAD), NotKnown)


def test_the_shop_is_asked_what_nobody_knows() -> None:
    blank = replace(motor(), cage=Cage())
    known = replace(motor(), cage=Cage(rotor_bars=32, stator_slots=36, rotor_slots="closed"))

    assert owed_by_shop(blank, RepairKind.CAGE) == ASKED_OF_SHOP[RepairKind.CAGE]
    assert owed_by_shop(known, RepairKind.CAGE) == (MissingItem.CAGE_CONSTRUCTION,)
    assert owed_by_shop(blank, RepairKind.OTHER) == ()
    assert set(owed_by_shop(blank, RepairKind.REWIND)) <= set(unknown_of(blank))
