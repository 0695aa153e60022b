"""A sheet that is written and read again is the same sheet, to the last digit, in every form."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from cagewise.errors import OutputError, SheetError
from cagewise.measurement.test_sheet import PositionSeries, TerminalPair, TestSheet
from cagewise.readers.test_sheet import is_test_sheet, read_test_sheet, write_test_sheet
from support.sheets import plain, sheets, small_sheet

PATIENT = settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
FORMS = ("toml", "csv", "xlsx")


@pytest.mark.parametrize("form", FORMS)
@given(sheet=sheets())
@PATIENT
def test_reading_returns_what_was_written(tmp_path: Path, form: str, sheet: TestSheet) -> None:
    path = tmp_path / f"sheet.{form}"
    write_test_sheet(sheet, path, overwrite=True)

    assert is_test_sheet(path)
    again = read_test_sheet(path)
    assert plain(again) == plain(sheet)
    assert again.provenance.source == path.name
    assert again.provenance.format_name == f"test sheet ({form})"
    assert len(again.provenance.sha256) == 64


@given(sheet=sheets())
@PATIENT
def test_decimal_commas_read_back_too(tmp_path: Path, sheet: TestSheet) -> None:
    path = tmp_path / "sheet.csv"
    write_test_sheet(sheet, path, overwrite=True, decimal_comma=True)

    assert plain(read_test_sheet(path)) == plain(sheet)


def turn(frequency_hz: float, pairs: str = "abbcca") -> list[PositionSeries]:
    angles = np.radians(np.arange(0.0, 361.0, 15.0))
    return [
        PositionSeries(
            pair=TerminalPair(pairs[k : k + 2]),
            frequency_hz=frequency_hz,
            shaft_angle_rad=angles,
            inductance_h=0.012 + 1e-4 * np.round(np.sin(2.0 * angles + k), 3),
        )
        for k in range(0, len(pairs), 2)
    ]


@pytest.mark.parametrize("form", ["toml", "csv"])
def test_pairs_of_one_turn_stand_side_by_side_in_readable_units(tmp_path: Path, form: str) -> None:
    sheet = replace(small_sheet(), positions=(*turn(50.0), *turn(200.0)))
    path = tmp_path / f"sheet.{form}"
    write_test_sheet(sheet, path)
    text = path.read_text(encoding="utf-8-sig")

    assert text.count("[position]") == 2
    assert "shaft_angle_deg" in text
    assert "ab_inductance_mh" in text
    assert [series.pair for series in read_test_sheet(path).positions] == [*TerminalPair] * 2


def test_an_existing_file_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text("mine")
    with pytest.raises(OutputError, match="left as it is"):
        write_test_sheet(small_sheet(), path)
    assert path.read_text() == "mine"
    with pytest.raises(OutputError, match=r"\.toml, \.csv, \.xlsx"):
        write_test_sheet(small_sheet(), tmp_path / "sheet.ods")
    with pytest.raises(OutputError, match="cannot be written"):
        write_test_sheet(small_sheet(), tmp_path / "no folder" / "sheet.csv")


def test_a_text_that_no_form_could_hold_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="control characters"):
        write_test_sheet(replace(small_sheet(), remark="a\x07b"), tmp_path / "sheet.csv")
