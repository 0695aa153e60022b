"""The options of the commands, in groups that several commands share."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

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
    pdf: Path | None = None
    """Write the case report as PDF, one page for whoever decides before everything else; it needs
    the extra "pdf"."""
    force: bool = False
    """Replace existing output files."""

    @property
    def asked(self) -> bool:
        """Whether any file was asked for."""
        return any((self.json, self.html, self.pdf))

    @property
    def json_on_screen(self) -> bool:
        """Whether the document goes to the screen."""
        return self.json == STANDARD_OUTPUT

    @property
    def paths(self) -> list[Path]:
        """Files that will be written."""
        return [
            p for p in (self.json, self.html, self.pdf) if p is not None and p != STANDARD_OUTPUT
        ]


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ResultOptions(FileOptions):
    """What is written to files, and whether the exit status is a gate."""

    gate: bool = False
    """Exit with 5 if cage, winding or insulation is suspect or defective, with 6 if one of
    them was measured and cannot be judged, or the cage only with a reservation (sound of open
    bars only, or sound although a crack is more probable than not)."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class RecordOptions:
    """What the user knows about motor and recordings."""

    earlier: list[Path] = field(default_factory=list)
    """A start or a test sheet of the same motor from an earlier occasion, to compare with.
    Repeatable."""
    role: list[str] = field(default_factory=list)
    """Say what a channel is: NAME=ROLE, as in IL1=i_a. Repeatable."""
    rate: float | None = None
    """Sampling rate in Hz, for files that do not state one."""
    speed: float | None = None
    """Shaft speed in r/min, read from a tachometer or a strobe."""
    prevalence: float | None = None
    """How common cage defects are among such motors before anything is measured, as a share:
    0.02 (the value in force) means that 2 of 100 have one."""
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

    start: bool = False
    """Record a start instead of the running motor."""
    standstill: bool = False
    """Write the test sheet of the motor at rest (.toml, .csv, .xlsx) instead."""
    open_bars: str = ""
    """Bars that carry no current, counted from 0 along the rotor: 0,1 are two adjacent ones."""
    cracked: list[str] = field(default_factory=list)
    """A bar and the factor on its resistance, as in 7=2.0. Repeatable."""
    load: float = 0.75
    """Torque at the shaft over the rated torque (at full speed, with --start)."""
    seconds: float | None = None
    """Length of the recording; 60 s, or a start and what follows it, if left out."""
    rate: float = 5000.0
    """Sampling rate in Hz."""
    channels: str = ""
    """What is recorded, as in i_a,v_ab; three currents and line voltages if left out."""
    seed: int = 0
    """Seed of noise and wander: equal arguments give equal samples."""


@Parameter(name="*", group="With --start")
@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedStartOptions:
    """With --start: how the motor is started and recorded."""

    starting: Literal["direct", "soft-starter", "converter"] | None = None
    """How the voltage comes to the motor; as the motor file says if left out."""
    ramp: float = 6.0
    """Seconds of the ramp of soft starter or converter."""
    voltage: float = 1.0
    """Voltage before the start over the rated one."""
    short_circuit: float = 90.0
    """Short-circuit power of the supply over the motor's; 0 is a supply that does not sag."""
    temperature: float | None = None
    """Of winding and cage in degrees Celsius; a hot motor if left out."""
    before: float = 0.5
    """Seconds recorded before the contactor closes."""
    range: float = 16.0
    """Full scale of the current channels over the rated peak; 3 clips a start."""


@Parameter(name="*", group="With --standstill")
@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedSheetOptions:
    """With --standstill: what is tested, and what is wrong beside the cage."""

    date: str = ""
    """Of the sheet, as in 2031-05-17; today if left out."""
    frequency: list[float] = field(default_factory=list)
    """Of the impedance meter in Hz; the rated one if left out. Repeatable."""
    positions: int | None = None
    """Rotor positions per pole pair; those that suit the motor if left out."""
    winding_temperature: float = 20.0
    """Of winding and cage in degrees Celsius."""
    asymmetry: float = 0.0
    """Inductance of phase a that does not turn with the rotor, over that of a pair."""
    swap: str = ""
    """Two pairs of terminals written down under each other's name, as in ab,ca."""
    bad_joint: float = 0.0
    """Resistance of a bad joint in the line of phase b, in ohm."""
    insulation: float = 2000.0
    """Insulation resistance after one minute, in megohm."""
    polarization: float = 3.2
    """Polarization index."""
    knee: float | None = None
    """Direct voltage in V above which the current grows faster (high-voltage windings)."""
    turn_short: float = 0.0
    """Part of the inductance of phase a that a turn short takes away."""
