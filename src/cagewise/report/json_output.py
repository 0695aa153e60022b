"""An examination as JSON text: documented, versioned, without NaN."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from enum import Enum

from cagewise.conditioning.findings import QualityFinding
from cagewise.decision.examination import (
    Examination,
    RecordExamination,
    SheetExamination,
    StartExamination,
)
from cagewise.decision.parts import PartVerdict
from cagewise.evidence.findings import Finding, Hypothesis
from cagewise.indicators.reading import Reading, ReferenceLimit
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.measurement import Provenance
from cagewise.quantities import Estimate, NotKnown, significant
from cagewise.report import course_text, document, document_record, json_outlook, sentences, wording
from cagewise.report.visit_facts import all_findings, part_verdict, provenance_of

_Plain = None | bool | int | float | str | list["_Plain"] | dict[str, "_Plain"]


def to_json(examination: Examination) -> str:
    """Return the document as JSON text with a final newline."""
    plain = _plain(to_document(examination))
    return json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def to_document(examination: Examination) -> document.ExaminationDocument:
    """Return the document."""
    evidence, verdict, lead = examination.evidence, examination.verdict, examination.leading
    unknown = isinstance(evidence.probability, NotKnown)
    return document.ExaminationDocument(
        schema_version=document.SCHEMA_VERSION,
        program_version=examination.version,
        motor=_motor(examination),
        state=verdict.state.value,
        state_ground=verdict.ground.value,
        statement=sentences.verdict(examination),
        probability=None if isinstance(evidence.probability, NotKnown) else evidence.probability,
        probability_reason=evidence.probability.reason
        if isinstance(evidence.probability, NotKnown)
        else "",
        damage=_open_bars(verdict.damage_bars),
        upper_limit=verdict.bound_bars,
        methods_agreeing=verdict.methods_agreeing,
        methods_for=tuple(method.value for method in evidence.methods_for),
        methods_against=tuple(method.value for method in evidence.methods_against),
        classes_agreeing=verdict.classes_agreeing,
        classes=_classes(examination),
        pooled=document.PooledPart(
            open_bar_equivalent=_open_bars(evidence.pooled.bars),
            ground=evidence.pooled.ground.value,
            calibrated=not unknown,
        ),
        removal_supported=verdict.removal_supported,
        recommendation=_recommendation(examination),
        act_by=_act_by(examination),
        course=json_outlook.course_part(examination),
        costs=json_outlook.costs_part(examination.outlook.costs),
        posterior=json_outlook.posterior_part(evidence.posterior),
        explanations=json_outlook.explanation_parts(examination.outlook.explanations),
        next_measurements=json_outlook.measurement_parts(examination),
        not_excluded=_not_excluded(examination),
        evidence=_evidence(examination),
        parts=tuple(_part(verdict) for verdict in examination.parts),
        not_measured=tuple(method.value for method in sentences.methods_missing(examination)),
        operating_point=None if lead is None else _operating_point(lead),
        quality_findings=() if lead is None else tuple(map(_quality, lead.quality)),
        indicators=tuple(_indicator(r) for source in examination.shown for r in source.readings),
        leading_recording="" if lead is None else lead.provenance.source,
        recordings=tuple(_recording(record) for record in examination.records),
        starts=tuple(_start(start) for start in examination.starts),
        test_sheets=tuple(_sheet(sheet) for sheet in examination.sheets),
        provenance=tuple(_provenance(p) for p in _provenances(examination)),
        limits=asdict(examination.settings.limits),
    )


def _motor(examination: Examination) -> document.MotorPart:
    """Return the motor."""
    motor, plate = examination.motor, examination.motor.nameplate
    return document.MotorPart(
        tag=motor.tag,
        description=motor.description,
        rated_power_w=plate.rated_power_w,
        rated_voltage_v=plate.rated_voltage_v,
        rated_frequency_hz=plate.rated_frequency_hz,
        rated_speed_rpm=plate.rated_speed_rpm,
        rated_current_a=plate.rated_current_a,
        poles=plate.poles,
        criticality=motor.criticality.level,
        warnings=motor.warnings,
    )


def _classes(examination: Examination) -> tuple[document.ClassPart, ...]:
    """Return the votes."""
    return tuple(
        document.ClassPart(
            class_=vote.independence_class.value,
            support=vote.support.value,
            ground=vote.ground.value,
            lead=vote.lead,
            open_bar_equivalent=_open_bars(vote.bars),
            upper_limit=vote.bound_bars,
        )
        for vote in examination.evidence.classes
    )


def _recommendation(examination: Examination) -> document.RecommendationPart:
    """Return what to do."""
    recommendation = examination.recommendation
    worded = sentences.next_steps(recommendation.next_steps)
    return document.RecommendationPart(
        action=examination.course.in_rule_words(examination.verdict).value,
        text=course_text.action(examination),
        next_steps=tuple(
            document.NextStepPart(
                code=step.kind.value, text=what, why=why, numbers={**step.numbers}
            )
            for step, (what, why) in zip(recommendation.next_steps, worded, strict=True)
        ),
    )


def _act_by(examination: Examination) -> document.ActByPart:
    """Return when to act."""
    when = examination.course.act_by
    return document.ActByPart(
        earliest=None if when.earliest is None else when.earliest.isoformat(),
        latest=None if when.latest is None else when.latest.isoformat(),
        earliest_days=when.earliest_days,
        latest_days=when.latest_days,
        planned_outage=None if when.outage is None else when.outage.isoformat(),
        words=sentences.act_by(when),
    )


def _not_excluded(examination: Examination) -> tuple[document.NotExcludedPart, ...]:
    """Return what is not excluded."""
    return tuple(
        document.NotExcludedPart(code=spot.value, text=text, would_tell=remedy)
        for spot in examination.evidence.blind_spots
        for text, remedy in (wording.BLIND_SPOT[spot],)
    )


def _evidence(examination: Examination) -> document.EvidencePart:
    """Return all findings, by hypothesis."""
    told = [
        (finding, provenance_of(source).source)
        for source in examination.sources
        for finding in all_findings(source)
    ]

    def about(hypothesis: Hypothesis) -> tuple[document.FindingPart, ...]:
        return tuple(_finding(f, source) for f, source in told if f.hypothesis is hypothesis)

    return document.EvidencePart(
        cage_defect=about(Hypothesis.CAGE_DEFECT),
        load_oscillation=about(Hypothesis.LOAD_OSCILLATION),
        supply_modulation=about(Hypothesis.SUPPLY_MODULATION),
        winding_defect=about(Hypothesis.WINDING_DEFECT),
        insulation_defect=about(Hypothesis.INSULATION_DEFECT),
    )


def _finding(finding: Finding, source: str) -> document.FindingPart:
    """Return one finding."""
    return document.FindingPart(
        indicator=finding.reading,
        class_=finding.independence_class.value,
        recording=source,
        support=finding.support.value,
        ground=finding.ground.value,
        reason=sentences.ground(finding),
    )


def _recording(record: RecordExamination) -> document_record.RecordingPart:
    """Return one recording."""
    return document_record.RecordingPart(
        provenance=_provenance(record.provenance),
        start_time=None if record.start_time is None else record.start_time.isoformat(),
        duration_s=record.duration_s,
        sampling_rate_hz=record.sampling_rate_hz,
        currents_measured=record.currents_measured,
        voltages_measured=record.voltages_measured,
        roles=tuple(
            document_record.RolePart(channel=channel, role=role.value)
            for channel, role in record.roles
        ),
        roles_proven=record.roles_proven,
        role_statements=record.role_statements,
        steady_from_s=None if record.stretch_s is None else record.stretch_s[0],
        steady_to_s=None if record.stretch_s is None else record.stretch_s[1],
        stopped=record.stopped,
        state=record.verdict.state.value,
        operating_point=_operating_point(record),
        quality_findings=tuple(_quality(finding) for finding in record.quality),
        indicators=tuple(_indicator(reading) for reading in record.readings),
    )


def _part(verdict: PartVerdict) -> document.PartPart:
    """Return the state of a part beside the cage."""
    return document.PartPart(
        part=verdict.part.value,
        state=verdict.state.value,
        ground=verdict.ground.value,
        statement=part_verdict(verdict),
    )


def _start(start: StartExamination) -> document_record.StartPart:
    """Return one start."""
    return document_record.StartPart(
        recording=start.provenance.source,
        switched_on_s=start.start.switched_on / start.sampling_rate_hz,
        kind=start.start.kind.value,
        refused=start.start.refused,
        compared_with=start.earlier,
        indicators=tuple(_indicator(reading) for reading in start.readings),
    )


def _sheet(examined: SheetExamination) -> document_record.SheetPart:
    """Return one test sheet."""
    return document_record.SheetPart(
        provenance=_provenance(examined.sheet.provenance),
        measured_on=examined.sheet.measured_on.isoformat(),
        measured_at=examined.sheet.place.value,
        compared_with=examined.earlier,
        indicators=tuple(_indicator(reading) for reading in examined.readings),
    )


def _provenances(examination: Examination) -> tuple[Provenance, ...]:
    """Return where everything came from, each file once."""
    return tuple(dict.fromkeys(provenance_of(source) for source in examination.sources))


def _operating_point(record: RecordExamination) -> document_record.OperatingPointPart | None:
    """Return the operating point field by field; the fields have the names of the result."""
    point = record.operating_point
    if isinstance(point, NotKnown):
        return None
    values = {f.name: getattr(point, f.name) for f in fields(OperatingPoint)}
    quantities = {
        name: _quantity(value)
        for name, value in values.items()
        if isinstance(value, Estimate | NotKnown)
    }
    return document_record.OperatingPointPart(**{**values, **quantities})


def _quality(finding: QualityFinding) -> document_record.QualityPart:
    """Return one quality finding."""
    return document_record.QualityPart(
        code=finding.code.value,
        severity=finding.severity.value,
        message=finding.message,
        channels=finding.channels,
        value=finding.value,
        unit=finding.unit,
        remedy=finding.remedy,
        blocks=tuple(sorted(ability.value for ability in finding.blocks)),
    )


def _indicator(reading: Reading) -> document_record.IndicatorPart:
    """Return one indicator."""
    value = reading.value
    return document_record.IndicatorPart(
        name=reading.name,
        title=reading.title,
        part=reading.part.value,
        class_=reading.independence_class.value,
        method=None if reading.method is None else reading.method.value,
        value=None if value is None else value.value,
        unit=reading.unit,
        interval=None if value is None else (value.low, value.high),
        valid=reading.valid,
        reason=reading.reason,
        false_alarm_probability=reading.false_alarm_probability,
        open_bar_equivalent=_open_bars(reading.open_bar_equivalent),
        detection_limit=reading.detection_limit_bars,
        limit=_limit(reading.limit),
        caveats=reading.caveats,
        details={**reading.details},
    )


def _limit(limit: ReferenceLimit | None) -> document_record.LimitPart | None:
    """Return a published limit."""
    if limit is None:
        return None
    return document_record.LimitPart(
        value=limit.value,
        sense=limit.sense.value,
        source=limit.source,
        form=limit.form,
        decides=limit.decides,
    )


def _provenance(provenance: Provenance) -> document_record.ProvenancePart:
    """Return where a recording came from."""
    return document_record.ProvenancePart(
        source=provenance.source,
        format=provenance.format_name,
        sha256=provenance.sha256,
        steps=provenance.steps,
        notes=provenance.notes,
    )


def _quantity(quantity: Estimate | NotKnown) -> document_record.Quantity:
    """Return a quantity, or why it is not known."""
    if isinstance(quantity, NotKnown):
        return document_record.Quantity(value=None, interval=None, reason=quantity.reason)
    return document_record.Quantity(
        value=quantity.value, interval=(quantity.low, quantity.high), reason=""
    )


def _open_bars(bars: Estimate | None) -> document_record.OpenBars | None:
    """Return open bars, or None."""
    if bars is None:
        return None
    return document_record.OpenBars(value=bars.value, interval=(bars.low, bars.high))


def _plain(value: object) -> _Plain:
    """Return ``value`` in the types of JSON; numbers that are not finite become null.

    Numbers have the digits that are kept, so that the same examination has the same text.
    """
    if is_dataclass(value):
        return {f.name.rstrip("_"): _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return _plain(value.value)
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, float):
        return significant(value) if math.isfinite(value) else None
    message = f"{type(value).__name__} has no place in the document"
    raise TypeError(message)
