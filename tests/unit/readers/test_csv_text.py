"""Text tables as instruments and spreadsheets in several countries write them."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.errors import RecordingError
from cagewise.measurement import Recording
from cagewise.readers import ReadOptions, read_recording
from cagewise.readers.csv_text.preamble import stated_rate

VALUES = ((0.0, 1.5, -2.25), (0.001, 2.5, -1.25), (0.002, 3.5, -0.25), (0.003, 4.5, 0.75))
"""Time, current, voltage: 1 kHz."""

PLAIN = (
    "time [s],IL1 [A],U12 [V]\n0.000,1.5,-2.25\n0.001,2.5,-1.25\n0.002,3.5,-0.25\n0.003,4.5,0.75\n"
)

VARIANTS = {
    "plain": PLAIN,
    "semicolon": PLAIN.replace(",", ";"),
    "decimal comma": PLAIN.replace(",", ";").replace(".", ","),
    "tab": PLAIN.replace(",", "\t"),
    "tab and decimal comma": PLAIN.replace(",", "\t").replace(".", ","),
    "bar": PLAIN.replace(",", "|"),
    "quoted decimal comma": 'time [s],IL1 [A],U12 [V]\n"0,000","1,5","-2,25"\n'
    '"0,001","2,5","-1,25"\n"0,002","3,5","-0,25"\n"0,003","4,5","0,75"\n',
    "blanks": PLAIN.replace(" [", "_[").replace(",", "   ").replace("\n", "  \n  ").rstrip(" "),
    "blank after comma": PLAIN.replace(",", ", "),
    "line ends": PLAIN.replace("\n", "\r\n"),
    "old line ends": PLAIN.replace("\n", "\r"),
    "no last line end": PLAIN.rstrip(),
    "byte order mark": "\ufeff" + PLAIN,
    "trailing separators": PLAIN.replace("\n", ",\n"),
    "trailing separators only below": PLAIN.replace("\n", ",\n").replace("[V],", "[V]"),
    "round brackets": PLAIN.replace("[", "(").replace("]", ")"),
    "slashes": PLAIN.replace(" [s]", "/s").replace(" [A]", "/A").replace(" [V]", "/V"),
    "spoken units": PLAIN.replace("[", "in ").replace("]", ""),
    "units row": "Zeit,IL1,U12\ns,A,V\n" + PLAIN.split("\n", 1)[1],
    "bracketed units row": "temps,IL1,U12\n[s],[A],[V]\n\n" + PLAIN.split("\n", 1)[1],
    "commented header": "# a remark\n# " + PLAIN,
    "milliseconds": "t [ms],IL1 [A],U12 [V]\n0,1.5,-2.25\n1,2.5,-1.25\n2,3.5,-0.25\n3,4.5,0.75\n",
    "milliamperes": "t [s],IL1 [mA],U12 [kV]\n0,1500,-0.00225\n0.001,2500,-0.00125\n"
    "0.002,3500,-0.00025\n0.003,4500,0.00075\n",
    "preamble": "Recorder X;serial 12;;\nOperator: none\n\n\nSettings;1;2\n"
    + PLAIN.replace(",", ";"),
    "sample numbers": "no,time [s],IL1 [A],U12 [V]\n1,0.000,1.5,-2.25\n2,0.001,2.5,-1.25\n"
    "3,0.002,3.5,-0.25\n4,0.003,4.5,0.75\n",
    "plus signs": PLAIN.replace(",1.5", ",+1.5").replace(",0.75", ",+0.75"),
    "exponents": PLAIN.replace("1.5", "1.5E+00").replace("0.003", "3e-3"),
    "rate in the preamble": "Sampling rate: 1 kHz\nIL1 [A],U12 [V]\n1.5,-2.25\n2.5,-1.25\n"
    "3.5,-0.25\n4.5,0.75\n",
    "date and time": "stamp,IL1 [A],U12 [V]\n2026-03-01 08:00:00.000,1.5,-2.25\n"
    "2026-03-01 08:00:00.001,2.5,-1.25\n2026-03-01T08:00:00.002,3.5,-0.25\n"
    "2026-03-01 08:00:00.003,4.5,0.75\n",
    "day first": "Zeit;IL1 [A];U12 [V]\n1.3.2026 8:00:00,000;1,5;-2,25\n"
    "1.3.2026 8:00:00,001;2,5;-1,25\n1.3.2026 8:00:00,002;3,5;-0,25\n"
    "1.3.2026 8:00:00,003;4,5;0,75\n",
    "date column and time column": "Date,Time,IL1 [A],U12 [V]\n01/03/2026,08:00:00.000,1.5,-2.25\n"
    "01/03/2026,08:00:00.001,2.5,-1.25\n01/03/2026,08:00:00.002,3.5,-0.25\n"
    "01/03/2026,08:00:00.003,4.5,0.75\n",
    "over midnight": "t,IL1 [A],U12 [V]\n23:59:59.998,1.5,-2.25\n23:59:59.999,2.5,-1.25\n"
    "00:00:00.000,3.5,-0.25\n00:00:00.001,4.5,0.75\n",
    "remark column": "time [s],IL1 [A],remark,U12 [V]\n0.000,1.5,,-2.25\n0.001,2.5,NaN,-1.25\n"
    "0.002,3.5,,-0.25\n0.003,4.5,,0.75\n".replace(",NaN,", ",,"),
    "remark after the numbers": PLAIN + "end of record\n",
}


def read_text(folder: Path, text: str | bytes, options: ReadOptions | None = None) -> Recording:
    path = folder / "record.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_recording(path, options=options)


def named(recording: Recording, name: str) -> np.ndarray:
    return next(c.samples for c in recording.channels if c.name == name)


@pytest.mark.parametrize("variant", VARIANTS)
def test_all_variants_give_the_same_recording(tmp_path: Path, variant: str) -> None:
    recording = read_text(tmp_path, VARIANTS[variant])
    expected = np.array(VALUES)
    assert recording.sampling_rate_hz == 1000.0
    assert recording.sample_times_s is None
    assert {role.value for role in recording.roles} - {"other"} == {"i_a", "v_ab"}
    np.testing.assert_allclose(named(recording, "IL1"), expected[:, 1], rtol=1e-15)
    np.testing.assert_allclose(named(recording, "U12"), expected[:, 2], rtol=1e-15)
    assert {c.unit for c in recording.channels if c.role.value != "other"} == {"A", "V"}


@pytest.mark.parametrize("encoding", ["utf-8", "latin-1", "utf-16", "utf-16-le", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    text = PLAIN.replace("IL1", "Stromstärke L1")
    if encoding == "utf-16-le":
        text = "\ufeff" + text
    recording = read_text(tmp_path, text.encode(encoding))
    assert recording.channels[0].name == "Stromstärke L1"
    np.testing.assert_array_equal(recording.channels[0].samples, [1.5, 2.5, 3.5, 4.5])


def test_dates_give_the_start_time(tmp_path: Path) -> None:
    recording = read_text(tmp_path, VARIANTS["day first"])
    assert recording.start_time == datetime(2026, 3, 1, 8)  # noqa: DTZ001 - files have no zone
    american = "t,IL1\n03/14/2026 08:00:00,1\n03/14/2026 08:00:01,2\n"
    assert read_text(tmp_path, american).start_time == datetime(2026, 3, 14, 8)  # noqa: DTZ001


def test_counts_stay_integers_and_constant_zero_columns_stay_channels(tmp_path: Path) -> None:
    recording = read_text(
        tmp_path, "426,0,0\n423,0,0\n421,0,0\n", ReadOptions(sampling_rate_hz=10000.0)
    )
    assert recording.channels[0].raw.dtype.kind == "i"
    assert [c.role.value for c in recording.channels] == ["unassigned", "other", "other"]
    assert [c.name for c in recording.channels] == ["column 1", "column 2", "column 3"]
    assert any("nothing but zero" in note for note in recording.provenance.notes)


def test_missing_cells_are_kept_as_nan(tmp_path: Path) -> None:
    recording = read_text(tmp_path, "t,IL1\n0,1\n1,\n2,NaN\n3,---\n4,1.#QNAN\n5,6\n")
    np.testing.assert_array_equal(
        recording.channels[0].samples, [1.0, np.nan, np.nan, np.nan, np.nan, 6.0]
    )


def test_times_that_are_not_uniform_are_kept(tmp_path: Path) -> None:
    times = [0.0, 0.001, 0.002, 0.013, 0.014, 0.015]
    text = "t [s],IL1\n" + "".join(f"{t},{k}\n" for k, t in enumerate(times))
    recording = read_text(tmp_path, text)
    assert recording.sample_times_s is not None
    np.testing.assert_allclose(recording.sample_times_s, times, atol=1e-15)
    assert recording.sampling_rate_hz == pytest.approx(1000.0)
    assert any("not uniform" in note for note in recording.provenance.notes)


def test_times_rounded_in_print_are_uniform(tmp_path: Path) -> None:
    """1200 Hz printed to microseconds: no step is 1/1200 s, all fit within the last digit."""
    text = "t [s],IL1\n" + "".join(f"{k / 1200.0:.6f},{k % 7}\n" for k in range(600))
    recording = read_text(tmp_path, text)
    assert recording.sample_times_s is None
    assert recording.sampling_rate_hz == 1200.0


def test_times_coarser_than_the_sampling_are_uniform_with_a_note(tmp_path: Path) -> None:
    text = "t [s],IL1\n" + "".join(
        f"{np.floor(k / 10.0) / 1000.0:.3f},{k % 7}\n" for k in range(5001)
    )
    recording = read_text(tmp_path, text)
    assert recording.sampling_rate_hz == 10000.0
    assert any("stated to 0.001 s" in note for note in recording.provenance.notes)


def test_one_missing_sample_is_not_taken_for_rounding(tmp_path: Path) -> None:
    """10 kHz printed to 0.1 ms: the last digit is as coarse as the sampling."""
    rows = [f"{k / 10000.0:.4f},{k % 7}\n" for k in range(1001) if k != 400]
    recording = read_text(tmp_path, "t [s],IL1\n" + "".join(rows))
    assert recording.sampling_rate_hz == pytest.approx(10000.0)
    assert recording.sample_times_s is not None
    assert any("1 of 999 steps" in note for note in recording.provenance.notes)


def test_elapsed_time_beside_a_coarse_clock(tmp_path: Path) -> None:
    rows = [f"2026-03-01 08:00:{k // 100:02d},{k / 100:.2f},{k % 7}\n" for k in range(300)]
    recording = read_text(tmp_path, "clock,t [s],IL1\n" + "".join(rows))
    assert (recording.sampling_rate_hz, recording.sample_times_s) == (100.0, None)
    assert recording.start_time == datetime(2026, 3, 1, 8)  # noqa: DTZ001 - files have no zone
    assert [c.name for c in recording.channels] == ["IL1"]


def test_a_stated_rate_wins_over_the_time_column(tmp_path: Path) -> None:
    recording = read_text(tmp_path, PLAIN, ReadOptions(sampling_rate_hz=500.0))
    assert (recording.sampling_rate_hz, recording.n_samples) == (500.0, 4)
    assert any("time column is not used" in note for note in recording.provenance.notes)


def test_a_long_preamble_is_searched(tmp_path: Path) -> None:
    preamble = "".join(f"event {k}: nothing to report today\n" for k in range(5000))
    recording = read_text(tmp_path, preamble + PLAIN)
    assert recording.n_samples == 4
    assert [c.name for c in recording.channels] == ["IL1", "U12"]


def test_phases_in_brackets_are_not_units(tmp_path: Path) -> None:
    text = "time (s),Current (A),Current (B),Current (C)\n0,1,2,3\n1,4,5,6\n"
    recording = read_text(tmp_path, text)
    assert [c.role.value for c in recording.channels] == ["i_a", "i_b", "i_c"]


def test_headings_that_repeat_are_numbered(tmp_path: Path) -> None:
    recording = read_text(tmp_path, "t,I,I\n0,1,2\n1,3,4\n")
    assert [c.name for c in recording.channels] == ["I", "I #2"]


def test_first_column_without_heading(tmp_path: Path) -> None:
    rows = [(k, (k * 7) % 5) for k in range(1, 21)]
    text = "".join(f"{k},{value}\n" for k, value in rows)
    counted = read_text(tmp_path, text, ReadOptions(sampling_rate_hz=50.0))
    assert [c.name for c in counted.channels] == ["column 2"]
    timed = read_text(tmp_path, "".join(f"{k / 50},{value}\n" for k, value in rows))
    assert timed.sampling_rate_hz == 50.0
    assert [c.name for c in timed.channels] == ["column 2"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("no numbers here\nnone at all\n", "no table of numbers"),
        ("1,2\n3,5\n", "no sampling rate"),
        ("t,IL1\n0,1\n", "one sample"),
        ("t,IL1\n0,\n1,\n2,\n", "missing"),
        ("t,IL1\n0,0\n1,0\n2,0\n", "zero"),
        ("t,IL1\n0,1\n1,2\n2,3,4\n3,4\n4,5\n", "line 4 does not have 2 columns"),
        ("t,IL1\n0,1\n1,2\n2,oops\n3,4\n", "'oops'"),
        ("t,IL1\n5,1\n4,2\n3,3\n", "do not increase"),
    ],
)
def test_what_cannot_be_read_is_said(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(RecordingError, match=message) as caught:
        read_text(tmp_path, text)
    assert caught.value.where
    assert caught.value.remedy


def test_a_last_line_cut_short_is_left_out(tmp_path: Path) -> None:
    recording = read_text(tmp_path, "t,IL1,IL2\n0,1,2\n1,2,3\n2,3,4\n3,")
    assert recording.n_samples == 3
    assert any("left out" in note for note in recording.provenance.notes)


@pytest.mark.parametrize(
    ("line", "rate"),
    [
        ("Sampling rate: 10000 Hz", 10000.0),
        ("Sample Rate;12.8 kHz", 12800.0),
        ("Sampling Frequency (kHz),25.6", 25600.0),
        ("Abtastrate = 5000", 5000.0),
        ("Abtastintervall [ms];0,1", 10000.0),
        ("Sample Interval,1.00E-04,s", 10000.0),
        ("fs=2000", 2000.0),
        ("Fréquence d'échantillonnage : 4000 Hz", 4000.0),
        ("frecuencia de muestreo 4000", 4000.0),
        ("dt: 0.0005 s", 2000.0),
        ("sample count 5000", None),
        ("sampling rate: 0", None),
    ],
)
def test_rates_in_words(line: str, rate: float | None) -> None:
    found = stated_rate(["recorder", line])
    if rate is None:
        assert found is None
    else:
        assert found is not None
        assert found[0] == pytest.approx(rate, rel=1e-12)


def test_rates_that_disagree_are_not_used() -> None:
    assert stated_rate(["sampling rate 1000 Hz", "sampling rate 2000 Hz"]) is None


@given(
    separator=st.sampled_from([",", ";", "\t"]),
    comma=st.booleans(),
    rows=st.lists(st.tuples(*[st.floats(-1e6, 1e6, allow_nan=False)] * 3), min_size=3, max_size=30),
    remarks=st.lists(
        st.text(st.characters(codec="ascii", categories=["L"]), max_size=30), max_size=5
    ),
)
def test_any_numbers_in_any_dialect(
    tmp_path_factory: pytest.TempPathFactory,
    separator: str,
    comma: bool,  # noqa: FBT001 - drawn by hypothesis
    rows: list[tuple[float, float, float]],
    remarks: list[str],
) -> None:
    """Whatever the dialect, the numbers come back bit for bit."""
    if comma and separator == ",":
        separator = ";"
    body = "".join(separator.join(map(repr, row)) + "\n" for row in rows)
    text = "\n".join([*remarks, separator.join(["ia", "ib", "ic"]), ""])
    text += body.replace(".", ",") if comma else body
    if not any(any(row) for row in rows):
        return
    recording = read_text(
        tmp_path_factory.mktemp("any"), text, ReadOptions(sampling_rate_hz=1000.0)
    )
    np.testing.assert_array_equal(
        np.array([c.samples for c in recording.channels]).T, np.array(rows, dtype=float)
    )
