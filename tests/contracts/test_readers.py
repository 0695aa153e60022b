"""What every file format promises, whichever they are: the folders are walked, not listed."""

from __future__ import annotations

import time
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import cagewise.readers
from cagewise.errors import CagewiseError
from cagewise.measurement import Channel, Provenance, Recording
from cagewise.readers import Format, ReadOptions, formats, identify, read_recording, write_recording
from cagewise.readers.registry import NOT_RECORDINGS

ROOT = Path(__file__).resolve().parents[2]
GOLDEN = ROOT / "tests" / "golden" / "readers"
NO_RECORDING = (".toml", ".md")
"""Endings of what stands beside golden files: sidecars and licences."""

STILL_READABLE = ReadOptions(sampling_rate_hz=2000.0, accept_length_mismatch=True)
"""Statements that let as much of a damaged file as possible through to the later steps."""


def golden_files(form: Format) -> list[Path]:
    """Return the golden recordings of a format; every file of a recording is one entry."""
    files = sorted((GOLDEN / form.name).iterdir())
    return [path for path in files if path.suffix not in NO_RECORDING]


ALL_GOLDEN = [(form, path) for form in formats() for path in golden_files(form)]
GOLDEN_IDS = [f"{path.parent.name}/{path.name}" for _, path in ALL_GOLDEN]


def read_or_error(path: Path, options: ReadOptions | None) -> Recording | CagewiseError:
    """Return the recording, or the error of ours that reading it raised."""
    try:
        return read_recording(path, options=options)
    except CagewiseError as error:
        return error


def same_samples(mine: Recording, theirs: Recording, *, tolerance: float) -> None:
    """Assert equal channels, with a tolerance in parts of each channel's largest sample."""
    assert len(mine.channels) == len(theirs.channels)
    for one, other in zip(mine.channels, theirs.channels, strict=True):
        expected = other.samples
        scale = max(float(np.nanmax(np.abs(expected))), 1e-300)
        np.testing.assert_allclose(one.samples / scale, expected / scale, rtol=0, atol=tolerance)


def test_every_folder_is_a_format() -> None:
    folder = Path(next(iter(cagewise.readers.__path__)))
    packages = [path.parent.name for path in folder.glob("*/__init__.py")]
    assert len(set(packages) - NOT_RECORDINGS) == len(formats()) >= 7
    assert len({form.name for form in formats()}) == len(formats())


@pytest.mark.parametrize("form", formats(), ids=lambda form: form.name)
def test_the_declaration_is_complete(form: Format) -> None:
    assert form.name == form.name.casefold()
    assert form.title
    assert form.suffixes
    assert all(s.startswith(".") and s == s.casefold() for s in form.suffixes)
    assert form.holds.endswith(".")
    assert golden_files(form), "a format is complete when it has a golden file"
    assert form.can_write == (form.write is not None)
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"][
        "optional-dependencies"
    ]
    assert not form.extra or form.extra in extras


@pytest.mark.parametrize("form", formats(), ids=lambda form: form.name)
def test_the_format_is_documented(form: Format) -> None:
    page = (ROOT / "docs" / "formats.md").read_text()
    assert f"`{form.name}`" in page
    assert all(f"`{suffix}`" in page for suffix in form.suffixes)


@pytest.mark.parametrize(("form", "path"), ALL_GOLDEN, ids=GOLDEN_IDS)
def test_each_format_claims_its_own_files_and_no_others(form: Format, path: Path) -> None:
    head = path.read_bytes()[:65536]
    assert [other.name for other in formats() if other.sniff(path, head)] == [form.name]
    assert identify(path) is form
    assert read_recording(path).provenance.format_name == form.name


@pytest.mark.parametrize(("form", "path"), ALL_GOLDEN, ids=GOLDEN_IDS)
def test_content_is_recognised_under_another_name(form: Format, path: Path, tmp_path: Path) -> None:
    """A file that stands alone and has a mark of its own is known whatever it is called."""
    if form.files(path) != (path,) or path.suffix in (".csv", ".dat") or "version4" in path.name:
        pytest.skip("has no mark of its own, or is one of several files")
    other = tmp_path / "record.bin"
    other.write_bytes(path.read_bytes())
    assert identify(other) is form


@pytest.mark.parametrize(("form", "path"), ALL_GOLDEN, ids=GOLDEN_IDS)
def test_golden_files_are_recordings(form: Format, path: Path) -> None:  # noqa: ARG001 - id only
    recording = read_recording(path)
    assert recording.n_samples > 1
    assert recording.sampling_rate_hz > 0.0
    assert len(recording.provenance.sha256) == 64
    for channel in recording.channels:
        assert not channel.raw.flags.writeable
        assert channel.raw.dtype.kind in "iuf"
        assert channel.raw.dtype.isnative
        assert channel.raw.flags.c_contiguous
        assert np.isfinite(channel.samples).all()


