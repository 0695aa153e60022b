"""Plants with a history whose examinations are written down, not computed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from cagewise.store import (
    ExaminationKeys,
    KeptExamination,
    KeptReading,
    MotorEntry,
    NewExamination,
    Plant,
)
from support.plants import motor_file

LAST = date(2031, 3, 4)


def add_motor(plant: Plant, tag: str) -> MotorEntry:
    """Add an invented motor."""
    return plant.motors.add(motor_file(tag), valid_from=date(2020, 1, 1))


def add_examination(
    plant: Plant, motor: MotorEntry, day: date, bars: float, state: str, **more: Any
) -> KeptExamination:
    """Keep an examination of a running record that read so many open bars."""
    visit = plant.visits.on(motor, day)
    original = plant.measurements.keep_original(b"a sheet", "sheet.toml")
    sheet = plant.measurements.add_sheet(visit, original, measured_on=day)
    low, high = 0.9 * bars, 1.1 * bars
    keys: dict[str, Any] = {
        "open_bars": bars, "open_bars_low": low, "open_bars_high": high, "load_fraction": 0.75,
        "probability": 0.99 if state == "defective" else 0.01,
    }  # fmt: skip
    reading = KeptReading(
        name="direct_component",
        value=bars,
        open_bars=bars,
        open_bars_low=low,
        open_bars_high=high,
        detection_limit_bars=0.1,
    )
    new = NewExamination(
        document=json.dumps(_document(bars, state)),
        schema_version="1.2",
        program_version="0.1.0",
        nameplate_id=motor.nameplate_id,
        keys=ExaminationKeys(state=state, **{**keys, **more}),
        inputs=[sheet],
        readings=[reading, KeptReading(name="upper_side_line", value=-40.0)],
    )
    return plant.examinations.add(visit, new)


def add_growing(
    plant: Plant, motor: MotorEntry, bars: Sequence[float], step_days: int = 90
) -> list[KeptExamination]:
    """Keep examinations that end at :data:`LAST`."""
    days = [LAST - timedelta(days=step_days * k) for k in range(len(bars))][::-1]
    return [
        add_examination(plant, motor, day, n, "defective" if n > 0.5 else "sound")
        for day, n in zip(days, bars, strict=True)
    ]


def _document(bars: float, state: str) -> dict[str, Any]:
    """Return those parts of a document that the history reads."""
    equivalent = {"value": bars, "interval": [0.9 * bars, 1.1 * bars]}
    indicator = {
        "name": "direct_component", "title": "direct component", "part": "rotor cage",
        "class": "running, fundamental", "method": None, "value": bars,
        "interval": [0.9 * bars, 1.1 * bars], "unit": "% of the rotor current", "valid": True,
        "reason": "", "open_bar_equivalent": equivalent, "detection_limit": 0.1, "limit": None,
    }  # fmt: skip
    load = {"value": 0.75, "interval": [0.73, 0.77], "reason": ""}
    return {
        "state": state,
        "statement": f"The cage is {state}.",
        "methods_agreeing": 2,
        "classes_agreeing": 1,
        "operating_point": {"load_fraction": load},
        "classes": [{"class": "running, fundamental", "lead": "direct_component"}],
        "indicators": [indicator],
        "explanations": [],
    }
