"""NPZ, Parquet, MAT and TDMS: own layouts come back whole, arrays from elsewhere are understood."""

from __future__ import annotations

import io
import pickle
import sys
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pyarrow as pa
import pytest
import scipy.io
from nptdms import ChannelObject, RootObject, TdmsWriter
from pyarrow import parquet

from cagewise.errors import MissingExtraError, RecordingError
from cagewise.measurement import Recording
from cagewise.readers import ReadOptions, read_recording, write_recording
from cagewise.readers.npz import reader as npz_reader
from support.round_trip import build_recording

TIME = np.arange(400) / 2000.0
IA = np.cos(2 * np.pi * 50.0 * TIME)
IB = np.cos(2 * np.pi * (50.0 * TIME - 1 / 3))
RATE = ReadOptions(sampling_rate_hz=2000.0)


def save_npz(path: Path, variables: dict[str, Any]) -> None:
    np.savez(path, **variables)


def save_mat5(path: Path, variables: dict[str, Any]) -> None:
    scipy.io.savemat(path, variables, do_compression=True)


def save_mat4(path: Path, variables: dict[str, Any]) -> None:
    scipy.io.savemat(path, variables, format="4")


def save_mat73(path: Path, variables: dict[str, Any]) -> None:
    """Write as MATLAB does: text before the HDF5 file, column order, class names."""
    with h5py.File(path, "w", userblock_size=512) as file:

        def put(group: h5py.Group, name: str, value: Any) -> None:
            if isinstance(value, dict):
                inner = group.create_group(name)
                for key, item in value.items():
                    put(inner, key, item)
            else:
                data = np.atleast_2d(np.asarray(value)).T
                packed = {"compression": "gzip"} if data.size > 1 else {}
                group.create_dataset(name, data=data, **packed).attrs["MATLAB_class"] = np.bytes_(
                    b"double"
                )

        for name, value in variables.items():
            put(file, name, value)
    with path.open("r+b") as stream:
        stream.write(b"MATLAB 7.3 MAT-file, Platform: test".ljust(124) + b"\x00\x02IM")


def save_parquet(path: Path, variables: dict[str, Any]) -> None:
    parquet.write_table(pa.table(variables), path)


SAVERS: dict[str, tuple[str, Callable[[Path, dict[str, Any]], None]]] = {
    "npz": (".npz", save_npz),
    "mat 4": (".mat", save_mat4),
    "mat 5": (".mat", save_mat5),
    "mat 7.3": (".mat", save_mat73),
}


def saved(folder: Path, how: str, **variables: Any) -> Path:
    suffix, save = SAVERS[how]
    path = folder / f"record{suffix}"
    save(path, variables)
    return path


def values(recording: Recording) -> dict[str, list[float]]:
    return {channel.name: channel.samples.tolist() for channel in recording.channels}


@pytest.mark.parametrize("kind", ["int16", "int32", "float32", "mixed"])
@pytest.mark.parametrize("suffix", [".npz", ".parquet"])
def test_own_files_come_back_whole(tmp_path: Path, suffix: str, kind: str) -> None:
    original = replace(
        build_recording(kind),
        start_time=datetime(2026, 3, 1, 8, tzinfo=UTC),
        truth={"broken_bars": 1.0, "slip": 0.0123},
    ).with_step("simulated")
    path = tmp_path / f"record{suffix}"
    write_recording(original, path)
    again = read_recording(path)
    for mine, theirs in zip(again.channels, original.channels, strict=True):
        assert replace(mine, raw=theirs.raw) == theirs
        assert mine.raw.dtype == theirs.raw.dtype
        np.testing.assert_array_equal(mine.raw, theirs.raw)
    assert again.sampling_rate_hz == original.sampling_rate_hz
    assert again.start_time == original.start_time
    assert again.nominal_frequency_hz == 50.0
    assert again.truth == original.truth
    assert again.provenance.steps == ("simulated",)
    assert any("copy of closed form" in note for note in again.provenance.notes)


