"""A trend whose points come from two versions of the program says so."""

from __future__ import annotations

import io
import json
from pathlib import Path

from rich.console import Console

from cagewise.report.history_json import to_json
from cagewise.report.history_text import write_trend
from cagewise.report.history_views import TrendView
from cagewise.report.symbols import UNICODE
from cagewise.store import KeptReading, NewExamination, Plant
from cagewise.workflows.plant_history import trend_of
from support.kept_histories import LAST, add_growing, add_motor


def page(view: TrendView) -> str:
    out = io.StringIO()
    write_trend(view, Console(file=out, width=100), UNICODE)
    return " ".join(out.getvalue().split())


def test_a_mixed_trend_is_named_with_what_makes_it_of_one(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "plant") as plant:
        motor = add_motor(plant, "P-1")
        kept = add_growing(plant, motor, (0.3, 0.4, 0.55, 0.8, 1.1))
        alike = trend_of(plant, motor, today=LAST)
        visit = plant.visits.get(kept[-1].visit_id)
        newer = KeptReading(
            name="direct_component", value=1.0, open_bars=1.0, open_bars_low=0.9, open_bars_high=1.1
        )
        plant.examinations.add(
            visit,
            NewExamination(
                document="{}",
                schema_version="1.2",
                program_version="0.2.0",
                nameplate_id=motor.nameplate_id,
                keys=kept[-1].keys,
                inputs=plant.measurements.sheets(visit),
                readings=[newer],
            ),
        )
        mixed = trend_of(plant, motor, today=LAST)

    assert alike.programs == {"0.1.0": 5}
    assert "versions of the program" not in page(alike)
    assert mixed.programs == {"0.1.0": 4, "0.2.0": 1}
    said = page(mixed)
    assert "points from 2 versions of the program (4 from 0.1.0, 1 from 0.2.0)" in said
    assert '"cagewise reexamine P-1"' in said
    assert json.loads(to_json(mixed))["programs"] == {"0.1.0": 4, "0.2.0": 1}
