"""Recording to NPZ archive."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib import format as npy
from numpy.typing import NDArray

from cagewise.measurement import Recording
from cagewise.readers.metadata import METADATA_NAME, TIMES_NAME, metadata_text


def write(recording: Recording, path: Path) -> None:
    """Write one array per channel as stored, ``sampling_rate_hz``, and the rest as JSON text."""
    arrays: dict[str, NDArray[Any]] = {c.name: c.raw for c in recording.channels}
    if recording.sample_times_s is not None:
        arrays[TIMES_NAME] = recording.sample_times_s
    arrays.setdefault("sampling_rate_hz", np.array(recording.sampling_rate_hz))
    arrays[METADATA_NAME] = np.array(metadata_text(recording))
    with zipfile.ZipFile(path, "w", compression=zipfile.ZIP_DEFLATED) as archive:
        for name, array in arrays.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as stream:
                npy.write_array(stream, np.ascontiguousarray(array), allow_pickle=False)
