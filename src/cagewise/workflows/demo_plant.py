"""Use case: an invented plant with two years of history, made by simulating and examining."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from cagewise.quantities import Estimate, NotKnown
from cagewise.store import (
    BarPlace,
    Decision,
    Decoded,
    ExaminationKeys,
    Found,
    FoundBar,
    KeptReading,
    KeptRecording,
    MotorEntry,
    NewExamination,
    Note,
    Outcome,
    Plant,
)
from cagewise.workflows import demo_plant_story as told
from cagewise.workflows.demo_plant_story import MotorStory, VisitStory
from cagewise.workflows.plant_cases import Entry, add_event, open_case, repair_of

if TYPE_CHECKING:
    from cagewise.decision.examination import Examination
    from cagewise.indicators.reading import Reading
    from cagewise.measurement import Recording

NAME = "Brannoch pulp mill (invented)"
SECONDS = 16.0
"""Length of a record: a dozen pole-pass periods; longer ones would take longer to simulate."""
RATE_HZ = 2000.0
UNEVENNESS = 0.02
"""Standard deviation of the resistances of sound bars, relative: no cage is quite even."""
MISSED = 0.97
"""Frequency of the swinging load over the pole-pass frequency: close, as in the worst cases."""
OUTAGE_DAYS = 45
"""To the next planned outage."""
SPEED_DECIMALS = 1
"""Of a speed read from a strobe, in r/min."""

Tell = Callable[[str], None]


def build_demo_plant(folder: Path, tell: Tell, *, until: date | None = None) -> None:
    """Make the plant in an empty folder.

    Every visit is a simulated record that is written to a file, imported and examined like any
    other; only cases, decisions and what was found are told.

    Parameters
    ----------
    folder
        Empty, or not there.
    tell
        Called with a line for each motor.
    until
        Last day of the two years; today if None.

    Raises
    ------
    PlantFolderError
        If something is in the folder.
    """
    end = until or datetime.now(UTC).date()
    with Plant.create(folder, name=NAME) as plant:
        for number, story in enumerate(told.MOTORS):
            tell(f"{story.tag}: {story.description} (visits: {len(story.visits)})")
            _add_motor(plant, story, number, end)
        _developing(plant, end)
        _suspected(plant, end)
        _repaired(plant, end)


def motor_file_of(story: MotorStory, end: date) -> str:
    """Return the motor file of a story."""
    return told.MOTOR_FILE.format(
        tag=story.tag,
        description=story.description,
        more=story.more,
        level=story.level,
        spare=str(story.spare).lower(),
        costs="" if story.miss is None else told.COSTS.format(miss=story.miss),
        outage=(end + timedelta(days=OUTAGE_DAYS)).isoformat(),
    )


def _add_motor(plant: Plant, story: MotorStory, number: int, end: date) -> None:
    """Add a motor and everything that was measured on it."""
    toml = motor_file_of(story, end)
    motor = plant.motors.add(toml, valid_from=end - timedelta(days=3 * 365))
    random = np.random.default_rng(number)
    natural = {k: 1.0 + UNEVENNESS * float(random.normal()) for k in range(40)}
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        (place / "motor.toml").write_text(toml, encoding="utf-8")
        for count, visit in enumerate(story.visits):
            day = end - timedelta(days=visit.days_ago)
            path = place / f"{story.tag}-{day}.parquet"
            speed_rpm = _record(place, path, visit, natural, 100 * number + count, day)
            _keep(plant, motor, path, day, speed_rpm)


def _record(
    place: Path,
    path: Path,
    visit: VisitStory,
    natural: Mapping[int, float],
    seed: int,
    day: date,
) -> float:
    """Simulate and write a record; return what a strobe would have read, in r/min."""
    from cagewise.readers.parquet.writer import write

    recording = _simulated(place, visit, natural, seed)
    if visit.oscillation:
        beat_hz = MISSED * recording.truth["pole_pass_frequency_hz"]
        recording = _simulated(place, visit, natural, seed, (visit.oscillation, beat_hz))
    start = datetime.combine(day, time(9, 30), UTC)
    write(replace(recording, start_time=start), path)
    return round(recording.truth["speed_rpm"], SPEED_DECIMALS)


def _simulated(
    place: Path,
    visit: VisitStory,
    natural: Mapping[int, float],
    seed: int,
    oscillation: tuple[float, float] | None = None,
) -> Recording:
    """Return the record of a visit."""
    from cagewise.workflows.simulate import SimulateOptions, simulate

    cracks = {bar: factor for bar, factor in visit.bars.items() if np.isfinite(factor)}
    gone = tuple(bar for bar, factor in visit.bars.items() if not np.isfinite(factor))
    factors = {bar: factor for bar, factor in natural.items() if bar not in gone}
    options = SimulateOptions(
        open_bars=gone,
        resistance_factors=factors | cracks,
        load_fraction=visit.load,
        duration_s=SECONDS,
        sampling_rate_hz=RATE_HZ,
        oscillation=oscillation,
        seed=seed,
    )
    return simulate(place / "motor.toml", options)


def _keep(plant: Plant, motor: MotorEntry, path: Path, day: date, speed_rpm: float) -> None:
    """Import a record and keep its examination."""
    from cagewise.pipeline import examine_visit
    from cagewise.workflows.assess import AssessOptions, settings_of
    from cagewise.workflows.plant_points import motor_of
    from cagewise.workflows.visit_files import VisitReader

    options = AssessOptions(speed_rpm=speed_rpm)
    read_motor = motor_of(plant, motor)
    recordings = tuple(VisitReader(read_motor, options).recordings([path]))
    examination = examine_visit(read_motor, recordings, settings_of(options))
    visit = plant.visits.on(motor, day)
    kept = plant.measurements.keep_files(visit, [path], [Decoded(recording=recordings[0])])
    made_at = datetime.combine(day, time(16, 0), UTC)
    new = new_examination(examination, motor.nameplate_id, kept, {"speed_rpm": speed_rpm})
    plant.examinations.add(visit, new, made_at=made_at)


def new_examination(
    examination: Examination,
    nameplate_id: int,
    inputs: tuple[KeptRecording, ...],
    settings: Mapping[str, float],
) -> NewExamination:
    """Return an examination as it is kept."""
    from cagewise.report.document import SCHEMA_VERSION
    from cagewise.report.json_output import to_json

    return NewExamination(
        document=to_json(examination),
        schema_version=SCHEMA_VERSION,
        program_version=examination.version,
        nameplate_id=nameplate_id,
        keys=_keys(examination),
        inputs=inputs,
        readings=tuple(_reading(r) for source in examination.shown for r in source.readings),
        settings=dict(settings),
    )


def _keys(examination: Examination) -> ExaminationKeys:
    """Return what lists and trends ask of an examination."""
    verdict, when = examination.verdict, examination.course.act_by
    probability = examination.evidence.probability
    bars = examination.evidence.pooled.bars
    return ExaminationKeys(
        state=verdict.state.value,
        ground=verdict.ground.value,
        probability=None if isinstance(probability, NotKnown) else probability,
        open_bars=None if bars is None else bars.value,
        open_bars_low=None if bars is None else bars.low,
        open_bars_high=None if bars is None else bars.high,
        upper_limit_bars=verdict.bound_bars,
        load_fraction=_load(examination),
        action=examination.course.in_rule_words(verdict).value,
        act_by_earliest=when.earliest,
        act_by_latest=when.latest,
    )


def _load(examination: Examination) -> float | None:
    """Return the load of the leading record."""
    lead = examination.leading
    if lead is None or isinstance(lead.operating_point, NotKnown):
        return None
    load = lead.operating_point.load_fraction
    return load.value if isinstance(load, Estimate) else None


def _reading(reading: Reading) -> KeptReading:
    """Return a reading as it is kept."""
    value, bars = reading.value, reading.open_bar_equivalent
    return KeptReading(
        name=reading.name,
        unit=reading.unit,
        valid=reading.valid,
        value=None if value is None else value.value,
        low=None if value is None else value.low,
        high=None if value is None else value.high,
        open_bars=None if bars is None else bars.value,
        open_bars_low=None if bars is None else bars.low,
        open_bars_high=None if bars is None else bars.high,
        detection_limit_bars=reading.detection_limit_bars,
    )


def _developing(plant: Plant, end: date) -> None:
    """Tell of the cage that gets worse."""
    motor = plant.motors.find(told.DEVELOPING.tag)
    day = end - timedelta(days=179)
    case = open_case(plant, motor, "side lines grow from visit to visit", on=day)
    planned = Decision(action="measure again in three months", due_on=end - timedelta(days=90))
    add_event(plant, case, planned, Entry(author="reliability", on=day))
    outage = end + timedelta(days=OUTAGE_DAYS)
    pull = Decision(action="take out at the outage and repair the cage", due_on=outage)
    add_event(
        plant,
        case,
        pull,
        Entry(
            text="A rotor shop is asked for; until then no more than two starts a day.",
            author="reliability",
            on=end - timedelta(days=10),
        ),
    )


def _suspected(plant: Plant, end: date) -> None:
    """Tell of the load that looked like a cage."""
    motor = plant.motors.find(told.SUSPECTED.tag)
    day = end - timedelta(days=343)
    case = open_case(plant, motor, "slow beat in the ammeter", on=day)
    seen = "Operators saw the pointer swing about once a second. A broken bar was feared."
    add_event(plant, case, Note(), Entry(text=seen, author="shift", on=day))
    again = Decision(
        action="record again with the level control in manual", due_on=day + timedelta(days=30)
    )
    add_event(plant, case, again, Entry(author="reliability", on=day))
    quiet = "With the level control in manual the beat was gone; it hunts."
    after = end - timedelta(days=329)
    add_event(plant, case, Note(), Entry(text=quiet, author="reliability", on=after))
    plant.cases.close(case, "the load swings, not the cage: level control tuned", on=after)


def _repaired(plant: Plant, end: date) -> None:
    """Tell of the cage that was repaired."""
    from cagewise.history.missing import RepairKind

    motor = plant.motors.find(told.REPAIRED.tag)
    case = open_case(plant, motor, "open bars", on=end - timedelta(days=431))
    pull = Decision(action="take out", due_on=end - timedelta(days=400))
    add_event(plant, case, pull, Entry(author="reliability", on=end - timedelta(days=428)))
    bars = (
        FoundBar(bar=4, place=BarPlace.DRIVE_END),
        FoundBar(bar=5, place=BarPlace.DRIVE_END),
    )
    found = Outcome(found=Found.DAMAGED, open_bars=2, bars=bars)
    opened = end - timedelta(days=390)
    saw = "Two adjacent bars parted at the ring, their neighbours sound."
    add_event(plant, case, found, Entry(text=saw, author="rotor shop", on=opened))
    done = repair_of("bars 4 and 5 replaced, ring brazed", RepairKind.CAGE, {"rotor_bars": "40"})
    add_event(plant, case, done, Entry(author="rotor shop", on=end - timedelta(days=370)))
    plant.cases.close(case, "repaired and back in service", on=end - timedelta(days=352))
