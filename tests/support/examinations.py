"""Hand-made readings and examinations: invented numbers that exercise every face. No physics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

import numpy as np

from cagewise.conditioning.findings import FindingCode, QualityFinding, Severity
from cagewise.decision.course import with_first
from cagewise.decision.examination import (
    CurrentTrend,
    Examination,
    RecordExamination,
    Settings,
)
from cagewise.decision.limits import load_limits
from cagewise.decision.recommendation import Circumstances, recommend
from cagewise.decision.verdict import judge
from cagewise.evidence.fusion.parameters import Calibrated, FusionParameters
from cagewise.evidence.fusion.patterns import Prior
from cagewise.evidence.fusion.posterior import (
    Channels,
    LoadBand,
    Rate,
    SourceKind,
    Stratum,
    StratumRates,
)
from cagewise.evidence.probability import TruthStudy
from cagewise.evidence.weigh import combine, weigh
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.motor import Criticality, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import Provenance, Role
from cagewise.pipeline.outlook import course_of, outlook
from cagewise.quantities import Estimate, NotKnown

LIMITS = load_limits()
INVENTED_KIND = Stratum(
    channels=Channels.VOLTAGES_AND_CURRENTS, load=LoadBand.HEAVY, sources=(SourceKind.RUNNING,)
)
"""The only kind of visit that the invented study has cases of."""
INVENTED_RATES = StratumRates(
    stratum=INVENTED_KIND,
    false_calls=Rate(events=1, cases=312),
    missed=Rate(events=0, cases=140),
    undecided=Rate(events=9, cases=520),
)


def study_with(
    rates: StratumRates = INVENTED_RATES, prior: Prior | None = None, *, guard: float = 0.02
) -> TruthStudy:
    """Return a study of invented rates, so that no page depends on the numbers that ship."""
    return TruthStudy(
        prior=prior or Prior(),
        calibrated=Calibrated(parameters=FusionParameters(guard=guard), strata=(rates,)),
    )


INVENTED = study_with()


def motor(**changes: object) -> Motor:
    """Return an invented motor."""
    plate = Nameplate(
        rated_power_w=250e3,
        rated_voltage_v=690.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1485.0,
        rated_current_a=255.0,
        poles=4,
    )
    base = Motor(tag="P-07", nameplate=plate, description="cooling water pump")
    return replace(base, **changes)  # type: ignore[arg-type]  # fields of Motor


def reading(
    name: str,
    bars: tuple[float, float, float] | None = None,
    *,
    limit: float | None = 0.1,
    false_alarm: float | None = 1e-9,
    valid: bool = True,
    reason: str = "",
) -> Reading:
    """Return a reading of the fundamental or, by its name, of the harmonic class."""
    harmonic = name.startswith("harmonic")
    methods = {
        "lower_side_line": Method.SUPPLY_SIDE_LINES,
        "direct_component": Method.SUPPLY_SIDE_LINES,
        "envelope_amplitude": Method.DEMODULATED_CURRENT,
        "harmonic_lines": Method.FIFTH_SIDE_LINES,
    }
    titles = {
        "lower_side_line": "lower side line",
        "direct_component": "direct component",
        "envelope_amplitude": "demodulated current, amplitude",
        "harmonic_lines": "cage lines at 5th and 7th harmonic",
        "active_power_line": "active power at the pole-pass frequency",
        "reactive_power_line": "reactive power at the pole-pass frequency",
    }
    low_middle_high = None if bars is None else Estimate(bars[1], bars[0], bars[2])
    return Reading(
        name=name,
        title=titles.get(name, name.replace("_", " ")),
        independence_class=IndependenceClass.RUNNING_HARMONIC
        if harmonic
        else IndependenceClass.RUNNING_FUNDAMENTAL,
        method=methods.get(name),
        value=Estimate(-40.0, -41.0, -39.0) if valid else None,
        unit="dBc",
        valid=valid,
        reason=reason,
        false_alarm_probability=false_alarm if valid else None,
        open_bar_equivalent=low_middle_high,
        detection_limit_bars=limit,
    )


def other_class(
    name: str,
    independence_class: IndependenceClass,
    method: Method,
    bars: tuple[float, float, float] | None,
    *,
    false_alarm: float | None = 1e-9,
) -> Reading:
    """Return a reading of a start or of the motor at rest."""
    made = reading(name, bars, false_alarm=false_alarm)
    return replace(made, independence_class=independence_class, method=method)


def start_line(bars: tuple[float, float, float], **more: float | None) -> Reading:
    """Return the side line of a start."""
    return other_class(
        "start_side_line_track", IndependenceClass.START, Method.START_UP, bars, **more
    )


def start_time(bars: tuple[float, float, float]) -> Reading:
    """Return the time to speed beside earlier starts."""
    return other_class(
        "start_time", IndependenceClass.START, Method.START_UP, bars, false_alarm=None
    )


def position(bars: tuple[float, float, float], **more: float | None) -> Reading:
    """Return the position pattern."""
    return other_class(
        "position_pattern",
        IndependenceClass.STANDSTILL_PATTERN,
        Method.POSITION_PATTERN,
        bars,
        **more,
    )


def mean_inductance(bars: tuple[float, float, float]) -> Reading:
    """Return the mean inductance beside its own past."""
    return other_class(
        "mean_inductance",
        IndependenceClass.STANDSTILL_MEAN,
        Method.MEAN_INDUCTANCE,
        bars,
        false_alarm=None,
    )


def damaged() -> tuple[Reading, ...]:
    """Readings of one open bar: both classes and three methods speak for it."""
    return (
        reading("direct_component", (0.91, 1.08, 1.29), limit=0.06),
        reading("lower_side_line", (0.55, 0.94, 1.62), limit=0.08),
        reading("envelope_amplitude", (0.32, 0.8, 2.1), limit=0.12),
        reading("harmonic_lines", (0.7, 1.2, 1.9), limit=0.3),
    )


def sound() -> tuple[Reading, ...]:
    """Readings of a sound cage: nothing stands out, and little could hide."""
    return (
        reading("direct_component", (0.0, 0.02, 0.07), limit=0.11, false_alarm=0.4),
        reading("lower_side_line", (0.0, 0.03, 0.09), limit=0.21, false_alarm=0.3),
        reading("envelope_amplitude", (0.0, 0.05, 0.2), limit=0.4, false_alarm=0.5),
        reading("harmonic_lines", (0.0, 0.1, 0.3), limit=0.5, false_alarm=0.2),
    )


def oscillating() -> tuple[Reading, ...]:
    """Readings of a sound cage behind a load that swings at the pole-pass frequency."""
    return (
        reading("direct_component", (0.0, 0.05, 0.21), limit=0.08, false_alarm=0.02),
        reading("lower_side_line", (1.3, 2.7, 4.6), limit=0.08),
        reading("envelope_amplitude", (1.1, 2.2, 6.5), limit=0.12),
        reading("harmonic_lines", (0.0, 0.1, 0.3), limit=0.5, false_alarm=0.2),
    )


def suspicious() -> tuple[Reading, ...]:
    """Readings of a partial crack: the fundamental speaks for it, the 5th and 7th cannot tell."""
    return (
        reading("direct_component", (0.31, 0.46, 0.72), limit=0.09),
        reading("lower_side_line", (0.28, 0.51, 0.94), limit=0.12),
        reading("envelope_amplitude", (0.19, 0.44, 1.1), limit=0.2),
        reading("harmonic_lines", (0.0, 0.2, 1.4), limit=1.2, false_alarm=0.2),
    )


def unreadable(
    reason: str = "the load is 6 % of rated, and 25 % are needed",
) -> tuple[Reading, ...]:
    """Readings of a record that cannot answer."""
    return tuple(
        replace(
            r,
            value=None,
            valid=False,
            reason=reason,
            false_alarm_probability=None,
            open_bar_equivalent=None,
            detection_limit_bars=None,
        )
        for r in damaged()
    )


def operating_point(load: float = 0.71) -> OperatingPoint:
    """Return an invented operating point."""
    return OperatingPoint(
        supply_frequency_hz=Estimate(49.982, 49.9819, 49.9821),
        supply_frequency_wander_hz=0.0042,
        line_current_rms_a=191.0,
        line_voltage_rms_v=686.0,
        active_power_w=184e3,
        reactive_power_var=131e3,
        power_factor=0.815,
        slip=Estimate(0.00712, 0.00709, 0.00715),
        slip_wander=0.01,
        speed_rpm=Estimate(1488.79, 1488.74, 1488.84),
        pole_pass_frequency_hz=Estimate(0.7117, 0.7087, 0.7147),
        slip_families=("rotor slot harmonics", "mixed eccentricity"),
        rotor_bars=58,
        rotor_bars_candidates=(58,),
        load_fraction=Estimate(load, load - 0.04, load + 0.04),
    )


def record(
    readings: Sequence[Reading],
    *,
    source: str = "pump.cfg",
    voltages: int = 3,
    point: OperatingPoint | NotKnown | None = None,
    stopped: str = "",
    quality: tuple[QualityFinding, ...] = (),
    study: TruthStudy = INVENTED,
) -> RecordExamination:
    """Return what one recording gave."""
    point = operating_point() if point is None else point
    load = point.load_fraction if isinstance(point, OperatingPoint) else None
    evidence = weigh(
        readings,
        LIMITS.evidence,
        voltages_measured=voltages > 0,
        calibration=study,
        stratum=Stratum(channels=Channels.of(3, voltages), load=LoadBand.of(load)),
    )
    time_s = np.linspace(0.0, 60.0, 241)
    return RecordExamination(
        provenance=Provenance(
            source=source,
            format_name="COMTRADE",
            sha256="0123456789abcdef" * 4,
            steps=("read",),
            notes=("binary data, 16 bit",),
        ),
        start_time=datetime(2026, 11, 3, 9, 41, 7),  # noqa: DTZ001  # recorders state local time
        duration_s=60.0,
        sampling_rate_hz=10_000.0,
        currents_measured=3,
        voltages_measured=voltages,
        roles=(("IL1", Role.CURRENT_A), ("U12", Role.VOLTAGE_AB)),
        roles_proven=True,
        role_statements=("the currents add up to zero",),
        quality=quality,
        stretch_s=(0.0, 60.0),
        operating_point=point,
        readings=tuple(readings),
        evidence=evidence,
        verdict=judge(evidence, LIMITS.decision),
        spectra=(_spectrum(),),
        trend=CurrentTrend(
            time_s=time_s, line_current_rms_a=191.0 + 2.0 * np.sin(2.0 * np.pi * 0.71 * time_s)
        ),
        stopped=stopped,
    )


def examination(
    *records: RecordExamination,
    of: Motor | None = None,
    lead: int = 0,
    study: TruthStudy = INVENTED,
) -> Examination:
    """Return a visit made of these recordings."""
    subject = motor(criticality=Criticality(level="high")) if of is None else of
    evidence = combine([r.evidence for r in records], study)
    verdict = judge(evidence, LIMITS.decision)
    leading = records[lead]
    point = leading.operating_point
    unknown = NotKnown("not read")
    circumstances = Circumstances(
        recorded_on=date(2026, 11, 3),
        duration_s=leading.duration_s,
        sampling_rate_hz=leading.sampling_rate_hz,
        currents_measured=leading.currents_measured,
        voltages_measured=leading.voltages_measured,
        load_fraction=unknown if isinstance(point, NotKnown) else point.load_fraction,
        pole_pass_frequency_hz=unknown
        if isinstance(point, NotKnown)
        else point.pole_pass_frequency_hz,
        rotor_bars=None if isinstance(point, NotKnown) else point.rotor_bars,
    )
    settings = Settings(limits=LIMITS, study=study)
    day = circumstances.recorded_on
    ahead = outlook(subject, evidence, verdict, (leading,), settings, day)
    rule = recommend(verdict, evidence, subject, circumstances, LIMITS)
    course = course_of(verdict, rule, ahead, (), day)
    return Examination(
        motor=subject,
        version="0.0.0",
        settings=settings,
        outlook=ahead,
        course=course,
        records=records,
        shown=(leading,),
        evidence=evidence,
        verdict=verdict,
        recommendation=replace(rule, next_steps=with_first(course, rule.next_steps)),
    )


def lead_of(examined: Examination) -> RecordExamination:
    """Return the running record that leads; there must be one."""
    assert examined.leading is not None
    return examined.leading


def caution() -> QualityFinding:
    """Return an invented quality finding."""
    return QualityFinding(
        code=FindingCode.LOAD_DRIFT,
        severity=Severity.CAUTION,
        message="the current drifts by 3.1 % rms within the stretch",
        value=0.031,
        unit="per unit",
        remedy="Record while the load is steady.",
    )


def _spectrum() -> Spectrum:
    """Return an invented spectrum of the supply frame."""
    frequency_hz = np.linspace(-4.0, 4.0, 401)
    floor = np.full(frequency_hz.size, -92.0)
    level = floor + 6.0 * np.sin(31.0 * frequency_hz) * np.cos(7.0 * frequency_hz)
    for line_hz, level_dbc in ((-0.71, -41.0), (0.71, -44.0), (0.0, 0.0)):
        level = np.maximum(level, level_dbc - 220.0 * np.abs(frequency_hz - line_hz))
    return Spectrum(
        name="supply_frame",
        title="Current in the frame of the supply voltage",
        offset_label="from the supply frequency",
        frequency_hz=frequency_hz,
        level_dbc=level,
        floor_dbc=floor,
        markers_hz={"lower side line": -0.71, "upper side line": 0.71},
    )
