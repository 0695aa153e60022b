"""The one loader of ``limits.toml``: every threshold with value, unit, range and source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from importlib import resources
from typing import Any, TypeVar

from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.start_limits import StartLimits
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.history_limits import PlantLimits, RepairLimits, TrendLimits
from cagewise.decision.measurement_effort import MeasurementEffort
from cagewise.decision.shop_limits import ShopLimits
from cagewise.evidence.limits import EvidenceLimits, ExplanationLimits
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.standstill.limits import MeanInductanceLimits, PositionLimits
from cagewise.indicators.start.comparison_limits import StartComparisonLimits
from cagewise.indicators.start.track_limits import StartTrackLimits
from cagewise.indicators.winding.limits import InsulationLimits, TurnLimits, WindingLimits

_Section = TypeVar("_Section")


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionLimits:
    """What it takes to call a cage defective, and how soon to act.

    The fields ``*_days`` hold the earliest and the latest day after the recording, by state and by
    criticality of the motor.
    """

    defective_classes_min: int
    """Independence classes that must agree before a cage is called defective."""
    removal_methods_min: int
    """Methods that must agree before the motor is taken out."""
    removal_classes_min: int
    """Independence classes that must agree before the motor is taken out."""
    next_load_fraction_min: float
    """Load below which the next record is asked for at a higher load."""
    next_record_pole_pass_periods: float
    """Length of the next record in periods of the pole-pass frequency."""
    defective_high_days: tuple[float, float]
    defective_normal_days: tuple[float, float]
    defective_low_days: tuple[float, float]
    suspect_high_days: tuple[float, float]
    suspect_normal_days: tuple[float, float]
    suspect_low_days: tuple[float, float]
    not_decidable_high_days: tuple[float, float]
    not_decidable_normal_days: tuple[float, float]
    not_decidable_low_days: tuple[float, float]
    sound_high_days: tuple[float, float]
    sound_normal_days: tuple[float, float]
    sound_low_days: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLimits:
    """What a good recording of a running motor is."""

    record_s_min: float
    """Shortest record."""
    pole_pass_periods: float
    """Shortest record in periods of the pole-pass frequency."""
    sampling_rate_hz_min: float
    """Lowest sampling rate."""
    harmonic_order: float
    """Highest harmonic of the supply whose cage lines are read."""
    oversampling: float
    """Sampling rate over the highest frequency that is read."""
    bits_min: int
    """Resolution of the converter."""
    load_fraction_min: float
    """Lowest load at which the side lines are worth recording."""
    load_fraction_good: float
    """Load to aim for."""
    current_range_factor: float
    """Range of the current sensor over the rated current (peak), for the running record."""
    start_current_factor: float
    """Range over the rated current (peak), if the same channel shall record the start."""
    voltage_range_factor: float
    """Range of a voltage channel over the rated peak voltage."""
    sensor_noise_db: float
    """Rms noise of a current channel over the rms rated current."""
    load_noise_db: float
    """Side line that the swinging of an ordinary load makes, in one hertz, over the fundamental."""
    natural_bar_spread: float
    """Standard deviation of the bar resistances of a sound cage, joints included, relative."""
    speed_reading_error_rpm: float
    """Error of a speed that somebody read from a tachometer or a strobe."""
    position_repeatability: float
    """Standard deviation of a repeated reading of the position test, relative."""
    position_second_frequency: float
    """Second frequency of the position test over the rated one."""
    dissipation_from_v: float
    """Rated voltage above which the dissipation factor is worth measuring."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPlanLimits:
    """What a good recording of a start is; opinions, in the units that the names end with."""

    sampling_rate_hz_min: float
    """On a supply of 50 Hz, 1000 to 10 000: the side line of a start stays below the supply
    frequency, the rest is room for the anti-alias filter (common practice, no source)."""
    bits_min: int
    """12 to 24: fourteen effective bits show a hundredth of a bar's line in a current of six times
    the running one (our judgement)."""
    pre_trigger_s: float
    """0.1 to 5: switching on must lie inside the record (our judgement)."""
    after_s: float
    """1 to 30: running level after the start, with which the starting current is compared (our
    judgement)."""
    unknown_start_s: float
    """10 to 120: record length before the margins where nobody knows how long the start takes; few
    motors take longer (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """All thresholds that express an opinion."""

    quality: QualityLimits
    cage: CageLimits
    evidence: EvidenceLimits
    explanations: ExplanationLimits
    decision: DecisionLimits
    plan: PlanLimits
    start_plan: StartPlanLimits
    start: StartLimits
    start_track: StartTrackLimits
    start_comparison: StartComparisonLimits
    position: PositionLimits
    mean_inductance: MeanInductanceLimits
    winding: WindingLimits
    insulation: InsulationLimits
    turns: TurnLimits
    costs: CostLimits
    effort: MeasurementEffort
    trend: TrendLimits
    repair: RepairLimits
    plant: PlantLimits
    shop: ShopLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitEntry:
    """One threshold as it stands in the file, for documentation and tests."""

    section: str
    name: str
    value: Any
    unit: str
    valid: tuple[float, float]
    """Range in which the value may be changed without changing what it means."""
    source: str


SECTIONS: Mapping[str, type] = {
    "quality": QualityLimits,
    "cage": CageLimits,
    "evidence": EvidenceLimits,
    "explanations": ExplanationLimits,
    "decision": DecisionLimits,
    "plan": PlanLimits,
    "start_plan": StartPlanLimits,
    "start": StartLimits,
    "start_track": StartTrackLimits,
    "start_comparison": StartComparisonLimits,
    "position": PositionLimits,
    "mean_inductance": MeanInductanceLimits,
    "winding": WindingLimits,
    "insulation": InsulationLimits,
    "turns": TurnLimits,
    "costs": CostLimits,
    "effort": MeasurementEffort,
    "trend": TrendLimits,
    "repair": RepairLimits,
    "plant": PlantLimits,
    "shop": ShopLimits,
}
"""Section of the file to the class that holds it; the names of keys and fields are the same."""


@cache
def load_limits() -> Limits:
    """Return the thresholds in force."""
    return Limits(**{name: _section(name, kind) for name, kind in SECTIONS.items()})


@cache
def limit_entries() -> tuple[LimitEntry, ...]:
    """Return every threshold with unit, range and source, in the order of the file."""
    return tuple(
        LimitEntry(
            section=section,
            name=name,
            value=_plain(entry["value"]),
            unit=entry["unit"],
            valid=(float(entry["valid"][0]), float(entry["valid"][1])),
            source=entry["source"],
        )
        for section, entries in _document().items()
        for name, entry in entries.items()
    )


@cache
def _document() -> dict[str, dict[str, dict[str, Any]]]:
    """Return the file as it is."""
    text = resources.files(__package__).joinpath("limits.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _section(name: str, kind: type[_Section]) -> _Section:
    """Return one section as its class; a missing or unknown key is an error at once."""
    entries = _document()[name]
    known = {f.name for f in fields(kind)}  # type: ignore[arg-type]  # every section is a dataclass
    if set(entries) != known:
        message = f"limits.toml, [{name}]: keys and fields differ: {sorted(known ^ set(entries))}"
        raise ValueError(message)
    return kind(**{key: _plain(entry["value"]) for key, entry in entries.items()})


def _plain(value: Any) -> Any:  # noqa: ANN401  # a TOML value is whatever the file says
    """Return a TOML value with arrays as tuples, so that sections stay immutable."""
    return tuple(value) if isinstance(value, list) else value
