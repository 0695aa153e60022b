"""The examination as a document for other programs: the fields of the JSON output.

Every field is documented here, and only here: schema and ``docs/json.md`` are made from these
classes (``report.schema``). A trailing underscore avoids a Python keyword and is dropped.
Numbers that do not exist are null and have their reason beside them; there is no NaN.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Literal

SCHEMA_VERSION = "1.0"
"""Changes in the first number break readers of the document; the second adds fields."""

StateName = Literal["sound", "suspect", "defective", "not decidable"]
SupportName = Literal["for", "against", "cannot tell"]
Interval = tuple[float | None, float | None]
"""Lower and upper end; null where there is no end."""


class Documented:
    """Base of all parts of the document: closed, and documented by the texts below the fields."""

    __slots__ = ()
    __pydantic_config__: ClassVar[dict[str, Any]] = {
        "use_attribute_docstrings": True,
        "extra": "forbid",
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity(Documented):
    """A measured quantity; its unit is in the name of the field that holds it."""

    value: float | None
    """Value, null when not known."""
    interval: Interval | None
    """Lower and upper end of the 95 % interval, null when not known."""
    reason: str
    """Why it is not known; empty when it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenBars(Documented):
    """Damage in adjacent fully open bars that would produce a reading on this motor."""

    value: float
    """Open bars."""
    interval: Interval
    """Lower and upper end of the 95 % interval, open bars."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPointPart(Documented):
    """Where the motor stood while it was recorded; of the steady stretch."""

    supply_frequency_hz: Quantity
    """Mean supply frequency in Hz."""
    supply_frequency_wander_hz: float | None
    """Rms deviation of the supply frequency from its mean, Hz."""
    line_current_rms_a: float | None
    """Positive-sequence line current, A rms."""
    line_voltage_rms_v: float | None
    """Positive-sequence line-line voltage, V rms; null without voltages."""
    active_power_w: float | None
    """Input power, W; null without voltages."""
    reactive_power_var: float | None
    """Reactive input power, var; null without voltages."""
    power_factor: float | None
    """Power factor of the fundamental; null without voltages."""
    slip: Quantity
    """Slip, per unit of synchronous speed."""
    slip_wander: float | None
    """Standard deviation of the slip within the stretch, per unit of the slip."""
    speed_rpm: Quantity
    """Shaft speed, revolutions per minute."""
    pole_pass_frequency_hz: Quantity
    """Twice the slip times the supply frequency, Hz."""
    slip_families: tuple[str, ...]
    """Families of lines that agreed on the speed; empty when it is not known."""
    rotor_bars: int | None
    """Number of rotor bars, given or identified; null when open."""
    rotor_bars_candidates: tuple[int, ...]
    """Numbers of rotor bars that remain possible."""
    load_fraction: Quantity
    """Shaft power over rated power."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityPart(Documented):
    """One thing that is odd about a recording."""

    code: str
    """Stable identifier of the kind of finding."""
    severity: Literal["note", "caution", "blocking"]
    """How much it matters."""
    message: str
    """What was found, as a sentence with its number."""
    channels: tuple[str, ...]
    """Channels concerned; empty when it is the recording as a whole."""
    value: float | None
    """The number behind it, in ``unit``."""
    unit: str
    """Unit of ``value``."""
    remedy: str
    """What to do about it."""
    blocks: tuple[str, ...]
    """What the recording may not be used for because of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IndicatorPart(Documented):
    """One indicator, read on one recording."""

    name: str
    """Stable identifier."""
    title: str
    """The same in words."""
    class_: str
    """Independence class: members share data and physics and are one vote."""
    method: str | None
    """Which of the six methods of the trade it counts for; null if none."""
    value: float | None
    """The reading, in ``unit``; null when it could not be read."""
    unit: str
    """Unit of ``value`` and ``interval``."""
    interval: Interval | None
    """Lower and upper end of the 95 % interval."""
    valid: bool
    """Whether the reading may be used."""
    reason: str
    """Why it is not valid; empty when it is."""
    false_alarm_probability: float | None
    """Probability that noise alone gives a line this strong, all searched cells counted."""
    open_bar_equivalent: OpenBars | None
    """The reading in open bars; null when it cannot be expressed so."""
    detection_limit: float | None
    """Smallest damage this recording could have shown, in open bars (95 % detection)."""
    caveats: tuple[str, ...]
    """What else could produce the reading, or what it cannot see."""
    details: dict[str, float | None]
    """Further numbers; every key ends with its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingPart(Documented):
    """What one indicator says about one hypothesis."""

    indicator: str
    """Name of the indicator."""
    class_: str
    """Its independence class."""
    recording: str
    """File it was read on."""
    support: SupportName
    """What it does for the hypothesis."""
    ground: str
    """Stable identifier of the reason."""
    reason: str
    """The reason in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidencePart(Documented):
    """Findings by hypothesis."""

    cage_defect: tuple[FindingPart, ...]
    """Findings on a cage defect, one per indicator and recording."""
    load_oscillation: tuple[FindingPart, ...]
    """Findings on a load that swings at the pole-pass frequency."""
    supply_modulation: tuple[FindingPart, ...]
    """Findings on a modulated supply."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassPart(Documented):
    """The vote of one independence class over all recordings of the visit."""

    class_: str
    """Independence class."""
    support: SupportName
    """What it says about a cage defect."""
    ground: str
    """Stable identifier of the reason."""
    lead: str
    """Indicator that speaks for the class."""
    open_bar_equivalent: OpenBars | None
    """Its reading in open bars."""
    upper_limit: float | None
    """Upper 95 % limit of the damage by this class, in open bars."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledPart(Documented):
    """The last line of the forest plot."""

    open_bar_equivalent: OpenBars | None
    """Damage over the classes that agree; null when they do not."""
    ground: str
    """Stable identifier of what it stands on."""
    calibrated: bool
    """False: the interval does not come from motors of known truth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotExcludedPart(Documented):
    """Something the recordings cannot exclude."""

    code: str
    """Stable identifier."""
    text: str
    """What it is."""
    would_tell: str
    """What would exclude it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStepPart(Documented):
    """One thing to measure next."""

    code: str
    """Stable identifier."""
    text: str
    """What to do."""
    why: str
    """What it will tell."""
    numbers: dict[str, float | None]
    """Numbers of the text; every key ends with its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecommendationPart(Documented):
    """What to do."""

    action: Literal["continue", "measure_again", "confirm", "plan_removal"]
    """Stable identifier of the action."""
    text: str
    """The action in words, with its window."""
    next_steps: tuple[NextStepPart, ...]
    """What to measure next, most telling first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActByPart(Documented):
    """When to act: a window from a stated rule, not a forecast of the remaining life."""

    earliest: str | None
    """ISO 8601 date; null when the day of the recording is not known."""
    latest: str | None
    """ISO 8601 date; null when the day of the recording is not known."""
    earliest_days: float
    """The same in days after the recording."""
    latest_days: float
    """The same in days after the recording."""
    planned_outage: str | None
    """ISO 8601 date of the planned outage in the motor file."""
    words: str
    """The window in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvenancePart(Documented):
    """Where a recording came from and what was done to it."""

    source: str
    """File name without folder."""
    format: str
    """Name of the file format."""
    sha256: str
    """Checksum of the original bytes; empty when there are none."""
    steps: tuple[str, ...]
    """Processing steps in order."""
    notes: tuple[str, ...]
    """What the reader had to decide or noticed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RolePart(Documented):
    """Which channel is which."""

    channel: str
    """Name in the file."""
    role: str
    """What it measures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingPart(Documented):
    """What one recording of the visit gave."""

    provenance: ProvenancePart
    """Where it came from."""
    start_time: str | None
    """ISO 8601 time of the first sample, as the recorder states it; null if it does not."""
    duration_s: float
    """Length, s."""
    sampling_rate_hz: float
    """Sampling rate, Hz."""
    currents_measured: int
    """Line currents that were used."""
    voltages_measured: int
    """Voltages that were used."""
    roles: tuple[RolePart, ...]
    """Which channel is which, of those that were used."""
    roles_proven: bool
    """Whether physics allows no other assignment of these channels."""
    role_statements: tuple[str, ...]
    """What the check of the roles found."""
    steady_from_s: float | None
    """Start of the steady stretch that was read, s; null when there is none."""
    steady_to_s: float | None
    """End of the steady stretch that was read, s."""
    stopped: str
    """Why the chain ended before the indicators; empty when it did not."""
    state: StateName
    """State of the cage from this recording alone."""
    operating_point: OperatingPointPart | None
    """Where the motor stood; null when it could not be found."""
    quality_findings: tuple[QualityPart, ...]
    """What is odd about the recording."""
    indicators: tuple[IndicatorPart, ...]
    """Everything that was read, valid or not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorPart(Documented):
    """The motor, as far as the verdict depends on it."""

    tag: str
    """Plant tag."""
    description: str
    """Free text of the motor file."""
    rated_power_w: float
    """Rated shaft power, W."""
    rated_voltage_v: float
    """Rated line-line voltage, V rms."""
    rated_frequency_hz: float
    """Rated frequency, Hz."""
    rated_speed_rpm: float
    """Rated speed, revolutions per minute."""
    rated_current_a: float
    """Rated line current, A rms."""
    poles: int
    """Number of poles."""
    criticality: str
    """Criticality of the motor file."""
    warnings: tuple[str, ...]
    """Oddities of the motor file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationDocument(Documented):
    """One examination: one run of the chain over the recordings of one visit."""

    schema_version: str
    """Version of this document; the first number changes when readers would break."""
    program_version: str
    """Version of cagewise."""
    motor: MotorPart
    """The motor."""
    state: StateName
    """State of the rotor cage."""
    state_ground: str
    """Stable identifier of what the state stands on."""
    statement: str
    """The verdict in one sentence."""
    probability: float | None
    """Calibrated probability of a cage defect; null while there is no calibration."""
    probability_reason: str
    """Why there is no probability; empty when there is one."""
    damage: OpenBars | None
    """Damage where something speaks for it."""
    upper_limit: float | None
    """"No more than" this many open bars, 95 %; null when nothing bounds the damage."""
    methods_agreeing: int
    """Methods that speak for a defect, of the six of the trade."""
    methods_for: tuple[str, ...]
    """Their names."""
    methods_against: tuple[str, ...]
    """Names of the methods that speak against it."""
    classes_agreeing: int
    """Independence classes that speak for a defect."""
    classes: tuple[ClassPart, ...]
    """The vote of every class."""
    pooled: PooledPart
    """All classes together."""
    removal_supported: bool
    """Whether methods and classes suffice to recommend taking the motor out."""
    recommendation: RecommendationPart
    """What to do and what to measure next."""
    act_by: ActByPart
    """When to do it."""
    not_excluded: tuple[NotExcludedPart, ...]
    """What the recordings cannot exclude."""
    evidence: EvidencePart
    """What every indicator says about every hypothesis."""
    operating_point: OperatingPointPart | None
    """Of the leading recording; null when it could not be found."""
    quality_findings: tuple[QualityPart, ...]
    """Of the leading recording."""
    indicators: tuple[IndicatorPart, ...]
    """Of the leading recording."""
    leading_recording: str
    """File name of the recording that tells most."""
    recordings: tuple[RecordingPart, ...]
    """All recordings of the visit, in the order they were given."""
    provenance: tuple[ProvenancePart, ...]
    """Where the recordings came from."""
    limits: dict[str, dict[str, float | tuple[float, ...]]]
    """Every threshold in force, by section and name; units and sources are in ``limits.toml``."""
