"""Text that a spreadsheet shows and never computes; rows that every reader parts alike."""

from __future__ import annotations

import csv
import io
import math
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyarrow import BufferReader
from pyarrow import csv as arrow_csv

from cagewise.report.spreadsheet_text import computes, csv_row, guarded, readable

SIGNS = tuple("=+-@\uff1d\uff0b\uff0d\uff20")
ANY = st.text(max_size=40)
SPOILT = st.text(alphabet="=+-@\t\r\n\";,| 'a1\x00\x1b\x85\u2028\uff1d", max_size=12)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-2", "'-2"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t'=1"),
        ("  =1", "  '=1"),
        ("\uff1d1", "'\uff1d1"),
        ("a;=1", "a;'=1"),
        ("a\r\n=1", "a\n'=1"),
        ("P-101 = pump", "P-101 = pump"),
        ("\x1b[31m", "\ufffd[31m"),
        ("\ud800", "\ufffd"),
        ("", ""),
    ],
)
def test_no_beginning_is_computed(text: str, shown: str) -> None:
    assert guarded(text) == shown


@given(ANY | SPOILT)
def test_guarded_text_computes_nothing_wherever_it_is_parted(text: str) -> None:
    shown = guarded(text)
    assert not shown.lstrip(" \u00a0").startswith(SIGNS)
    for parted in re.split(r"[;|\t\n]", shown):
        assert not parted.startswith(SIGNS)
    assert not computes(shown)
    assert guarded(shown) == shown
    assert shown.replace("'", "") == readable(text).replace("'", "")


@given(st.lists(ANY | SPOILT, min_size=2, max_size=4))
def test_a_row_is_read_back_by_two_readers(cells: list[str]) -> None:
    row = csv_row(cells)
    wanted = [guarded(cell) for cell in cells]
    assert list(csv.reader(io.StringIO(row, newline=""), strict=True)) == [wanted]
    names = [f"c{n}" for n in range(len(cells))]
    table = arrow_csv.read_csv(
        BufferReader((csv_row(names) + row).encode("utf-8")),
        parse_options=arrow_csv.ParseOptions(newlines_in_values=True, ignore_empty_lines=False),
        convert_options=arrow_csv.ConvertOptions(
            strings_can_be_null=False, column_types=dict.fromkeys(names, "string")
        ),
    )
    assert [list(each.values()) for each in table.to_pylist()] == [wanted]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_comes_back_to_the_last_digit(number: float) -> None:
    assert math.copysign(1.0, float(csv_row([number]))) == math.copysign(1.0, number)
    assert float(csv_row([number])) == number


def test_every_kind_of_cell() -> None:
    assert csv_row([None, True, False, 3, 0.5, date(2031, 3, 4), "a"]) == (
        ",true,false,3,0.5,2031-03-04,a\r\n"
    )
