"""From what a plant keeps to what the history computes with: points, baselines, summaries."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from cagewise.decision.verdict import State
from cagewise.history.missing import RepairKind, unknown_of
from cagewise.history.plant_risk import MotorSummary
from cagewise.history.points import NOT_GIVEN, TrendPoint
from cagewise.history.repair import Baseline
from cagewise.indicators.reading import (
    IndependenceClass,
    Method,
    Part,
    Reading,
    ReferenceLimit,
    Sense,
)
from cagewise.machine.motor import Cage, Criticality, Motor, Winding
from cagewise.quantities import Estimate, NotKnown
from cagewise.store import (
    Event,
    ExaminationKeys,
    KeptExamination,
    KeptReading,
    MotorEntry,
    Plant,
    Repair,
    Sensor,
)

KIND_OF_REPAIR = "kind"
"""Fact of a repair that says which kind it was, as :class:`RepairKind` has it."""

MOTOR_FILES_KEPT = 4096
"""Motor files that stay parsed in a process: those of a large plant."""

NO_LIMIT = "a reference, not a limit"
"""In the form of a published value that a sound part may miss: how documents before schema 1.3 say
that it decides nothing."""

_AT_REST_AND_STARTING: tuple[tuple[str, IndependenceClass], ...] = (
    ("start_", IndependenceClass.START),
    ("initial_start_", IndependenceClass.START),
    ("position_pattern", IndependenceClass.STANDSTILL_PATTERN),
    ("mean_inductance", IndependenceClass.STANDSTILL_MEAN),
)
"""Beginnings of the names of cage readings beside those of the running motor."""


def name_of(motor: MotorEntry) -> str:
    """Return how a motor is called in a plant: its tag, with the site where there are several."""
    return f"{motor.site}/{motor.tag}" if motor.site else motor.tag


def motor_of(plant: Plant, entry: MotorEntry, *, on: date | None = None) -> Motor:
    """Return what the motor file that counts on a day says."""
    return _parsed(plant.motors.nameplate(entry, on=on).toml, entry.tag)


@lru_cache(maxsize=MOTOR_FILES_KEPT)
def _parsed(toml: str, tag: str) -> Motor:
    """Return the motor of a motor file that was checked when it was kept."""
    from cagewise.store.motors import parse

    return parse(toml, tag)


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What a ranking asks of a motor file, read without checking it again."""

    cage: Cage
    winding: Winding
    criticality: Criticality


def described(entry: MotorEntry, file: str = "") -> Described:
    """Return what a motor file says of a few things, by what is kept beside it.

    Parameters
    ----------
    entry
        The motor.
    file
        Its motor file, read where an old row has nothing beside it. A whole motor takes ten times
        as long, and a plant has thousands.
    """
    facts = entry.facts if entry.facts is not None else _facts_in(file)
    motor, winding, critical = (facts.get(name, {}) for name in ("motor", "winding", "criticality"))
    return Described(
        cage=Cage(
            rotor_bars=motor.get("rotor_bars"),
            stator_slots=motor.get("stator_slots"),
            coil_span_slots=motor.get("coil_span_slots"),
            rotor_slots=motor.get("rotor_slots"),
            construction=motor.get("cage"),
        ),
        winding=Winding(
            construction=winding.get("construction"),
            built_year=winding.get("built_year"),
            insulation=winding.get("insulation"),
        ),
        criticality=Criticality(
            level=entry.criticality,
            spare=critical.get("spare"),
            false_pull_cost=critical.get("false_pull_cost"),
            miss_cost=critical.get("miss_cost"),
        ),
    )


@lru_cache(maxsize=MOTOR_FILES_KEPT)
def _facts_in(file: str) -> Mapping[str, Mapping[str, Any]]:
    """Return what a motor file states, of one that was checked when it was kept."""
    return tomllib.loads(file)


