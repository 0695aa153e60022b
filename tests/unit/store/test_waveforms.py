"""Waveforms come back bit by bit: counts, scale, times, provenance."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from types import MappingProxyType
from uuid import uuid4

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from cagewise.errors import DamagedFileError, InputError, MissingFileError, StoreUnreachableError
from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.readers import read_recording
from cagewise.store.waveforms import Waveforms, decoded, encoded
from support.round_trip import build_recording

DTYPES = ["i1", "i2", "i4", "i8", "u1", "u2", "u4", "f2", "f4", "f8", ">i2", ">f4", "?"]
NAMES = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)
REALS = st.floats(allow_nan=False)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


def same(one: Recording, other: Recording) -> bool:
    """Return whether two recordings are equal in every bit, but for the order of bytes."""
    for a, b in zip(one.channels, other.channels, strict=True):
        native = a.raw.astype(a.raw.dtype.newbyteorder("="))
        if native.dtype != b.raw.dtype or native.tobytes() != b.raw.tobytes():
            return False
        if any(getattr(a, f.name) != getattr(b, f.name) for f in fields(a) if f.name != "raw"):
            return False
    times = one.sample_times_s, other.sample_times_s
    if (times[0] is None) != (times[1] is None):
        return False
    if times[0] is not None and times[0].tobytes() != times[1].tobytes():  # type: ignore[union-attr]
        return False
    rest = ("sampling_rate_hz", "provenance", "start_time", "nominal_frequency_hz", "truth")
    return all(getattr(one, name) == getattr(other, name) for name in rest)


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    """Draw a recording of any shape and content."""
    size = draw(st.integers(0, 40))
    names = draw(st.lists(NAMES, min_size=1, max_size=4, unique=True))
    channels = tuple(
        Channel(
            name=name,
            raw=draw(arrays.arrays(draw(st.sampled_from(DTYPES)), size)),
            unit=draw(TEXTS),
            role=draw(st.sampled_from([Role.OTHER, Role.UNASSIGNED])),
            scale=draw(REALS),
            offset=draw(REALS),
            range_low=draw(st.none() | REALS),
            range_high=draw(st.none() | REALS),
        )
        for name in names
    )
    zones = st.sampled_from([None, UTC, timezone(timedelta(hours=5, minutes=30))])
    return Recording(
        channels=channels,
        sampling_rate_hz=draw(st.floats(1e-3, 1e9)),
        provenance=Provenance(
            source=draw(TEXTS),
            format_name=draw(TEXTS),
            sha256="ab" * 32,
            steps=tuple(draw(st.lists(TEXTS, max_size=2))),
            notes=tuple(draw(st.lists(TEXTS, max_size=2))),
        ),
        start_time=draw(st.none() | st.datetimes(timezones=zones)),
        nominal_frequency_hz=draw(st.none() | REALS),
        sample_times_s=draw(st.none() | arrays.arrays("f8", size)),
        truth=MappingProxyType(draw(st.dictionaries(TEXTS, REALS, max_size=2))),
    )


@settings(max_examples=60, deadline=None)
@given(recordings())
def test_any_recording_comes_back_bit_by_bit(recording: Recording) -> None:
    assert same(recording, decoded(encoded(recording), "memory"))


@pytest.mark.parametrize("kind", ["memory", "file", "folder"])
def test_waveforms_go_through_any_place(kind: str, tmp_path: Path) -> None:
    url = {
        "memory": f"memory://{uuid4()}/plant",
        "file": f"file://{tmp_path}/waveforms",
        "folder": str(tmp_path / "waveforms"),
    }[kind]
    recording = build_recording("int16")
    waveform = Waveforms(url).keep(recording, part="feeder 2")
    again = Waveforms(url).keep(recording, part="feeder 2")
    assert again == waveform
    assert same(Waveforms(url).load(waveform), recording)
    with pytest.raises(MissingFileError):
        Waveforms(url).load(replace(waveform, path="aa/nothing.parquet"))
    with pytest.raises(DamagedFileError):
        Waveforms(url).load(replace(waveform, checksum="0" * 64))


def clamps(noise: float, dtype: str = "i2") -> Recording:
    """Return six channels of counts or floats: a sine and noise of so many counts."""
    rng = np.random.default_rng(1)
    time_s = np.arange(100_000) / 10_000.0
    recording = build_recording()
    values = [
        12_000.0 * np.sin(2.0 * np.pi * (50.0 * time_s - k / 3.0)) + rng.normal(0.0, noise, 100_000)
        for k in range(6)
    ]
    channels = tuple(
        replace(
            recording.channels[0],
            name=f"channel {k}",
            raw=(np.rint(value) if dtype[0] == "i" else 0.01 * value).astype(dtype),
        )
        for k, value in enumerate(values)
    )
    return replace(recording, channels=channels)


@pytest.mark.parametrize(
    ("noise", "dtype", "encoding", "most"),
    [
        (4.0, "i2", "BYTE_STREAM_SPLIT", 0.60),
        (100.0, "i2", "BYTE_STREAM_SPLIT", 0.90),
        (1000.0, "i2", "DELTA_BINARY_PACKED", 0.90),
        (4.0, "i4", "BYTE_STREAM_SPLIT", 0.60),
        (4.0, "f4", "BYTE_STREAM_SPLIT", 0.65),
        (1000.0, "f8", "BYTE_STREAM_SPLIT", 1.0),
    ],
)
def test_a_waveform_is_smaller_than_its_samples(
    noise: float, dtype: str, encoding: str, most: float
) -> None:
    from io import BytesIO

    from pyarrow import parquet

    recording = clamps(noise, dtype)
    content = encoded(recording)
    column = parquet.ParquetFile(BytesIO(content)).metadata.row_group(0).column(0)
    assert encoding in column.encodings
    assert column.compression == "LZ4"
    samples = sum(channel.raw.nbytes for channel in recording.channels)
    assert len(content) <= most * samples
    assert same(recording, decoded(content, "memory"))


@pytest.mark.parametrize("kind", ["int16", "float32", "mixed"])
def test_waveforms_of_the_first_version_load(kind: str) -> None:
    content = (Path(__file__).parent / f"waveforms/first-{kind}.parquet").read_bytes()
    assert content != encoded(build_recording(kind))  # they are packed in another way now
    assert same(decoded(content, "of old"), build_recording(kind))


def test_a_waveform_of_a_plant_can_be_examined_like_any_file(tmp_path: Path) -> None:
    recording = build_recording("int16")
    waveform = Waveforms(str(tmp_path)).keep(recording)
    read = read_recording(tmp_path / waveform.path)
    for one, other in zip(recording.channels, read.channels, strict=True):
        np.testing.assert_array_equal(one.raw, other.raw)
        assert (one.name, one.role, one.scale) == (other.name, other.role, other.scale)


def test_a_damaged_waveform_is_put_right_by_keeping_it_again(tmp_path: Path) -> None:
    waveforms, recording = Waveforms(str(tmp_path)), build_recording()
    waveform = waveforms.keep(recording)
    path = tmp_path / waveform.path
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(DamagedFileError, match="checksum"):
        waveforms.load(waveform)
    waveforms.keep(recording)
    assert same(waveforms.load(waveform), recording)


def test_bytes_that_are_no_waveform_are_an_error_of_ours() -> None:
    with pytest.raises(DamagedFileError, match="no waveform"):
        decoded(b"PAR1 nothing PAR1", "here")


def test_two_channels_of_one_name_are_refused_not_lost() -> None:
    recording = build_recording()
    double = replace(recording, channels=(recording.channels[0], recording.channels[0]))
    with pytest.raises(InputError, match="IL1"):
        encoded(double)


def test_a_place_that_nobody_knows_is_named() -> None:
    with pytest.raises(StoreUnreachableError, match="nowhere"):
        Waveforms("nowhere://bucket/x")


def test_a_start_time_keeps_its_zone() -> None:
    start = datetime(2026, 3, 1, 12, 0, 0, 123456, tzinfo=timezone(timedelta(hours=-3)))
    recording = replace(build_recording(), start_time=start)
    back = decoded(encoded(recording), "memory").start_time
    assert back == start
    assert back is not None
    assert back.utcoffset() == timedelta(hours=-3)
