"""WAV: integer PCM of 8, 16, 24 and 32 bits and IEEE floats, plain or extensible."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions


def _sniff(path: Path, head: bytes) -> bool:  # noqa: ARG001 - the content is enough
    """Return whether the file begins like a WAV file."""
    return head[:4] == b"RIFF" and head[8:12] == b"WAVE"


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.wav.reader import read

    return read(path, options)


def _write(recording: Recording, path: Path) -> None:
    from cagewise.readers.wav.writer import write

    write(recording, path)


FORMAT = Format(
    name="wav",
    title="WAV",
    suffixes=(".wav",),
    holds="Channels without names and units, as fractions of full scale; the sidecar gives names, "
    "roles and the value of full scale.",
    sniff=_sniff,
    read=_read,
    write=_write,
)
