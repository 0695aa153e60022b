"""What would have been measured on a visit of the invented plant: simulated, and written to files.

One job is one visit. Jobs know nothing of the plant and of each other, so that they can run beside
each other in several processes; equal jobs write equal files.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from multiprocessing import get_context, parent_process
from pathlib import Path
from threading import Thread

import numpy as np

from cagewise.errors import SimulationError
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.workflows.demo_plant_steps import OPEN, AtRest, Measured, Running, Start

UNEVENNESS = 0.02
"""Standard deviation of the resistances of sound bars, relative: no cage is quite even."""
MISSED = 0.97
"""Frequency of the swinging load over the pole-pass frequency: close, as in the worst cases."""
SHORTEST_S = 2.0
"""Length of a record from which only the pole-pass frequency is wanted."""
SPEED_DECIMALS = 1
"""Of a speed read from a strobe, in r/min."""
FIRST = time(7, 40)
APART = timedelta(minutes=25)
"""Time of the first record of a day, and from one to the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A visit that is to be measured."""

    folder: Path
    """Into which its files go; it is made."""
    motor: str
    """Motor file that says everything of the motor."""
    day: date
    visit: Measured
    number: int
    """Of the visit in the plant: from it comes everything that is chance."""
    motor_number: int
    """From it comes the unevenness of the cage, the same on every visit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What a job gave."""

    folder: Path
    files: tuple[Path, ...]
    speed_rpm: float | None
    """As a strobe would have read it; None where nobody read it."""


@contextmanager
def measuring(jobs: Iterable[Job], workers: int) -> Iterator[Iterator[Done]]:
    """Give what the jobs give, in their order, measured by so many processes; 1 is this one.

    Raises
    ------
    SimulationError
        If a process was ended from outside.
    """
    if workers <= 1:
        yield map(measure, jobs)
        return
    pool = ProcessPoolExecutor(workers, get_context("spawn"), initializer=_end_with_parent)
    try:
        yield pool.map(measure, jobs)
    except BrokenProcessPool as error:
        raise SimulationError(
            "a process that simulates was ended from outside",
            where="invented plant",
            remedy="Run it again; there may have been too little memory.",
        ) from error
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _end_with_parent() -> None:
    """End this process when the one that started it has ended in whatever way."""

    def watch() -> None:
        parent = parent_process()
        if parent is not None:
            parent.join()
            os._exit(1)

    Thread(target=watch, daemon=True).start()


def measure(job: Job) -> Done:
    """Measure a visit: simulate its records and write them to files."""
    from cagewise.store.motors import parse

    motor = parse(job.motor, "")
    job.folder.mkdir(parents=True)
    files: list[Path] = []
    speed_rpm: float | None = None
    for count, record in enumerate(job.visit.records):
        seed = 10 * job.number + count
        path = job.folder / f"{job.day}-{_name(record)}"
        match record:
            case Running():
                recording = _running(motor, job, record, seed)
                speed_rpm = round(recording.truth["speed_rpm"], SPEED_DECIMALS)
                _write(recording, path, job.day, count)
            case Start():
                _write(_start(motor, job, record, seed), path, job.day, count)
            case AtRest():
                _write_sheet(motor, job, record, path, seed)
        files.append(path)
    return Done(
        folder=job.folder,
        files=tuple(files),
        speed_rpm=speed_rpm if job.visit.strobe else None,
    )


def _name(record: Running | Start | AtRest) -> str:
    """Return the end of the name of a file."""
    match record:
        case Running(name=name):
            return f"{name}.parquet"
        case Start():
            return "start.parquet"
        case _:
            return "sheet.toml"


def _damage(motor: Motor, job: Job) -> tuple[tuple[int, ...], Mapping[int, float]]:
    """Return the open bars of a visit, and the factors on the resistances of the others."""
    random = np.random.default_rng([job.motor_number, job.visit.cage])
    natural = 1.0 + UNEVENNESS * random.standard_normal(motor.cage.rotor_bars or 0)
    bars = job.visit.bars
    gone = tuple(bar for bar, factor in bars.items() if factor == OPEN)
    factors = {k: bars.get(k, float(even)) for k, even in enumerate(natural) if k not in gone}
    return gone, factors


def _running(motor: Motor, job: Job, record: Running, seed: int) -> Recording:
    """Return a record of the running motor."""
    from cagewise.workflows.simulate import SimulateOptions, simulate_motor

    gone, factors = _damage(motor, job)
    options = SimulateOptions(
        open_bars=gone,
        resistance_factors=factors,
        load_fraction=record.load,
        duration_s=record.seconds,
        sampling_rate_hz=record.rate_hz,
        roles=record.roles,
        seed=seed,
    )
    if record.swing:
        quiet = simulate_motor(motor, replace(options, duration_s=SHORTEST_S))
        beat_hz = MISSED * quiet.truth["pole_pass_frequency_hz"]
        options = replace(options, oscillation=(record.swing, beat_hz))
    return simulate_motor(motor, options)


def _start(motor: Motor, job: Job, record: Start, seed: int) -> Recording:
    """Return a record of a start."""
    from cagewise.workflows.simulate_start import StartOptions, simulate_start_of

    gone, factors = _damage(motor, job)
    options = StartOptions(
        open_bars=gone,
        resistance_factors=factors,
        load_fraction=record.load,
        temperature_degc=record.temperature_degc,
        sampling_rate_hz=2000.0,
        seed=seed,
    )
    return simulate_start_of(motor, options)


def _write(recording: Recording, path: Path, day: date, count: int) -> None:
    """Write a recording of a time of a day."""
    from cagewise.readers import write_recording

    start = datetime.combine(day, FIRST, UTC) + count * APART
    write_recording(replace(recording, start_time=start), path)


def _write_sheet(motor: Motor, job: Job, record: AtRest, path: Path, seed: int) -> None:
    """Write the tests at rest."""
    from cagewise.readers.test_sheet.sheet_writer import write_test_sheet
    from cagewise.workflows.simulate_standstill import SheetOptions, simulate_sheet

    gone, factors = _damage(motor, job)
    options = SheetOptions(
        measured_on=job.day,
        open_bars=gone,
        resistance_factors=factors,
        winding_temperature_degc=record.temperature_degc,
        insulation=record.insulation,
        seed=seed,
    )
    if record.positions:
        write_test_sheet(simulate_sheet(motor, options), path)
        return
    few = replace(options, open_bars=(), resistance_factors={}, shaft_angles_rad=(0.0, 0.1, 0.2))
    write_test_sheet(replace(simulate_sheet(motor, few), positions=()), path)
