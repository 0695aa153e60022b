"""What a file format declares about itself, and what a user can say about a file."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cagewise.errors import RecordingError
from cagewise.measurement import Recording

SHORT_REMEDY = "read what is there with --accept-short."
"""What to do with a file that holds less than it says, as the end of a sentence."""


def rate_remedy(path: Path) -> str:
    """Return how a user states the sampling rate of a file that does not."""
    return (
        "State it with --rate, as in --rate 10000, or as `sampling_rate_hz = 10000` in a file "
        f"{path.name}.toml beside it."
    )


def require_rate(rate_hz: float, *, where: str, remedy: str = "") -> float:
    """Return ``rate_hz`` if it can be a sampling rate.

    Raises
    ------
    RecordingError
        If it is zero, negative, or not a finite number.
    """
    if not (math.isfinite(rate_hz) and rate_hz > 0.0):
        raise RecordingError(
            f"the sampling rate must be a positive number of hertz, got {rate_hz:g}",
            where=where,
            remedy=remedy or "State it with --rate, or as `sampling_rate_hz` in the sidecar file.",
        )
    return float(rate_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOptions:
    """What the user states about a file; a statement here wins over the sidecar and the file."""

    sampling_rate_hz: float | None = None
    """Sampling rate in Hz, for files that do not state one or state a wrong one."""
    select: tuple[str, ...] = ()
    """Names of the variables, groups or structures to take, where a file holds several
    recordings; a name also selects everything below it. Empty: the largest set that fits
    together."""
    accept_length_mismatch: bool = False
    """Read what is there although the file states another number of samples."""

    def __post_init__(self) -> None:
        if self.sampling_rate_hz is not None:
            require_rate(self.sampling_rate_hz, where="option sampling_rate_hz")


def _only_itself(path: Path) -> tuple[Path, ...]:
    """Return the path: most recordings are one file."""
    return (path,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One file format: how to recognise, read and write it."""

    name: str
    """Short name, unique, as options and provenance use it."""
    title: str
    """Name in words, with the standard where there is one."""
    suffixes: tuple[str, ...]
    """Usual file name endings, small letters with the dot, the first for new files."""
    holds: str
    """What such a file can hold and what it leaves open, in one sentence."""
    sniff: Callable[[Path, bytes], bool]
    """``sniff(path, head)``: whether path and first bytes look like this format; never raises."""
    read: Callable[[Path, ReadOptions], Recording]
    """Read the file; roles, sidecar and checksum are the registry's business."""
    write: Callable[[Recording, Path], None] | None = None
    """Write a new file (or files of the same stem), or None where only reading makes sense."""
    files: Callable[[Path], tuple[Path, ...]] = _only_itself
    """All files that make up the recording, in the order in which they are hashed."""
    extra: str = ""
    """Optional part of the installation that reading needs, empty for none."""

    @property
    def can_write(self) -> bool:
        """Whether recordings can be written in this format."""
        return self.write is not None
