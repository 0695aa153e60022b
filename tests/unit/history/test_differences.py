"""What differs between two examinations, and why; on documents as the program writes them."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.history.differences import (
    Absent,
    ExaminationDifference,
    Kind,
    compare_examinations,
    same,
)
from cagewise.indicators.reading import Reading
from cagewise.report.json_output import to_json
from support.examinations import damaged, examination, reading, record, sound


def document(readings: tuple[Reading, ...]) -> dict[str, Any]:
    return dict(json.loads(to_json(examination(record(readings)))))


OLD = document(sound())


def changed(**fields: object) -> dict[str, Any]:
    new = copy.deepcopy(OLD)
    new.update(fields)
    return new


def names(difference: ExaminationDifference, kind: Kind) -> list[str]:
    return [d.name for d in difference.of(kind)]


def test_the_same_document_does_not_differ() -> None:
    difference = compare_examinations(OLD, copy.deepcopy(OLD))

    assert difference.differences == ()
    assert difference.same_inputs


def test_another_version_that_reads_the_same() -> None:
    difference = compare_examinations(OLD, changed(program_version="0.9.0"))

    assert names(difference, Kind.VERSION) == ["program_version"]
    assert difference.differences == difference.causes
    assert difference.unexplained == ()


def test_a_newer_version_that_reads_differently() -> None:
    """Verdict, advice, evidence and readings differ, and each leads back to the version."""
    new = document(damaged()) | {"program_version": "0.9.0"}
    difference = compare_examinations(OLD, new)

    assert difference.same_inputs
    assert "state" in names(difference, Kind.VERDICT)
    assert "action" in names(difference, Kind.RECOMMENDATION)
    assert "cage_defect by direct_component (pump.cfg)" in names(difference, Kind.EVIDENCE)
    found = "direct_component, open_bar_equivalent (pump.cfg)"
    assert found in names(difference, Kind.READING)
    assert difference.unexplained == ()
    by_name = {d.name: d for d in difference.differences}
    assert by_name[found].because == ("program_version",)
    assert found in by_name["cage_defect by direct_component (pump.cfg)"].because
    assert "cage_defect by direct_component (pump.cfg)" in by_name["state"].because
    assert "state" in by_name["action"].because
    assert by_name["state"].old == "sound"


def test_the_order_is_from_the_verdict_to_the_causes() -> None:
    new = document(damaged()) | {"program_version": "0.9.0"}
    kinds = [d.kind for d in compare_examinations(OLD, new).differences]

    assert kinds[0] is Kind.VERDICT
    assert kinds[-1] is Kind.VERSION


def test_what_nothing_explains_is_said() -> None:
    difference = compare_examinations(OLD, document(damaged()))

    assert difference.causes == ()
    assert {d.kind for d in difference.unexplained} >= {Kind.READING}


@pytest.mark.parametrize(
    ("section", "name", "moves_readings"),
    [("quality", "load_step", True), ("evidence", "sound_below_bars", False)],
)
def test_limits_are_named_and_only_explain_what_they_can(
    section: str, name: str, *, moves_readings: bool
) -> None:
    new = document(damaged())
    new["limits"][section][name] = 0.77
    difference = compare_examinations(OLD, new)
    (limit,) = difference.of(Kind.LIMIT)

    assert limit.name == f"{section}.{name}"
    assert limit.new == 0.77
    assert all((limit.name in d.because) is moves_readings for d in difference.of(Kind.READING))
    assert all(limit.name in d.because for d in difference.of(Kind.VERDICT))


def test_other_inputs_are_a_cause() -> None:
    new = document(damaged())
    new["provenance"][0]["sha256"] = "f" * 64
    difference = compare_examinations(OLD, new)

    assert not difference.same_inputs
    assert names(difference, Kind.INPUT) == ["pump.cfg"]
    assert difference.unexplained == ()


def test_another_nameplate_is_a_cause() -> None:
    new = copy.deepcopy(OLD)
    new["motor"]["rated_speed_rpm"] = 1480.0
    new["operating_point"]["line_current_rms_a"] = 1.0
    difference = compare_examinations(OLD, new)

    assert names(difference, Kind.MOTOR) == ["rated_speed_rpm"]
    (point,) = difference.of(Kind.OPERATING_POINT)
    assert point.because == ("rated_speed_rpm",)


def test_a_value_within_its_old_interval() -> None:
    near, far = copy.deepcopy(OLD), copy.deepcopy(OLD)
    near["recordings"][0]["indicators"][0]["value"] = -40.5
    far["recordings"][0]["indicators"][0]["value"] = -30.0
    inside, outside = (compare_examinations(OLD, new).of(Kind.READING)[0] for new in (near, far))

    assert inside.within_interval is True
    assert outside.within_interval is False


def test_a_reading_that_only_one_version_makes() -> None:
    readings = (*sound(), reading("new_line", (0.0, 0.1, 0.2)))
    difference = compare_examinations(OLD, document(readings) | {"program_version": "2"})
    made = next(d for d in difference.of(Kind.READING) if d.name == "new_line (pump.cfg)")

    assert made.old is Absent.ABSENT
    assert made.new == "read"


def test_a_field_that_an_old_document_lacks_is_absent_not_null() -> None:
    old = {key: value for key, value in OLD.items() if key != "upper_limit"}
    (missing,) = compare_examinations(old, changed(upper_limit=None)).of(Kind.VERDICT)

    assert missing.old is Absent.ABSENT
    assert missing.new is None


def test_readings_of_one_recording_do_not_explain_those_of_another() -> None:
    records = record(sound()), record(sound(), source="second.cfg")
    two = dict(json.loads(to_json(examination(*records))))
    new = copy.deepcopy(two)
    new["recordings"][1]["indicators"][0]["value"] = -20.0
    for finding in new["evidence"]["cage_defect"]:
        finding["support"] = "cannot tell"
    difference = compare_examinations(two, new)

    changed_reading = "direct_component, value (second.cfg)"
    assert names(difference, Kind.READING) == [changed_reading]
    for finding in difference.of(Kind.EVIDENCE):
        assert (changed_reading in finding.because) is finding.name.endswith("(second.cfg)")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.floats(-9.0, 9.0) | st.text(max_size=3),
    lambda part: (
        st.lists(part, max_size=3) | st.dictionaries(st.text(max_size=3), part, max_size=3)
    ),
    max_leaves=8,
)


@given(JSON)
def test_everything_is_the_same_as_itself(value: Any) -> None:  # any JSON
    assert same(value, copy.deepcopy(value))


@given(st.dictionaries(st.sampled_from(sorted(OLD)), JSON))
def test_odd_documents_do_not_stop_it(fields: dict[str, Any]) -> None:
    for pair in ((OLD, changed(**fields)), (changed(**fields), OLD), (fields, OLD), ({}, fields)):
        compare_examinations(*pair)


def test_rounding_is_no_difference_but_true_is_not_one() -> None:
    assert same(1.0, 1.0 + 1e-12)
    assert same(1, 1.0)
    assert not same(True, 1)
    assert not same(None, 0)
    assert not same("1", 1)
    assert not same([1], [1, 2])
