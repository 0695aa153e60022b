"""Recording to WAV, with a sidecar for everything that WAV cannot hold."""

from __future__ import annotations

import struct
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Recording
from cagewise.readers.sidecar import sidecar_text
from cagewise.readers.wav.chunks import FLOAT, PCM

_LARGEST_BYTES = 2**32 - 64
"""Lengths are stated in 32 bits."""


def write(recording: Recording, path: Path) -> None:
    """Write 16- or 32-bit integers where all channels are such, else 64-bit floats.

    The sidecar beside the file keeps names, units, roles and scales, so that reading gives the
    same values.

    Raises
    ------
    RecordingError
        If the sampling rate is not in whole hertz, times are not uniform, or there are more
        samples than a WAV file can hold.
    """
    rate = round(recording.sampling_rate_hz)
    if rate != recording.sampling_rate_hz or recording.sample_times_s is not None:
        raise RecordingError(
            "WAV holds uniform samples at whole hertz only",
            where=str(path),
            remedy="Choose another format.",
        )
    kinds = {channel.raw.dtype for channel in recording.channels}
    kind = kinds.pop() if len(kinds) == 1 else np.dtype(np.float64)
    if kind not in (np.int16, np.int32, np.float32):
        kind = np.dtype(np.float64)
    data = np.empty((recording.n_samples, len(recording.channels)), dtype=kind.newbyteorder("<"))
    for k, channel in enumerate(recording.channels):
        data[:, k] = channel.raw
    if data.nbytes > _LARGEST_BYTES:
        raise RecordingError(
            "there are more samples than a WAV file can hold",
            where=str(path),
            remedy="Choose another format.",
        )
    path.write_bytes(_head(data, rate) + data.tobytes())
    full_scale = 2.0 ** (8 * kind.itemsize - 1) if kind.kind == "i" else 1.0
    said = [
        (f"channel {k}", replace(channel, scale=channel.scale * full_scale))
        for k, channel in enumerate(recording.channels, start=1)
    ]
    path.with_name(path.name + ".toml").write_text(sidecar_text(recording, said), encoding="utf-8")


def _head(data: NDArray[Any], rate: int) -> bytes:
    """Return the chunks before the samples."""
    n_channels, size = data.shape[1], data.dtype.itemsize
    tag = FLOAT if data.dtype.kind == "f" else PCM
    frame = n_channels * size
    form = struct.pack("<HHIIHH", tag, n_channels, rate, rate * frame, frame, 8 * size)
    if tag == FLOAT:
        form += struct.pack("<H", 0)
        form_chunk = struct.pack("<4sI", b"fmt ", len(form)) + form
        form_chunk += struct.pack("<4sII", b"fact", 4, data.shape[0])
    else:
        form_chunk = struct.pack("<4sI", b"fmt ", len(form)) + form
    data_head = struct.pack("<4sI", b"data", data.nbytes)
    length = 4 + len(form_chunk) + len(data_head) + data.nbytes
    return struct.pack("<4sI4s", b"RIFF", length, b"WAVE") + form_chunk + data_head
