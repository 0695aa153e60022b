"""The part of the document that one recording gives (see ``report.document``)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Literal

StateName = Literal["sound", "suspect", "defective", "not decidable"]
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
class LimitPart(Documented):
    """A published value that a reading is compared with."""

    value: float
    """In the unit of the reading."""
    sense: Literal["at least", "at most"]
    """On which side a sound part lies."""
    source: str
    """Where it was published."""
    form: str
    """Which of several published forms was used; empty if there is one."""
    decides: bool
    """Whether a value beyond it speaks for a defect; false for a reference that a sound part may
    miss."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IndicatorPart(Documented):
    """One indicator, read on one recording or test sheet."""

    name: str
    """Stable identifier."""
    title: str
    """The same in words."""
    part: str
    """Part of the motor it speaks of."""
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
    limit: LimitPart | None
    """Published limit of ``value``; null where there is none or it does not apply."""
    caveats: tuple[str, ...]
    """What else could produce the reading, or what it cannot see."""
    details: dict[str, float | None]
    """Further numbers; every key ends with its unit."""


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
class StartPart(Documented):
    """One start of the motor."""

    recording: str
    """File name of the recording that holds it."""
    switched_on_s: float
    """When the motor was switched on, s from the start of the recording."""
    kind: str
    """How the voltage came to the motor."""
    refused: str
    """Why the start was not read; empty when it was."""
    compared_with: tuple[str, ...]
    """File names of the earlier starts."""
    indicators: tuple[IndicatorPart, ...]
    """Everything that was read, valid or not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPart(Documented):
    """One test sheet."""

    provenance: ProvenancePart
    """Where it came from."""
    measured_on: str
    """ISO 8601 date."""
    measured_at: str
    """Where the instrument was connected."""
    compared_with: tuple[str, ...]
    """File names of the earlier test sheets."""
    indicators: tuple[IndicatorPart, ...]
    """Everything that was read, valid or not."""
