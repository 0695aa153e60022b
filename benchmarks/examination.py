"""Cost of an examination against reading the file: ``python benchmarks/examination.py``.

The baseline, measured in the same run, is reading the file (with its scaled samples as float64) and
one real transform per channel. An examination of 60 s x 6 channels x 10 kHz may cost three times
that, and its peak memory four times the samples in float64. Also timed: ``cagewise --help`` against
an empty interpreter, and ``assess`` of one demo recording from a cold start.
"""

from __future__ import annotations

import os

os.environ["OMP_NUM_THREADS"] = "1"  # threads that wait for each other would be timed
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy import fft

from cagewise.machine.motor import Motor
from cagewise.machine.motor_file import load_motor
from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.pipeline import examine
from cagewise.readers.registry import read_recording, write_recording
from cagewise.workflows import demo

DURATION_S = 60.0
RATE_HZ = 10_000.0
MOST_TIMES_BASELINE = 3.0
MOST_TIMES_SAMPLES = 4.0
LOWEST_SIDE_LINE_HZ = -0.9
FULL_SCALE = 30_000
ROLES = ("i_a", "i_b", "i_c", "v_ab", "v_bc", "v_ca")


def closed_form_recording(motor: Motor) -> Recording:
    """Return a steady record in 16-bit counts: fundamental, side lines, slot line, noise."""
    rng = np.random.default_rng(1)
    plate = motor.nameplate
    time_s = np.arange(round(DURATION_S * RATE_HZ)) / RATE_HZ
    supply = 2.0 * np.pi * plate.rated_frequency_hz * time_s
    turn = 2.0 * np.pi * LOWEST_SIDE_LINE_HZ * time_s
    channels = []
    for k, name in enumerate(ROLES):
        shift = supply - 2.0 * np.pi / 3.0 * (k % 3)
        if name.startswith("i"):
            wave = np.cos(shift - 0.5) + 0.01 * np.cos(shift + turn) + 0.01 * np.cos(shift - turn)
            peak, unit = plate.rated_current_a * np.sqrt(2.0) * 0.8, "A"
        else:
            wave = np.cos(shift + np.pi / 6.0)
            peak, unit = plate.rated_voltage_v * np.sqrt(2.0), "V"
        noisy = FULL_SCALE / 1.3 * wave + 3.0 * rng.standard_normal(time_s.size)
        counts = np.round(noisy).astype(np.int16)
        channels.append(
            Channel(
                name=name, raw=counts, unit=unit, role=Role(name), scale=peak * 1.3 / FULL_SCALE
            )
        )
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=RATE_HZ,
        provenance=Provenance(source="benchmark", format_name="closed form"),
    )


def baseline(path: Path) -> None:
    """Read the file and transform every channel once."""
    for channel in read_recording(path).channels:
        fft.rfft(channel.samples)


def best_of(work: Callable[[], object], repeats: int) -> float:
    """Return the shortest wall time of ``work``."""
    durations = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        durations.append(time.perf_counter() - start)
    return min(durations)


def peak_bytes(work: Callable[[], object]) -> int:
    """Return the peak of memory allocated during ``work``."""
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def command_s(*arguments: str, repeats: int = 3) -> float:
    """Return the shortest wall time of a Python command."""
    return best_of(
        lambda: subprocess.run([sys.executable, *arguments], check=True, capture_output=True),
        repeats,
    )


def compare(path: Path, motor: Motor, repeats: int) -> tuple[float, float]:
    """Return time over baseline and peak memory over the samples in float64."""

    def work() -> object:
        return examine(motor, read_recording(path))

    work()
    baseline(path)
    ratio = best_of(work, repeats) / best_of(lambda: baseline(path), repeats)
    samples_bytes = len(ROLES) * DURATION_S * RATE_HZ * 8.0
    return ratio, peak_bytes(work) / samples_bytes


def main() -> None:
    """Print the ratios; fail when one is out of bounds."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="few repeats, for CI")
    repeats = 3 if parser.parse_args().once else 7
    motor = load_motor(demo.find_case("sound").motor)
    recording = closed_form_recording(motor)
    with tempfile.TemporaryDirectory() as folder:
        for name, written_as in (("record.parquet", "parquet"), ("record.cfg", "comtrade")):
            path = Path(folder) / name
            write_recording(recording, path, written_as)
            ratio, memory = compare(path, motor, repeats)
            print(f"{written_as:10s} examination / (read + transforms)   {ratio:5.2f}  (most 3)")
            print(f"{written_as:10s} peak memory / float64 samples       {memory:5.2f}  (most 4)")
            assert ratio < MOST_TIMES_BASELINE
            assert memory < MOST_TIMES_SAMPLES
    empty = command_s("-c", "pass")
    print(f"cagewise --help                {command_s('-m', 'cagewise', '--help'):.2f} s")
    print(f"cagewise demo sound            {command_s('-m', 'cagewise', 'demo', 'sound'):.2f} s")
    print(f"an empty interpreter           {empty:.2f} s")


if __name__ == "__main__":
    main()
