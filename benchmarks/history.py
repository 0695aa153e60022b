"""What keeping costs: ``python benchmarks/history.py`` (``--once`` for a small, quick run).

*Import*: a file is kept, with its recording as Parquet and its rows, against reading, hashing and
writing the same bytes and flushing them to the disk. *Queries*: the latest examination of every
motor, and the whole history of one motor, through the store against one plain SELECT of the same
rows by sqlite3.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.store import (
    Decoded,
    ExaminationKeys,
    KeptReading,
    MotorEntry,
    NewExamination,
    Plant,
)

MOTOR = """
[motor]
tag = "{tag}"
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1485
rated_current_a = 320
poles = 4
"""
N_READINGS = 15
"""Readings of an examination, as a running record with two voltages gives."""
LARGEST_QUERY_S = 0.1
"""Promised for 2,000 motors and 120 visits."""
LARGEST_IMPORT = 1.5
"""Promised: keeping a file over reading, hashing and writing it."""
BLOCK_BYTES = 1 << 20
DAY = date(2020, 1, 1)


def best(function: Callable[[], object], repeats: int) -> float:
    """Return the shortest of several times."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        function()
        times.append(time.perf_counter() - begin)
    return min(times)


def counts_of(n_samples: int, seed: int) -> Recording:
    """Return six channels of sixteen-bit counts: a sine and a few counts of noise."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(n_samples) / 10_000.0
    channels = tuple(
        Channel(
            name=f"channel {k}",
            raw=np.rint(
                12_000.0 * np.sin(2.0 * np.pi * (50.0 * time_s - k / 3.0))
                + rng.normal(0.0, 4.0, n_samples)
            ).astype(np.int16),
            role=Role.OTHER,
            scale=0.01,
        )
        for k in range(6)
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=10_000.0,
        provenance=Provenance(source="run.dat", format_name="counts"),
    )


def plain_copy(source: Path, target: Path) -> None:
    """Read, hash and write a file, and flush it to the disk."""
    digest = hashlib.sha256()
    with source.open("rb") as old, target.open("wb") as new:
        while block := old.read(BLOCK_BYTES):
            digest.update(block)
            new.write(block)
        new.flush()
        os.fsync(new.fileno())


def time_import(folder: Path, n_samples: int, repeats: int) -> tuple[float, float]:
    """Print what an import costs; return original and whole import over a plain copy."""
    files: list[tuple[Path, Recording]] = []
    for seed in range(repeats):
        recording = counts_of(n_samples, seed)
        content = np.column_stack([channel.raw for channel in recording.channels]).tobytes()
        path = folder / f"run{seed}.dat"
        path.write_bytes(content)
        origin = replace(recording.provenance, sha256=hashlib.sha256(content).hexdigest())
        files.append((path, replace(recording, provenance=origin)))
    megabytes = files[0][0].stat().st_size / 1e6
    with Plant.create(folder / "import") as plant, Plant.create(folder / "originals") as other:
        visit = plant.visits.on(plant.motors.add(MOTOR.format(tag="P-1")), DAY)
        each = iter(files)

        def whole() -> None:
            path, recording = next(each)
            plant.measurements.keep_files(visit, [path], [Decoded(recording=recording)])

        paths = iter([path for path, _ in files])
        plain = best(lambda: plain_copy(files[0][0], folder / "copy.dat"), repeats)
        original = best(lambda: other.measurements.keep_original(next(paths)), repeats)
        complete = best(whole, repeats)
    print(
        f"import of {megabytes:.1f} MB: plain copy {plain:.3f} s, original {original:.3f} s", end=""
    )
    print(f" ({original / plain:.2f} times), with waveforms {complete:.3f} s", end="")
    print(f" ({complete / plain:.2f} times)")
    return original / plain, complete / plain


def first_motor(plant: Plant, n_visits: int) -> MotorEntry:
    """Return a motor with its visits, each with an examination."""
    with plant.writing():
        motor = plant.motors.add(MOTOR.format(tag="P-0"), valid_from=DAY)
        original = plant.measurements.keep_original(b"a sheet", "sheet.toml")
        for n in range(n_visits):
            visit = plant.visits.on(motor, DAY + timedelta(days=15 * n))
            sheet = plant.measurements.add_sheet(visit, original, measured_on=visit.day)
            readings = [
                KeptReading(name=f"reading {r}", value=0.1 * r, open_bars=0.01 * n)
                for r in range(N_READINGS)
            ]
            examination = NewExamination(
                document='{"indicators": []}',
                schema_version="1.1",
                program_version="0",
                nameplate_id=motor.nameplate_id,
                keys=ExaminationKeys(state="sound", open_bars=0.01 * n),
                inputs=[sheet],
                readings=readings,
            )
            plant.examinations.add(visit, examination)
    return motor


def multiply(plant: Plant, n_motors: int, n_visits: int) -> None:
    """Make more motors like the first, in SQL: the time to write them is not what is measured."""
    moved = {
        "motor": {"id": 1},
        "nameplate": {"id": 1, "motor_id": 1},
        "visit": {"id": n_visits, "motor_id": 1},
        "examination": {"id": n_visits, "visit_id": n_visits, "motor_id": 1, "nameplate_id": 1},
        "reading": {"examination_id": n_visits},
    }
    with plant.database.connection() as connection:
        for table, strides in moved.items():
            columns = connection.exec_driver_sql(f"PRAGMA table_info({table})").all()
            values = ["'p-' || n.k" if c.name == "tag_key" else f"t.{c.name}" for c in columns]
            for place, column in enumerate(columns):
                if column.name in strides:
                    values[place] += f" + n.k * {strides[column.name]}"
            connection.exec_driver_sql(
                "WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n WHERE k < ?) "  # noqa: S608 - our own names
                f"INSERT INTO {table} SELECT {', '.join(values)} FROM {table} t, n",
                (n_motors - 1,),
            )


LATEST = """
SELECT e.* FROM motor m JOIN examination e ON e.id = (
    SELECT x.id FROM examination x WHERE x.motor_id = m.id ORDER BY x.day DESC, x.id DESC LIMIT 1
) ORDER BY m.id"""
HISTORY = "SELECT * FROM examination WHERE motor_id = ? ORDER BY day, id"
READINGS = """
SELECT r.* FROM reading r JOIN examination e ON e.id = r.examination_id WHERE e.motor_id = ?
ORDER BY r.examination_id, r.position"""


def time_queries(folder: Path, n_motors: int, n_visits: int, repeats: int) -> dict[str, float]:
    """Print what queries cost; return their times in seconds."""
    seconds = {}
    with Plant.create(folder / "queries") as plant:
        first_motor(plant, n_visits)
        multiply(plant, n_motors, n_visits)
        motor = plant.motors.all()[n_motors // 2]
        with closing(sqlite3.connect(plant.database.file)) as plain:

            def rows(statement: str, *values: int) -> int:
                return len(plain.execute(statement, values).fetchall())

            assert len(plant.examinations.latest()) == n_motors == rows(LATEST)
            assert len(plant.examinations.of_motor(motor)) == n_visits == rows(HISTORY, motor.id)
            assert rows(READINGS, motor.id) == n_visits * N_READINGS
            asked: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
                "latest of every motor": (plant.examinations.latest, lambda: rows(LATEST)),
                "history of a motor": (
                    lambda: plant.examinations.of_motor(motor),
                    lambda: rows(HISTORY, motor.id),
                ),
                "readings of a motor": (
                    lambda: plant.examinations.readings(motor),
                    lambda: rows(READINGS, motor.id),
                ),
                "all motors": (plant.motors.all, lambda: rows("SELECT * FROM nameplate")),
            }
            print(f"{n_motors} motors x {n_visits} visits, {N_READINGS} readings each")
            for name, (ours, theirs) in asked.items():
                seconds[name] = best(ours, repeats)
                ratio = seconds[name] / best(theirs, repeats)
                print(f"  {name:22} {seconds[name] * 1e3:7.1f} ms  {ratio:5.1f} times a SELECT")
    return seconds


def main() -> None:
    """Measure, print and check what is promised."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true", help="a small plant, a short recording")
    once = parser.parse_args().once
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        original, _ = time_import(folder, 50_000 if once else 3_000_000, 3 if once else 5)
        size = (50, 12) if once else (2000, 120)
        seconds = time_queries(folder, *size, repeats=3 if once else 7)
    slow = {name: s for name, s in seconds.items() if s > LARGEST_QUERY_S}
    assert not slow, f"more than {LARGEST_QUERY_S} s: {slow}"
    if not once:  # of a small file, the rows are most of the work
        assert original <= LARGEST_IMPORT, f"{original:.2f} times a plain copy"


if __name__ == "__main__":
    main()
