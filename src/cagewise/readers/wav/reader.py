"""WAV file to recording."""

from __future__ import annotations

from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Channel, Provenance, Recording
from cagewise.readers.files import translated
from cagewise.readers.format import SHORT_REMEDY, ReadOptions
from cagewise.readers.wav.chunks import PCM, Layout, read_layout

_BLOCK_FRAMES = 1 << 16
"""Samples of all channels that are taken apart at a time."""


def read(path: Path, options: ReadOptions) -> Recording:
    """Read a WAV file; engineering values are fractions of full scale until a sidecar says more."""
    layout = read_layout(path)
    n_frames, notes = _frames(layout, options, path)
    with translated(path, "the samples cannot be read"), path.open("rb") as stream:
        stream.seek(layout.offset)
        raw = _take_apart(stream, layout, n_frames)
    if options.sampling_rate_hz is not None:
        notes += (f"sampling rate as stated, not as in the file ({layout.sampling_rate_hz:g} Hz)",)
    kind = f"{8 * layout.bytes_per_sample}-bit {'integers' if layout.tag == PCM else 'floats'}"
    return Recording(
        channels=tuple(_channel(k, values, layout) for k, values in enumerate(raw, start=1)),
        sampling_rate_hz=options.sampling_rate_hz or layout.sampling_rate_hz,
        provenance=Provenance(source=path.name, format_name="wav", notes=(kind, *notes)),
    )


def _frames(layout: Layout, options: ReadOptions, path: Path) -> tuple[int, tuple[str, ...]]:
    """Return the number of samples to read, and a note where it differs from what is stated."""
    n_frames, rest = divmod(layout.present_bytes, layout.frame_bytes)
    if layout.stated_bytes is None:
        return n_frames, ("the file does not state its length; read to its end",)
    problem = ""
    if layout.present_bytes < layout.stated_bytes:
        stated = layout.stated_bytes // layout.frame_bytes
        problem = f"the file states {stated} samples and holds {n_frames}"
    elif rest:
        problem = f"{rest} bytes are left over after the last sample"
    if problem and not options.accept_length_mismatch:
        raise RecordingError(
            problem,
            where=str(path),
            remedy=f"Copy it again from the instrument, or {SHORT_REMEDY}",
        )
    return n_frames, (problem,) if problem else ()


def _take_apart(stream: BinaryIO, layout: Layout, n_frames: int) -> NDArray[Any]:
    """Return the samples as stored, shape (n_channels, n_frames)."""
    stored = {1: "u1", 2: "<i2", 3: "u1", 4: "<i4"} if layout.tag == PCM else {4: "<f4", 8: "<f8"}
    kind = np.dtype(stored[layout.bytes_per_sample])
    packed = layout.bytes_per_sample == 3
    result = np.int32 if packed else kind.newbyteorder("=")
    raw = np.empty((layout.n_channels, n_frames), dtype=result)
    for start in range(0, n_frames, _BLOCK_FRAMES):
        count = min(_BLOCK_FRAMES, n_frames - start)
        block = np.frombuffer(stream.read(count * layout.frame_bytes), dtype=kind)
        values = _from_three_bytes(block) if packed else block
        raw[:, start : start + count] = values.reshape(count, layout.n_channels).T
    return raw


def _from_three_bytes(block: NDArray[Any]) -> NDArray[np.int32]:
    """Return 24-bit integers, three bytes each, as 32-bit ones."""
    wide = np.zeros((block.size // 3, 4), dtype=np.uint8)
    wide[:, 1:] = block.reshape(-1, 3)
    return wide.view("<i4").reshape(-1) >> 8


def _channel(number: int, raw: NDArray[Any], layout: Layout) -> Channel:
    """Return one channel: full scale is 1, integers have the range of their bits."""
    if raw.dtype.kind == "f":
        return Channel(name=f"channel {number}", raw=raw)
    half = 2.0 ** (8 * layout.bytes_per_sample - 1)
    middle = half if raw.dtype.kind == "u" else 0.0  # 8-bit samples are unsigned
    return Channel(
        name=f"channel {number}",
        raw=raw,
        scale=1.0 / half,
        offset=-middle / half,
        range_low=middle - half,
        range_high=middle + half - 1.0,
    )
