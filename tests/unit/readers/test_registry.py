"""What holds for every format: finding it, sidecars, roles, bad files, writing."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from cagewise.errors import ChannelRoleError, RecordingError
from cagewise.measurement import Recording, Role
from cagewise.readers import ReadOptions, formats, read_recording, write_recording

TABLE = "IL1,IL2,U12\n1,2,3\n4,5,6\n7,8,9\n"


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "pump.csv"
    path.write_text(TABLE)
    return path


def sidecar(path: Path, text: str) -> None:
    path.with_name(path.name + ".toml").write_text(text)


def test_sidecar_states_what_the_file_does_not(table: Path) -> None:
    sidecar(
        table,
        """
        sampling_rate_hz = 1000
        nominal_frequency_hz = 50
        start_time = 2026-03-01T08:00:00
        [[channel]]
        column = "IL2"
        name = "clamp"
        role = "-i_c"
        unit = "kA"
        scale = 2.0
        offset = 0.5
        [[channel]]
        column = "U12"
        role = "v_bc*60"
        """,
    )
    recording = read_recording(table)
    assert recording.sampling_rate_hz == 1000.0
    assert recording.nominal_frequency_hz == 50.0
    assert str(recording.start_time) == "2026-03-01 08:00:00"
    clamp = recording.find(Role.CURRENT_C)
    assert clamp is not None
    assert (clamp.name, clamp.unit) == ("clamp", "A")
    np.testing.assert_allclose(clamp.samples, [-4500.0, -10500.0, -16500.0], rtol=1e-14)
    voltage = recording.find(Role.VOLTAGE_BC)
    assert voltage is not None
    np.testing.assert_allclose(voltage.samples, [180.0, 360.0, 540.0], rtol=1e-14)
    assert recording.find(Role.CURRENT_A) is None, "one stated current stops guessing the others"
    assert recording.provenance.steps[0] == "sidecar pump.csv.toml applied"


def test_statements_win_in_order(table: Path) -> None:
    sidecar(table, 'sampling_rate_hz = 1000\n[[channel]]\ncolumn = "IL1"\nrole = "i_b"\n')
    options = ReadOptions(sampling_rate_hz=2000.0)
    recording = read_recording(table, roles={"IL1": "i_c"}, options=options)
    assert recording.sampling_rate_hz == 2000.0
    assert recording.channels[0].role is Role.CURRENT_C


def test_columns_without_names_have_numbers(tmp_path: Path) -> None:
    path = tmp_path / "plain.csv"
    path.write_text("1,2\n4,5\n3,8\n")
    sidecar(path, 'sampling_rate_hz = 1000\n[[channel]]\ncolumn = 2\nrole = "i_a"\n')
    recording = read_recording(path, roles={"1": "-i_b"})
    assert [c.role for c in recording.channels] == [Role.CURRENT_B, Role.CURRENT_A]
    np.testing.assert_array_equal(recording.channels[0].samples, [-1.0, -4.0, -3.0])


def test_a_number_never_means_a_column_that_has_a_name(table: Path) -> None:
    with pytest.raises(ChannelRoleError, match="no channel named '1'"):
        read_recording(table, roles={"1": "i_a"}, options=ReadOptions(sampling_rate_hz=1.0))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("sampling_rate_hz = 0", "positive"),
        ("sampling_rate_hz = -5", "positive"),
        ("sampling_rate_hz = nan", "number"),
        ("sampling_rate_hz = inf", "number"),
        (f"sampling_rate_hz = 1{400 * '0'}", "number"),
        (f"sampling_rate_hz = 1{5000 * '0'}", "TOML"),
        ('sampling_rate_hz = "fast"', "must be a number"),
        ("sampling_rate_hz = true", "must be a number"),
        ("sampling_rate = 1000", "Did you mean 'sampling_rate_hz'"),
        ("nominal_frequency_hz = -50", "positive"),
        ('start_time = "yesterday"', "date and time"),
        ("sampling_rate_hz = ", "TOML"),
        ("channel = 3", "one ..channel.. table"),
        ("channel = [3]", "one ..channel.. table"),
        ('[[channel]]\nrole = "i_a"', "channel name or number"),
        ('[[channel]]\ncolumn = "IL1"\nrolle = "i_a"', "Did you mean 'role'"),
        ('[[channel]]\ncolumn = "IL1"\nscale = 0', "other than zero"),
        ('[[channel]]\ncolumn = "IL1"\nscale = nan', "must be a number"),
        ('[[channel]]\ncolumn = "IL1"\nname = 5', "must be a text"),
        ('[[channel]]\ncolumn = "IL1"\nname = "IL2"', "two channels"),
    ],
)
def test_wrong_sidecars_are_refused(table: Path, text: str, message: str) -> None:
    sidecar(table, text)
    with pytest.raises(RecordingError, match=message) as caught:
        read_recording(table, options=ReadOptions(sampling_rate_hz=1.0))
    assert "pump.csv.toml" in caught.value.where
    assert caught.value.remedy


@pytest.mark.parametrize("role", ["i_d", "", "-", "i_a*0", "i_a*x"])
def test_wrong_roles_are_refused(table: Path, role: str) -> None:
    with pytest.raises(ChannelRoleError):
        read_recording(table, roles={"IL1": role}, options=ReadOptions(sampling_rate_hz=1.0))


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_rates_are_refused(rate: float) -> None:
    with pytest.raises(RecordingError, match="positive number of hertz"):
        ReadOptions(sampling_rate_hz=rate)


def test_checksum_is_of_the_original_bytes(table: Path) -> None:
    recording = read_recording(table, options=ReadOptions(sampling_rate_hz=1.0))
    assert recording.provenance.sha256 == hashlib.sha256(table.read_bytes()).hexdigest()


def bad_files(folder: Path) -> dict[str, tuple[Path, str]]:
    """Return files that cannot be read, and a word of the message."""
    files = {"missing": (folder / "missing.csv", "no such file")}
    (folder / "empty.wav").write_bytes(b"")
    files["empty"] = (folder / "empty.wav", "empty")
    files["folder"] = (folder, "folder")
    (folder / "prose.mat").write_text("Dear colleague,\nplease find enclosed nothing.\n")
    files["other content"] = (folder / "prose.mat", "content does not")
    (folder / "noise.bin").write_bytes(bytes(range(256)) * 20)
    files["unknown"] = (folder / "noise.bin", "not a recording in a known format")
    os.mkfifo(folder / "pipe.csv")
    files["pipe"] = (folder / "pipe.csv", "regular file")
    return files


@pytest.mark.parametrize(
    "which", ["missing", "empty", "folder", "other content", "unknown", "pipe"]
)
def test_bad_files_are_refused(tmp_path: Path, which: str) -> None:
    path, message = bad_files(tmp_path)[which]
    if which == "other content" and not any(".mat" in form.suffixes for form in formats()):
        pytest.skip("no such format")
    with pytest.raises(RecordingError, match=message) as caught:
        read_recording(path)
    assert str(path) == caught.value.where
    assert caught.value.remedy


def test_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Permissions do not stop the superuser, who may run this: the operating system is replaced."""
    path = tmp_path / "secret.csv"
    path.write_text(TABLE)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(RecordingError, match=r"cannot be opened \(Permission denied"):
        read_recording(path)


