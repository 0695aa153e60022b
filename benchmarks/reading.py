"""Reading speed: ``python benchmarks/reading.py`` (``--once`` for a small, quick run).

COMTRADE is compared with the `comtrade` package on the same file in the same run, as it is used by
default and with numpy arrays; ours includes the checksum of the bytes, the check of all time stamps
and the guess of roles, and leaves counts as counts ("float64" is the time to scale them all).
The other formats are compared with reading the bytes of the file.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import comtrade
import numpy as np

from cagewise.measurement import Channel, Provenance, Recording
from cagewise.readers import read_recording, write_recording
from cagewise.readers.comtrade.writer import write_comtrade

N_SAMPLES = 1_200_000
N_CHANNELS = 6
RATE_HZ = 20_000.0
LEAST_TIMES_FASTER = 10.0
"""Against the default use of the `comtrade` package, for BINARY and BINARY32."""

ONCE_SAMPLES = 200_000
ONCE_LEAST_TIMES_FASTER = 4.0
"""With few samples the fixed cost of opening and checking files weighs more."""


def recording_of(dtype: type, n_samples: int) -> Recording:
    """Return six channels of a noisy sine."""
    rng = np.random.default_rng(0)
    phase = 2.0 * np.pi * 50.0 / RATE_HZ * np.arange(n_samples)
    channels = []
    for k in range(N_CHANNELS):
        wave = 20_000.0 * np.cos(phase - k) + 30.0 * rng.standard_normal(n_samples)
        raw = wave.astype(dtype) if dtype is np.float32 else np.rint(wave).astype(dtype)
        name, unit = (f"IL{k + 1}", "A") if k < 3 else (f"UL{k - 2}", "V")
        channels.append(Channel(name=name, raw=raw, unit=unit, scale=0.01))
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=RATE_HZ,
        start_time=datetime(2026, 3, 1, 8, tzinfo=UTC),
        provenance=Provenance(source="benchmark", format_name="synthetic"),
    )


def fastest(action: Callable[[], object], repeats: int) -> float:
    """Return the shortest of several times in seconds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def compare_comtrade(folder: Path, n_samples: int, repeats: int) -> dict[str, float]:
    """Print the table for COMTRADE and return how many times faster ours is, by data type."""
    print("COMTRADE     MB   ours s  float64 s   package s  numpy s   times faster")
    ratios = {}
    for data_type, dtype in (("BINARY", np.int16), ("BINARY32", np.int32), ("FLOAT32", np.float32)):
        path = folder / f"{data_type}.cfg"
        write_comtrade(recording_of(dtype, n_samples), path, data_type=data_type)
        recording = read_recording(path)
        ours = fastest(lambda path=path: read_recording(path), repeats)  # type: ignore[misc]
        scaled = fastest(lambda r=recording: [c.samples for c in r.channels], repeats)  # type: ignore[misc]
        plain, arrays = (
            fastest(
                lambda path=path, use=use: comtrade.Comtrade(use_numpy_arrays=use).load(str(path)),  # type: ignore[misc]
                max(1, repeats // 2),
            )
            for use in (False, True)
        )
        size = path.with_suffix(".dat").stat().st_size / 1e6
        ratios[data_type] = plain / ours
        print(
            f"{data_type:9}{size:7.1f} {ours:8.3f} {scaled:10.3f} {plain:11.3f} {arrays:8.3f}"
            f"   {plain / ours:5.1f} ({arrays / ours:.1f})"
        )
    return ratios


def time_formats(folder: Path, n_samples: int, repeats: int) -> None:
    """Print the times of the formats that we write ourselves."""
    print("format       MB   ours s   bytes s   times")
    original = recording_of(np.int16, n_samples)
    floats = recording_of(np.float32, n_samples)
    for label, recording, name in (
        ("parquet int", original, "i.parquet"),
        ("parquet flt", floats, "f.parquet"),
        ("npz", original, "i.npz"),
        ("wav", original, "i.wav"),
        ("csv", original, "i.csv"),
    ):
        path = folder / name
        write_recording(recording, path)
        ours = fastest(lambda path=path: read_recording(path), repeats)  # type: ignore[misc]
        plain = fastest(path.read_bytes, repeats)
        size = path.stat().st_size / 1e6
        print(f"{label:11}{size:5.1f} {ours:8.3f} {plain:9.4f} {ours / plain:7.1f}")


def main() -> None:
    """Measure, print and check the ratio that is promised."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true", help="few samples, one repeat")
    once = parser.parse_args().once
    n_samples, repeats = (ONCE_SAMPLES, 2) if once else (N_SAMPLES, 5)
    print(f"{n_samples} samples x {N_CHANNELS} channels")
    with tempfile.TemporaryDirectory() as folder:
        ratios = compare_comtrade(Path(folder), n_samples, repeats)
        time_formats(Path(folder), n_samples, repeats)
    least = ONCE_LEAST_TIMES_FASTER if once else LEAST_TIMES_FASTER
    slow = {name: round(ratios[name], 1) for name in ("BINARY", "BINARY32") if ratios[name] < least}
    assert not slow, f"less than {least} times faster: {slow}"


if __name__ == "__main__":
    main()
