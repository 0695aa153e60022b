"""The part of the document that follows from the probabilities (see ``report.document``)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cagewise.report.document_record import Documented, Interval, OpenBars

CostActionName = Literal["keep", "watch", "repeat", "plan_repair", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatePart(Documented):
    """How often something happened in the truth study."""

    events: int
    """How often."""
    cases: int
    """Of how many motors of known truth; 0 when there were none."""
    low: float
    """Lower end of Wilson's 95 % interval of the rate, 0 to 1."""
    high: float
    """Upper end of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PosteriorPart(Documented):
    """What all readings say together, under a stated prior."""

    calibrated: bool
    """Whether the truth study covers this kind of visit with enough motors."""
    reason: str
    """Why not calibrated; empty when it is."""
    stratum: str
    """The kind of visit that the rates are for."""
    probability_of_defect: float
    """By the fusion of all readings; only where ``calibrated`` it stands at the top too."""
    guarded: bool
    """Whether that was held where the study ends."""
    guard: float
    """How far it is kept from certainty."""
    probabilities: dict[str, float]
    """By pattern of damage; they sum to 1."""
    open_bars: OpenBars
    """Damage: median and 95 % credible interval."""
    prior: dict[str, float]
    """Probability of every pattern before anything was measured."""
    prior_source: str
    """Where the prior comes from."""
    false_call_rate: RatePart
    """Sound motors of this stratum that the study called suspect or defective."""
    missed_rate: RatePart
    """Motors of this stratum with one open bar or more that the study called sound."""
    undecided_rate: RatePart
    """Motors of this stratum, sound or not, about which the study decided nothing."""
    heard: tuple[str, ...]
    """Indicators that were heard, one per class."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplanationPart(Documented):
    """One cause of what stands at the pole-pass distance."""

    cause: str
    """Stable identifier."""
    weight: float | None
    """Probability that this makes the lines, not calibrated; null when it cannot be weighed."""
    weight_reason: str
    """Why it cannot; empty when it can."""
    ground: str
    """Stable identifier of why it has its weight."""
    test: str
    """Stable identifier of what would separate it from the cage."""
    line: str
    """Line of the drive train that is nearest; empty without one."""
    numbers: dict[str, float | None]
    """Numbers behind the ground; every key ends with its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementPart(Documented):
    """What one measurement is worth."""

    measurement: str
    """Stable identifier."""
    bits: float
    """Expected information on whether the cage is defective; 1 would settle an even chance."""
    hours: float
    """What it takes; judged."""
    doubt_bits: float
    """What is not known now, in the same unit."""
    bits_per_hour: float
    """Expected information per hour: the order of the list."""
    change_probability: float
    """Probability that it moves the probability of a defect across one half."""
    limit: float
    """Smallest damage that it will show, open bars."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionCostPart(Documented):
    """One action and what it costs."""

    action: CostActionName
    """Stable identifier."""
    days: float
    """Interval of ``keep`` and ``watch``; for the others days after the measurement."""
    by: str | None
    """ISO 8601 date by which; null for intervals and where the day is not known."""
    at_outage: bool
    """Whether a repair takes place in the planned outage."""
    if_sound: float
    """Cost on a sound motor."""
    if_defective: float
    """Expected cost on a defective motor."""
    failure_chance: float
    """Chance that a defective cage fails in service first; judged rates."""
    expected: float | None
    """Expected cost; null without a probability."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanPart(Documented):
    """A range in which an action is the cheapest."""

    action: CostActionName
    """Stable identifier."""
    low: float
    """Beginning of the range."""
    high: float | None
    """Its end; null when it has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitivityPart(Documented):
    """What would be the cheapest if one number were another."""

    kind: Literal["cost_ratio", "probability", "hazard"]
    """Which number."""
    value: float
    """Factor on the ratio of costs; the probability; failures per month."""
    action: CostActionName
    """The cheapest then."""
    at_outage: bool
    """Whether it is a repair in the planned outage."""
    changes: bool
    """Whether it is another action, or another outage."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuringPart(Documented):
    """What knowing more before acting is worth, in the unit of the costs."""

    certainty: float
    """Full certainty: more is never worth paying."""
    better: float
    """A better measurement of assumed detection, its own cost left out."""
    cost: float
    """That own cost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostsPart(Documented):
    """What being wrong costs, and the cheapest action; ``course`` says what leads."""

    action: CostActionName
    """The cheapest; without a probability the one that the rule of states asks for."""
    expected: float | None
    """Its expected cost; null without a probability."""
    reason: str
    """Why no cost could be expected; empty when it could."""
    guard: Literal["enough_agree", "fewer_agree", "not_asked", "not_touched"]
    """What the rule of agreeing methods and classes says to it."""
    probability: float | None
    """Chance of a defect that the costs were weighed with."""
    probability_interval: Interval | None
    """Ends within which it may lie, what is beyond a guard included."""
    unit: Literal["currency of the motor file", "pulls of a sound motor"]
    """Unit of all costs here."""
    false_pull: float
    """Cost of pulling a sound motor in a stop made for it."""
    miss: float
    """Cost of a failure in service, beside the repair that a defect needs anyway."""
    source: Literal["given", "by_level", "one_given", "both_zero"]
    """Where the two costs come from; only ``given`` is the user's."""
    spare_part: float
    """Part of ``miss`` that a spare has left; 1 where costs are given."""
    bars: float
    """Open bars that the rate of failures is for."""
    bars_assumed: bool
    """Whether nobody has said how many."""
    failures_per_month: float
    """Rate of failures of a cage with so many open bars on the day of the measurement; judged."""
    failures_per_month_plausible: Interval
    """Ends of what is plausible."""
    doubling_months: float
    """Time in which that rate doubles; judged."""
    outage: str | None
    """ISO 8601 date of the planned outage, if it can be used."""
    outage_reason: str
    """Why the planned outage is left out; empty when it is not, or there is none."""
    actions: tuple[ActionCostPart, ...]
    """Every action, from the most lenient to the strictest."""
    probability_spans: tuple[SpanPart, ...]
    """Which action is the cheapest at which probability."""
    ratio_spans: tuple[SpanPart, ...]
    """Which action is the cheapest at which ratio of the costs; empty without a probability."""
    pull_from_probability: float
    """Where pulling would begin if there were only pulling and keeping, and every missed defect
    failed."""
    sensitivity: tuple[SensitivityPart, ...]
    """What would be the cheapest if a number were another; empty without a probability."""
    measuring: MeasuringPart | None
    """What knowing more is worth; null without a probability."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoursePart(Documented):
    """The one action that the report states, from the rule of states and from the costs."""

    action: CostActionName
    """Stable identifier."""
    ground: str
    """Stable identifier of why this leads."""
    text: str
    """The action in words."""
    notes: tuple[str, ...]
    """What is said beside it."""
    rule: CostActionName
    """What the rule of states asks for."""
    costs: CostActionName | None
    """What the costs ask for; null where none could be expected."""
    earliest_days: float
    """Beginning of the window, days after the measurement."""
    latest_days: float
    """Its end; for ``watch`` the first record."""
    earliest: str | None
    """The same as an ISO 8601 date; null when the day of the measurement is not known."""
    latest: str | None
    """The same as an ISO 8601 date."""
    interval_days: float | None
    """From record to record, for ``watch``."""
    at_outage: bool
    """Whether the repair is planned for the outage."""
    outage: Literal[
        "none", "in_time", "awaited", "tempting", "too_late", "no_notice", "past", "undated"
    ]
    """What the planned outage is good for."""
    confirm_with: str | None
    """Measurement to confirm with, where costs ask for taking the motor out and too little
    agrees."""