def last_of_visits(examinations: Iterable[KeptExamination]) -> tuple[KeptExamination, ...]:
    """Return the examination kept last of every visit, by day."""
    last = {each.visit_id: each for each in examinations}
    return tuple(sorted(last.values(), key=lambda each: (each.day, each.visit_id)))


def standing(events: Sequence[Event]) -> tuple[Event, ...]:
    """Return events without those that a later one puts right."""
    corrected = {event.corrects_id for event in events}
    return tuple(event for event in events if event.id not in corrected)


def kind_of(repair: Repair) -> RepairKind:
    """Return the kind of a repair; one that nobody stated asks for nothing special."""
    stated = repair.facts.get(KIND_OF_REPAIR)
    return RepairKind(stated) if stated in set(RepairKind) else RepairKind.OTHER


def last_cage_repair(events: Sequence[Event]) -> date | None:
    """Return the day of the last repair of the cage; one of no stated kind may have been one."""
    return max((event.day for event in standing(events) if _is_of_cage(event)), default=None)


def cage_repairs(plant: Plant, *, until: date | None = None) -> Mapping[int, date]:
    """Return the day of the last repair of the cage of every motor that had one, by its number.

    Repairs after the day ``until`` are left out.
    """
    return {
        event.motor_id: event.day
        for event in plant.cases.repairs()
        if _is_of_cage(event) and (until is None or event.day <= until)
    }


def _is_of_cage(event: Event) -> bool:
    """Return whether an event was, or may have been, a repair of the cage."""
    if not isinstance(event.what, Repair):
        return False
    return kind_of(event.what) is RepairKind.CAGE or KIND_OF_REPAIR not in event.what.facts


def trend_points(plant: Plant, motor: MotorEntry) -> tuple[TrendPoint, ...]:
    """Return every cage reading of a motor that is expressed in open bars, visit by visit."""
    examinations = last_of_visits(plant.examinations.of_motor(motor))
    readings = plant.examinations.readings(motor)
    sensors = plant.motors.sensors(motor)
    return tuple(
        point
        for examination in examinations
        for reading in readings.get(examination.id, ())
        if (point := _point(examination, reading, sensors)) is not None
    )


def source_of(examination: KeptExamination) -> str:
    """Return how the points of an examination say where they came from."""
    return f"examination {examination.id}"


def _point(
    examination: KeptExamination, reading: KeptReading, sensors: Sequence[Sensor]
) -> TrendPoint | None:
    """Return a reading as a point, or None where it is none of the cage in open bars."""
    cage_class = class_of(reading.name)
    bars = _interval(reading.open_bars, reading.open_bars_low, reading.open_bars_high)
    if cage_class is None or bars is None or not reading.valid:
        return None
    return TrendPoint(
        day=float(examination.day.toordinal()),
        bars=bars,
        reading=reading.name,
        independence_class=cage_class,
        load_fraction=_load(examination.keys),
        winding_temperature_degc=_exact(examination.keys.winding_temperature_degc),
        nameplate_version=str(examination.nameplate_id),
        sensors=_sensors_on(sensors, examination.day),
        source=source_of(examination),
    )


@lru_cache(maxsize=256)
def class_of(name: str) -> IndependenceClass | None:
    """Return the independence class of a cage reading; None of one of another part."""
    from cagewise.indicators.cage.catalogue import HEADS

    of_running = {head.name: head.independence_class for head in HEADS}
    if name in of_running:
        return of_running[name]
    return next((kind for start, kind in _AT_REST_AND_STARTING if name.startswith(start)), None)


def _interval(value: float | None, low: float | None, high: float | None) -> Estimate | None:
    """Return three numbers as an estimate, None where one is missing."""
    if value is None or low is None or high is None:
        return None
    return Estimate(value, low, high)


def _load(keys: ExaminationKeys) -> Estimate | NotKnown:
    """Return the load with its interval; old rows have none."""
    found = _interval(keys.load_fraction, keys.load_fraction_low, keys.load_fraction_high)
    return _exact(keys.load_fraction) if found is None else found


