"""Workbooks: typed cells, text that stays text, the same bytes, memory that does not grow."""

from __future__ import annotations

import io
import time
import tracemalloc
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from zipfile import ZipFile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.report import workbook
from cagewise.report.spreadsheet_text import Cell, readable
from cagewise.report.workbook import Sheet, write_workbook

HOSTILE = ["=1+1", "@SUM(A1)", "-2+3", "+1", "#N/A", "#REF!", "\t=1", "a\nb", 'say "x"', "<b>&amp;"]


def made(rows: Iterable[Sequence[Cell]], columns: int = 2) -> bytes:
    stream = io.BytesIO()
    heads = [f"head {n}" for n in range(columns)]
    sheet = Sheet(title="Readings", heads=heads, widths=[12.0] * columns, rows=rows, frozen=1)
    write_workbook(stream, [sheet], "test.xlsx")
    return stream.getvalue()


def opened(content: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(content))


def test_cells_have_their_type() -> None:
    sheet = opened(made([(date(2031, 3, 4), 0.123456789012), (True, 7), (None, -1)])).active
    assert sheet is not None
    values = list(sheet.iter_rows(min_row=2, values_only=True))
    assert values == [(datetime(2031, 3, 4), 0.123456789012), (True, 7), (None, -1)]  # noqa: DTZ001
    assert sheet["A2"].is_date
    assert [sheet[name].data_type for name in ("B2", "A3", "B3")] == ["n", "b", "n"]


def test_the_head_stays_in_view_and_can_be_filtered() -> None:
    sheet = opened(made([("a", "b")])).active
    assert sheet is not None
    assert (sheet.freeze_panes, sheet.auto_filter.ref) == ("B2", "A1:B2")
    assert sheet.column_dimensions["A"].width == 12.0
    assert sheet["A1"].font.bold


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_becomes_a_formula_even_when_edited(text: str) -> None:
    cell = opened(made([(text, "x")]))["Readings"]["A2"]
    assert (cell.value, cell.data_type) == (text, "s")
    if text.lstrip()[0] in "=+-@":
        assert cell.quotePrefix


@settings(max_examples=25)
@given(st.lists(st.text(max_size=20), min_size=1, max_size=20))
def test_whatever_somebody_writes_can_be_written(texts: list[str]) -> None:
    sheet = opened(made([(text, "x") for text in texts])).active
    assert sheet is not None
    for row, text in enumerate(texts, start=2):
        assert (sheet.cell(row, 1).value or "") == readable(text)
        assert sheet.cell(row, 1).data_type in ("s", "n")


def test_the_bytes_are_the_same_at_another_time(monkeypatch: pytest.MonkeyPatch) -> None:
    rows: list[Sequence[Cell]] = [("a", 1.5), ("=b", date(2031, 1, 1))]
    first = made(rows)
    now = time.time() + 86_400.0
    monkeypatch.setattr(time, "time", lambda: now)
    assert made(rows) == first
    with ZipFile(io.BytesIO(first)) as archive:
        assert {each.date_time for each in archive.infolist()} == {(2000, 1, 1, 0, 0, 0)}
        assert b"2000-01-01T00:00:00Z</dcterms:modified>" in archive.read("docProps/core.xml")


def test_more_rows_than_fit_go_on_in_another_worksheet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "MOST_ROWS", 3)
    book = opened(made([(str(n), n) for n in range(7)]))
    assert book.sheetnames == ["Readings", "Readings 2", "Readings 3"]
    assert [sheet.max_row - 1 for sheet in book] == [3, 3, 1]


def test_memory_does_not_grow_with_the_rows() -> None:
    def peak_bytes(rows: int) -> int:
        tracemalloc.start()
        made((f"t{n}", n) for n in range(rows))
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak

    made([("a", 1)])  # what is imported counts for none of them
    few, many = peak_bytes(100), peak_bytes(4000)
    assert many < few + 200_000, "4000 rows are 400 kB of text"