@pytest.mark.parametrize("form", [f for f in formats() if f.can_write], ids=lambda form: form.name)
def test_what_is_written_is_read_back(form: Format, tmp_path: Path) -> None:
    original = read_recording(GOLDEN / "parquet" / "record.parquet")
    path = tmp_path / f"copy{form.suffixes[0]}"
    write_recording(original, path, form.name)
    again = read_recording(path)
    assert again.provenance.format_name == form.name
    assert again.sampling_rate_hz == original.sampling_rate_hz
    assert [c.role for c in again.channels] == [c.role for c in original.channels]
    assert [c.unit for c in again.channels] == [c.unit for c in original.channels]
    same_samples(again, original, tolerance=1e-15)  # one rounding of a double


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    """Return a small recording of any sample types, scales and rate."""
    n_samples = draw(st.integers(2, 40))
    channels = []
    for number in range(draw(st.integers(1, 4))):
        kind = np.dtype(draw(st.sampled_from([np.int16, np.int32, np.float32, np.float64])))
        largest = 2 ** (8 * kind.itemsize - 1) - 1
        whole = st.integers(-largest, largest).map(float)
        # COMTRADE keeps floats in single precision
        broken = st.floats(-(2.0**60), 2.0**60, width=32, allow_subnormal=False)
        numbers = whole if kind.kind == "i" else broken
        raw = np.array(draw(st.lists(numbers, min_size=n_samples, max_size=n_samples)), dtype=kind)
        raw[0] = 1
        name = draw(st.text("abcdefghijklmnopqrstuvwxyzÄé_ ", min_size=1, max_size=8)).strip(" _")
        channels.append(
            Channel(
                name=f"{name}x{number}",
                raw=raw,
                unit=draw(st.sampled_from(["A", "V", "mm/s", ""])),
                scale=draw(st.floats(2.0**-10, 2.0**10)) * draw(st.sampled_from([1.0, -1.0])),
                offset=draw(st.sampled_from([0.0, 12.5, -3.0e-3])),
            )
        )
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=float(draw(st.integers(1, 10**6))),
        provenance=Provenance(source="drawn", format_name="drawn"),
    )


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(original=recordings(), form=st.sampled_from([f for f in formats() if f.can_write]))
def test_any_recording_comes_back(original: Recording, form: Format, tmp_path: Path) -> None:
    path = tmp_path / f"record{form.suffixes[0]}"
    write_recording(original, path, form.name, overwrite=True)
    again = read_recording(path)
    assert again.sampling_rate_hz == original.sampling_rate_hz
    assert again.sample_times_s is None
    assert [c.name for c in again.channels] == [c.name for c in original.channels]
    assert [c.unit for c in again.channels] == [c.unit for c in original.channels]
    # doubles are rounded to single precision only where COMTRADE cannot do better
    same_samples(again, original, tolerance=1e-7 if form.name == "comtrade" else 1e-15)


def test_all_invented_golden_files_hold_the_same_recording() -> None:
    """One invented recording in seven formats: written by five libraries, read back the same."""
    original = read_recording(GOLDEN / "parquet" / "record.parquet")
    for form, path in ALL_GOLDEN:
        if form.name != "comtrade":
            recording = read_recording(path)
            assert recording.sampling_rate_hz == pytest.approx(2000.0, rel=1e-12)
            assert recording.sample_times_s is None
            assert recording.roles == original.roles
            same_samples(recording, original, tolerance=1e-15)


@given(
    head=st.binary(max_size=700), name=st.sampled_from(["x", "x.dat", "x.mat", "x.csv", "x.cfg"])
)
def test_recognising_never_raises(head: bytes, name: str) -> None:
    for form in formats():
        assert form.sniff(Path("nowhere") / name, head) in (True, False)


@pytest.mark.parametrize("pattern", [b"\n", b" ", b"1", b"1,", b'"1,5",\n', b";", b"--", b"\0"])
def test_recognising_is_quick(pattern: bytes) -> None:
    """Patterns that make careless searching take time with the square of the length."""
    head = (pattern * 65536)[:65536]
    start = time.perf_counter()
    for form in formats():
        for name in ("x", "x.dat", "x.csv", "x.cfg", "x.mat"):
            form.sniff(Path("nowhere") / name, head)
    assert time.perf_counter() - start < 5.0  # some 30 s each when it went wrong


@st.composite
def damages(draw: st.DrawFn) -> tuple[int, bytes]:
    """Return an index into the golden files and the file's bytes, damaged."""
    index = draw(st.integers(0, len(ALL_GOLDEN) - 1))
    data = bytearray(ALL_GOLDEN[index][1].read_bytes())
    for _ in range(draw(st.integers(0, 4))):
        # heads and tails are where the structure is
        place = draw(
            st.integers(0, len(data) - 1)
            | st.integers(0, min(200, len(data) - 1))
            | st.integers(max(0, len(data) - 200), len(data) - 1)
        )
        data[place] = draw(st.integers(0, 255) | st.sampled_from([0, 0xFF, 0x7F, 0x80, 0x30, 0x2C]))
    if draw(st.booleans()):
        data = data[: draw(st.integers(0, len(data)))]
    return index, bytes(data)


@settings(
    max_examples=300,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(damage=damages(), stated=st.booleans())
def test_damaged_files_never_raise_anything_else(
    damage: tuple[int, bytes],
    stated: bool,  # noqa: FBT001 - drawn by hypothesis
    tmp_path: Path,
) -> None:
    """Flipped bytes and cut ends give a recording or one of our errors, and no warning."""
    index, data = damage
    path = ALL_GOLDEN[index][1]
    target = tmp_path / path.name
    for partner in path.parent.glob(f"{path.stem}.*"):
        (tmp_path / partner.name).write_bytes(partner.read_bytes())
    target.write_bytes(data)
    outcome = read_or_error(target, STILL_READABLE if stated else None)
    if isinstance(outcome, CagewiseError):
        assert outcome.what
        assert outcome.where
        assert outcome.remedy
    else:
        assert outcome.n_samples > 1
        assert sum(channel.raw.nbytes for channel in outcome.channels) < 10**8
