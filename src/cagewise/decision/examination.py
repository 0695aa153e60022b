"""The result of one run of the chain; immutable, with versions and settings."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from cagewise.conditioning.findings import QualityFinding
from cagewise.conditioning.starts import MotorStart
from cagewise.decision.costs_result import CostDecision
from cagewise.decision.course import Course
from cagewise.decision.limits import Limits
from cagewise.decision.next_measurement import MeasurementWorth
from cagewise.decision.parts import PartVerdict
from cagewise.decision.recommendation import Recommendation
from cagewise.decision.verdict import Verdict
from cagewise.evidence.explanations import Explanation
from cagewise.evidence.findings import ClassVerdict, Evidence, Finding
from cagewise.evidence.probability import TruthStudy
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.reading import Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.motor import Motor
from cagewise.measurement import Provenance, Role, TestSheet
from cagewise.quantities import Estimate, NotKnown, RealArray

if TYPE_CHECKING:
    from cagewise.indicators.standstill.positions import PositionResult
    from cagewise.indicators.start.facts import StartFacts
    from cagewise.indicators.start.side_line_track import StartTrack


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What the user chose for this run."""

    limits: Limits
    speed_rpm: Estimate | None = None
    """Shaft speed from a tachometer or a strobe with its interval, if one was used."""
    roles_confirmed: bool = False
    """The user was asked about the channel roles and insists."""
    study: TruthStudy = field(default_factory=TruthStudy)
    """What makes probabilities of readings: the study's numbers, and how common defects are before
    anything is measured."""


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
class StartExamination:
    """What one start in a recording gave."""

    provenance: Provenance
    start_time: datetime | None
    """Of the recording."""
    start: MotorStart
    sampling_rate_hz: float
    quality: tuple[QualityFinding, ...]
    facts: StartFacts | None
    """What the start is worth for comparison; None when it was refused."""
    track: StartTrack | None
    """The side line of the start; None when it was refused."""
    earlier: tuple[str, ...]
    """Sources of the earlier starts it was compared with."""
    readings: tuple[Reading, ...]
    evidence: Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetExamination:
    """What the tests of one sheet gave."""

    sheet: TestSheet
    positions: PositionResult | None
    """Fit of the position test; None where none was made."""
    earlier: tuple[str, ...]
    """Sources of the earlier sheets it was compared with."""
    readings: tuple[Reading, ...]
    """Of the cage and of the other parts, in the order of the tests."""
    evidence: Evidence
    """On the cage."""
    findings: tuple[Finding, ...]
    """On winding and insulation."""


Source = RecordExamination | StartExamination | SheetExamination


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """Something of an earlier occasion that nothing could be compared with."""

    source: str
    """File name."""
    reason: str
    """Why, as a clause."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What follows from the probabilities; the verdict stands without it."""

    explanations: tuple[Explanation, ...]
    """What could make the lines at the pole-pass distance, the likeliest first; empty where no
    record of the running motor was read."""
    next_measurements: tuple[MeasurementWorth, ...]
    """What to measure next, most information per hour first."""
    costs: CostDecision
    """The action of the smallest expected cost, with its working."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """What one visit gave: running records, starts and test sheets of the same motor."""

    motor: Motor
    version: str
    """Version of the program."""
    settings: Settings
    records: tuple[RecordExamination, ...]
    """The motor running, in the order of the files."""
    evidence: Evidence
    """On the cage, everything together."""
    verdict: Verdict
    """Of the cage, everything together."""
    recommendation: Recommendation
    """What the rule of states asks for, and what to measure next."""
    outlook: Outlook
    course: Course
    """The one action, from that rule and from the costs: what the report states."""
    starts: tuple[StartExamination, ...] = ()
    """The starts of the visit, in the order of the files."""
    sheets: tuple[SheetExamination, ...] = ()
    """The test sheets of the visit, in the order of the files."""
    parts: tuple[PartVerdict, ...] = ()
    """State of winding and insulation, where they were tested."""
    shown: tuple[Source, ...] = ()
    """One source per kind, the one that tells most: the report shows their readings."""
    set_aside: tuple[SetAside, ...] = ()
    """What of earlier occasions was given and not compared with."""
    warnings: tuple[str, ...] = field(default=())
    """Oddities of the motor file."""

    @property
    def leading(self) -> RecordExamination | None:
        """The running record that tells most, None when the motor was not recorded running."""
        return next((s for s in self.shown if isinstance(s, RecordExamination)), None)

    @property
    def leading_start(self) -> StartExamination | None:
        """The start that tells most."""
        return next((s for s in self.shown if isinstance(s, StartExamination)), None)

    @property
    def leading_sheet(self) -> SheetExamination | None:
        """The test sheet that tells most."""
        return next((s for s in self.shown if isinstance(s, SheetExamination)), None)

    @property
    def sources(self) -> tuple[Source, ...]:
        """Everything that was examined."""
        return (*self.records, *self.starts, *self.sheets)

    @property
    def shown_findings(self) -> tuple[Finding, ...]:
        """Findings of the sources that the report shows."""
        return tuple(finding for source in self.shown for finding in source.evidence.findings)

    @property
    def shown_classes(self) -> tuple[ClassVerdict, ...]:
        """Votes of the sources that the report shows."""
        return tuple(vote for source in self.shown for vote in source.evidence.classes)
