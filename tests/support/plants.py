"""Plants to test the store with: an invented motor, a recording, an examination, an outcome."""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from hashlib import sha256
from pathlib import Path

from sqlalchemy import URL, create_engine, make_url, text

from cagewise.measurement import Recording
from cagewise.store import (
    Decision,
    Decoded,
    ExaminationKeys,
    Found,
    FoundBar,
    KeptReading,
    KeptRecording,
    KeptSheet,
    NewExamination,
    Note,
    Outcome,
    Plant,
    Repair,
    SourceFile,
    Visit,
)
from support.round_trip import build_recording

SERVER = "CAGEWISE_TEST_POSTGRESQL"
"""Environment variable with the URL of a PostgreSQL server on which databases may be made."""

DAY = date(2026, 3, 2)

MOTOR = """
[motor]
tag = "{tag}"
description = "an invented pump"
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1485
rated_current_a = 320
poles = 4

[criticality]
level = "high"
next_outage = "2026-09-01"
"""


def motor_file(tag: str = "P-101") -> str:
    """Return the motor file of an invented motor."""
    return MOTOR.format(tag=tag)


def recording_of(content: bytes, *, n_samples: int = 200) -> Recording:
    """Return a recording that says it was read from these bytes."""
    recording = build_recording(n_samples=n_samples)
    origin = replace(recording.provenance, source="run.dat", sha256=sha256(content).hexdigest())
    return replace(recording, provenance=origin)


def examination_of(
    inputs: tuple[KeptRecording | KeptSheet, ...], nameplate_id: int
) -> NewExamination:
    """Return an examination of recordings or sheets."""
    bars = {"value": 1.2, "interval": [0.8, 1.7]}
    indicators = [
        {"name": "lower_side_line", "unit": "dB", "valid": True, "value": -42.0}
        | {"interval": [-43.0, -41.0], "open_bar_equivalent": bars, "detection_limit": 0.4},
        {"name": "upper_side_line", "unit": "dB", "valid": False, "value": None, "interval": None},
    ]
    return NewExamination(
        document=json.dumps({"state": "suspect", "indicators": indicators}, indent=2) + "\n",
        schema_version="1.1",
        program_version="0.1.0",
        nameplate_id=nameplate_id,
        keys=ExaminationKeys(state="suspect", probability=0.4, open_bars=1.2, act_by_latest=DAY),
        inputs=inputs,
        readings=(
            KeptReading(
                name="lower_side_line",
                unit="dB",
                value=-42.0,
                low=-43.0,
                high=-41.0,
                open_bars=1.2,
                open_bars_low=0.8,
                open_bars_high=1.7,
                detection_limit_bars=0.4,
            ),
            KeptReading(name="upper_side_line", unit="dB", valid=False),
        ),
        settings={"speed_rpm": [1480.0, 1481.0]},
    )


def import_file(plant: Plant, path: Path, visit: Visit) -> tuple[KeptRecording, ...]:
    """Import a file as a workflow would: the same file twice is imported once."""
    source = SourceFile.of(path)
    found = plant.ledger.find(source)
    if found is not None and not found.refusal:
        kept = plant.measurements.recordings(visit)
        return tuple(each for each in kept if each.checksum == found.checksum)
    content = path.read_bytes()
    decoded = [Decoded(recording=recording_of(content), part=part) for part in ("a", "b")]
    kept = plant.measurements.keep_files(visit, [path], decoded)
    plant.ledger.note(source, kept[0].checksum)
    return kept


def fill(plant: Plant, folder: Path) -> None:
    """Give a plant one of everything."""
    motor = plant.motors.add(motor_file(), valid_from=date(2020, 1, 1))
    visit = plant.visits.on(motor, DAY)
    path = folder / "run.dat"
    path.write_bytes(b"a recording " * 1000)
    kept = import_file(plant, path, visit)
    sheet = plant.measurements.keep_original(b"a sheet", "sheet.toml")
    plant.measurements.add_sheet(visit, sheet, measured_on=DAY)
    done = plant.examinations.add(visit, examination_of(kept, motor.nameplate_id))
    case = plant.cases.open(motor, "one bar may be open", examination=done, on=DAY)
    plant.cases.add_event(case, Decision(action="measure again", due_on=DAY), on=DAY)
    plant.cases.add_event(case, Repair(action="bar brazed", facts={"rotor_bars": 58}), on=DAY)
    bars = (FoundBar(bar=7), FoundBar(bar=8))
    found = plant.cases.add_event(
        case, Outcome(found=Found.DAMAGED, open_bars=2, bars=bars), on=DAY
    )
    plant.cases.attach(found, b"a photograph", name="bars.jpg", caption="drive end")
    plant.cases.add_event(motor, Note(), text="new clamp", on=DAY)
    plant.cases.close(case, "repaired", on=DAY)
    plant.outbox.put("webhook", "finding 1", {"state": "suspect"})


@contextmanager
def new_database(server: str, template: str = "template1") -> Iterator[str]:
    """Give the URL of a new database on a server; it is dropped afterwards."""
    url = make_url(server).set(drivername="postgresql+psycopg")
    name = f"cagewise_{secrets.token_hex(8)}"
    _on_server(url, f"CREATE DATABASE {name} TEMPLATE {template}")
    try:
        yield url.set(database=name).render_as_string(hide_password=False)
    finally:
        _on_server(url, f"DROP DATABASE {name} WITH (FORCE)")


def _on_server(url: URL, statement: str) -> None:
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    try:
        with engine.connect() as connection:
            connection.execute(text(statement))
    finally:
        engine.dispose()
