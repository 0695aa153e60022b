"""TDMS files of measurement software, read with the optional package nptdms."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions


def _sniff(path: Path, head: bytes) -> bool:  # noqa: ARG001 - the content is enough
    """Return whether the file begins like a TDMS file."""
    return head[:4] == b"TDSm"


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.tdms.reader import read

    return read(path, options)


FORMAT = Format(
    name="tdms",
    title="TDMS",
    suffixes=(".tdms",),
    holds="Groups of channels with units, scaling, sampling interval and start time (UTC).",
    sniff=_sniff,
    read=_read,
    extra="tdms",
)
