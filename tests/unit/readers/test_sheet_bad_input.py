"""What a sheet may not say: each slip is named with its place and what to write instead."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cagewise.errors import MissingExtraError, SheetError
from cagewise.measurement.test_sheet import Place, TerminalPair, TestSheet
from cagewise.readers.test_sheet import is_test_sheet, read_test_sheet

HEAD_TOML = """\
[sheet]
format = 1
motor = "P-07"
measured_on = 2031-05-17
measured_at = "motor terminals"
"""
HEAD_CSV = """\
cagewise test sheet;1
motor;P-07
measured_on;2031-05-17
measured_at;motor terminals
"""


def read(tmp_path: Path, text: str, form: str) -> TestSheet:
    path = tmp_path / f"sheet.{form}"
    path.write_text(text, encoding="utf-8")
    return read_test_sheet(path)


def toml(tmp_path: Path, body: str) -> TestSheet:
    return read(tmp_path, HEAD_TOML + body, "toml")


def csv(tmp_path: Path, body: str) -> TestSheet:
    return read(tmp_path, HEAD_CSV + body, "csv")


BAD_TOML = {
    "terminals of nothing": (
        "[[position]]\nab_frequency_hz = 50",
        ["has no terminals", "frequency_hz"],
    ),
    "unit of nothing": ("[conditions]\nrotor_demagnetised_s = true", ["has no unit"]),
    "no number for a text": ("[[step_voltage]]\ntested = true", ['"yes", not a text']),
    "several texts": ('[[step_voltage]]\ntested = ["a", "b"]', ["one value, not several"]),
    "one sample": (
        "[turn_test]\ntime_us = 0\nab_voltage_v = 0\nbc_voltage_v = 0",
        ["more than one sample"],
    ),
    "waveforms twice": (
        '[turn_test]\nwaveforms = "a.csv"\ntime_us = [0, 1]\nab_voltage_v = [0, 1]',
        ["waveforms stand in the sheet as well"],
    ),
    "waveforms of no name": ("[turn_test]\nwaveforms = 2.5", ["not a text"]),
    "waveforms of an impossible name": (
        '[turn_test]\nwaveforms = "\\u0000"',
        ["is no name of a file"],
    ),
    "truth in words": ('[truth]\nopen_bars = "two"', ["open_bars", "not a number"]),
    "not TOML": ("=", ["this is not TOML", "key = value"]),
    "a number that is none": (
        "[conditions]\nambient_temperature_degc = 1e99999999999999999999",
        ["is not TOML"],
    ),
    "milli or mega": (
        "[winding_resistance]\nab_resistance_mohm = 3",
        ["ab_resistance_mohm", "ambiguous", "resistance_milliohm or resistance_megaohm"],
    ),
    "two units": (
        "[winding_resistance]\nab_resistance_ohm = 1\nbc_resistance_milliohm = 1000",
        ["bc_resistance_milliohm", "another unit than ab_resistance_ohm"],
    ),
    "no unit": ("[conditions]\nwinding_temperature = 20", ["winding_temperature_degc or"]),
    "no such unit": (
        "[[insulation_resistance]]\ntest_voltage_v = 500\ntime_s = 60\nresistance_megohm = 5",
        ['"megohm"', "Did you mean resistance_megaohm?"],
    ),
    "unit of another quantity": (
        "[[position]]\nab_inductance_ohm = [1.0]",
        ['"ohm"', "inductance_h or inductance_mh"],
    ),
    "no terminals": (
        "[winding_resistance]\nresistance_ohm = 1",
        ["between which terminals", "ab_resistance_ohm"],
    ),
    "unknown heading": ("[conditions]\nhumidty_percent = 45", ["Did you mean relative_humidity"]),
    "other table": ("[conditions]\ntest_current_a = 1", ["belongs under [position]"]),
    "unknown table": ("[insulation]\ntest_voltage_v = 500", ["Did you mean [insulation_resis"]),
    "range": (
        "[winding_resistance]\nab_resistance_ohm = 1200",
        ["ab_resistance_ohm", "1200", "1e-06 to 1000 ohm", "milliohm"],
    ),
    "range in the unit of the heading": (
        "[[position]]\nfrequency_hz = 50\nshaft_angle_deg = [0]\nab_inductance_mh = [0.0001]",
        ["value 1, ab_inductance_mh", "0.001 to 100000 mh"],
    ),
    "not finite": ("[conditions]\nwinding_temperature_degc = nan", ["not a finite number"]),
    "over range": (
        (
            "[[insulation_resistance]]\ntest_voltage_v = 500\ntime_s = [60]\n"
            'resistance_megaohm = ["> 2000"]'
        ),
        ['"> 2000"', "a bound and no number", "say so in the remark"],
    ),
    "several": ("[conditions]\nwinding_temperature_degc = [20, 21]", ["one value, not several"]),
    "lengths": (
        "[[position]]\nfrequency_hz = 50\nshaft_angle_deg = [0, 15, 30]\nab_inductance_mh = [1, 1]",
        ["3 of shaft_angle_deg, 2 of ab_inductance_mh", 'Write ""'],
    ),
    "gap": (
        (
            "[[position]]\nfrequency_hz = 50\nshaft_angle_deg = [0, 15, 30]\n"
            'ab_inductance_mh = [1, 1, 1]\nab_resistance_ohm = [1, "", 1]'
        ),
        ["ab_resistance_ohm: is blank in value 2 where ab_inductance_mh is not"],
    ),
    "reading without angle": (
        "[[position]]\nfrequency_hz = 50\nab_inductance_mh = [1, 1, 1]",
        ["shaft_angle_deg: is blank in values 1, 2, 3"],
    ),
    "no frequency": (
        "[[position]]\nshaft_angle_deg = [0]\nab_inductance_mh = [1]",
        ["frequency_hz: is missing beside the readings"],
    ),
    "half a quotient": (
        "[[position]]\nfrequency_hz = 50\nshaft_angle_deg = [0]\nab_voltage_v = [9]",
        ["ab_current_a: is missing beside ab_voltage_v"],
    ),
    "stated twice": (
        (
            "[[position]]\nfrequency_hz = 50\nshaft_angle_deg = [0]\nab_voltage_v = [9]\n"
            "ab_current_a = [1]\nab_impedance_ohm = [9]"
        ),
        ["ab_impedance_ohm: is stated twice"],
    ),
    "times backwards": (
        (
            "[[insulation_resistance]]\ntest_voltage_v = 500\ntime_s = [60, 30]\n"
            "resistance_megaohm = [5, 6]"
        ),
        ["value 2, time_s", "not larger than the value before"],
    ),
    "swapped columns": (
        (
            "[[step_voltage]]\nvoltage_kv = [0.001, 0.002]\ncurrent_ua = [1000, 2000]\n"
            "[[dissipation]]\nvoltage_v = [0.5, 0.6]\ndissipation_factor_percent = [2000, 4000]"
        ),
        ["voltage_v", "is this the column of voltage?", "Per cent or per unit?"],
    ),
    "same twice": (
        '[winding_resistance]\nab_resistance_ohm = 1\n"AB Resistance ohm" = 1',
        ["says the same as ab_resistance_ohm"],
    ),
    "second table": ("[[conditions]]\n[[conditions]]", ["there is a second [conditions]"]),
    "one waveform": (
        "[turn_test]\ntime_us = [0, 1]\nab_voltage_v = [0, 1]",
        ["ab_voltage_v: stands alone"],
    ),
    "uneven waveform": (
        "[turn_test]\ntime_us = [0, 1, 3]\nab_voltage_v = [0, 1, 2]\nbc_voltage_v = [0, 1, 2]",
        ["value 2, time_us", "equal steps"],
    ),
    "time of day": ("[conditions]\nwinding_temperature_degc = 07:30:00", ["the time of day"]),
    "a table for a value": ("[conditions]\nwinding_temperature_degc = {c = 1}", ["single value"]),
    "too long": ('[[step_voltage]]\ntested = "' + "x" * 2001 + '"', ["longer than 2000"]),
    "yes or no": ('[conditions]\nrotor_demagnetised = "maybe"', ["Write yes or no"]),
}


@pytest.mark.parametrize("name", BAD_TOML)
def test_a_slip_is_named_with_its_remedy(tmp_path: Path, name: str) -> None:
    body, said = BAD_TOML[name]
    with pytest.raises(SheetError) as caught:
        toml(tmp_path, body)
    message = str(caught.value)
    assert message.startswith(str(tmp_path / "sheet.toml"))
    for part in said:
        assert part in message


POSITION = "[position]\nfrequency_hz;50\nshaft_angle_deg;ab_inductance_mh\n"
BAD_CSV = {
    "thousands": (
        "[insulation_resistance]\ntest_voltage_v;500\ntime_s;resistance_megaohm\n60;1,234\n",
        ["line 8, resistance_megaohm", "two ways", "Write 1234 or 1.2340"],
    ),
    "thousands beside decimal commas": (
        POSITION + "0;12,5\n15;1.234\n",
        ["line 9, ab_inductance_mh", "two ways"],
    ),
    "grouped": (POSITION + "0;1 234 567\n", ["without separators between thousands"]),
    "unit in the cell": (POSITION + "0;12.3 mH\n", ["Write 12.3 alone", "in the heading"]),
    "overload": (POSITION + "0;OL\n", ['"OL"', "a bound and no number"]),
    "not applicable": (POSITION + "0;n/a\n", ["Clear the cell if nothing was measured"]),
    "a date made of 7.5": (POSITION + "0;07. May\n", ["not a number"]),
    "spreadsheet error": (POSITION + "0;#DIV/0!\n", ["#DIV/0!"]),
    "spreadsheet error in the first cell": (POSITION + "#REF!;12\n", ["#REF!", "shaft_angle_deg"]),
    "a cell too many": (POSITION + "0;12;3\n", ['"3" stands beyond the last cell']),
    "no heading": (
        "[position]\nfrequency_hz;50\nshaft_angle_deg;;ab_inductance_mh\n0;1;12\n",
        ['"1" stands below no heading'],
    ),
    "second headings": (
        POSITION + "0;12\nshaft_angle_deg;bc_inductance_mh\n",
        ["second row of headings", "[position]"],
    ),
    "no table": ("[positions]\n0;1\n", ["Did you mean [position]?"]),
    "unknown row": ("[conditions]\nweather;12\n", ["line 6, weather", "not a known heading"]),
    "many bad cells": (
        POSITION + "".join(f"{k};bad\n" for k in range(30)),
        ["line 10, ab_inductance_mh", "27 more of its cells are at fault"],
    ),
}


@pytest.mark.parametrize("name", BAD_CSV)
def test_a_slip_in_cells_is_named_with_its_line(tmp_path: Path, name: str) -> None:
    body, said = BAD_CSV[name]
    with pytest.raises(SheetError) as caught:
        csv(tmp_path, body)
    for part in said:
        assert part in str(caught.value)


def test_all_faults_are_in_one_message(tmp_path: Path) -> None:
    text = (
        "cagewise test sheet;1\nmotor;\nmeasured_on;3/4/2031\nmeasured_at;panel\n"
        "[winding_resistance]\nab_resistance_mohm;3\nbc_resistance_ohm;1e9\n"
        "[position]\nshaft_angle_deg;ab_inductance_mh\n0;OL\n15;12\n"
    )
    with pytest.raises(SheetError) as caught:
        read(tmp_path, text, "csv")
    message = str(caught.value)
    assert "7 faults:" in message
    for part in ("motor: is missing", "2031-03-04 or 2031-04-03", '"switchboard"', "milli or mega",
                 "1e+9 is out", '"OL"', "frequency_hz: is missing"):  # fmt: skip
        assert part in message


@pytest.mark.parametrize(
    ("written", "day"),
    [("2031-05-17", 17), ("17.05.2031", 17), ("5/17/2031", 17), ("05.05.2031", 5)],
)
def test_a_date_is_taken_where_it_can_be_only_one(tmp_path: Path, written: str, day: int) -> None:
    sheet = read(tmp_path, HEAD_CSV.replace("2031-05-17", written), "csv")
    assert (sheet.measured_on.year, sheet.measured_on.month, sheet.measured_on.day) == (
        2031,
        5,
        day,
    )


@pytest.mark.parametrize(
    ("written", "part"),
    [
        ("03/04/2031", "2031-03-04 or 2031-04-03"),
        ("17.05.31", "not a date"),
        ("17 May", "not a date"),
        ("2031-02-30", "not a date"),
        ("31/31/2031", "no day"),
        ("2131-05-17", "1950 to 2099"),
        ("0031-05-17", "1950 to 2099"),
    ],
)
def test_any_other_date_is_refused(tmp_path: Path, written: str, part: str) -> None:
    with pytest.raises(SheetError, match=part):
        read(tmp_path, HEAD_CSV.replace("2031-05-17", written), "csv")


def test_keys_under_no_table_and_other_encodings(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="motor: stands under no table"):
        read(tmp_path, 'motor = "P-07"\n', "toml")
    path = tmp_path / "sheet.toml"
    path.write_bytes(HEAD_TOML.encode() + b'remark = "\xfc"\n')
    with pytest.raises(SheetError, match="not UTF-8"):
        read_test_sheet(path)
    path = tmp_path / "sheet.csv"
    path.write_bytes((HEAD_CSV + "remark;gepr\u00fcft\n").encode("latin-1"))
    assert read_test_sheet(path).remark == "gepr\u00fcft"
    path.write_bytes((HEAD_CSV + "remark;gepr\u00fcft\n").encode("utf-16"))
    assert read_test_sheet(path).remark == "gepr\u00fcft"


def test_a_page_of_faults_is_cut(tmp_path: Path) -> None:
    body = "".join(f"[winding_resistance]\nx{k};1\n" for k in range(60))
    with pytest.raises(SheetError, match="and 79 more"):
        csv(tmp_path, body)


def test_a_newer_form_is_refused_before_anything_else(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="format 2; this version reads up to 1") as caught:
        read(tmp_path, '[sheet]\nformat = 2\n[new_test]\nx = "y"\n', "toml")
    assert "Update cagewise" in str(caught.value)
    with pytest.raises(SheetError, match="format 3"):
        read(tmp_path, HEAD_CSV.replace(";1", ";3", 1), "csv")
    with pytest.raises(SheetError, match="format: is 0"):
        read(tmp_path, HEAD_TOML.replace("= 1", "= 0"), "toml")
    with pytest.raises(SheetError, match="format: is missing"):
        read(tmp_path, HEAD_TOML.replace("format = 1", ""), "toml")


@pytest.mark.parametrize("separator", [";", ",", "\t"])
def test_separators(tmp_path: Path, separator: str) -> None:
    text = (HEAD_CSV + POSITION + "0;12.5\n\n15;\n30;12.25\n").replace(";", separator)
    (series,) = read(tmp_path, text, "csv").positions
    assert series.inductance_h is not None
    assert series.inductance_h.tolist() == [0.0125, 0.01225]


def test_decimal_commas_between_commas_are_noticed(tmp_path: Path) -> None:
    text = (HEAD_CSV + POSITION).replace(";", ",") + "0,12,5\n"
    with pytest.raises(SheetError, match="Was it a decimal comma"):
        read(tmp_path, text, "csv")


def test_decimal_commas_in_quotes_are_read(tmp_path: Path) -> None:
    text = (HEAD_CSV + POSITION).replace(";", ",") + '0,"12,5"\n15,"1,125"\n'
    (series,) = read(tmp_path, text, "csv").positions
    assert series.inductance_h is not None
    assert series.inductance_h.tolist() == [0.0125, 0.001125]


def test_a_comma_in_a_text_says_nothing_about_numbers(tmp_path: Path) -> None:
    text = HEAD_CSV.replace("P-07", "1,5") + POSITION + "0;1.234\n"
    (series,) = read(tmp_path, text, "csv").positions
    assert series.inductance_h is not None
    assert series.inductance_h.tolist() == [0.001234]


def test_units_are_exact_decimals(tmp_path: Path) -> None:
    sheet = toml(
        tmp_path,
        "[conditions]\nwinding_temperature_degf = 77\nrelative_humidity_percent = 45.3\n"
        "[winding_resistance]\nab_resistance_milliohm = 12.3\nca_resistance_milliohm = 12.5\n"
        "[[insulation_resistance]]\ntest_voltage_kv = 2.5\ntime_min = [0.5, 1, 10]\n"
        "resistance_gigaohm = [1.1, 2.2, 3.3]\n",
    )
    assert sheet.winding_temperature_degc == 25.0
    assert sheet.relative_humidity == 0.453
    assert sheet.resistance is not None
    assert dict(sheet.resistance.line_resistance_ohm) == {
        TerminalPair.AB: 0.0123,
        TerminalPair.CA: 0.0125,
    }
    (test,) = sheet.insulation
    assert (test.test_voltage_v, test.tested) == (2500.0, "winding to earth")
    assert test.time_s.tolist() == [30.0, 60.0, 600.0]
    assert test.resistance_ohm.tolist() == [1.1e9, 2.2e9, 3.3e9]


def test_voltage_and_current_are_an_impedance(tmp_path: Path) -> None:
    sheet = csv(
        tmp_path,
        "[position]\nfrequency_hz;50\ntest_current_ma;500\n"
        "shaft_angle_deg;ab_voltage_v;ab_current_ma;# read by;bc_voltage_v;bc_current_ma\n"
        "0;5;500;me;6;500\n15;5.5;500;you;;\n",
    )
    one, other = sheet.positions
    assert one.impedance_ohm is not None
    assert other.impedance_ohm is not None
    assert one.impedance_ohm.tolist() == [10.0, 11.0]
    assert other.impedance_ohm.tolist() == [12.0]
    assert (other.shaft_angle_rad.size, other.test_current_rms_a) == (1, 0.5)
    assert one.inductance_h is None


def test_waveforms_beside_the_sheet(tmp_path: Path) -> None:
    (tmp_path / "turns.csv").write_text("time_us,ab_voltage_v,bc_voltage_v\n0,0,0\n0.1,9,8.5\n")
    sheet = toml(tmp_path, '[turn_test]\npeak_voltage_kv = 2\nwaveforms = "turns.csv"\n')
    assert sheet.turns is not None
    assert sheet.turns.time_s.tolist() == [0.0, 1e-7]
    assert sheet.turns.voltage_v[TerminalPair.BC].tolist() == [0.0, 8.5]
    before = sheet.provenance.sha256
    (tmp_path / "turns.csv").write_text("time_us,ab_voltage_v,bc_voltage_v\n0,0,0\n0.1,9,8.6\n")
    assert read_test_sheet(tmp_path / "sheet.toml").provenance.sha256 != before


@pytest.mark.parametrize(
    ("content", "part"),
    [
        ("time_us,ab_voltage_v,bc_voltage_v\n0,0,0\n1,x,0\n", "turns.csv), line 3, ab_voltage_v"),
        ("motor,P-07\n", "turns.csv"),
        ("[conditions]\n", "no file of waveforms"),
        ("", "is empty"),
    ],
)
def test_waveforms_that_cannot_be_used(tmp_path: Path, content: str, part: str) -> None:
    (tmp_path / "turns.csv").write_text(content)
    with pytest.raises(SheetError) as caught:
        toml(tmp_path, '[turn_test]\nwaveforms = "turns.csv"\n')
    assert part in str(caught.value)


def test_waveforms_stay_in_their_folder_unless_allowed(tmp_path: Path) -> None:
    inside = tmp_path / "visit"
    inside.mkdir()
    (tmp_path / "turns.csv").write_text("time_us,ab_voltage_v,bc_voltage_v\n0,0,0\n1,9,8\n")
    (inside / "link.csv").symlink_to(tmp_path / "turns.csv")
    for name in ("../turns.csv", str(tmp_path / "turns.csv"), "link.csv"):
        with pytest.raises(SheetError, match="outside the folder"):
            toml(inside, f'[turn_test]\nwaveforms = "{name}"\n')
        assert read_test_sheet(inside / "sheet.toml", waveforms_anywhere=True).turns is not None
    with pytest.raises(SheetError, match="cannot be read"):
        toml(inside, '[turn_test]\nwaveforms = "none.csv"\n')


def test_a_missing_pair_and_an_empty_sheet_are_no_fault(tmp_path: Path) -> None:
    sheet = toml(tmp_path, "[winding_resistance]\nab_resistance_ohm = 1\n[[position]]\n")
    assert sheet.resistance is not None
    assert list(sheet.resistance.line_resistance_ohm) == [TerminalPair.AB]
    assert sheet.positions == ()
    assert sheet.place is Place.TERMINALS


def test_what_is_a_sheet(tmp_path: Path) -> None:
    cases = {
        "a.toml": (HEAD_TOML, True),
        "b.toml": ("[motor]\npoles = 4\n", False),
        "c.csv": (HEAD_CSV, True),
        "d.csv": ("time,i_a\n0,1\n", False),
        "e.csv": ('sep=;\n"cagewise test sheet";1\n', True),
        "f.txt": ("Cagewise Test Sheet\t1\n", True),
        "g.csv": ("cagewise test sheets;1\n", False),
        "h.xlsx": ("not a workbook", False),
        "i.csv": ("", False),
    }
    for name, (text, expected) in cases.items():
        (tmp_path / name).write_text(text)
        assert is_test_sheet(tmp_path / name) is expected, name
    assert not is_test_sheet(tmp_path / "absent.toml")
    assert not is_test_sheet(tmp_path)
    assert not is_test_sheet(tmp_path / "\0.csv")


@pytest.mark.parametrize("name", ["sheet.ods", "sheet"])
def test_other_endings(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text(HEAD_CSV)
    assert read_test_sheet(path).motor_tag == "P-07"
    path.write_text("hello")
    with pytest.raises(SheetError, match="not a test sheet in a known form"):
        read_test_sheet(path)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="cannot be read"):
        read_test_sheet(tmp_path / "absent.csv")
    with pytest.raises(SheetError, match="folder"):
        read_test_sheet(tmp_path)
    path = tmp_path / "sheet.csv"
    path.write_bytes(b" \n")
    with pytest.raises(SheetError, match="is empty"):
        read_test_sheet(path)
    path.write_bytes(b"0" * 32_000_001)
    with pytest.raises(SheetError, match="32 MB"):
        read_test_sheet(path)
    path.write_text("time,i_a\n0,1\n")
    with pytest.raises(SheetError, match="first cell is not"):
        read_test_sheet(path)
    path.write_text(HEAD_CSV + '[sheet]\nremark;"no end\n' + "x;" * 600_000)
    with pytest.raises(SheetError, match="lost quote"):
        read_test_sheet(path)


FRAGMENTS = st.sampled_from(
    [
        "[sheet]", "[[position]]", "[position]", "[turn_test]", "[truth]", "[conditions]", "\n",
        ";", ",", "=", '"', "#", "# ", "format", "motor", "1", "-1e999", "0.5", "1,234", "nan",
        "ab_inductance_mh", "shaft_angle_deg", "time_s", "resistance_mohm", "waveforms", "..",
        "[1, 2]", "{}", "2031-05-17", "cagewise test sheet;1\n", "\0", "\N{MINUS SIGN}3", "> 5",
        "ab_voltage_v", "ab_current_a", "frequency_hz", "[[insulation_resistance]]", "10000000000",
    ]
)  # fmt: skip
TEXT = st.lists(FRAGMENTS | st.text(max_size=5), max_size=40).map("".join)
FUZZ = settings(
    deadline=None,
    max_examples=150,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.mark.parametrize("form", ["toml", "csv", "xlsx", "txt"])
@given(
    content=st.binary(max_size=200)
    | TEXT.map(lambda t: t.encode("utf-8", "replace"))
    | TEXT.map(lambda t: (HEAD_TOML + t).encode("utf-8", "replace"))
    | TEXT.map(lambda t: (HEAD_CSV + t).encode("utf-8", "replace"))
)
@FUZZ
def test_whatever_stands_in_a_file_is_read_or_refused(
    tmp_path: Path, form: str, content: bytes
) -> None:
    path = tmp_path / f"sheet.{form}"
    path.write_bytes(content)
    is_test_sheet(path)
    try:
        read_test_sheet(path)
    except (SheetError, MissingExtraError) as error:
        assert str(error)  # noqa: PT017 - either outcome is right, anything else is a fault
