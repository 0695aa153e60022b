"""Recordings nobody on the project made: each is read, or refused for the right reason."""

from __future__ import annotations

from pathlib import Path

import comtrade
import numpy as np
import pytest
import scipy.io
import soundfile
from nptdms import TdmsFile

from cagewise.errors import CagewiseError, RecordingError
from cagewise.measurement import Recording
from cagewise.readers import ReadOptions, read_recording

ENDINGS = {".cfg", ".cff", ".dat", ".hdr", ".inf", ".csv", ".mat", ".tdms", ".wav"}


def first(folder: Path, pattern: str) -> Path:
    """Return the file that a pattern means; a pattern that means nothing is a mistake here."""
    return min(folder.glob(pattern))


def read_or_error(path: Path) -> Recording | CagewiseError:
    """Return the recording, or the error of ours that reading it raised."""
    try:
        return read_recording(path, options=ReadOptions(sampling_rate_hz=1000.0))
    except CagewiseError as error:
        return error


def test_every_file_is_read_or_refused(open_data: Path) -> None:
    files = [p for p in sorted(open_data.rglob("*")) if p.suffix.casefold() in ENDINGS]
    assert len(files) > 80
    n_read = 0
    for path in files:
        outcome = read_or_error(path)
        if isinstance(outcome, CagewiseError):
            assert outcome.where
            assert outcome.remedy
        else:
            n_read += 1
            assert outcome.n_samples > 1
    assert n_read > 60


@pytest.mark.parametrize(
    ("pattern", "message"),
    [
        ("comtrade/zhangsonggui*/tests/data/ascii_1999.cfg", r"ascii_1999\.dat is missing"),
        ("comtrade/zhangsonggui*/tests/data/binary_inf.inf", r"binary_inf\.dat is missing"),
        ("comtrade/zhangsonggui*/tests/data/*.cff", "states 45600 samples, the data hold 186"),
        ("comtrade/dparrini*/tests/*/sample_ascii_missing.dat", "cfg that describes it is missing"),
        ("itsc-stator-fault/RAW_Signals/SC_HLT_001.csv", "no sampling rate"),
        ("itsc-stator-fault/labels.csv", "no table of numbers"),
        ("mat-samples/v4.mat", "no vector of numbers"),
        ("mat-samples/mat7.3/tests/testfile1.mat", "more than one set"),
    ],
)
def test_refused_for_the_right_reason(open_data: Path, pattern: str, message: str) -> None:
    with pytest.raises(RecordingError, match=message):
        read_recording(first(open_data, pattern))


@pytest.mark.parametrize(
    "pattern",
    [
        "dparrini*/tests/sample_files/sample_ascii.cfg",
        "dparrini*/tests/sample_files/sample_ascii.cff",
        "dparrini*/tests/sample_files/sample_bin.cfg",
        "dparrini*/tests/sample_files/sample_float32.cff",
        "gabrieldelaparra*/*/Resources/Comtrade1.cfg",
        "yonwoo9*/testdata/test1.cfg",
        "ijlyttle*/inst/extdata/keating_1999.CFG",
    ],
)
def test_comtrade_as_another_reader_reads_it(open_data: Path, pattern: str) -> None:
    path = first(open_data / "comtrade", pattern)
    oracle = comtrade.Comtrade(ignore_warnings=True, use_double_precision=True)
    oracle.load(str(path))
    recording = read_recording(path)
    assert recording.n_samples == oracle.total_samples
    for channel, cfg, values in zip(
        recording.channels, oracle.cfg.analog_channels, oracle.analog, strict=True
    ):
        expected = np.array(values) * {"kV": 1000.0}.get(cfg.uu, 1.0)
        # one rounding of a product, and a sum that may cancel
        scale = float(np.abs(expected).max()) or 1.0
        np.testing.assert_allclose(channel.samples, expected, rtol=0.0, atol=1e-13 * scale)


def comtrade_of(open_data: Path, pattern: str) -> Recording:
    return read_recording(first(open_data / "comtrade", pattern))


def test_comtrade_code_pages_and_dates(open_data: Path) -> None:
    russian = comtrade_of(open_data, "Nazir*/DB/test.cfg")
    assert [c.role.value for c in russian.channels] == ["i_a", "i_b", "i_c", "other"]
    assert "channel names are not UTF-8, read as cp866" in russian.provenance.notes
    chinese = comtrade_of(open_data, "zhangsonggui*/tests/data/ascii_1991.cfg")
    assert "channel names are not UTF-8, read as gbk" in chinese.provenance.notes
    assert chinese.channels[9].name == "Ua对侧"
    assert str(chinese.start_time) == "2015-09-17 10:52:52.987545"
    portuguese = comtrade_of(open_data, "dparrini*/tests/*/sample_iso8859-1.cfg")
    assert "channel names are not UTF-8, read as latin-1" in portuguese.provenance.notes


