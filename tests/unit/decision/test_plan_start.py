"""The plan of the next start: length, range, whether it can be read (docs/theory/plan.md)."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cagewise.decision.limits import load_limits
from cagewise.decision.start_plan import (
    Readable,
    StartRecordPlan,
    start_plan,
)
from cagewise.machine.motor import DriveTrain, Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate, NotKnown
from support.examinations import motor

LIMITS = load_limits()


def driving(load_kg_m2: float | None, rotor_kg_m2: float = 5.0, **plate: object) -> Motor:
    nameplate = replace(motor().nameplate, **plate)  # type: ignore[arg-type]  # its fields
    train = DriveTrain(load_inertia_kg_m2=load_kg_m2, rotor_inertia_kg_m2=rotor_kg_m2)
    return motor(nameplate=nameplate, drive_train=train)


def record(subject: Motor) -> StartRecordPlan:
    found = start_plan(subject, LIMITS).record
    assert isinstance(found, StartRecordPlan)
    return found


def test_the_record_holds_the_longest_start_and_two_seconds_more() -> None:
    """Whole start and 2 s after it (common practice, no source)."""
    planned = start_plan(driving(60.0), LIMITS)
    assert isinstance(planned.duty.start_s, Estimate)
    assert isinstance(planned.record, StartRecordPlan)

    needed = 0.5 + planned.duty.start_s.high + 2.0
    assert needed <= planned.record.record_s < needed + 1.0


def test_without_the_inertia_of_the_load_the_record_is_long_and_says_so() -> None:
    planned = start_plan(driving(None), LIMITS)
    assert isinstance(planned.record, StartRecordPlan)

    assert isinstance(planned.duty.start_s, NotKnown)
    assert planned.record.record_s == math.ceil(0.5 + LIMITS.start_plan.unknown_start_s + 2.0)
    assert planned.record.readable is Readable.NOT_KNOWN


@pytest.mark.parametrize(
    ("load_kg_m2", "rotor_kg_m2", "readable"),
    [(0.5, 5.0, Readable.PERHAPS), (100.0, 5.0, Readable.YES), (0.1, 0.2, Readable.NO)],
)
def test_a_start_must_last_twenty_cycles(
    load_kg_m2: float, rotor_kg_m2: float, readable: Readable
) -> None:
    """The side line of a start is read from 15 to 20 cycles on (simulated 3 kW motor)."""
    found = record(driving(load_kg_m2, rotor_kg_m2))

    assert found.least_start_s == pytest.approx(0.4)
    assert found.readable is readable


def test_range_and_rate() -> None:
    """Locked-rotor current of 6 to 7 times rated with full offset: ten times the rated peak."""
    found = record(driving(60.0))
    faster = record(driving(60.0, rated_frequency_hz=60.0, rated_speed_rpm=1782.0))

    assert found.current_range_peak_a == pytest.approx(10.0 * math.sqrt(2.0) * 255.0)
    assert faster.sampling_rate_hz == pytest.approx(1.2 * found.sampling_rate_hz)
    assert faster.least_start_s == pytest.approx(20.0 / 60.0)


@pytest.mark.parametrize("starting", [Starting.SOFT_STARTER, Starting.CONVERTER])
def test_only_direct_starts_are_planned(starting: Starting) -> None:
    refused = start_plan(driving(60.0, starting=starting), LIMITS).record

    assert isinstance(refused, NotKnown)
    assert starting.value in refused.reason
