"""The chunks of a WAV file: what the samples are and where they stand.

Layout after "Multimedia Programming Interface and Data Specifications 1.0" (RIFF, 1991) and its
extension WAVE_FORMAT_EXTENSIBLE; numbers are little-endian.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

from cagewise.errors import RecordingError
from cagewise.readers.files import translated

PCM = 1
FLOAT = 3
EXTENSIBLE = 0xFFFE

SUBFORMAT_TAIL = bytes.fromhex("000000001000800000aa00389b71")
"""Last 14 bytes of the sub-format identifier; the first two are the plain format tag."""

_UNKNOWN_LENGTHS = (0, 0xFFFFFFFF)
"""Length of the data chunk in files written to a pipe: not known when the head was written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What the samples of a WAV file are."""

    tag: int
    """:data:`PCM` or :data:`FLOAT`."""
    n_channels: int
    sampling_rate_hz: float
    bytes_per_sample: int
    offset: int
    """First byte of the samples."""
    stated_bytes: int | None
    """Length of the samples as stated, or None where the file does not know it."""
    present_bytes: int
    """Bytes of samples in the file, at most the stated number."""

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of all channels."""
        return self.n_channels * self.bytes_per_sample


def read_layout(path: Path) -> Layout:
    """Return the layout of a WAV file.

    Raises
    ------
    RecordingError
        If a chunk is missing or states something impossible.
    """
    form: bytes | None = None
    with translated(path, "the file cannot be read"), path.open("rb") as stream:
        size = stream.seek(0, 2)
        position = 12
        while position + 8 <= size:
            stream.seek(position)
            name, length = struct.unpack("<4sI", stream.read(8))
            if name == b"fmt ":
                form = stream.read(min(length, 64))
            elif name == b"data":
                return _layout(path, form, position + 8, length, size)
            position += 8 + length + length % 2
    raise _refused(path, "it has no data chunk: the file is cut short")


def _layout(path: Path, form: bytes | None, offset: int, length: int, size: int) -> Layout:
    """Return the layout from the format chunk and the place of the data."""
    if form is None or len(form) < 16:
        raise _refused(path, "the format of the samples is not stated before them")
    tag, n_channels, rate, _, frame_bytes, bits = struct.unpack("<HHIIHH", form[:16])
    if tag == EXTENSIBLE:
        if len(form) < 40 or form[26:40] != SUBFORMAT_TAIL:
            raise _refused(path, "the extended format of the samples is not known")
        (tag,) = struct.unpack("<H", form[24:26])
    if tag not in (PCM, FLOAT):
        raise _refused(path, f"the samples are compressed or coded (format {tag})")
    bytes_per_sample = -(-bits // 8)
    allowed = (1, 2, 3, 4) if tag == PCM else (4, 8)
    if bytes_per_sample not in allowed or n_channels == 0:
        raise _refused(path, f"{n_channels} channels of {bits} bits cannot be read")
    if frame_bytes != n_channels * bytes_per_sample:
        raise _refused(path, f"{frame_bytes} bytes per sample do not fit {n_channels} channels")
    if rate == 0:
        raise _refused(path, "the sampling rate is stated as zero")
    unknown = length in _UNKNOWN_LENGTHS
    present = size - offset
    return Layout(
        tag=tag,
        n_channels=n_channels,
        sampling_rate_hz=float(rate),
        bytes_per_sample=bytes_per_sample,
        offset=offset,
        stated_bytes=None if unknown else length,
        present_bytes=present if unknown else min(length, present),
    )


def _refused(path: Path, what: str) -> RecordingError:
    """Return the error for a file that cannot be read."""
    return RecordingError(
        what, where=str(path), remedy="Record or convert it as uncompressed PCM or float."
    )