@pytest.mark.parametrize("suffix", [".npz", ".parquet"])
def test_own_files_keep_times_and_missing_samples(tmp_path: Path, suffix: str) -> None:
    original = build_recording("float32")
    times = np.arange(original.n_samples) / 5000.0
    times[200:] += 0.5
    raw = original.channels[2].raw.copy()
    raw[17] = np.nan
    channels = (*original.channels[:2], replace(original.channels[2], raw=raw))
    original = replace(original, channels=channels, sample_times_s=times)
    path = tmp_path / f"record{suffix}"
    write_recording(original, path)
    again = read_recording(path)
    assert again.sample_times_s is not None
    np.testing.assert_array_equal(again.sample_times_s, times)
    np.testing.assert_array_equal(again.channels[2].raw, raw)


@pytest.mark.parametrize("suffix", [".npz", ".parquet"])
def test_names_with_brackets_and_slashes_come_back(tmp_path: Path, suffix: str) -> None:
    original = build_recording()
    names = ("I [A]/x", "../I", "file", "sampling_rate_hz")
    channels = tuple(replace(c, name=n) for c, n in zip(original.channels, names, strict=True))
    path = tmp_path / f"record{suffix}"
    write_recording(replace(original, channels=channels), path)
    assert tuple(c.name for c in read_recording(path).channels) == names


@pytest.mark.parametrize("how", SAVERS)
def test_a_vector_of_times(tmp_path: Path, how: str) -> None:
    recording = read_recording(saved(tmp_path, how, t=TIME, ia=IA, ib=IB))
    assert recording.sampling_rate_hz == pytest.approx(2000.0, rel=1e-12)
    assert recording.sample_times_s is None
    assert values(recording) == {"ia": IA.tolist(), "ib": IB.tolist()}
    assert [c.role.value for c in recording.channels] == ["i_a", "i_b"]


@pytest.mark.parametrize("how", SAVERS)
@pytest.mark.parametrize(
    ("name", "value"), [("fs", 2000.0), ("Fs", 2000), ("sampling_rate", 2000.0), ("dt", 0.0005)]
)
def test_a_variable_named_like_a_rate(tmp_path: Path, how: str, name: str, value: float) -> None:
    recording = read_recording(saved(tmp_path, how, ia=IA, ib=IB, **{name: value}))
    assert recording.sampling_rate_hz == 2000.0
    assert any(name in note for note in recording.provenance.notes)


@pytest.mark.parametrize("how", ["npz", "mat 5", "mat 7.3"])
def test_a_matrix_is_a_set_of_channels(tmp_path: Path, how: str) -> None:
    path = saved(tmp_path, how, data=np.column_stack([IA, IB]), fs=2000.0)
    assert values(read_recording(path)) == {"data.1": IA.tolist(), "data.2": IB.tolist()}


@pytest.mark.parametrize("how", ["mat 5", "mat 7.3"])
def test_structures_become_dotted_names(tmp_path: Path, how: str) -> None:
    path = saved(tmp_path, how, run={"fs": 2000.0, "i": {"ia": IA, "ib": IB}, "cal": [1.0, 2.0]})
    recording = read_recording(path)
    assert recording.sampling_rate_hz == 2000.0
    assert [c.name for c in recording.channels] == ["run.i.ia", "run.i.ib"]
    assert [c.role.value for c in recording.channels] == ["i_a", "i_b"]
    assert any("run.cal (2)" in note for note in recording.provenance.notes)


@pytest.mark.parametrize("how", SAVERS)
def test_the_file_is_asked_about_when_two_sets_fit(tmp_path: Path, how: str) -> None:
    path = saved(tmp_path, how, ia=IA, ib=IB, wa=IA[:300], wb=IB[:300])
    with pytest.raises(RecordingError, match=r"more than one set.*ia \(400\).*wa \(300\)"):
        read_recording(path, options=RATE)
    chosen = read_recording(path, options=replace(RATE, select=("wa", "wb")))
    assert [c.name for c in chosen.channels] == ["wa", "wb"]
    with pytest.raises(RecordingError, match="nothing in it is named 'x'"):
        read_recording(path, options=replace(RATE, select=("x",)))


