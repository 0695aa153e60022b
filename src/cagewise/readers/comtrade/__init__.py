"""COMTRADE: IEEE C37.111-1991 and -1999, IEC 60255-24:2013, separate files or one combined file."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions
from cagewise.readers.heads import looks_like_comtrade


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.comtrade.reader import read

    return read(path, options)


def _write(recording: Recording, path: Path) -> None:
    from cagewise.readers.comtrade.writer import write

    write(recording, path)


def _files(path: Path) -> tuple[Path, ...]:
    from cagewise.readers.comtrade.parts import locate

    return locate(path).files


FORMAT = Format(
    name="comtrade",
    title="COMTRADE (IEEE C37.111, IEC 60255-24)",
    suffixes=(".cfg", ".cff", ".dat", ".hdr", ".inf"),
    holds="Analogue channels with units and scaling, sampling rates, line frequency and start "
    "time; ASCII, BINARY, BINARY32 and FLOAT32 data; status channels are counted, not read.",
    sniff=looks_like_comtrade,
    read=_read,
    write=_write,
    files=_files,
)
