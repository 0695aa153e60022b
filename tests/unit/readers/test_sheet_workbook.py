"""Workbooks as people leave them: renamed worksheets, formulas, merged cells, odd formats."""

from __future__ import annotations

import builtins
import io
import zipfile
from datetime import datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from cagewise.errors import MissingExtraError, SheetError
from cagewise.measurement.test_sheet import Place, TerminalPair
from cagewise.readers.test_sheet import (
    read_test_sheet,
    sheet_xlsx,
    template_for,
    write_form,
    write_test_sheet,
)
from support.examinations import motor
from support.sheets import small_sheet

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

ANGLES = [0.0, 15.0, 30.0, 45.0, 0.0]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return an empty sheet, with the head filled in."""
    path = tmp_path / "sheet.xlsx"
    write_form(template_for(motor(), shaft_angles_deg=ANGLES, frequencies_hz=(50.0, 200.0)), path)
    book = load_workbook(path)
    fill(book.worksheets[0], "measured_on", datetime(2031, 5, 17))  # noqa: DTZ001 - as typed
    fill(book.worksheets[0], "measured_at", "Motor terminals")
    book.save(path)
    return path


def find(sheet: Worksheet, heading: str) -> tuple[int, int]:
    """Return row and column of a heading."""
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value == heading:
                assert cell.row is not None
                assert cell.column is not None
                return cell.row, cell.column
    raise AssertionError(heading)


def fill(sheet: Worksheet, heading: str, *values: object) -> None:
    """Write a value beside a heading, or several below it."""
    row, column = find(sheet, heading)
    if len(values) == 1:
        sheet.cell(row, column + 1).value = values[0]  # type: ignore[assignment]  # whatever
        return
    for k, value in enumerate(values, start=1):
        sheet.cell(row + k, column).value = value  # type: ignore[assignment]  # whatever


def edited(path: Path, title: str, heading: str, *values: object) -> Path:
    """Fill in part of a workbook and save it."""
    book = load_workbook(path)
    fill(book[title], heading, *values)
    book.save(path)
    return path


def test_a_template_filled_in_as_a_technician_would(path: Path) -> None:
    book = load_workbook(path)
    assert book.sheetnames == [
        "Head of the sheet", "Winding resistance", "Position 50 Hz", "Position 200 Hz",
        "Insulation resistance", "Step voltage", "Dissipation factor", "Turn insulation",
    ]  # fmt: skip
    fill(book.worksheets[0], "rotor_demagnetised", "Yes")
    fill(book["Winding resistance"], "ab_resistance_ohm", "0,0123")
    position = book["Position 50 Hz"]
    fill(position, "ab_inductance_mh", 12.1, 12.2, None, 12.4, 12.11)
    row, column = find(position, "bc_inductance_mh")
    position.cell(row, column).value = "bc_inductance_uh"
    copy = book.copy_worksheet(book["Insulation resistance"])
    copy.title = "IR at 1 kV"
    fill(copy, "test_voltage_v", 1000)
    fill(copy, "resistance_megaohm", *range(100, 113))
    scratch = book.create_sheet("my notes")
    scratch["A1"] = "# rain all day"
    book.create_sheet("blank")
    book.save(path)

    sheet = read_test_sheet(path)
    assert sheet.motor_tag == motor().tag
    assert sheet.measured_on.isoformat() == "2031-05-17"
    assert (sheet.place, sheet.rotor_demagnetised) == (Place.TERMINALS, True)
    assert sheet.resistance is not None
    assert dict(sheet.resistance.line_resistance_ohm) == {TerminalPair.AB: 0.0123}
    (series,) = sheet.positions
    assert series.inductance_h is not None
    assert series.inductance_h.tolist() == [0.0121, 0.0122, 0.0124, 0.01211]
    assert series.frequency_hz == 50.0
    (test,) = sheet.insulation
    assert (test.test_voltage_v, test.time_s.size, test.resistance_ohm[0]) == (1000.0, 13, 1e8)


def test_every_worksheet_has_cautions_and_defers_to_local_rules(path: Path) -> None:
    book = load_workbook(path)
    for sheet in book.worksheets:
        notes = " ".join(str(row[0].value) for row in sheet.iter_rows(max_col=1))
        assert "lock and tag out" in notes, sheet.title
        assert "Local codes" in notes, sheet.title
    assert not any(sheet.protection.sheet for sheet in book.worksheets)
    with zipfile.ZipFile(path) as archive:
        assert not [name for name in archive.namelist() if "vba" in name.casefold()]


def test_choices_are_offered(path: Path) -> None:
    rules = load_workbook(path).worksheets[0].data_validations.dataValidation
    lists = {rule.formula1 for rule in rules if rule.type == "list"}
    assert lists == {'"motor terminals,switchboard"', '"yes,no"'}
    assert [
        rule.type for rule in load_workbook(path)["Position 50 Hz"].data_validations.dataValidation
    ] == ["decimal"]


BAD = {
    "formula without a value": ("=1+1", "holds a formula without a value"),
    "date": (datetime(2031, 5, 7), "not a number"),  # noqa: DTZ001 - as a spreadsheet keeps it
    "time": (time(7, 30), "07:30:00"),
    "yes": (True, '"yes", not a number'),
    "text": ("> 2000", "a bound and no number"),
    "thousands": ("1,234", "two ways"),
    "error": ("#DIV/0!", "shows the error #DIV/0!"),
    "range": (-5, "out of all range"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_cell_is_named_with_worksheet_row_and_heading(path: Path, name: str) -> None:
    value, part = BAD[name]
    row, _ = find(load_workbook(path)["Position 50 Hz"], "ab_inductance_mh")
    edited(path, "Position 50 Hz", "ab_inductance_mh", 12.1, value, 12.3, 12.4, 12.1)
    with pytest.raises(SheetError) as caught:
        read_test_sheet(path)
    message = str(caught.value)
    assert f'worksheet "Position 50 Hz", [position], row {row + 2}, ab_inductance_mh' in message
    assert part in message


def test_a_formula_counts_with_the_value_it_was_saved_with(path: Path) -> None:
    edited(path, "Winding resistance", "ab_resistance_ohm", "=0.5/10")
    archive = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(archive, "w") as new:
        for entry in old.namelist():
            content = old.read(entry)
            new.writestr(entry, content.replace(b"<f>0.5/10</f><v />", b"<f>0.5/10</f><v>0.05</v>"))
    path.write_bytes(archive.getvalue())
    resistance = read_test_sheet(path).resistance
    assert resistance is not None
    assert resistance.line_resistance_ohm[TerminalPair.AB] == 0.05


def test_a_cell_shown_as_per_cent_is_refused(path: Path) -> None:
    book = load_workbook(path)
    head = book.worksheets[0]
    fill(head, "relative_humidity_percent", 0.45)
    row, column = find(head, "relative_humidity_percent")
    head.cell(row, column + 1).number_format = "0%"
    book.save(path)
    with pytest.raises(SheetError, match=r"kept as 0\.45 and shown as 45 %"):
        read_test_sheet(path)


def test_merged_cells_are_refused(path: Path) -> None:
    book = load_workbook(path)
    position = book["Position 50 Hz"]
    fill(position, "ab_inductance_mh", 12.1, None, None, 12.4, 12.1)
    row, column = find(position, "ab_inductance_mh")
    position.merge_cells(start_row=row + 1, end_row=row + 3, start_column=column, end_column=column)
    book.save(path)
    with pytest.raises(SheetError, match=r"cells B\d+:B\d+: are merged. Unmerge them"):
        read_test_sheet(path)


def test_readings_under_no_table_are_refused(path: Path) -> None:
    book = load_workbook(path)
    book.create_sheet("more")["C3"] = 12.5
    book.save(path)
    with pytest.raises(SheetError, match=r'worksheet "more", row 3: 12.5 stands under no table'):
        read_test_sheet(path)


def test_an_archive_that_unpacks_to_far_more_is_refused(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheet_xlsx, "LARGEST_UNPACKED_BYTES", 1000)
    with pytest.raises(SheetError, match=r"would unpack to .* MB") as caught:
        read_test_sheet(path)
    assert "password" not in str(caught.value)


def test_a_far_away_cell_is_refused(path: Path) -> None:
    book = load_workbook(path)
    book.create_sheet("far").cell(1_048_576, 16_000).value = 1
    book.save(path)
    with pytest.raises(SheetError, match="reaches to row 1048576"):
        read_test_sheet(path)


def test_a_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    from dataclasses import replace

    path = tmp_path / "sheet.xlsx"
    sheet = replace(small_sheet(), remark="=1+1")
    write_test_sheet(sheet, path)
    assert read_test_sheet(path).remark == "=1+1"


def test_a_motor_tag_that_is_a_number(path: Path) -> None:
    assert read_test_sheet(edited(path, "Head of the sheet", "motor", 204)).motor_tag == "204"


def test_other_workbooks(tmp_path: Path) -> None:
    book = Workbook()
    path = tmp_path / "book.xlsx"
    book.save(path)
    with pytest.raises(SheetError, match="is empty"):
        read_test_sheet(path)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("hello.txt", "hello")
    with pytest.raises(SheetError, match="not a readable workbook"):
        read_test_sheet(path)


def test_without_the_library_the_way_to_it_is_named(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *args: object, **kwargs: object) -> object:
        if name.split(".", maxsplit=1)[0] == "openpyxl":
            raise ImportError(name)
        return real(name, *args, **kwargs)  # type: ignore[arg-type]  # passed through

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingExtraError, match=r"cagewise\[sheet\]"):
        read_test_sheet(path)
    with pytest.raises(MissingExtraError, match=r"cagewise\[sheet\]"):
        write_test_sheet(small_sheet(), path.with_name("other.xlsx"))


@given(cuts=st.lists(st.tuples(st.floats(0.0, 1.0), st.binary(max_size=4)), max_size=4))
@settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_damaged_workbooks_are_read_or_refused(path: Path, cuts: list[tuple[float, bytes]]) -> None:
    whole = path.read_bytes()
    content = bytearray(whole)
    for where, junk in cuts:
        at = int(where * (len(content) - 5))
        content[at : at + len(junk)] = junk
    damaged = path.with_name("damaged.xlsx")
    damaged.write_bytes(bytes(content))
    try:
        read_test_sheet(damaged)
    except SheetError as error:
        assert str(error)  # noqa: PT017 - either outcome is right, anything else is a fault


MARKUP = st.sampled_from(
    [
        b"<row>", b"</row>", b'r="A1"', b't="s"', b't="e"', b't="d"', b"<v>", b"</v>", b"1e999",
        b"<f>", b"2031", b"-1", b'ref="A1:B2"', b"&amp;", b"]]>", b"x",
    ]
)  # fmt: skip


@given(cuts=st.lists(st.tuples(st.floats(0.0, 1.0), MARKUP), min_size=1, max_size=5))
@settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_damaged_worksheets_are_read_or_refused(
    path: Path, cuts: list[tuple[float, bytes]]
) -> None:
    damaged = path.with_name("damaged.xlsx")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(damaged, "w") as new:
        for entry in old.namelist():
            content = bytearray(old.read(entry))
            for where, junk in cuts if "sheet3" in entry or "workbook.xml" in entry else ():
                at = int(where * max(len(content) - 8, 0))
                content[at : at + len(junk)] = junk
            new.writestr(entry, bytes(content))
    try:
        read_test_sheet(damaged)
    except SheetError as error:
        assert str(error)  # noqa: PT017 - either outcome is right, anything else is a fault