def test_nothing_is_overwritten_unless_told(tmp_path: Path, recording: Recording) -> None:
    path = tmp_path / "record.cfg"
    (tmp_path / "record.dat").write_bytes(b"precious")
    with pytest.raises(RecordingError, match="exists already"):
        write_recording(recording, path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["record.dat"]
    assert (tmp_path / "record.dat").read_bytes() == b"precious"
    write_recording(recording, path, overwrite=True)
    assert read_recording(path).n_samples == recording.n_samples


def test_writing_needs_a_format_and_a_folder(tmp_path: Path, recording: Recording) -> None:
    with pytest.raises(RecordingError, match=r"no format ends in '\.doc'"):
        write_recording(recording, tmp_path / "record.doc")
    with pytest.raises(RecordingError, match="no format is named 'doc'"):
        write_recording(recording, tmp_path / "record.csv", "doc")
    with pytest.raises(RecordingError, match="no such folder"):
        write_recording(recording, tmp_path / "nowhere" / "record.csv")
    write_recording(recording, tmp_path / "record.data", "csv")
    assert read_recording(tmp_path / "record.data").n_samples == recording.n_samples


def test_a_format_is_recognised_by_content(tmp_path: Path, recording: Recording) -> None:
    write_recording(recording, tmp_path / "record.csv")
    (tmp_path / "record.csv").rename(tmp_path / "record.wav")
    again = read_recording(tmp_path / "record.wav")
    assert again.provenance.format_name == "csv"


def test_listing_formats_imports_no_heavy_library() -> None:
    heavy = ["pyarrow", "h5py", "scipy", "nptdms", "pandas", "matplotlib"]
    code = (
        "import sys; from cagewise.readers import formats; formats(); "
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    done = subprocess.run(  # noqa: S603 - our own interpreter and text
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_a_missing_rate_names_the_option_and_the_file(table: Path) -> None:
    with pytest.raises(RecordingError, match=r"--rate 10000, or .* in a file pump\.csv\.toml"):
        read_recording(table)


@pytest.mark.skipif(os.name != "posix", reason="names are bytes")
def test_a_file_name_that_is_no_text_can_be_written_down(tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(b"pump\xff.csv")
    try:
        path.write_text(TABLE)
    except OSError:
        pytest.skip("this file system wants names in UTF-8")
    recording = read_recording(path, options=ReadOptions(sampling_rate_hz=1000.0))

    assert recording.provenance.source.encode("utf-8") == b"pump?.csv"


def test_a_toml_file_among_the_recordings_is_explained(tmp_path: Path) -> None:
    path = tmp_path / "motor.toml"
    path.write_text("[motor]\npoles = 4\n")
    with pytest.raises(RecordingError, match="motor file comes first, and only once"):
        read_recording(path)
