"""The JSON output keeps its published schema, and nothing in it is undocumented."""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from cagewise.decision.examination import Examination
from cagewise.evidence.findings import Ground
from cagewise.evidence.fusion.posterior import Stratum
from cagewise.indicators.reading import ReferenceLimit, Sense
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import document, document_outlook, document_record, schema
from cagewise.report.json_output import to_json
from support.calibrated import STUDY, with_chance
from support.examinations import (
    caution,
    damaged,
    examination,
    lead_of,
    operating_point,
    oscillating,
    reading,
    record,
    sound,
    unreadable,
)

ROOT = Path(__file__).resolve().parents[2]

CONTRACT = frozenset(
    {
        "operating_point", "quality_findings", "indicators", "evidence", "state", "probability",
        "methods_agreeing", "classes_agreeing", "not_excluded", "recommendation", "act_by",
        "provenance",
    }
)  # fmt: skip
"""Fields that the design promises to other programs by name."""

EXAMINATIONS = {
    "damaged": lambda: examination(record(damaged(), quality=(caution(),))),
    "sound": lambda: examination(record(sound())),
    "oscillating": lambda: examination(record(oscillating())),
    "unreadable": lambda: examination(record(unreadable())),
    "stopped": lambda: examination(
        record((), point=NotKnown("no current channel"), stopped="no current channel")
    ),
    "conflict": lambda: examination(record(damaged()), record(sound(), source="b.cfg")),
}


@pytest.fixture(params=EXAMINATIONS)
def examined(request: pytest.FixtureRequest) -> Examination:
    return EXAMINATIONS[request.param]()


def test_committed_schema_and_page_are_those_of_the_classes() -> None:
    """Stale? Run ``python -m cagewise.report.schema .`` and read what changed."""
    assert (ROOT / schema.SCHEMA_PATH).read_text(encoding="utf-8") == schema.schema_text()
    assert (ROOT / schema.PAGE_PATH).read_text(encoding="utf-8") == schema.page_text()


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(schema.schema())


def test_every_field_of_the_document_is_documented() -> None:
    made = schema.schema()
    for name, part in {"top": made, **made["$defs"]}.items():
        for key, value in part["properties"].items():
            assert value.get("description"), f"{name}.{key} has no description"
        assert set(part["required"]) == set(part["properties"]), name
        assert part["additionalProperties"] is False


def test_every_class_of_the_document_is_in_the_schema() -> None:
    parts = {
        name
        for module in (document, document_outlook, document_record)
        for name, kind in vars(module).items()
        if isinstance(kind, type) and is_dataclass(kind)
    }

    assert parts - {"ExaminationDocument"} == set(schema.schema()["$defs"])


def test_promised_fields_are_there() -> None:
    assert set(schema.schema()["properties"]) >= CONTRACT


def test_output_is_valid(examined: Examination) -> None:
    jsonschema.validate(json.loads(to_json(examined)), schema.schema())


def test_an_unknown_field_is_refused(examined: Examination) -> None:
    output = json.loads(to_json(examined))
    output["surprise"] = 1

    with pytest.raises(jsonschema.ValidationError, match="surprise"):
        jsonschema.validate(output, schema.schema())


def test_the_same_examination_gives_the_same_bytes(examined: Examination) -> None:
    assert to_json(examined) == to_json(examined)


def test_numbers_that_are_not_finite_become_null() -> None:
    bad = replace(
        reading("direct_component", (0.0, 0.1, 0.3)),
        value=Estimate(-math.inf, -math.inf, 3.0),
        details={"ratio_db": math.nan},
    )
    text = to_json(examination(record((bad,))))
    output = json.loads(text, parse_constant=_refuse)
    (indicator,) = output["indicators"]

    assert indicator["value"] is None
    assert indicator["interval"] == [None, 3.0]
    assert indicator["details"] == {"ratio_db": None}
    jsonschema.validate(output, schema.schema())


