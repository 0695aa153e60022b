"""Competing explanations: the evidence that moves the cage moves the others the other way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.evidence.explanations import (
    Cause,
    Explanation,
    ExplanationGround,
    SeparatingTest,
    explain,
)
from cagewise.evidence.findings import Evidence
from cagewise.evidence.limits import ExplanationLimits
from cagewise.evidence.weigh import weigh
from cagewise.indicators.reading import Reading
from cagewise.machine.motor import DriveTrain, Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import NotKnown
from support.examinations import (
    LIMITS,
    damaged,
    motor,
    operating_point,
    oscillating,
    position,
    reading,
    sound,
    unreadable,
)


def evidence_of(readings: tuple[Reading, ...], *, voltages: bool = True) -> Evidence:
    return weigh(readings, LIMITS.evidence, voltages_measured=voltages)


def explained(
    readings: tuple[Reading, ...], *, of: Motor | None = None, voltages: bool = True
) -> dict[Cause, Explanation]:
    evidence = evidence_of(readings, voltages=voltages)
    return {e.cause: e for e in explain(evidence, of or motor(), operating_point())}


def weight(explanation: Explanation) -> float:
    assert isinstance(explanation.weight, float)
    return explanation.weight


def with_supply(share: float) -> tuple[Reading, ...]:
    first, *rest = oscillating()
    return (replace(first, details={"supply_share_1": share}), *rest)


@pytest.mark.parametrize("readings", [damaged(), oscillating(), sound(), unreadable()])
def test_every_cause_is_named_once_with_a_test(readings: tuple[Reading, ...]) -> None:
    found = explain(evidence_of(readings), motor(), operating_point())

    assert {e.cause for e in found} == set(Cause)
    assert len(found) == len(Cause)


@pytest.mark.parametrize("readings", [damaged(), oscillating()])
def test_known_weights_sum_to_one_where_a_line_stands(readings: tuple[Reading, ...]) -> None:
    known = [e.weight for e in explained(readings).values() if isinstance(e.weight, float)]

    assert sum(known) == pytest.approx(1.0, abs=1e-9)


def test_an_open_bar_ranks_the_cage_first() -> None:
    found = explain(evidence_of(damaged()), motor(), operating_point())

    assert found[0].cause is Cause.CAGE
    assert found[0].ground is ExplanationGround.READINGS


def test_a_swinging_load_ranks_the_load_first() -> None:
    found = explain(evidence_of(with_supply(0.05)), motor(), operating_point())

    assert found[0].cause is Cause.LOAD_OSCILLATION
    assert found[0].ground is ExplanationGround.FINDINGS_FOR
    assert found[0].test is SeparatingTest.STEADY_LOAD


def test_lines_of_the_voltage_rank_the_supply_before_the_load() -> None:
    found = explained(with_supply(0.9))

    assert weight(found[Cause.SUPPLY_MODULATION]) > weight(found[Cause.LOAD_OSCILLATION])


def test_without_voltages_the_supply_cannot_be_weighed() -> None:
    supply = explained(oscillating(), voltages=False)[Cause.SUPPLY_MODULATION]

    assert isinstance(supply.weight, NotKnown)
    assert supply.ground is ExplanationGround.VOLTAGE_NOT_MEASURED
    assert supply.test is SeparatingTest.VOLTAGES


def test_where_no_line_stands_nothing_needs_a_cause() -> None:
    found = explained(sound())

    assert all(
        weight(e) == 0.0 and e.ground is ExplanationGround.NOTHING_TO_EXPLAIN
        for e in found.values()
        if e.cause is not Cause.CAGE
    )
    assert weight(found[Cause.CAGE]) < 0.1


def test_a_shaft_ratio_at_the_pole_pass_distance_is_named_and_weighed() -> None:
    """Pole-pass frequency 0.71172 Hz, shaft 24.813 Hz: a ratio of 0.02868 puts a line there."""
    point = operating_point()
    assert not isinstance(point.slip, NotKnown)
    shaft_hz = (1.0 - point.slip.value) * point.supply_frequency_hz.value / 2.0
    ratio = 2.0 * point.slip.value * point.supply_frequency_hz.value / shaft_hz
    near = motor(drive_train=DriveTrain(shaft_ratios={"belt": ratio, "fan": 0.4}))
    far = motor(drive_train=DriveTrain(shaft_ratios={"belt": 0.3}))

    found = explained(oscillating(), of=near)[Cause.COUPLED_LINE]
    assert found.ground is ExplanationGround.RATIO_NEAR
    assert "belt" in found.line
    assert found.numbers["distance_hz"] == pytest.approx(0.0, abs=1e-9)
    assert weight(found) > 0.1

    elsewhere = explained(oscillating(), of=far)[Cause.COUPLED_LINE]
    assert elsewhere.ground is ExplanationGround.RATIOS_ELSEWHERE
    assert weight(elsewhere) == 0.0


def test_without_shaft_ratios_a_coupled_line_cannot_be_weighed() -> None:
    found = explained(oscillating())[Cause.COUPLED_LINE]

    assert isinstance(found.weight, NotKnown)
    assert found.ground is ExplanationGround.RATIOS_NOT_GIVEN


def test_lines_once_per_turn_stand_elsewhere() -> None:
    found = explained(damaged())[Cause.ECCENTRICITY]

    assert weight(found) == 0.0
    assert found.ground is ExplanationGround.ONCE_PER_TURN_ELSEWHERE
    assert found.numbers["distance_hz"] > 10.0


def test_a_converter_cannot_be_weighed_and_the_mains_rule_it_out() -> None:
    plate = replace(motor().nameplate, starting=Starting.CONVERTER)
    fed = explained(damaged(), of=motor(nameplate=plate))[Cause.CONVERTER_LOOP]
    assert isinstance(fed.weight, NotKnown)
    assert fed.test is SeparatingTest.MAINS_RUN

    assert weight(explained(damaged())[Cause.CONVERTER_LOOP]) == 0.0


def test_fundamental_and_position_pattern_alone_leave_the_shape_of_the_rotor() -> None:
    """Ducts move both; a start or harmonic lines do not show them."""
    lead = reading("direct_component", (0.91, 1.08, 1.29), limit=0.06)
    side = reading("lower_side_line", (0.55, 0.94, 1.62), limit=0.08)
    shape = explained((lead, side, position((0.8, 1.1, 1.4))))[Cause.ROTOR_SHAPE]
    with_harmonics = explained(damaged())[Cause.ROTOR_SHAPE]

    assert weight(shape) > weight(with_harmonics)
    assert shape.test is SeparatingTest.TWO_LOADS_OR_START


def test_without_a_slip_the_place_of_lines_is_not_known() -> None:
    evidence = evidence_of(oscillating())
    found = {e.cause: e for e in explain(evidence, motor(), NotKnown("no slip"))}

    assert found[Cause.ECCENTRICITY].ground is ExplanationGround.PLACE_NOT_KNOWN


def test_what_was_not_read_cannot_be_weighed() -> None:
    found = explained(unreadable())

    assert all(isinstance(e.weight, NotKnown) for e in found.values())
    assert {e.ground for e in found.values()} == {ExplanationGround.NOT_READ}


def test_lines_that_a_sound_cage_makes_itself_need_no_other_cause() -> None:
    weak = (reading("direct_component", (0.02, 0.05, 0.08), limit=0.04),)
    evidence = evidence_of(weak)
    assert any(f.detected for f in evidence.findings)

    grounds = {e.ground for e in explain(evidence, motor(), operating_point())}
    assert grounds == {ExplanationGround.READINGS, ExplanationGround.NOTHING_TO_EXPLAIN}

    more = evidence_of((reading("direct_component", (0.02, 0.1, 0.3), limit=0.04),))
    grounds = {e.ground for e in explain(more, motor(), operating_point())}
    assert ExplanationGround.NOTHING_TO_EXPLAIN not in grounds


def test_unevenness_of_a_sound_cage_is_likelier_for_weak_lines_than_for_strong_ones() -> None:
    weak = explained((reading("direct_component", (0.05, 0.2, 0.5), limit=0.05),))
    strong = explained(damaged())
    shares = [
        weight(found[Cause.UNEVEN_CAGE]) / weight(found[Cause.WRONG_READING])
        for found in (weak, strong)
    ]

    assert weak[Cause.UNEVEN_CAGE].ground is ExplanationGround.NOT_SEPARATED
    assert strong[Cause.UNEVEN_CAGE].ground is ExplanationGround.TOO_STRONG
    assert shares[0] > 5.0 * shares[1]


def test_where_all_named_causes_are_spoken_against_the_reading_itself_is_doubted_first() -> None:
    found = explained(damaged())
    named = (Cause.UNEVEN_CAGE, Cause.LOAD_OSCILLATION, Cause.SUPPLY_MODULATION)

    assert all(weight(found[Cause.WRONG_READING]) > weight(found[cause]) for cause in named)


def test_opinions_are_limits_and_move_the_weights() -> None:
    evidence = evidence_of(with_supply(0.05))

    def load(limits: ExplanationLimits) -> float:
        found = {e.cause: e for e in explain(evidence, motor(), operating_point(), limits)}
        return weight(found[Cause.LOAD_OSCILLATION])

    assert load(LIMITS.explanations) == load(ExplanationLimits())
    doubting = replace(LIMITS.explanations, weight_wrong_reading=0.5)
    assert load(doubting) < load(LIMITS.explanations)
