"""The examination as a document for other programs: the fields of the JSON output.

Every field is documented here, and only here: schema and ``docs/json.md`` are made from these
classes (``report.schema``). A trailing underscore avoids a Python keyword and is dropped.
Numbers that do not exist are null and have their reason beside them; there is no NaN.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cagewise.report.document_outlook import (
    CostsPart,
    CoursePart,
    ExplanationPart,
    MeasurementPart,
    PosteriorPart,
)
from cagewise.report.document_record import (
    Documented,
    IndicatorPart,
    OpenBars,
    OperatingPointPart,
    ProvenancePart,
    QualityPart,
    RecordingPart,
    SheetPart,
    StartPart,
    StateName,
)

SCHEMA_VERSION = "1.3"
"""Changes in the first number break readers of the document; the second adds fields."""

SupportName = Literal["for", "against", "cannot tell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingPart(Documented):
    """What one indicator says about one hypothesis."""

    indicator: str
    """Name of the indicator."""
    class_: str
    """Its independence class."""
    recording: str
    """File it was read on: a recording or a test sheet."""
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
    winding_defect: tuple[FindingPart, ...]
    """Findings on a defect of the stator winding, one per test and sheet."""
    insulation_defect: tuple[FindingPart, ...]
    """Findings on a defect of the insulation, one per test and sheet."""


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
    """Stable identifier of the action, in four words; ``course`` has it in full."""
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
class PartPart(Documented):
    """State of a part of the motor beside its cage."""

    part: str
    """Name of the part."""
    state: StateName
    """Its state."""
    ground: str
    """Stable identifier of what the state stands on."""
    statement: str
    """The state in a sentence."""


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
    course: CoursePart
    """The one action in full: why this leads, and what rule and costs ask for."""
    costs: CostsPart
    """What being wrong costs, with the working."""
    posterior: PosteriorPart | None
    """What all readings say together; null where no reading could be heard."""
    explanations: tuple[ExplanationPart, ...]
    """What could make the lines at the pole-pass distance, the likeliest first; empty where no
    record of the running motor was read."""
    next_measurements: tuple[MeasurementPart, ...]
    """What to measure next, most expected information per hour first."""
    not_excluded: tuple[NotExcludedPart, ...]
    """What the recordings cannot exclude."""
    evidence: EvidencePart
    """What every indicator says about every hypothesis."""
    parts: tuple[PartPart, ...]
    """State of the parts beside the cage that were tested."""
    not_measured: tuple[str, ...]
    """Methods of the six for which nothing was measured."""
    operating_point: OperatingPointPart | None
    """Of the leading recording; null when it could not be found."""
    quality_findings: tuple[QualityPart, ...]
    """Of the leading recording."""
    indicators: tuple[IndicatorPart, ...]
    """Of the recording, the start and the test sheet that tell most."""
    leading_recording: str
    """File name of the recording that tells most; empty when the motor was not recorded running."""
    recordings: tuple[RecordingPart, ...]
    """All recordings of the running motor, in the order they were given."""
    starts: tuple[StartPart, ...]
    """All starts in the recordings of the visit."""
    test_sheets: tuple[SheetPart, ...]
    """All test sheets of the visit, in the order they were given."""
    provenance: tuple[ProvenancePart, ...]
    """Where recordings and test sheets came from, each once."""
    limits: dict[str, dict[str, float | tuple[float, ...]]]
    """Every threshold in force, by section and name; units and sources are in ``limits.toml``."""
