"""Rows of readings and of motors, for workbooks and comma-separated values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from cagewise.report.history_views import RankingView
from cagewise.report.spreadsheet_text import Cell
from cagewise.store import KeptExamination, KeptReading, MotorEntry

Plain = Mapping[str, Any]

READING_COLUMNS: Mapping[str, float] = {
    "site": 12.0, "tag": 16.0, "motor": 30.0, "day": 11.0, "examination": 12.0, "counts": 8.0,
    "indicator": 26.0, "title": 36.0, "class": 24.0, "value": 12.0, "low": 12.0, "high": 12.0,
    "unit": 16.0, "valid": 8.0, "reason": 40.0, "open_bars": 11.0, "open_bars_low": 11.0,
    "open_bars_high": 11.0, "detection_limit_bars": 12.0, "load_fraction": 10.0,
    "load_fraction_low": 10.0, "load_fraction_high": 10.0, "slip": 10.0, "slip_low": 10.0,
    "slip_high": 10.0, "program_version": 10.0, "fingerprint": 20.0,
}  # fmt: skip
"""Columns of readings in their order, with their widths in characters."""
MOTOR_COLUMNS: Mapping[str, float] = {
    "site": 12.0, "tag": 16.0, "motor": 36.0, "criticality": 11.0, "rated_power_kw": 12.0,
    "next_outage": 14.0, "measured_on": 14.0, "cage": 16.0, "open_bars": 11.0,
    "open_bars_low": 11.0, "open_bars_high": 11.0, "probability": 12.0, "winding": 14.0,
    "insulation": 14.0, "due_on": 12.0, "open_cases": 16.0,
}  # fmt: skip
"""Columns of motors, alike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminedReadings:
    """The readings of an examination with what its document says of them."""

    motor: MotorEntry
    examination: KeptExamination
    counts: bool
    """Whether it is the one of its visit that was kept last."""
    fingerprint: str
    readings: Sequence[KeptReading]
    said: Sequence[Plain] = field(default=())
    """The readings as the document has them; empty where it is damaged."""
    slip: Plain | None = None
    """Of the leading record, as the document has it."""


def reading_rows(examined: ExaminedReadings) -> Iterator[tuple[Cell, ...]]:
    """Yield the readings of an examination, one in a row, as :data:`READING_COLUMNS`."""
    motor, made = examined.motor, examined.examination
    keys = made.keys
    head = (motor.site, motor.tag, motor.description, made.day, made.id, examined.counts)
    load = (keys.load_fraction, keys.load_fraction_low, keys.load_fraction_high)
    tail = (*load, *_ends(examined.slip), made.program_version, examined.fingerprint)
    for number, reading in enumerate(examined.readings):
        said = _said(examined.said, number, reading.name)
        yield (
            *head,
            reading.name,
            str(said.get("title", "")),
            str(said.get("class", "")),
            reading.value,
            reading.low,
            reading.high,
            reading.unit,
            reading.valid,
            str(said.get("reason", "")),
            reading.open_bars,
            reading.open_bars_low,
            reading.open_bars_high,
            reading.detection_limit_bars,
            *tail,
        )


def motor_rows(
    view: RankingView, motors: Sequence[MotorEntry], names: Mapping[int, str]
) -> Iterator[tuple[Cell, ...]]:
    """Yield motors, one in a row, as :data:`MOTOR_COLUMNS`.

    Parameters
    ----------
    view
        The plant by risk: states and days.
    motors
        Those that are wanted.
    names
        How the view calls a motor, by its number.
    """
    from cagewise.report.history_text import day_of

    ranked = {each.tag: each for each in view.ranking.motors}
    for motor in motors:
        name = names[motor.id]
        last = view.latest.get(name)
        keys = None if last is None else last.keys
        yield (
            motor.site,
            motor.tag,
            motor.description,
            motor.criticality,
            motor.rated_power_w / 1e3,
            motor.next_outage,
            None if last is None else last.day,
            view.cage_state(ranked[name]),
            None if keys is None else keys.open_bars,
            None if keys is None else keys.open_bars_low,
            None if keys is None else keys.open_bars_high,
            None if keys is None else keys.probability,
            "" if keys is None else keys.winding or "",
            "" if keys is None else keys.insulation or "",
            None if last is None else day_of(ranked[name].due_on),
            ", ".join(str(case.id) for case in view.open_cases.get(name, ())),
        )


def _said(said: Sequence[Plain], number: int, name: str) -> Plain:
    """Return what the document says of a reading: they stand in the same order."""
    if number < len(said) and said[number].get("name") == name:
        return said[number]
    return next((each for each in said if each.get("name") == name), {})


def _ends(said: Plain | None) -> tuple[float | None, float | None, float | None]:
    """Return value and ends of the interval of a quantity of a document."""
    if not said or said.get("value") is None:
        return None, None, None
    low, high = said.get("interval") or (None, None)
    return float(said["value"]), _number(low), _number(high)


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)
