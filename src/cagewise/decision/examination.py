"""The result of one run of the chain; immutable, with versions and settings."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from cagewise.conditioning.findings import QualityFinding
from cagewise.decision.limits import Limits
from cagewise.decision.recommendation import Recommendation
from cagewise.decision.verdict import Verdict
from cagewise.evidence.findings import Evidence
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.reading import Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.motor import Motor
from cagewise.measurement import Provenance, Role
from cagewise.quantities import Estimate, NotKnown, RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What the user chose for this run."""

    limits: Limits
    speed_rpm: Estimate | None = None
    """Shaft speed from a tachometer or a strobe with its interval, if one was used."""
    roles_confirmed: bool = False
    """The user was asked about the channel roles and insists."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentTrend:
    """The line current against time in the steady stretch, for the figures."""

    time_s: RealArray
    """Time from the start of the recording, shape (n,)."""
    line_current_rms_a: RealArray
    """Envelope of the positive-sequence line current, shape (n,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordExamination:
    """What one recording gave."""

    provenance: Provenance
    start_time: datetime | None
    duration_s: float
    sampling_rate_hz: float
    currents_measured: int
    """Currents that were used: 0 to 3."""
    voltages_measured: int
    """Voltages that were used: 0 to 3."""
    roles: tuple[tuple[str, Role], ...]
    """Channels that were used: name in the file and what it measures."""
    roles_proven: bool
    """Whether physics allows no other assignment of these channels."""
    role_statements: tuple[str, ...]
    """What the check of the roles found, each with its numbers."""
    quality: tuple[QualityFinding, ...]
    stretch_s: tuple[float, float] | None
    """Start and end of the steady stretch that was read; None when there is none."""
    operating_point: OperatingPoint | NotKnown
    readings: tuple[Reading, ...]
    evidence: Evidence
    verdict: Verdict
    """What this recording says alone."""
    spectra: tuple[Spectrum, ...] = ()
    trend: CurrentTrend | None = None
    stopped: str = ""
    """Why the chain ended before the readings; empty when it did not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """What one visit gave: one or several recordings of the same motor."""

    motor: Motor
    version: str
    """Version of the program."""
    settings: Settings
    records: tuple[RecordExamination, ...]
    """In the order of the files."""
    lead: int
    """Index of the recording that tells most; the report shows its readings."""
    evidence: Evidence
    """All recordings together."""
    verdict: Verdict
    """All recordings together."""
    recommendation: Recommendation
    warnings: tuple[str, ...] = field(default=())
    """Oddities of the motor file."""

    @property
    def leading(self) -> RecordExamination:
        """The recording that tells most."""
        return self.records[self.lead]
