"""Hand-made plans: invented numbers that exercise every line of the page. No physics."""

from __future__ import annotations

from dataclasses import replace

from cagewise.decision.limits import load_limits
from cagewise.decision.plan import LoadPlan, Plan, RecordPlan
from cagewise.decision.standstill_plan import StandstillPlan
from cagewise.decision.start_plan import Readable, StartPlan, StartRecordPlan
from cagewise.decision.starting_duty import (
    RUN_UP_SOURCE,
    Proviso,
    StartingDuty,
    Stated,
    Succession,
    starting_duty,
)
from cagewise.decision.winding_plan import winding_plan
from cagewise.machine.motor import Cage, Motor, Winding
from cagewise.machine.nameplate import Starting
from cagewise.machine.positions import position_counts
from cagewise.measurement.test_sheet import TerminalPair
from cagewise.quantities import Estimate, NotKnown
from support.examinations import motor


def known() -> Plan:
    """A catalogue motor of which the file knows everything."""
    return plan_of(motor(cage=Cage(rotor_bars=58), winding=Winding(construction="random")))


def little_known() -> Plan:
    """A motor above 1 kV without bars, letters, inertia or locked-rotor times."""
    plate = replace(motor().nameplate, rated_voltage_v=6000.0, rated_current_a=29.3)
    unknown = NotKnown("above 1 kV the motor is designed for its load; ask the maker")
    duty = StartingDuty(
        succession=unknown,
        starts_per_hour=unknown,
        rest_s=unknown,
        start_s=NotKnown("the inertia of the load is not in the motor file"),
        start_source=RUN_UP_SOURCE,
        stall_hot_s=NotKnown("the data sheet states it"),
        stall_cold_s=NotKnown("the data sheet states it"),
        stall_margin=NotKnown("the permissible time with locked rotor is not known"),
    )
    plan = plan_of(motor(nameplate=plate, warnings=("the speed is unusual for this size",)))
    record = replace(start_record(), record_s=33.0, readable=Readable.NOT_KNOWN)
    return replace(plan, start=StartPlan(record=record, duty=duty))


def softly_started() -> Plan:
    """A motor whose start nobody can read."""
    plate = replace(motor().nameplate, starting=Starting.SOFT_STARTER)
    subject = motor(nameplate=plate, cage=Cage(rotor_bars=58))
    refused = NotKnown("the motor is started by a soft starter, and only direct starts are read")
    start = StartPlan(record=refused, duty=starting_duty(subject))
    return replace(plan_of(subject), start=start)


def plan_of(subject: Motor) -> Plan:
    """Return a plan of invented numbers for a motor."""
    return Plan(
        motor=subject,
        record=RecordPlan(
            sampling_rate_hz=5000.0,
            bits=16,
            record_s=80.0,
            load_fraction_min=0.25,
            load_fraction_good=0.6,
            current_range_peak_a=720.0,
            start_range_peak_a=3600.0,
            voltage_range_peak_v=1300.0,
        ),
        loads=tuple(at_load(part) for part in (0.25, 0.5, 0.75, 1.0)),
        natural_bars=0.14,
        start=StartPlan(record=start_record(), duty=duty()),
        standstill=standstill(subject),
        winding=winding_plan(subject),
        limits=load_limits(),
    )


def at_load(part: float) -> LoadPlan:
    """Return what a record at one load would show."""
    return LoadPlan(
        load_fraction=part,
        slip=Estimate(0.01 * part, 0.008 * part, 0.012 * part),
        pole_pass_frequency_hz=Estimate(part, 0.8 * part, 1.2 * part),
        record_s=round(60.0 / part, -1),
        instrument_bars=Estimate(0.01, 0.008, 0.013),
        direct_bars=Estimate(0.14, 0.14, 0.15),
        side_line_bars=Estimate(0.17, 0.16, 0.2),
        harmonic_bars=Estimate(0.15, 0.14, 0.19),
    )


def start_record() -> StartRecordPlan:
    """Return what to record of a start."""
    return StartRecordPlan(
        sampling_rate_hz=2000.0,
        bits=16,
        pre_trigger_s=0.5,
        record_s=7.0,
        after_s=2.0,
        current_range_peak_a=3600.0,
        readable=Readable.YES,
        least_start_s=0.4,
    )


def duty() -> StartingDuty:
    """Return a duty in which nothing is missing."""
    return StartingDuty(
        succession=Succession(
            from_ambient=2,
            from_rated=1,
            provided=(Proviso.LOAD_TORQUE, Proviso.VOLTAGE),
            load_inertia_limit_kg_m2=18.6,
            source="NEMA MG 1-12.54, secondary",
        ),
        starts_per_hour=Stated(value=4.41, source="NEMA MG 10, Table 2-3"),
        rest_s=Stated(value=110.0, source="NEMA MG 10, Table 2-3"),
        start_s=Estimate(2.0, 0.9, 4.2),
        start_source=RUN_UP_SOURCE,
        stall_hot_s=Stated(value=12.0, source="motor file"),
        stall_cold_s=Stated(value=20.0, source="motor file"),
        stall_margin=Estimate(6.0, 12.0 / 4.2, 12.0 / 0.9),
    )


def standstill(subject: Motor) -> StandstillPlan:
    """Return the position test with the true positions and invented bars."""
    return StandstillPlan(
        advice=position_counts(subject),
        pairs=tuple(TerminalPair),
        frequencies_hz=(50.0, 200.0),
        repeatability=0.002,
        sound_anisotropy=0.005,
        instrument_bars=Estimate(0.11, 0.09, 0.13),
        bars=Estimate(0.35, 0.29, 0.43),
    )