@pytest.mark.parametrize("how", SAVERS)
def test_the_nearest_rate_counts(tmp_path: Path, how: str) -> None:
    if how in ("npz", "mat 4"):
        path = saved(tmp_path, how, ia=IA, fs=2000.0, dt=0.001)  # they disagree
        with pytest.raises(RecordingError, match="no sampling rate"):
            read_recording(path)
        return
    path = saved(tmp_path, how, fs=1.0, run={"fs": 2000.0, "ia": IA})
    assert read_recording(path).sampling_rate_hz == 2000.0


@pytest.mark.parametrize("how", SAVERS)
def test_what_cannot_be_read_is_said(tmp_path: Path, how: str) -> None:
    with pytest.raises(RecordingError, match="no sampling rate"):
        read_recording(saved(tmp_path, how, ia=IA, ib=IB))
    with pytest.raises(RecordingError, match="no vector of numbers"):
        read_recording(saved(tmp_path, how, gain=5.0))
    with pytest.raises(RecordingError, match="only a vector of times"):
        read_recording(saved(tmp_path, how, t=TIME))
    with pytest.raises(RecordingError, match="zero"):
        read_recording(saved(tmp_path, how, ia=0 * IA, fs=2000.0))


@pytest.mark.parametrize("how", SAVERS)
def test_truncated_files_are_refused(tmp_path: Path, how: str) -> None:
    path = saved(tmp_path, how, ia=IA, ib=IB, fs=2000.0)
    whole = path.read_bytes()
    for share in (0.3, 0.6, 0.95):
        path.write_bytes(whole[: int(share * len(whole))])
        with pytest.raises(RecordingError) as caught:
            read_recording(path)
        assert caught.value.where == str(path)
        assert caught.value.remedy


def test_pickled_objects_are_never_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "record.npz"
    np.savez(path, ia=IA, fs=2000.0, remark=np.array([{"a": 1}], dtype=object))

    def forbidden(*_: object, **__: object) -> None:
        raise AssertionError

    monkeypatch.setattr(pickle, "load", forbidden)
    monkeypatch.setattr(pickle, "loads", forbidden)
    recording = read_recording(path)
    assert any("'remark' holds Python objects" in note for note in recording.provenance.notes)
    np.savez(path, ia=IA.astype(object))
    with pytest.raises(RecordingError, match="no vector of numbers"):
        read_recording(path)


def test_an_archive_that_unpacks_to_too_much_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "record.npz"
    np.savez_compressed(path, ia=np.zeros(10**6), fs=2000.0)
    assert path.stat().st_size < 10**5
    monkeypatch.setattr(npz_reader, "MAX_UNPACKED_BYTES", 10**6)
    with pytest.raises(RecordingError, match=r"would unpack to 0\.0 GiB"):
        read_recording(path)


def test_an_array_that_states_more_than_it_holds_is_refused(tmp_path: Path) -> None:
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(
        head, {"descr": "<f8", "fortran_order": False, "shape": (10**13,)}
    )
    path = tmp_path / "record.npz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("ia.npy", head.getvalue() + b"\0" * 64)
    with pytest.raises(RecordingError, match="states 10000000000000 values"):
        read_recording(path)


def test_a_data_set_that_states_more_than_it_holds_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "record.mat"
    with h5py.File(path, "w") as file:
        file.create_dataset("ia", shape=(10**12,), dtype="f8", chunks=(1000,))
    with pytest.raises(RecordingError, match="states 1000000000000 values"):
        read_recording(path)


def test_mat_text_and_complex_numbers_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "record.mat"
    save_mat5(path, {"ia": IA, "fs": 2000.0, "who": "somebody", "z": IA + 1j * IB})
    recording = read_recording(path)
    assert [c.name for c in recording.channels] == ["ia"]
    assert any("who, z" in note for note in recording.provenance.notes)


