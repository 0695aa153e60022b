"""COMTRADE: every revision and data type, against the `comtrade` package and against itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import comtrade
import numpy as np
import pytest

from cagewise.errors import RecordingError
from cagewise.measurement import Recording
from cagewise.readers import ReadOptions, read_recording, write_recording
from cagewise.readers.comtrade.clock import parse_offset, parse_stamp
from cagewise.readers.comtrade.writer import write_comtrade
from support.round_trip import build_recording

WAYS = [
    ("ASCII", 1991, ".cfg"),
    ("ASCII", 1999, ".cfg"),
    ("ASCII", 2013, ".cfg"),
    ("ASCII", 2013, ".cff"),
    ("BINARY", 1991, ".cfg"),
    ("BINARY", 1999, ".cfg"),
    ("BINARY", 2013, ".cff"),
    ("BINARY32", 2013, ".cfg"),
    ("BINARY32", 2013, ".cff"),
    ("FLOAT32", 2013, ".cfg"),
    ("FLOAT32", 2013, ".cff"),
]
"""Data type, revision, file ending."""

HEAD = "station,device,{year}\n2,2A,0D\n"
CHANNELS = "1,IA,,,A,0.5,1.0,0,-32767,32767,100,1,S\n2,UAB,,,kV,0.1,0,0,-32767,32767,1,1,P\n"
TAIL = "50\n1\n1000,4\n01/02/2026,08:00:00.000000\n01/02/2026,08:00:00.000000\n"
DATA = "1,0,10,-20\n2,1000,11,-21\n3,2000,12,-22\n4,3000,13,-23\n"


def write_pair(folder: Path, config: str, data: str | bytes, stem: str = "record") -> Path:
    path = folder / f"{stem}.cfg"
    path.write_bytes(config.encode())
    path.with_suffix(".dat").write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def ascii_config(year: str = "1999", tail: str = TAIL + "ASCII\n1\n") -> str:
    return HEAD.format(year=year) + CHANNELS + tail


@pytest.mark.parametrize(("data_type", "revision", "suffix"), WAYS)
def test_own_files_come_back(tmp_path: Path, data_type: str, revision: int, suffix: str) -> None:
    kind = {"BINARY": "int16", "BINARY32": "int32", "FLOAT32": "float32"}.get(data_type, "int16")
    original = build_recording(kind)
    path = tmp_path / f"record{suffix}"
    write_comtrade(original, path, data_type=data_type, revision=revision)
    again = read_recording(path)
    assert again.sampling_rate_hz == original.sampling_rate_hz
    assert again.sample_times_s is None
    assert again.nominal_frequency_hz == 50.0
    for mine, theirs in zip(again.channels, original.channels, strict=True):
        assert (mine.name, mine.unit, mine.role) == (theirs.name, theirs.unit, theirs.role)
        assert mine.raw.dtype.kind == theirs.raw.dtype.kind
        np.testing.assert_array_equal(mine.raw, theirs.raw)
        np.testing.assert_array_equal(mine.samples, theirs.samples)
    if data_type != "FLOAT32":
        assert (again.channels[0].range_low, again.channels[0].range_high) == (-30000.0, 30000.0)


@pytest.mark.parametrize(("data_type", "revision", "suffix"), WAYS)
def test_another_reader_finds_the_same(
    tmp_path: Path, data_type: str, revision: int, suffix: str
) -> None:
    path = tmp_path / f"record{suffix}"
    write_comtrade(build_recording("int16"), path, data_type=data_type, revision=revision)
    oracle = comtrade.Comtrade(ignore_warnings=True)
    oracle.load(str(path))
    mine = read_recording(path)
    assert oracle.analog_channel_ids == [channel.name for channel in mine.channels]
    assert oracle.frequency == mine.nominal_frequency_hz
    for channel, values in zip(mine.channels, oracle.analog, strict=True):
        # the oracle keeps single precision
        np.testing.assert_allclose(channel.samples, np.array(values), rtol=1.2e-7, atol=1e-9)


@pytest.mark.parametrize("data_type", ["ASCII", "BINARY", "BINARY32"])
def test_fractions_are_scaled_to_the_range(tmp_path: Path, data_type: str) -> None:
    original = build_recording("mixed")
    path = tmp_path / "record.cfg"
    write_comtrade(original, path, data_type=data_type, revision=2013)
    again = read_recording(path)
    for mine, theirs in zip(again.channels, original.channels, strict=True):
        span = float(np.ptp(theirs.samples))
        step = span / {"ASCII": np.inf, "BINARY": 2 * 32767, "BINARY32": 2 * (2**31 - 1)}[data_type]
        error = float(np.abs(mine.samples - theirs.samples).max())
        assert error <= 0.5 * step + 1e-12 * span  # half a count


@pytest.mark.parametrize("data_type", ["ASCII", "BINARY", "BINARY32", "FLOAT32"])
@pytest.mark.parametrize("revision", [1999, 2013])
def test_missing_samples_stay_missing(tmp_path: Path, data_type: str, revision: int) -> None:
    original = build_recording("float32")
    raw = original.channels[1].raw.copy()
    raw[[3, 77]] = np.nan
    channels = list(original.channels)
    channels[1] = replace(channels[1], raw=raw)
    path = tmp_path / "record.cfg"
    if revision == 1999 and data_type in ("BINARY32", "FLOAT32"):
        with pytest.raises(RecordingError, match="revision 1999"):
            write_comtrade(original, path, data_type=data_type, revision=revision)
        return
    write_comtrade(
        replace(original, channels=tuple(channels)), path, data_type=data_type, revision=revision
    )
    again = read_recording(path)
    assert np.flatnonzero(np.isnan(again.channels[1].samples)).tolist() == [3, 77]
    assert not np.isnan(again.channels[0].samples).any()
    assert any("2 missing values in 'IL2'" in note for note in again.provenance.notes)


def test_lowest_count_of_1991_binary_is_a_value(tmp_path: Path) -> None:
    """That revision marks missing values by -1, which a signal through zero is full of."""
    original = build_recording("int16")
    raw = np.resize(np.array([-1, 0, 1, -32768], dtype=np.int16), original.n_samples)
    channels = (replace(original.channels[0], raw=raw), *original.channels[1:])
    path = tmp_path / "record.cfg"
    write_comtrade(replace(original, channels=channels), path, data_type="BINARY", revision=1991)
    again = read_recording(path)
    assert not np.isnan(again.channels[0].samples).any()


def test_scaling_units_and_notes(tmp_path: Path) -> None:
    recording = read_recording(write_pair(tmp_path, ascii_config(), DATA))
    current, voltage = recording.channels
    np.testing.assert_allclose(current.samples, [6.0, 6.5, 7.0, 7.5], rtol=1e-15)
    np.testing.assert_allclose(voltage.samples, [-2000.0, -2100.0, -2200.0, -2300.0], rtol=1e-15)
    assert (current.unit, voltage.unit) == ("A", "V")
    assert (current.range_low, current.range_high) == (-32767.0, 32767.0)
    assert recording.start_time == datetime(2026, 2, 1, 8)  # noqa: DTZ001 - none in the file
    assert any("IA 100" in note for note in recording.provenance.notes)
    assert recording.provenance.source == "record.cfg"
    assert len(recording.provenance.sha256) == 64


@pytest.mark.parametrize("name", ["record.CFG", "RECORD.cfg", "Record.Cfg"])
@pytest.mark.parametrize("other", [".dat", ".DAT", ".Dat"])
def test_letter_case_of_names(tmp_path: Path, name: str, other: str) -> None:
    (tmp_path / name).write_text(ascii_config())
    (tmp_path / f"{name[:-4].lower()}{other}").write_text(DATA)
    (tmp_path / f"{name[:-4]}.HDR").write_text("remarks")
    for entry in sorted(tmp_path.iterdir()):
        assert read_recording(entry).n_samples == 4


@pytest.mark.parametrize(
    ("year", "revision"),
    [("1991", 1991), ("1999", 1999), ("2001", 1999), ("2013", 2013), ("2020", 2013)],
)
def test_revisions(tmp_path: Path, year: str, revision: int) -> None:
    recording = read_recording(write_pair(tmp_path, ascii_config(year), DATA))
    assert f"COMTRADE {revision}, ASCII" in recording.provenance.notes
    month, day = (1, 2) if revision == 1991 else (2, 1)
    assert recording.start_time == datetime(2026, month, day, 8)  # noqa: DTZ001 - none in the file


def test_no_revision_is_1991(tmp_path: Path) -> None:
    config = ascii_config().replace("device,1999", "device")
    recording = read_recording(write_pair(tmp_path, config, DATA))
    assert "COMTRADE 1991, ASCII" in recording.provenance.notes


@pytest.mark.parametrize(
    "damage",
    [
        ("\n", "\r\n"),
        ("1\n", "1\n\x1a\x1a\x1a"),
        ("ASCII", "ascii"),
        ("1000,4", "1000.000, 4"),
        ("station", "\ufeffstation"),
        ("08:00", "08 : 00"),
        ("0,-32767,32767,1,1,P", ",,,,,"),
        ("ASCII\n1\n", "ASCII\n"),
    ],
)
def test_small_irregularities_are_read(tmp_path: Path, damage: tuple[str, str]) -> None:
    config = ascii_config()
    assert damage[0] in config
    recording = read_recording(write_pair(tmp_path, config.replace(*damage), DATA + "\x1a"))
    assert recording.sampling_rate_hz == 1000.0
    np.testing.assert_allclose(recording.channels[0].samples, [6.0, 6.5, 7.0, 7.5])


@pytest.mark.parametrize("encoding", ["utf-8", "latin-1", "cp866", "gbk"])
def test_code_pages(tmp_path: Path, encoding: str) -> None:
    name = {"latin-1": "Órgão Ç", "cp866": "СИРИУС Пуск", "gbk": "母线电压"}.get(encoding, "Ströme")
    config = ascii_config().replace("UAB", name)
    path = write_pair(tmp_path, "", DATA)
    path.write_bytes(config.encode(encoding))
    recording = read_recording(path)
    assert recording.channels[1].name == name
    assert any("not UTF-8" in note for note in recording.provenance.notes) == (encoding != "utf-8")


def test_several_rates_keep_sample_times(tmp_path: Path) -> None:
    tail = TAIL.replace("1\n1000,4", "2\n1000,2\n500,4") + "ASCII\n1\n"
    data = "1,,10,-20\n2,,11,-21\n3,,12,-22\n4,,13,-23\n"
    recording = read_recording(write_pair(tmp_path, ascii_config(tail=tail), data))
    assert recording.sample_times_s is not None
    np.testing.assert_allclose(recording.sample_times_s, [0.0, 0.001, 0.003, 0.005], rtol=1e-12)
    assert any("several sampling rates" in note for note in recording.provenance.notes)


def test_rate_zero_means_time_stamps(tmp_path: Path) -> None:
    tail = TAIL.replace("1\n1000,4", "0\n0,4") + "ASCII\n2.5\n"
    recording = read_recording(write_pair(tmp_path, ascii_config(tail=tail), DATA))
    assert recording.sampling_rate_hz == pytest.approx(400.0, rel=1e-12)
    with pytest.raises(RecordingError, match="neither a sampling rate nor"):
        read_recording(
            write_pair(tmp_path, ascii_config(tail=tail), "1,,1,2\n2,,2,3\n3,,3,4\n4,,4,5\n")
        )


def test_gaps_in_the_stamps_are_kept(tmp_path: Path) -> None:
    data = DATA.replace("3,2000", "3,502000").replace("4,3000", "4,503000")
    recording = read_recording(write_pair(tmp_path, ascii_config(), data))
    assert recording.sampling_rate_hz == 1000.0
    assert recording.sample_times_s is not None
    np.testing.assert_allclose(recording.sample_times_s, [0.0, 0.001, 0.502, 0.503], rtol=1e-12)


def test_stamps_at_another_pace_do_not_overrule_the_rate(tmp_path: Path) -> None:
    data = DATA.replace("000,1", "00,1")
    recording = read_recording(write_pair(tmp_path, ascii_config(), data))
    assert (recording.sampling_rate_hz, recording.sample_times_s) == (1000.0, None)
    assert any("suggest 10000 Hz" in note for note in recording.provenance.notes)


def test_a_counter_that_runs_over_is_no_gap(tmp_path: Path) -> None:
    n = 100
    row = np.dtype([("n", "<u4"), ("t", "<u4"), ("a", "<i2", (2,))])
    rows = np.zeros(n, dtype=row)
    rows["t"] = (2**32 - 50_000 + 1000 * np.arange(n, dtype=np.uint64)) % 2**32
    rows["a"] = np.arange(2 * n).reshape(n, 2)
    config = ascii_config(tail=TAIL.replace("1000,4", f"1000,{n}") + "BINARY\n1\n")
    recording = read_recording(write_pair(tmp_path, config, rows.tobytes()))
    assert (recording.sampling_rate_hz, recording.sample_times_s) == (1000.0, None)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("1000,4", "1000,5", "states 5 samples, the data hold 4"),
        ("1000,4", "1000,3", "hold more"),
        ("1000,4", "1000,4000000000", "states 4000000000 samples"),
        ("2,2A,0D", "999999999,999999999A,0D", "line 5"),
        ("2,2A,0D", f"2,{5000 * '2'}A,0D", "channel counts"),
        ("1000,4", f"1000,{5000 * '4'}", "must be a number"),
        ("2,2A,0D", "3,2A,1D", "line 8: sampling rate 1 must be a number"),
        ("2,2A,0D", "2,0A,2D", "no analogue channel"),
        ("1000,4", "-1000,4", "negative"),
        ("1000,4", "nan,4", "must be a number"),
        ("1000,4", "1000,-4", "whole number"),
        ("0.5,1.0", "0,1.0", "factor a"),
        ("0.5,1.0", "x,1.0", "factor a"),
        ("ASCII", "EBCDIC", "data type"),
        ("ASCII\n1\n", "", "ends before the data type"),
    ],
)
def test_wrong_configurations_are_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    config = ascii_config()
    assert old in config
    with pytest.raises(RecordingError, match=message) as caught:
        read_recording(write_pair(tmp_path, config.replace(old, new), DATA))
    assert caught.value.where
    assert caught.value.remedy


def test_what_is_there_can_be_read_when_asked(tmp_path: Path) -> None:
    path = write_pair(tmp_path, ascii_config().replace("1000,4", "1000,9"), DATA)
    recording = read_recording(path, options=ReadOptions(accept_length_mismatch=True))
    assert recording.n_samples == 4
    assert any("states 9 samples" in note for note in recording.provenance.notes)


@pytest.mark.parametrize("cut", [1, 7, 100])
def test_truncated_binary_data(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "record.cfg"
    write_comtrade(build_recording("int16"), path, data_type="BINARY")
    data = path.with_suffix(".dat")
    data.write_bytes(data.read_bytes()[:-cut])
    with pytest.raises(RecordingError, match="states 500 samples, the data hold 49"):
        read_recording(path)


def test_missing_partner_is_named(tmp_path: Path) -> None:
    path = write_pair(tmp_path, ascii_config(), DATA)
    path.with_suffix(".dat").unlink()
    with pytest.raises(RecordingError, match=r"record\.dat is missing"):
        read_recording(path)
    other = tmp_path / "lonely.dat"
    other.write_text(DATA)
    with pytest.raises(RecordingError, match=r"lonely\.cfg that describes it is missing"):
        read_recording(other)


def test_combined_file_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "record.cff"
    write_comtrade(build_recording("int16"), path, data_type="BINARY", revision=2013)
    whole = path.read_bytes()
    path.write_bytes(whole[:-500])
    with pytest.raises(RecordingError, match="states 500 samples"):
        read_recording(path)
    path.write_bytes(whole[: whole.index(b"DAT BINARY")])
    with pytest.raises(RecordingError, match="no DAT section"):
        read_recording(path)


def test_sidecar_may_stand_beside_either_file(tmp_path: Path) -> None:
    path = write_pair(tmp_path, ascii_config(), DATA)
    (tmp_path / "record.dat.toml").write_text("sampling_rate_hz = 2000\n")
    assert read_recording(path).sampling_rate_hz == 2000.0
    (tmp_path / "record.cfg.toml").write_text("sampling_rate_hz = 3000\n")
    with pytest.raises(RecordingError, match="two sidecars"):
        read_recording(path)


def test_written_by_ending(tmp_path: Path, recording: Recording) -> None:
    write_recording(recording, tmp_path / "a.cfg")
    write_recording(build_recording("int32"), tmp_path / "b.cff")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.cfg", "a.dat", "b.cff"]
    assert "COMTRADE 2013, FLOAT32" in read_recording(tmp_path / "a.dat").provenance.notes
    assert "COMTRADE 2013, BINARY32" in read_recording(tmp_path / "b.cff").provenance.notes


@pytest.mark.parametrize(
    ("text", "hours"),
    [("-5h30", -5.5), ("+9", 9.0), ("0", 0.0), ("1", 1.0), ("x", None), ("", None), ("99", None)],
)
def test_time_codes(text: str, hours: float | None) -> None:
    expected = None if hours is None else timezone(timedelta(hours=hours))
    assert parse_offset(text) == expected


def test_dates_and_times() -> None:
    stamp = parse_stamp("27/07/2023,09:19:53.156666511", month_first=False)
    assert stamp.time == datetime(2023, 7, 27, 9, 19, 53, 156666)  # noqa: DTZ001 - none stated
    assert stamp.nanoseconds
    assert not stamp.swapped
    assert parse_stamp("09/17/15,10:52:52.5", month_first=False).swapped
    assert parse_stamp("31/31/15,10:52:52.5", month_first=False).time is None
    assert parse_stamp(",", month_first=True).time is None


def test_a_scale_that_came_out_of_numpy_is_written_as_a_number(
    tmp_path: Path, recording: Recording
) -> None:
    scale = np.float64(0.015)
    channels = tuple(replace(c, scale=scale, offset=np.float64(0.5)) for c in recording.channels)
    path = tmp_path / "numpy.cfg"
    write_comtrade(replace(recording, channels=channels), path, data_type="ASCII")

    again = read_recording(path)

    for channel, written in zip(again.channels, channels, strict=True):
        assert channel.samples == pytest.approx(written.samples, rel=1e-4, abs=1e-4)
