"""Recording to text table: time and engineering values, shortest digits that read back exactly."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from cagewise.measurement import Recording


def write(recording: Recording, path: Path) -> None:
    """Write a comma-separated table with one preamble line, a header and a time column."""
    import pyarrow as pa
    from pyarrow import csv

    times = recording.sample_times_s
    if times is None:
        times = np.arange(recording.n_samples) / recording.sampling_rate_hz
    columns = {"time [s]": times}
    for channel in recording.channels:
        heading = f"{channel.name} [{channel.unit}]" if channel.unit else channel.name
        columns[heading] = channel.samples
    table = pa.table(columns)
    with path.open("wb") as stream:
        stream.write(f"# sampling rate: {recording.sampling_rate_hz!r} Hz\n".encode())
        csv.write_csv(table, stream)
