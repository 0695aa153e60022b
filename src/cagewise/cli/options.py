"""The options of the commands, in groups that several commands share."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

STANDARD_OUTPUT = Path("-")
"""``--json -`` writes the document to the screen and nothing else."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class PageOptions:
    """How the page looks."""

    width: int | None = None
    """Columns of the page; those of the terminal if left out."""
    ascii_only: Annotated[bool, Parameter(name="--ascii")] = False
    """Plain ASCII instead of Unicode shapes."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class FileOptions:
    """What is written to files."""

    json: Annotated[Path | None, Parameter(allow_leading_hyphen=True)] = None
    """Write the examination as JSON (docs/json.md); a single - writes it to the screen."""
    html: Path | None = None
    """Write a self-contained report of one page."""
    force: bool = False
    """Replace existing output files."""

    @property
    def asked(self) -> bool:
        """Whether any file was asked for."""
        return self.json is not None or self.html is not None

    @property
    def json_on_screen(self) -> bool:
        """Whether the document goes to the screen."""
        return self.json == STANDARD_OUTPUT

    @property
    def paths(self) -> list[Path]:
        """Files that will be written."""
        return [p for p in (self.json, self.html) if p is not None and p != STANDARD_OUTPUT]


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ResultOptions(FileOptions):
    """What is written to files, and whether the exit status is a gate."""

    gate: bool = False
    """Exit with 5 if the cage is suspect or defective, with 6 if not decidable."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class RecordOptions:
    """What the user knows about the recordings."""

    role: list[str] = field(default_factory=list)
    """Say what a channel is: NAME=ROLE, as in IL1=i_a. Repeatable."""
    rate: float | None = None
    """Sampling rate in Hz, for files that do not state one."""
    speed: float | None = None
    """Shaft speed in r/min, read from a tachometer or a strobe."""
    select: list[str] = field(default_factory=list)
    """Variable or group to take from a file that holds several. Repeatable."""
    accept_roles: bool = False
    """The roles are right although they are unlike the nameplate."""
    accept_short: bool = False
    """Read a file that holds less than it says."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class StatedOptions:
    """The record for which detection limits are stated."""

    seconds: float | None = None
    """Length of the record; as the plan recommends if left out."""
    rate: float | None = None
    """Sampling rate in Hz."""
    noise_db: float | None = None
    """Noise of a current channel over the rated current, in dB (-70 is a good clamp)."""
    bits: int | None = None
    """Resolution of the recorder."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationOptions:
    """What is simulated."""

    open_bars: str = ""
    """Bars that carry no current, counted from 0 along the rotor: 0,1 are two adjacent ones."""
    cracked: list[str] = field(default_factory=list)
    """A bar and the factor on its resistance, as in 7=2.0. Repeatable."""
    load: float = 0.75
    """Torque at the shaft over the rated torque."""
    seconds: float = 60.0
    """Length of the recording."""
    rate: float = 5000.0
    """Sampling rate in Hz."""
    seed: int = 0
    """Seed of noise and wander: equal arguments give equal samples."""
