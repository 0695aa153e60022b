"""What of an examination is kept in columns and rows, for lists and trends."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from cagewise.decision.recommendation import NextMeasurement
from cagewise.errors import DamagedFileError
from cagewise.indicators.reading import Part, Reading
from cagewise.quantities import Estimate, NotKnown, significant
from cagewise.store import ExaminationKeys, KeptExamination, KeptReading, Plant

if TYPE_CHECKING:
    from cagewise.decision.examination import Examination, RecordExamination

NOT_TESTED = ""
"""State of a part that was not tested."""

_Ends = tuple[float | None, float | None, float | None]


def keys_of(examination: Examination) -> ExaminationKeys:
    """Return what lists and trends ask of an examination."""
    evidence, verdict, course = examination.evidence, examination.verdict, examination.course
    bars, bars_low, bars_high = _ends(evidence.pooled.bars)
    load, load_low, load_high = _load_fraction(examination.leading)
    probability = evidence.probability
    parts = {part.part: part.state.value for part in examination.parts}
    return ExaminationKeys(
        state=verdict.state.value,
        ground=verdict.ground.value,
        probability=None if isinstance(probability, NotKnown) else _finite(probability),
        open_bars=bars,
        open_bars_low=bars_low,
        open_bars_high=bars_high,
        upper_limit_bars=_finite(verdict.bound_bars),
        load_fraction=load,
        load_fraction_low=load_low,
        load_fraction_high=load_high,
        winding_temperature_degc=_temperature(examination),
        action=course.action.value,
        act_by_earliest=course.act_by.earliest,
        act_by_latest=course.act_by.latest,
        winding=parts.get(Part.WINDING, NOT_TESTED),
        insulation=parts.get(Part.INSULATION, NOT_TESTED),
        next_step=_first(step.kind.value for step in examination.recommendation.next_steps),
        methods_agreeing=verdict.methods_agreeing,
        classes_agreeing=verdict.classes_agreeing,
    )


def readings_of(examination: Examination) -> tuple[KeptReading, ...]:
    """Return the readings that the page shows, as the trend reads them."""
    return tuple(_kept(reading) for source in examination.shown for reading in source.readings)


def completed(plant: Plant, examination: KeptExamination) -> KeptExamination:
    """Return an examination with the columns that an older version did not write.

    They come from its document; where that is damaged or does not say it, they stay unknown.
    """
    keys = examination.keys
    if None not in (keys.winding, keys.insulation, keys.next_step):
        return examination
    try:
        document: Mapping[str, Any] = json.loads(plant.examinations.document(examination).text)
    except DamagedFileError:
        return examination
    steps = document.get("recommendation", {}).get("next_steps", ())
    return replace(
        examination,
        keys=replace(
            keys,
            winding=_state(document, Part.WINDING) if keys.winding is None else keys.winding,
            insulation=_state(document, Part.INSULATION)
            if keys.insulation is None
            else keys.insulation,
            next_step=_first(step["code"] for step in steps)
            if keys.next_step is None
            else keys.next_step,
        ),
    )


def _state(document: Mapping[str, Any], part: Part) -> str | None:
    """Return the state of a part, None where a document says nothing of parts."""
    parts = document.get("parts")
    if parts is None:
        return None
    return next((said["state"] for said in parts if said["part"] == part.value), NOT_TESTED)


def _first(codes: Iterable[str]) -> str:
    """Return the first next step that measures something; empty if none does."""
    return next((code for code in codes if code != NextMeasurement.ROTOR_BARS.value), "")


def _load_fraction(lead: RecordExamination | None) -> _Ends:
    """Return the load of the leading record with its interval."""
    if lead is None or isinstance(lead.operating_point, NotKnown):
        return _ends(None)
    load = lead.operating_point.load_fraction
    return _ends(None if isinstance(load, NotKnown) else load)


def _temperature(examination: Examination) -> float | None:
    """Return the temperature of the winding at rest, where the tests at rest are all there is.

    A record of the running motor has none: nothing in it tells the temperature of the winding apart
    from the spread of its resistance, and that of another hour would mislead.
    """
    from cagewise.indicators.winding.resistance import winding_temperature_degc

    sheet = examination.leading_sheet
    if sheet is None or examination.leading is not None:
        return None
    return winding_temperature_degc(sheet.sheet)


def _kept(reading: Reading) -> KeptReading:
    """Return a reading as it is kept."""
    value, low, high = _ends(reading.value)
    bars, bars_low, bars_high = _ends(reading.open_bar_equivalent)
    return KeptReading(
        name=reading.name,
        unit=reading.unit,
        valid=reading.valid,
        value=value,
        low=low,
        high=high,
        open_bars=bars,
        open_bars_low=bars_low,
        open_bars_high=bars_high,
        detection_limit_bars=_finite(reading.detection_limit_bars),
    )


def _ends(estimate: Estimate | None) -> _Ends:
    """Return a value and the ends of its interval."""
    if estimate is None:
        return None, None, None
    return _finite(estimate.value), _finite(estimate.low), _finite(estimate.high)


def _finite(value: float | None) -> float | None:
    """Return a number as it is kept; None for what is not one."""
    return significant(value) if value is not None and math.isfinite(value) else None