def test_state_and_reasons_are_those_of_the_examination(examined: Examination) -> None:
    output = json.loads(to_json(examined))

    assert output["state"] == examined.verdict.state.value
    read = any(r.open_bar_equivalent for s in examined.shown for r in s.readings if r.valid)
    if read:
        assert output["probability"] == pytest.approx(examined.evidence.probability, rel=1e-11)
    else:
        assert output["probability"] is None
    why = "" if read else "no reading of the cage is valid"
    assert output["probability_reason"] == why
    assert [i["name"] for i in output["indicators"]] == [r.name for r in lead_of(examined).readings]
    for finding in output["evidence"]["cage_defect"]:
        assert finding["reason"]
        assert finding["ground"] in set(Ground)


def test_every_field_of_the_operating_point_is_passed_on() -> None:
    part = {f.name for f in fields(document_record.OperatingPointPart)}

    assert part == {f.name for f in fields(operating_point())}


def _refuse(constant: str) -> Any:  # signature of json
    message = f"{constant} in JSON"
    raise AssertionError(message)


def test_what_follows_from_the_probabilities_is_passed_on(examined: Examination) -> None:
    output = json.loads(to_json(examined))
    posterior, costs, course = output["posterior"], output["costs"], output["course"]

    assert (posterior is None) is isinstance(examined.evidence.posterior, NotKnown)
    if posterior is not None:
        assert sum(posterior["probabilities"].values()) == pytest.approx(1.0)
        assert sum(posterior["prior"].values()) == pytest.approx(1.0)
        assert set(posterior["false_call_rate"]) == {"events", "cases", "low", "high"}
        assert posterior["calibrated"] is (output["probability"] is not None)
    assert [a["action"] for a in costs["actions"]] == [
        cost.action.value for cost in examined.outlook.costs.costs
    ]
    assert (costs["expected"] is None) is (output["probability"] is None)
    assert course["action"] in {a["action"] for a in costs["actions"]}
    assert [m["measurement"] for m in output["next_measurements"]] == [
        worth.measurement.value for worth in examined.outlook.next_measurements
    ]
    assert len(output["explanations"]) == len(examined.outlook.explanations)


def test_a_calibrated_examination_carries_rates_chances_and_costs() -> None:
    made = examination(record(damaged()))
    posterior = STUDY.posterior(made.evidence.findings, Stratum())
    evidence = replace(made.evidence, posterior=posterior)
    told = with_chance(replace(made, evidence=evidence), 0.9, interval=(0.8, 0.95))
    output = json.loads(to_json(told))

    assert output["posterior"]["calibrated"]
    assert output["posterior"]["false_call_rate"]["events"] == 1
    assert output["posterior"]["false_call_rate"]["cases"] == 400
    assert output["costs"]["probability_interval"] == [0.8, 0.95]
    assert output["costs"]["measuring"]["better"] <= output["costs"]["measuring"]["certainty"]
    assert output["costs"]["ratio_spans"][-1]["high"] is None
    assert output["course"]["costs"] == output["costs"]["action"]
    jsonschema.validate(output, schema.schema())


def test_nothing_of_the_first_versions_is_gone() -> None:
    """Fields of version 1.1 by name: readers of it must not break."""
    properties = set(schema.schema()["properties"])

    assert properties >= {
        "schema_version", "program_version", "motor", "state", "state_ground", "statement",
        "probability", "probability_reason", "damage", "upper_limit", "methods_agreeing",
        "methods_for", "methods_against", "classes_agreeing", "classes", "pooled",
        "removal_supported", "recommendation", "act_by", "not_excluded", "evidence", "parts",
        "not_measured", "operating_point", "quality_findings", "indicators", "leading_recording",
        "recordings", "starts", "test_sheets", "provenance", "limits",
    }  # fmt: skip


@pytest.mark.parametrize("decides", [True, False])
def test_a_reader_is_told_whether_a_published_value_decides(*, decides: bool) -> None:
    limit = ReferenceLimit(value=1.0, sense=Sense.AT_MOST, source="a standard", decides=decides)
    limited = replace(reading("direct_component"), limit=limit)

    said = json.loads(to_json(examination(record((limited,)))))

    assert [each["limit"]["decides"] for each in said["indicators"]] == [decides]