def test_parquet_from_elsewhere(tmp_path: Path) -> None:
    path = tmp_path / "record.parquet"
    stamps = pa.array((TIME * 1e9).round().astype("int64"), pa.timestamp("ns"))
    save_parquet(path, {"when": stamps, "IL1": IA, "label": ["x"] * 400, "on": IB > 0})
    recording = read_recording(path)
    assert recording.sampling_rate_hz == 2000.0
    assert [(c.name, c.raw.dtype.kind) for c in recording.channels] == [("IL1", "f"), ("on", "i")]
    assert any("'label'" in note for note in recording.provenance.notes)
    save_parquet(path, {"time [s]": TIME, "U12 [kV]": IA})
    recording = read_recording(path)
    assert recording.channels[0].unit == "V"
    np.testing.assert_allclose(recording.channels[0].samples, 1000.0 * IA, rtol=1e-15)
    save_parquet(path, {"IL1": [1.0, None, 3.0]})
    with pytest.raises(RecordingError, match="no sampling rate"):
        read_recording(path)
    assert np.isnan(read_recording(path, options=RATE).channels[0].samples[1])


def test_parquet_keeps_units_where_other_programs_look(tmp_path: Path) -> None:
    path = tmp_path / "record.parquet"
    write_recording(build_recording(), path)
    schema = parquet.read_schema(path)
    assert schema.field("IL1").metadata[b"unit"] == b"A"
    assert schema.field("IL2").metadata[b"scale"] == b"0.025"
    assert schema.metadata[b"sampling_rate_hz"] == b"5000.0"
    columns = parquet.read_metadata(path).row_group(0)
    assert {columns.column(k).compression for k in range(4)} == {"LZ4"}
    assert "BYTE_STREAM_SPLIT" in columns.column(0).encodings
    assert "BYTE_STREAM_SPLIT" in columns.column(2).encodings


@pytest.mark.parametrize("damage", ['"layout": 1', '"role"', '"i_a"', "{"])
def test_a_damaged_description_is_refused(tmp_path: Path, damage: str) -> None:
    path = tmp_path / "record.parquet"
    write_recording(build_recording(), path)
    table = parquet.read_table(path)
    text = table.schema.metadata[b"cagewise"].decode()
    assert damage in text
    broken = text.replace(damage, '"layout": 99' if "layout" in damage else "", 1)
    metadata = {**table.schema.metadata, b"cagewise": broken.encode()}
    parquet.write_table(table.replace_schema_metadata(metadata), path)
    with pytest.raises(RecordingError, match=r"later version|damaged"):
        read_recording(path)


def save_tdms(path: Path, *, interval: float = 0.0005, groups: int = 1) -> None:
    with TdmsWriter(path) as writer:
        writer.write_segment([RootObject({"name": "test"})])
        for group in range(groups):
            for name, signal in (("IL1", IA), ("IL2", IB)):
                properties = {
                    "wf_increment": interval,
                    "unit_string": "A",
                    "wf_start_time": np.datetime64("2026-03-01T08:00:00.25"),
                }
                writer.write_segment(
                    [ChannelObject(f"run {group}", name, signal[: 400 - 100 * group], properties)]
                )


def test_tdms(tmp_path: Path) -> None:
    path = tmp_path / "record.tdms"
    save_tdms(path)
    recording = read_recording(path)
    assert recording.sampling_rate_hz == 2000.0
    assert recording.start_time == datetime(2026, 3, 1, 8, 0, 0, 250000, tzinfo=UTC)
    assert values(recording) == {"IL1": IA.tolist(), "IL2": IB.tolist()}
    assert [c.role.value for c in recording.channels] == ["i_a", "i_b"]


def test_tdms_with_two_groups_is_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "record.tdms"
    save_tdms(path, groups=2)
    with pytest.raises(RecordingError, match="more than one set"):
        read_recording(path)
    recording = read_recording(path, options=ReadOptions(select=("run 1",)))
    assert recording.n_samples == 300
    assert [c.name for c in recording.channels] == ["run 1/IL1", "run 1/IL2"]


def test_tdms_without_its_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "record.tdms"
    save_tdms(path)
    monkeypatch.setitem(sys.modules, "nptdms", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'cagewise\[tdms\]'"):
        read_recording(path)
