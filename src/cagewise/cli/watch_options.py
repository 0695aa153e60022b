"""The options of the commands that watch and post."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from cyclopts import Parameter


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class WatchedOptions:
    """How often is looked, and what the user knows about the files."""

    once: bool = False
    """Deal with what is there, wait until nothing is being written any more, and end."""
    every: float = 20.0
    """Seconds between two looks into the folders; 20 if left out."""
    rest: float = 60.0
    """Seconds for which a file must not change before it is read; 60 if left out."""
    motor: str | None = None
    """Tag of the motor of all files; else the nearest folder that is named like a tag."""
    day: date | None = None
    """Day of recordings that do not say when they were made: 2031-05-17."""
    role: list[str] = field(default_factory=list)
    """Say what a channel is: NAME=ROLE, as in IL1=i_a. Repeatable."""
    rate: float | None = None
    """Sampling rate in Hz, for files that do not state one."""
    select: list[str] = field(default_factory=list)
    """Variable or group to take from a file that holds several. Repeatable."""
    accept_short: bool = False
    """Read a file that holds less than it says."""
