"""What importing costs, for ``python benchmarks/history.py``.

Files of several kinds are imported into a plant as the command does it, against a *plain copy* of
the same files in the same run: each is read, hashed, written and flushed to the disk. An import
does that, and decodes the samples and keeps them a second time as Parquet; so it is also held
against writing the bytes twice. Processor time is printed beside the time on the wall: where other
programs keep the processors busy, only the former tells much.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.readers import write_recording
from cagewise.store import Plant
from cagewise.workflows.plant_import import Fate, ImportOptions, import_files

MOTOR = """
[motor]
tag = "P-1"
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1485
rated_current_a = 320
poles = 4
"""
MINUTE = 600_000
"""Samples of a minute at 10 kHz."""
SHORT = 1_600
"""Samples that make a file of about 20 kB."""
BLOCK_BYTES = 1 << 20
DAY = date(2031, 5, 17)
OPTIONS = ImportOptions(tag="P-1", day=DAY)


@dataclass(frozen=True)
class Kind:
    """Files of one kind."""

    name: str
    ending: str
    dtype: str
    n_samples: int
    n_files: int
    limited: bool = True
    """Whether the limit holds for it: text, packed data and rows take longer than any disk."""


KINDS = (
    Kind("COMTRADE, int16", ".cfg", "i2", MINUTE, 8),
    Kind("WAV, float32", ".wav", "f4", MINUTE, 8),
    Kind("NumPy archive", ".npz", "f4", MINUTE, 4, limited=False),
    Kind("CSV", ".csv", "f4", MINUTE, 2, limited=False),
    Kind("small WAV", ".wav", "i2", SHORT, 1000, limited=False),
)
QUICK = tuple(replace(k, n_samples=min(k.n_samples, 20_000), n_files=3) for k in KINDS)


@dataclass(frozen=True)
class Cost:
    """What one pass over the files took, in seconds."""

    wall_s: float
    processor_s: float


def measured(function: Callable[[], object]) -> Cost:
    """Return what a call costs."""
    begin, used = time.perf_counter(), time.process_time()
    function()
    return Cost(time.perf_counter() - begin, time.process_time() - used)


def recording_of(dtype: str, n_samples: int, seed: int) -> Recording:
    """Return six channels: a sine and noise of a few counts."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(n_samples) / 10_000.0
    is_counts = dtype.startswith("i")
    channels = []
    for k in range(6):
        counts = np.rint(
            12_000.0 * np.sin(2.0 * np.pi * (50.0 * time_s - k / 3.0))
            + rng.normal(0.0, 4.0, n_samples)
        )
        raw = (counts if is_counts else 0.01 * counts).astype(dtype)
        scale = 0.01 if is_counts else 1.0
        channels.append(Channel(name=f"channel {k}", raw=raw, role=Role.OTHER, scale=scale))
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=10_000.0,
        provenance=Provenance(source="closed form", format_name="counts"),
        start_time=datetime(2031, 5, 17, 8, 0, seed % 60, tzinfo=UTC),
    )


def blocks(path: Path) -> Iterator[bytes]:
    """Yield the bytes of a file."""
    with path.open("rb") as stream:
        while block := stream.read(BLOCK_BYTES):
            yield block


def plain_copy(files: list[Path], target: Path, times: int) -> None:
    """Read and hash files, and write each so many times, flushed to the disk."""
    target.mkdir()
    for source in files:
        for k in range(times):
            digest = hashlib.sha256()
            with (target / f"{k}-{source.name}").open("wb") as new:
                for block in blocks(source):
                    if k == 0:
                        digest.update(block)
                    new.write(block)
                new.flush()
                os.fsync(new.fileno())
    shutil.rmtree(target)


def imported(source: Path, folder: Path) -> tuple[Cost, Cost, int]:
    """Import into a new plant, twice; return what both cost, and the bytes of the waveforms."""
    with Plant.create(folder) as plant:
        plant.motors.add(MOTOR)

        def take(fate: Fate) -> None:
            assert {each.fate for each in import_files(plant, [source], OPTIONS)} == {fate}

        first = measured(lambda: take(Fate.IMPORTED))
        again = measured(lambda: take(Fate.KNOWN))
    size = sum(path.stat().st_size for path in (folder / "waveforms").rglob("*.parquet"))
    shutil.rmtree(folder)
    return first, again, size


def time_kind(folder: Path, kind: Kind, rounds: int) -> float:
    """Print what one kind of files costs; return the best import over the best plain copy."""
    source = folder / "source"
    source.mkdir()
    for n in range(kind.n_files):
        write_recording(
            recording_of(kind.dtype, kind.n_samples, n), source / f"run{n:04}{kind.ending}"
        )
    files = sorted(source.iterdir())
    once, twice, first, again = [], [], [], []
    for n in range(rounds):
        once.append(measured(lambda: plain_copy(files, folder / "copy", 1)))
        twice.append(measured(lambda: plain_copy(files, folder / "copy", 2)))
        taken, checked, size = imported(source, folder / f"plant{n}")
        first.append(taken)
        again.append(checked)
    megabytes = sum(path.stat().st_size for path in files) / 1e6
    raw = kind.n_files * kind.n_samples * 6 * np.dtype(kind.dtype).itemsize
    shutil.rmtree(source)
    plain, double, whole, known = (
        min(c.wall_s for c in each) for each in (once, twice, first, again)
    )
    used, used_plain = (min(c.processor_s for c in each) for each in (first, once))
    each_ms = 1e3 / kind.n_files
    print(
        f"  {kind.name:16} {kind.n_files:4} x {megabytes / kind.n_files:6.2f} MB: "
        f"plain copy {plain * each_ms:6.1f} ms, import {whole * each_ms:6.1f} ms "
        f"= {whole / plain:5.2f} times ({whole / double:5.2f} of writing twice); "
        f"processor {used_plain * each_ms:5.1f} and {used * each_ms:5.1f} ms; "
        f"again {known * each_ms:5.2f} ms; waveforms {size / raw:.2f} of the samples"
    )
    assert size <= raw or kind.n_samples < MINUTE, "waveforms are larger than the samples"
    return whole / plain


def time_imports(folder: Path, *, once: bool) -> dict[str, float]:
    """Print what imports cost; return import over plain copy, of the kinds that have a limit."""
    print("import, per recording, against a plain copy (read, hash, write, flush) of its files")
    kinds = QUICK if once else KINDS
    ratios = {kind.name: time_kind(folder, kind, 1 if once else 3) for kind in kinds}
    return {kind.name: ratios[kind.name] for kind in kinds if kind.limited}
