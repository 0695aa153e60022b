"""The motor as the user describes it: nameplate, cage, sensors, criticality."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.nameplate import Nameplate


@dataclass(frozen=True, slots=True, kw_only=True)
class Cage:
    """What is known of the rotor cage and the slots; None where nobody has asked the shop yet."""

    rotor_bars: int | None = None
    stator_slots: int | None = None
    coil_span_slots: int | None = None
    """Slots from one side of a stator coil to the other: decides how much of the field's 5th and
    7th order there is."""
    rotor_slots: str | None = None
    """``"open"`` or ``"closed"``."""
    construction: str | None = None
    """``"fabricated"`` or ``"cast"``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Winding:
    """What is known of the stator winding and its insulation; None where nobody knows."""

    construction: str | None = None
    """``"form"`` (coils formed beforehand) or ``"random"`` (round wire)."""
    built_year: int | None = None
    """Year the winding was made: of the motor, or of its last rewind."""
    insulation: str | None = None
    """``"thermosetting"`` (epoxy or polyester mica) or ``"thermoplastic"``
    (asphaltic mica, varnished cambric)."""
    conductor: str = "copper"
    """``"copper"`` or ``"aluminium"``."""
    concentric: bool = False
    """Concentric coils: their line-line resistances may differ by more than others do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitUncertainty:
    """Relative standard deviations of a given equivalent circuit.

    The defaults are what a test-bay circuit is worth in the plant: the resistances follow the
    temperature (copper and aluminium change by 0.4 % per kelvin, so 15 % is 40 K), the leakages
    are read off a locked-rotor test at another saturation.
    """

    resistance: float = 0.15
    """Of R_s and of R_r, each by itself."""
    leakage: float = 0.20
    """Of each leakage inductance."""
    magnetizing: float = 0.10
    """Of L_m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensors:
    """How the recordings of this motor were made."""

    current_phase_error_deg: float = 1.0
    """Largest phase error of the current sensors against the voltage channels (limit of error)."""
    current_ratio_error: float = 0.01
    """Largest relative ratio error between phases."""
    roles: Mapping[str, str] = field(default_factory=dict)
    """Channel name in the recorder to role, as ``--role`` takes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Criticality:
    """What depends on the motor; changes what is done about a finding, never the finding."""

    level: str = "normal"
    """``"low"``, ``"normal"`` or ``"high"``."""
    spare: bool | None = None
    false_pull_cost: float | None = None
    """Cost of pulling a sound motor, any currency."""
    miss_cost: float | None = None
    """Cost of a defect that is missed, same currency."""
    next_outage: str | None = None
    """Date of the next planned outage, ISO 8601."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """One bearing; geometry is optional (used by later examinations)."""

    designation: str = ""
    rolling_elements: int | None = None
    element_diameter_m: float | None = None
    pitch_diameter_m: float | None = None
    contact_angle_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveTrain:
    """What the motor drives, as speed ratios of its lines to the shaft."""

    description: str = ""
    load_inertia_kg_m2: float | None = None
    """Inertia of the driven machine referred to the motor shaft."""
    rotor_inertia_kg_m2: float | None = None
    shaft_ratios: Mapping[str, float] = field(default_factory=dict)
    """Name of a rotating line to its frequency in units of the shaft frequency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor:
    """One motor."""

    tag: str
    """Plant tag, free text."""
    nameplate: Nameplate
    description: str = ""
    cage: Cage = field(default_factory=Cage)
    winding: Winding = field(default_factory=Winding)
    circuit: EquivalentCircuit | None = None
    """Equivalent circuit if it was given; otherwise it is estimated from the nameplate."""
    circuit_uncertainty: CircuitUncertainty = field(default_factory=CircuitUncertainty)
    """How far a given circuit may be off; without meaning for an estimated one."""
    sensors: Sensors = field(default_factory=Sensors)
    criticality: Criticality = field(default_factory=Criticality)
    bearings: tuple[Bearing, ...] = ()
    drive_train: DriveTrain = field(default_factory=DriveTrain)
    warnings: tuple[str, ...] = ()
    """Cross-checks of the nameplate that are odd but not impossible."""
