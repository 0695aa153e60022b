"""The options of the commands that work with a plant."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from cyclopts import Parameter


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class PlantOptions:
    """Which plant, and which of its sites."""

    plant: Path | None = None
    """Folder of the plant; else the environment variable CAGEWISE_PLANT, else ./plant."""
    site: str | None = None
    """Site of the motor, in a plant whose sites repeat tags."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class NewPlantOptions:
    """What a new plant is."""

    name: str = ""
    """What the plant is called."""
    time_zone: str = ""
    """Time zone of its calendar, as in Europe/Zurich; UTC if left out."""
    database: str = ""
    """URL of an empty PostgreSQL database, without a password; a file in the folder if left
    out."""
    waveforms: str = ""
    """Where waveforms are kept, as an fsspec URL; in the folder if left out."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedOptions:
    """What the user knows about the files."""

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
    again: bool = False
    """Read files again that are in the plant, also those that another motor has."""
    every: bool = False
    """Name every file, not only the first few of each kind."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class KeptVisitOptions(PlantOptions):
    """Which visit of the plant is examined."""

    visit: date | None = None
    """Day of the visit to examine: 2031-05-17; the latest if left out."""
