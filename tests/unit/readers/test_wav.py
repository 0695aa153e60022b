"""WAV: against libsndfile for every sample type, against itself through the sidecar."""

from __future__ import annotations

import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from cagewise.errors import RecordingError
from cagewise.readers import ReadOptions, read_recording, write_recording
from support.round_trip import build_recording

SUBTYPES = ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"]


@pytest.mark.parametrize("container", ["WAV", "WAVEX"])
@pytest.mark.parametrize("subtype", SUBTYPES)
@pytest.mark.parametrize("n_channels", [1, 3])
def test_every_sample_type(tmp_path: Path, container: str, subtype: str, n_channels: int) -> None:
    rng = np.random.default_rng(0)
    samples = rng.uniform(-1.0, 0.999, (1001, n_channels))
    path = tmp_path / "record.wav"
    soundfile.write(path, samples, 48000, subtype=subtype, format=container)
    expected, rate = soundfile.read(path, always_2d=True)
    recording = read_recording(path)
    assert recording.sampling_rate_hz == rate
    assert [c.name for c in recording.channels] == [f"channel {k + 1}" for k in range(n_channels)]
    for k, channel in enumerate(recording.channels):
        np.testing.assert_array_equal(channel.samples, expected[:, k])
        if subtype.startswith("PCM"):
            assert channel.raw.dtype.kind in "iu"
            assert channel.range_low is not None
            assert channel.range_high is not None
            assert channel.scale * channel.range_low + channel.offset == -1.0


@pytest.mark.parametrize("kind", ["int16", "int32", "float32", "mixed"])
def test_the_sidecar_keeps_what_wav_cannot(tmp_path: Path, kind: str) -> None:
    original = build_recording(kind)
    path = tmp_path / "record.wav"
    write_recording(original, path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["record.wav", "record.wav.toml"]
    info = soundfile.info(path)
    expected = {"int16": "PCM_16", "int32": "PCM_32", "float32": "FLOAT", "mixed": "DOUBLE"}
    assert info.subtype == expected[kind]
    assert info.frames == original.n_samples
    again = read_recording(path)
    assert again.nominal_frequency_hz == 50.0
    for mine, theirs in zip(again.channels, original.channels, strict=True):
        assert (mine.name, mine.unit, mine.role) == (theirs.name, theirs.unit, theirs.role)
        np.testing.assert_array_equal(mine.raw, theirs.raw)
        # one multiplication and one division by a power of two
        np.testing.assert_allclose(mine.samples, theirs.samples, rtol=1e-15)


def test_only_whole_uniform_rates_can_be_written(tmp_path: Path) -> None:
    odd = replace(build_recording(), sampling_rate_hz=30707.244140625)
    with pytest.raises(RecordingError, match="whole hertz"):
        write_recording(odd, tmp_path / "record.wav")
    assert list(tmp_path.iterdir()) == []


def wav(
    *,
    tag: int = 1,
    channels: int = 1,
    rate: int = 8000,
    bits: int = 16,
    data: bytes = b"\1\0" * 8,
    stated: int | None = None,
    frame: int | None = None,
    before: bytes = b"",
) -> bytes:
    frame = channels * bits // 8 if frame is None else frame
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, tag, channels, rate, rate * frame, frame, bits)
    length = len(data) if stated is None else stated
    body = b"WAVE" + before + form + struct.pack("<4sI", b"data", length) + data
    return struct.pack("<4sI", b"RIFF", len(body)) + body


def read_bytes(folder: Path, content: bytes, options: ReadOptions | None = None) -> int:
    path = folder / "record.wav"
    path.write_bytes(content)
    return read_recording(path, options=options).n_samples


def test_other_chunks_are_passed_over(tmp_path: Path) -> None:
    odd = struct.pack("<4sI", b"LIST", 3) + b"abc\0"
    assert read_bytes(tmp_path, wav(before=odd)) == 8


@pytest.mark.parametrize("stated", [0, 0xFFFFFFFF])
def test_a_length_that_was_not_known_is_the_rest(tmp_path: Path, stated: int) -> None:
    assert read_bytes(tmp_path, wav(stated=stated)) == 8


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (wav()[:20], "no data chunk"),
        (wav()[:40], "no data chunk"),
        (wav(stated=4_000_000_000), "states 2000000000 samples and holds 8"),
        (wav(data=b"\1\0" * 8 + b"\1"), "1 bytes are left over"),
        (wav(rate=0), "sampling rate is stated as zero"),
        (wav(tag=2), "format 2"),
        (wav(channels=0), "0 channels"),
        (wav(bits=12, frame=2), "all zero|read"),
        (wav(bits=64, frame=8), "64 bits"),
        (wav(frame=7), "7 bytes per sample"),
        (wav(tag=0xFFFE), "extended format"),
        (wav(data=b""), "not a single sample"),
        (wav(data=b"\0" * 16), "zero"),
        (b"RIFF\0\0\0\0WAVEdata\4\0\0\0\1\0\2\0", "not stated before"),
    ],
)
def test_what_cannot_be_read_is_said(tmp_path: Path, content: bytes, message: str) -> None:
    if message == "all zero|read":  # 12 bits in two bytes are usual, and are read
        assert read_bytes(tmp_path, content) == 8
        return
    with pytest.raises(RecordingError, match=message) as caught:
        read_bytes(tmp_path, content)
    assert caught.value.remedy


def test_what_is_there_can_be_read_when_asked(tmp_path: Path) -> None:
    content = wav(stated=1000)
    assert read_bytes(tmp_path, content, ReadOptions(accept_length_mismatch=True)) == 8
