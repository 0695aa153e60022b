"""What was said beside what is true, as it is stored: one object per examined visit."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain, combinations
from pathlib import Path
from typing import Any

from cagewise.decision.examination import (
    Examination,
    RecordExamination,
    Source,
    StartExamination,
)
from cagewise.decision.verdict import Verdict, judge
from cagewise.errors import CagewiseError, ChannelRoleError
from cagewise.evidence.weigh import combine
from cagewise.indicators.reading import Reading
from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.measurement import TestSheet as Sheet
from cagewise.pipeline import Earlier, examine_visit
from cagewise.quantities import Estimate, NotKnown
from truth.equivalent import by_design
from truth.kept import kept
from truth.population import Scene
from truth.simulated import Simulated

ALL = "V and I"
KEPT = {ALL: 3, "currents": 3, "one current": 1}
"""Channels of a record to the number of currents in it."""
DIGITS = 7
ASKED = "asked"
"""Stored as the state where the channels contradict what they should be: the user is asked."""

_NOTHING = {
    "state": ASKED,
    "damage_bars": None,
    "bound_bars": None,
    "methods": 0,
    "classes": 0,
    "probability": None,
    "posterior": None,
}


@dataclass(frozen=True, kw_only=True)
class Delivered:
    """What the instruments of a scene delivered, and what is true of it."""

    running: Recording
    starts: tuple[Recording, ...] = ()
    sheets: tuple[Sheet, ...] = ()
    earlier: Earlier
    truth: Mapping[str, Any]
    seconds: float
    """Time of the simulation."""


def outcomes(scene: Scene, version: str, folder: Path | None = None) -> Iterator[dict[str, Any]]:
    """Simulate a scene, examine it with each set of channels and yield what is stored."""
    try:
        delivered = kept(folder, scene.number, lambda: _delivered(scene))
    except (CagewiseError, ValueError, ArithmeticError) as error:
        yield _failed(scene, version, error)
        return
    for channels in (ALL, *scene.also):
        begin = time.process_time()
        told = _told(scene, delivered, channels)
        seconds = {"simulation": delivered.seconds, "examination": time.process_time() - begin}
        yield {
            **_head(scene, version, channels),
            "truth": {**delivered.truth, **by_design(scene)},
            **told,
            "seconds": {name: round(value, 3) for name, value in seconds.items()},
        }


def _delivered(scene: Scene) -> Delivered:
    """Simulate the record and, on a visit, a start and tests at rest."""
    begin = time.process_time()
    simulated = Simulated(scene)
    record = simulated.running()
    truth = _truth(simulated, record)
    running = _blind(record)
    if not scene.visit:
        spent = time.process_time() - begin
        return Delivered(running=running, earlier=Earlier(), truth=truth, seconds=spent)
    start, sheet, earlier = simulated.start(0), simulated.sheet(0), Earlier()
    if scene.number % 4 < 2:  # half of each half has a past
        earlier = Earlier(
            recordings=[_blind(simulated.start(1))],
            sheets=[_untold(simulated.sheet(number)) for number in (1, 2, 3)],
        )
    return Delivered(
        running=running,
        starts=(_blind(start),),
        sheets=(_untold(sheet),),
        earlier=earlier,
        truth=truth,
        seconds=time.process_time() - begin,
    )


def _blind(recording: Recording) -> Recording:
    return replace(recording, truth={})


def _untold(sheet: Sheet) -> Sheet:
    return replace(sheet, truth={})


def _told(scene: Scene, delivered: Delivered, channels: str) -> dict[str, Any]:
    """Return what the examination says, or why it did not."""
    motor = scene.plate.motor(scene.motor, bars_known=scene.bars_known)
    captured = _as_captured(delivered.running, channels)
    starts, sheets, earlier = delivered.starts, delivered.sheets, delivered.earlier
    if channels != ALL:
        starts, sheets, earlier = (), (), Earlier()
    try:
        examination = examine_visit(motor, [captured, *starts], sheets=sheets, earlier=earlier)
    except ChannelRoleError as error:
        return {"sources": [], "said": {**_NOTHING, "ground": str(error)[:300]}}
    except Exception as error:  # noqa: BLE001  # a study records what breaks and goes on
        return {"sources": [], "said": None, "error": f"{type(error).__name__}: {error}"[:500]}
    return {
        "sources": [_source(source) for source in examination.sources],
        "said": _said(examination),
        "subsets": _subsets(examination),
    }


def _subsets(examination: Examination) -> dict[str, Any]:
    """Return what a visit would have come to with a part of its sources, by their kinds.

    Sources are examined one by one, so this is what a visit without the others is told.
    """
    kinds: dict[str, tuple[Source, ...]] = {
        "running": examination.records,
        "start": examination.starts,
        "sheet": examination.sheets,
    }
    measured = [kind for kind, of in kinds.items() if of]
    parts = chain.from_iterable(combinations(measured, n) for n in range(1, len(measured)))
    settings = examination.settings
    evidence = {
        " ".join(part): combine(
            [source.evidence for kind in part for source in kinds[kind]], settings.study
        )
        for part in parts
    }
    return {
        part: _verdict(judge(of_part, settings.limits.decision))
        for part, of_part in evidence.items()
    }


def _as_captured(recording: Recording, channels: str) -> Recording:
    """Return the recording with the channels that were connected."""
    if channels == ALL:
        return recording
    kept = tuple(CURRENT_ROLES)[: KEPT[channels]]
    return replace(recording, channels=tuple(c for c in recording.channels if c.role in kept))


def _head(scene: Scene, version: str, channels: str) -> dict[str, Any]:
    return {"case": {**scene.fields(), "channels": channels}, "version": version}


def _failed(scene: Scene, version: str, error: Exception) -> dict[str, Any]:
    """Return that a scene could not be simulated: its load may be impossible on its supply."""
    return {
        **_head(scene, version, ALL),
        "truth": None,
        "sources": [],
        "said": None,
        "error": f"{type(error).__name__}: {error}"[:500],
    }


def _truth(simulated: Simulated, record: Recording) -> dict[str, Any]:
    scene, true = simulated.scene, record.truth
    lost_w = simulated.machine.friction_nm * true["speed_rpm"] * math.pi / 30.0
    return {
        "load_fraction": _rounded((true["shaft_power_w"] - lost_w) / scene.power_w),
        "slip": _rounded(true["slip"]),
        "pole_pass_frequency_hz": _rounded(true["pole_pass_frequency_hz"]),
        "swing_over_pole_pass": _rounded(simulated.swing_hz / true["pole_pass_frequency_hz"]),
        "supply_frequency_hz": _rounded(true["supply_frequency_hz"]),
        "step_error": _rounded(true["step_error"]),
    }


def _source(source: Source) -> dict[str, Any]:
    """Return the readings of one record, start or sheet."""
    told: dict[str, Any] = {
        "kind": "sheet",
        "readings": [_reading(reading) for reading in source.readings],
        "stopped": "",
        "load": None,
        "voltages_measured": 0,
    }
    if isinstance(source, StartExamination):
        return {**told, "kind": "start"}
    if not isinstance(source, RecordExamination):
        return told
    point = source.operating_point
    known = None if isinstance(point, NotKnown) else point
    return {
        **told,
        "kind": "running",
        "stopped": source.stopped,
        "load": None if known is None else _estimate(known.load_fraction),
        "slip": None if known is None else _estimate(known.slip),
        "voltages_measured": source.voltages_measured,
        "quality": [finding.code.value for finding in source.quality],
        "alone": _verdict(source.verdict),
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "name": reading.name,
        "independence_class": reading.independence_class.value,
        "method": None if reading.method is None else reading.method.value,
        "part": reading.part.value,
        "valid": reading.valid,
        "reason": reading.reason,
        "value": _estimate(reading.value),
        "unit": reading.unit,
        "false_alarm_probability": _rounded(reading.false_alarm_probability),
        "open_bar_equivalent": _estimate(reading.open_bar_equivalent),
        "detection_limit_bars": _rounded(reading.detection_limit_bars),
        "details": {name: _rounded(value) for name, value in reading.details.items()},
    }


def _said(examination: Examination) -> dict[str, Any]:
    evidence = examination.evidence
    posterior = evidence.posterior
    fused: dict[str, Any] | None = None
    if not isinstance(posterior, NotKnown):
        fused = {
            "probabilities": {
                pattern.value: _rounded(value) for pattern, value in posterior.probabilities.items()
            },
            "open_bars": _estimate(posterior.open_bars),
            "prevalence": _rounded(posterior.prior.prevalence),
            "calibrated": posterior.calibrated,
        }
    probability = evidence.probability
    return {
        **_verdict(examination.verdict),
        "probability": None if isinstance(probability, NotKnown) else _rounded(probability),
        "posterior": fused,
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "state": verdict.state.value,
        "ground": verdict.ground.value,
        "damage_bars": _estimate(verdict.damage_bars),
        "bound_bars": _rounded(verdict.bound_bars),
        "methods": verdict.methods_agreeing,
        "classes": verdict.classes_agreeing,
    }


def _estimate(estimate: Estimate | NotKnown | None) -> list[float | None] | None:
    if not isinstance(estimate, Estimate):
        return None
    return [_rounded(x) for x in (estimate.value, estimate.low, estimate.high)]


def _rounded(value: float | None) -> float | None:
    """Return a number as JSON can hold it: of a few digits, None where it is not finite."""
    if value is None or math.isnan(value):
        return None
    short = float(f"{float(value):.{DIGITS}g}")
    return short if abs(short) < float("inf") else None
