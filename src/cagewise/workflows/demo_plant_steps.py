"""What the story of an invented motor is told in: visits with records, and what people did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cagewise.measurement import Role
from cagewise.store import FoundBar
from cagewise.store.records import Happening
from cagewise.workflows.demo_plant_motors import Plate
from cagewise.workflows.invented_insulation import Insulation

OPEN = float("inf")
"""Factor on the resistance of an open bar."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A record of the running motor."""

    name: str = "running"
    """In the name of its file."""
    load: float = 0.75
    """Torque over rated torque."""
    swing: float = 0.0
    """Torque of the load that comes and goes about the pole-pass frequency, over rated torque."""
    roles: tuple[Role, ...] = ()
    """Channels; three currents and three line voltages if empty."""
    rate_hz: float = 2000.0
    seconds: float = 12.0
    """Ten pole-pass periods at three quarters of the load. Sixty seconds gave the same readings
    here, within 3 %, and take five times as long to simulate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A record of a direct start."""

    load: float = 0.75
    temperature_degc: float = 60.0
    """Of winding and cage: the motor had cooled for an hour or two."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRest:
    """A test sheet."""

    insulation: Insulation = field(default_factory=Insulation)
    positions: bool = True
    """Whether the shaft was turned by hand and the inductance read; else only the winding."""
    temperature_degc: float = 24.0
    """Of the winding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A visit: what was measured on one day, and what the cage truly was."""

    days_ago: int
    records: tuple[Running | Start | AtRest, ...]
    bars: Mapping[int, float] = field(default_factory=dict)
    """Truth: bar to the factor on its resistance; :data:`OPEN` is an open bar."""
    cage: int = 0
    """Truth: which cage it is; a repaired one is another and has its own unevenness."""
    strobe: bool = True
    """Whether the speed was read from a strobe."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """Somebody opened a case."""

    days_ago: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """Somebody decided something."""

    days_ago: int
    action: str
    due_in: int
    """Days from the decision to when it is to be done."""
    text: str = ""
    author: str = "reliability"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Something was noted, found or repaired."""

    days_ago: int
    what: Happening
    text: str = ""
    author: str = "reliability"
    of_motor: bool = False
    """It belongs to no case."""
    sketch: tuple[FoundBar, ...] = ()
    """Bars that the attached sketch shows; no sketch if empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """Somebody closed the case."""

    days_ago: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileChanged:
    """The motor file was completed."""

    days_ago: int
    plate: Plate
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mounted:
    """A sensor was mounted on a motor for good."""

    days_ago: int
    name: str
    role: Role
    note: str = ""


Step = Measured | Opened | Decided | Told | Closed | FileChanged | Mounted


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorStory:
    """One motor and what happened to it, in order."""

    tag: str
    description: str
    plate: Plate
    """What its motor file says."""
    truth: Plate | None = None
    """What the motor is, where its motor file does not say it all."""
    steps: tuple[Step, ...] = ()
    """By day, the oldest first."""

    @property
    def real(self) -> Plate:
        """What the motor is."""
        return self.plate if self.truth is None else self.truth

    @property
    def visits(self) -> tuple[Measured, ...]:
        """When it was measured."""
        return tuple(step for step in self.steps if isinstance(step, Measured))