def test_comtrade_segments_with_gaps_keep_their_times(open_data: Path) -> None:
    """Both state one rate in several segments and seconds between them in their stamps."""
    for pattern, n_gaps in (("yonwoo9*/testdata/test2.cfg", 4), ("zhang*/*/*/ascii_1991.cfg", 5)):
        recording = comtrade_of(open_data, pattern)
        assert recording.sample_times_s is not None
        steps = np.diff(recording.sample_times_s) * recording.sampling_rate_hz
        assert int((np.abs(steps - 1.0) > 0.5).sum()) == n_gaps


def test_comtrade_counter_of_nanoseconds_runs_over(open_data: Path) -> None:
    """Six seconds of nanoseconds do not fit 32 bits; the record is uniform all the same."""
    recording = comtrade_of(open_data, "gabrieldelaparra*/*/Resources/Comtrade1.cfg")
    assert (recording.sampling_rate_hz, recording.sample_times_s) == (1200.0, None)
    assert recording.duration_s == 6.0


def test_comtrade_two_sides_of_a_transformer_are_asked_about(open_data: Path) -> None:
    recording = comtrade_of(open_data, "gabrieldelaparra*/*/Resources/Comtrade1.cfg")
    roles = {channel.name: channel.role.value for channel in recording.channels}
    assert roles["HV IR"] == roles["LV IR"] == "unassigned"
    assert roles["HV Bus VS"] == "v_b"
    assert any("two feeders" in note for note in recording.provenance.notes)


def test_three_phase_currents_without_heading(open_data: Path) -> None:
    path = first(open_data, "itsc-stator-fault/RAW_Signals/SC_HLT_001.csv")
    roles = {"1": "i_a", "2": "i_b", "3": "i_c"}
    options = ReadOptions(sampling_rate_hz=1000.0)
    recording = read_recording(path, roles=roles, options=options)
    assert [c.role.value for c in recording.channels] == ["i_a", "i_b", "i_c"]
    expected = np.loadtxt(path, delimiter=",")
    np.testing.assert_array_equal(np.array([c.samples for c in recording.channels]).T, expected)


def test_counts_of_one_current_and_eight_open_inputs(open_data: Path) -> None:
    path = first(open_data, "im-current-unbalance/healthy*.csv")
    recording = read_recording(path, options=ReadOptions(sampling_rate_hz=10000.0))
    assert recording.n_samples == 13000
    assert recording.channels[0].raw.dtype.kind == "i"
    assert [c.role.value for c in recording.channels] == ["unassigned", *["other"] * 8]


def test_wav_as_libsndfile_reads_it(open_data: Path) -> None:
    for path in sorted(open_data.glob("wav-samples/*.wav")):
        expected, rate = soundfile.read(path)
        recording = read_recording(path)
        assert recording.sampling_rate_hz == rate
        np.testing.assert_array_equal(np.array([c.samples for c in recording.channels]).T, expected)


def test_tdms_as_nptdms_scales_it(open_data: Path) -> None:
    for path in sorted(open_data.glob("tdms-samples/*.tdms")):
        recording = read_recording(path)
        file = TdmsFile.read(path)
        scaled = [c[:] for group in file.groups() for c in group.channels()]
        same_length = [values for values in scaled if values.size == recording.n_samples]
        for channel, expected in zip(recording.channels, same_length, strict=True):
            np.testing.assert_allclose(channel.samples, expected, rtol=1e-15)
    counts = read_recording(open_data / "tdms-samples" / "raw1.tdms")
    assert {channel.raw.dtype.kind for channel in counts.channels} == {"i"}
    assert {channel.unit for channel in counts.channels} == {"V"}


def test_selecting_from_a_mat_file(open_data: Path) -> None:
    path = open_data / "mat-samples" / "mat7.3" / "tests" / "testfile1.mat"
    options = ReadOptions(sampling_rate_hz=1.0, select=("secondvar",))
    recording = read_recording(path, options=options)
    assert [c.name for c in recording.channels] == ["secondvar"]
    v7 = open_data / "mat-samples" / "v7.mat"
    assert scipy.io.whosmat(v7)
    with pytest.raises(RecordingError):
        read_recording(v7)