def _exact(value: float | None) -> Estimate | NotKnown:
    """Return a number that is kept without its interval."""
    return NOT_GIVEN if value is None else Estimate(value, value, value)


def _sensors_on(sensors: Sequence[Sensor], day: date) -> str:
    """Return which sensors were on a motor on a day, as a label."""
    there = [
        str(sensor.id)
        for sensor in sensors
        if (sensor.mounted_on is None or sensor.mounted_on <= day)
        and (sensor.removed_on is None or day < sensor.removed_on)
    ]
    return ",".join(there)


def summary_of(
    entry: MotorEntry,
    motor: Described,
    latest: KeptExamination | None,
    repaired_on: date | None = None,
) -> MotorSummary:
    """Return what the ranking needs of a motor."""
    keys = None if latest is None else latest.keys
    return MotorSummary(
        tag=name_of(entry),
        state=None if keys is None else State(keys.state),
        examined_on=None if latest is None else _number(latest.day),
        probability=None if keys is None else keys.probability,
        damage_bars=None if keys is None else keys.open_bars,
        criticality=motor.criticality.level,
        spare=motor.criticality.spare,
        false_pull_cost=motor.criticality.false_pull_cost,
        miss_cost=motor.criticality.miss_cost,
        next_on=None if keys is None else _number(keys.act_by_latest),
        repaired_on=_number(repaired_on),
        unknown=unknown_of(motor),
    )


def _number(day: date | None) -> float | None:
    """Return a day as the history counts them."""
    return None if day is None else float(day.toordinal())


def document_of(plant: Plant, examination: KeptExamination) -> Mapping[str, Any]:
    """Return the document of an examination."""
    document: Mapping[str, Any] = json.loads(plant.examinations.document(examination).text)
    return document


def baseline_of(plant: Plant, examination: KeptExamination) -> Baseline:
    """Return everything that was measured on the visit of an examination."""
    document = document_of(plant, examination)
    point = document.get("operating_point") or {}
    leads = {
        IndependenceClass(each["class"]): each["lead"]
        for each in document.get("classes", ())
        if each.get("lead")
    }
    return Baseline(
        day=float(examination.day.toordinal()),
        readings=tuple(_reading(each) for each in document.get("indicators", ())),
        load_fraction=_quantity(point.get("load_fraction")),
        leads=leads,
    )


def _reading(indicator: Mapping[str, Any]) -> Reading:
    """Return one indicator of a document as a reading."""
    method, bars = indicator.get("method"), indicator.get("open_bar_equivalent")
    return Reading(
        name=indicator["name"],
        title=indicator["title"],
        independence_class=IndependenceClass(indicator["class"]),
        part=Part(indicator["part"]),
        method=Method(method) if method else None,
        value=_estimate(indicator["value"], indicator["interval"]),
        unit=indicator["unit"],
        valid=indicator["valid"],
        reason=indicator["reason"],
        open_bar_equivalent=None if bars is None else _estimate(bars["value"], bars["interval"]),
        detection_limit_bars=indicator.get("detection_limit"),
        limit=_limit(indicator.get("limit")),
    )


def _limit(limit: Mapping[str, Any] | None) -> ReferenceLimit | None:
    """Return a published limit of a document."""
    if limit is None:
        return None
    return ReferenceLimit(
        value=limit["value"],
        sense=Sense(limit["sense"]),
        source=limit["source"],
        form=limit.get("form", ""),
        decides=limit.get("decides", NO_LIMIT not in limit.get("form", "")),
    )


def _quantity(quantity: Mapping[str, Any] | None) -> Estimate | NotKnown:
    """Return a quantity of a document."""
    if not quantity:
        return NotKnown("not measured")
    found = _estimate(quantity["value"], quantity["interval"])
    return NotKnown(quantity.get("reason") or "not measured") if found is None else found


def _estimate(value: float | None, interval: Sequence[float] | None) -> Estimate | None:
    """Return value and interval of a document."""
    return None if value is None or interval is None else Estimate(value, *interval)
