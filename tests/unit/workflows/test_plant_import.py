"""Files into a plant: to which motor and day, once each, and why not."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from cagewise.errors import NotKeptError, StoreFullError
from cagewise.measurement import Role
from cagewise.store import MotorEntry, Plant, SourceFile
from cagewise.store.durable import INCOMING
from cagewise.store.measurements import Measurements
from cagewise.store.vault import Copy, Digest, Vault
from cagewise.workflows.plant_decode import Statement, load, load_sheet, recordings_of
from cagewise.workflows.plant_files import found_files
from cagewise.workflows.plant_folder import new_plant
from cagewise.workflows.plant_import import Fate, FileReport, ImportOptions, MappedBy, import_files
from cagewise.workflows.plant_motors import add_motors, motor_of
from support.commands import write_motor
from support.demo_plants import TAG, kiln_plant, laid_out, whole_visit

START, SHEET = "whole-visit-start.parquet", "whole-visit.sheet.toml"
CSV = "t;IL1;IL2;IL3\n" + "".join(f"{k / 100};{k % 7};{k % 5};{k % 3}\n" for k in range(400))


@pytest.fixture
def kiln(tmp_path: Path) -> Iterator[tuple[Plant, MotorEntry]]:
    plant, motor = kiln_plant(tmp_path)
    with plant:
        yield plant, motor


def taken(plant: Plant, *paths: Path, **options: object) -> list[FileReport]:
    return list(import_files(plant, paths, ImportOptions(**options)))  # type: ignore[arg-type]


def test_files_go_to_the_day_on_which_they_were_measured(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, motor = kiln
    folder = laid_out(tmp_path / "in", (START, "whole-visit-2027-start.parquet", SHEET))

    done = taken(plant, folder, tag=TAG)

    assert {(r.path.name, r.fate, r.day) for r in done} == {
        (START, Fate.IMPORTED, date(2031, 4, 15)),
        (SHEET, Fate.IMPORTED, date(2031, 4, 15)),
        ("whole-visit-2027-start.parquet", Fate.IMPORTED, date(2027, 5, 11)),
    }
    assert [visit.day.year for visit in plant.visits.of(motor)] == [2027, 2031]
    assert {r.mapped_by for r in done} == {MappedBy.STATED}


def test_what_is_kept_is_what_the_files_hold(kiln: tuple[Plant, MotorEntry]) -> None:
    from cagewise.readers import read_recording
    from cagewise.readers.test_sheet import read_test_sheet

    plant, motor = kiln
    running, start, sheet = whole_visit().files
    taken(plant, start, sheet, tag=TAG)
    (visit,) = plant.visits.of(motor)

    kept = plant.measurements.recordings(visit)
    (again,) = load(plant, kept)
    direct = read_recording(start)
    assert again.provenance == direct.provenance
    assert [c.raw.tolist() for c in again.channels] == [c.raw.tolist() for c in direct.channels]
    (one,) = plant.measurements.sheets(visit)
    assert load_sheet(plant, one).provenance == read_test_sheet(sheet).provenance
    assert running.is_file()


@pytest.mark.parametrize("moved", [False, True])
def test_importing_again_changes_nothing(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path, *, moved: bool
) -> None:
    plant, motor = kiln
    folder = laid_out(tmp_path / "in", (START, SHEET))
    taken(plant, folder, tag=TAG)
    if moved:  # the ledger does not know the path; the bytes are the same
        folder = folder.rename(tmp_path / "elsewhere")

    again = taken(plant, folder, tag=TAG)

    assert [r.fate for r in again] == [Fate.KNOWN, Fate.KNOWN]
    (visit,) = plant.visits.of(motor)
    assert len(plant.measurements.recordings(visit)) == 1
    assert len(plant.measurements.sheets(visit)) == 1


def test_a_known_file_is_not_even_read(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, _ = kiln
    folder = laid_out(tmp_path / "in", (START,))
    taken(plant, folder, tag=TAG)

    def refuse(*_: object) -> str:
        pytest.fail("it was read")

    monkeypatch.setattr("cagewise.store.vault.Vault.copied", refuse)
    monkeypatch.setattr("cagewise.workflows.plant_prepare.read_decoded", refuse)

    assert [r.fate for r in taken(plant, folder, tag=TAG)] == [Fate.KNOWN]


def test_the_nearest_folder_that_is_named_like_a_motor_tells(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, _ = kiln
    folder = laid_out(tmp_path / "lk-120-m" / "2031", (START, SHEET))

    assert {(r.tag, r.mapped_by) for r in taken(plant, folder)} == {(TAG, MappedBy.FOLDER)}


def test_a_sheet_tells_its_motor_and_a_recording_does_not(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, motor = kiln
    folder = laid_out(tmp_path / "in", (START, SHEET))

    by_name = {r.path.name: r for r in taken(plant, folder)}

    assert by_name[SHEET].mapped_by is MappedBy.SHEET
    assert by_name[START].fate is Fate.REFUSED
    assert "--motor" in by_name[START].remedy
    noted = plant.ledger.find(SourceFile.of(folder / START))
    assert noted is not None
    assert noted.refusal == by_name[START].reason

    assert taken(plant, folder / START, tag=TAG)[0].fate is Fate.IMPORTED
    assert taken(plant, folder / START)[0].mapped_by is MappedBy.BEFORE
    assert len(plant.visits.of(motor)) == 1


def test_a_sheet_of_another_motor_and_a_file_of_another_motor_are_refused(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, _ = kiln
    (other,) = add_motors(plant, [write_motor(tmp_path)])
    taken(plant, whole_visit().files[1], tag=TAG)

    sheet, start = taken(plant, *whole_visit().files[:0:-1], tag=other.tag)

    assert (sheet.fate, start.fate) == (Fate.REFUSED, Fate.REFUSED)
    assert TAG in sheet.reason
    assert TAG in start.reason
    assert not plant.visits.of(other)
    assert taken(plant, whole_visit().files[1], tag=other.tag, again=True)[0].fate is Fate.IMPORTED


def test_every_reason_stands_beside_its_file_and_the_rest_is_imported(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, _ = kiln
    folder = laid_out(tmp_path / "in", (START,))
    (folder / "empty.csv").touch()
    (folder / "torn.parquet").write_bytes(b"PAR1 and no more")
    (folder / "photo.jpg").write_bytes(b"\xff\xd8")
    (folder / "undated.csv").write_text(CSV, encoding="utf-8")
    (folder / ".hidden.parquet").write_bytes(b"nothing")

    by_name = {r.path.name: r for r in taken(plant, folder, tag=TAG)}

    assert {name: r.fate for name, r in by_name.items()} == {
        START: Fate.IMPORTED,
        "empty.csv": Fate.REFUSED,
        "torn.parquet": Fate.REFUSED,
        "undated.csv": Fate.REFUSED,
        "photo.jpg": Fate.FOREIGN,
    }
    assert by_name["empty.csv"].reason == "the file is empty"
    assert by_name["undated.csv"].reason == "it does not say when it was made"
    (named,) = taken(plant, folder / "photo.jpg", tag=TAG)
    assert named.fate is Fate.REFUSED  # the user meant it
    (dated,) = taken(plant, folder / "undated.csv", tag=TAG, day=date(2030, 1, 2))
    assert (dated.fate, dated.day) == (Fate.IMPORTED, date(2030, 1, 2))


def test_a_missing_file_is_refused_and_an_unknown_motor_ends_it(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, _ = kiln

    (gone,) = taken(plant, tmp_path / "gone.cfg", tag=TAG)

    assert (gone.fate, gone.reason) == (Fate.REFUSED, "there is no such file")
    with pytest.raises(NotKeptError, match="LK-120-M"):
        taken(plant, tag="LK-120")


def test_a_full_disk_ends_the_import_and_keeps_what_was_done(
    kiln: tuple[Plant, MotorEntry], monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, motor = kiln
    copied = Vault.copied

    def full(vault: Vault, source: Path, name: str = "", also: Digest | None = None) -> Copy:
        if source.name == SHEET:
            raise StoreFullError("no space is left")
        return copied(vault, source, name, also)

    monkeypatch.setattr(Vault, "copied", full)
    reports = import_files(plant, whole_visit().files[1:], ImportOptions(tag=TAG))
    assert next(reports).fate is Fate.IMPORTED
    with pytest.raises(StoreFullError):
        next(reports)
    assert len(plant.measurements.recordings(plant.visits.of(motor)[0])) == 1
    assert not left_behind(plant)


def test_what_cannot_be_kept_together_is_not_kept_at_all_and_comes_in_later(
    kiln: tuple[Plant, MotorEntry], monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, motor = kiln

    def full(*_: object) -> None:
        raise StoreFullError("no space is left")

    with monkeypatch.context() as patch:
        patch.setattr(Measurements, "add_arrived_sheet", full)  # the last step of the last file
        with pytest.raises(StoreFullError):
            taken(plant, *whole_visit().files[1:], tag=TAG)
    assert plant.visits.of(motor) == []
    assert not left_behind(plant)

    done = taken(plant, *whole_visit().files[1:], tag=TAG)
    assert {each.fate for each in done} == {Fate.IMPORTED}


def test_the_same_bytes_for_two_motors_in_one_import_go_to_the_first(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, _ = kiln
    (other,) = add_motors(plant, [write_motor(tmp_path)])
    for tag in (TAG, other.tag):
        laid_out(tmp_path / "in" / tag, (START,))

    done = {each.path.parent.name: each for each in taken(plant, tmp_path / "in")}

    assert sorted(each.fate for each in done.values()) == [Fate.IMPORTED, Fate.REFUSED]
    assert next(each.fate for each in done.values()) is Fate.IMPORTED
    assert not left_behind(plant)


def test_many_files_come_in_their_order_and_none_is_left_on_its_way(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, motor = kiln
    for n in range(50):  # more than are kept together
        text = CSV if n % 7 else "no recording"
        (tmp_path / f"{n:02}.csv").write_text(f"{text}{9 + n};{n};1;1\n", encoding="utf-8")

    done = taken(plant, *sorted(tmp_path.glob("*.csv")), tag=TAG, day=date(2030, 1, 2))

    assert [int(each.path.stem) for each in done] == list(range(50))
    refused = [int(each.path.stem) for each in done if each.fate is Fate.REFUSED]
    assert refused == list(range(0, 50, 7))
    (visit,) = plant.visits.of(motor)
    assert len(plant.measurements.recordings(visit)) == 50 - len(refused)
    assert not left_behind(plant)


def left_behind(plant: Plant) -> list[Path]:
    """Return files that were on their way and have no name."""
    return list(plant.folder.rglob(f"{INCOMING}*"))


def test_files_that_belong_together_are_one_recording(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "in", ("idle.cfg", "idle.dat"))
    (folder / "idle.cfg.toml").write_text("nominal_frequency_hz = 50\n", encoding="utf-8")

    (found,) = found_files([folder])

    assert [path.name for path in found.files] == ["idle.cfg", "idle.dat", "idle.cfg.toml"]
    (once,) = found_files([folder / "idle.dat", folder])
    assert once.files == found.files


def test_a_changed_sidecar_makes_another_recording_of_the_same_file(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, motor = kiln
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.csv").write_text(CSV, encoding="utf-8")
    sidecar = folder / "a.csv.toml"
    sidecar.write_text("start_time = 2030-01-02T08:00:00\n", encoding="utf-8")
    assert taken(plant, folder, tag=TAG)[0].fate is Fate.IMPORTED

    sidecar.write_text(
        'start_time = 2030-01-02T08:00:00\n[[channel]]\ncolumn = "IL1"\nscale = 100.0\n',
        encoding="utf-8",
    )
    (again,) = taken(plant, folder, tag=TAG)

    assert again.fate is Fate.IMPORTED
    (visit,) = plant.visits.of(motor)
    (now,) = recordings_of(plant, visit, motor_of(plant.motors.nameplate(motor), motor.tag))
    (recording,) = load(plant, [now])
    assert next(c.scale for c in recording.channels if c.name == "IL1") == 100.0


def test_new_roles_of_the_motor_file_decode_the_original_again(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, entry = kiln
    file = tmp_path / "a.csv"
    file.write_text(CSV, encoding="utf-8")
    taken(plant, file, tag=TAG, day=date(2030, 1, 2), statement=Statement(roles={"IL1": "i_a"}))
    (visit,) = plant.visits.of(entry)
    file.unlink()  # the plant has its own copy
    text = plant.motors.nameplate(entry).toml
    changed = text.replace("[sensors]\n", '[sensors]\nroles = { IL2 = "i_b" }\n')
    plant.motors.edit(entry, changed, valid_from=date(2029, 1, 1))
    motor = motor_of(plant.motors.nameplate(entry, on=visit.day), entry.tag)
    assert motor.sensors.roles == {"IL2": "i_b"}

    (now,) = recordings_of(plant, visit, motor)
    (recording,) = load(plant, [now])

    roles = {channel.name: channel.role for channel in recording.channels}
    assert (roles["IL1"], roles["IL2"]) == (Role("i_a"), Role("i_b"))
    assert recordings_of(plant, visit, motor) == (now,)
    assert len(plant.measurements.recordings(visit)) == 2


def sheet_with_waveforms(folder: Path, name: str = "turns.csv") -> Path:
    """Write a test sheet that names a file of waveforms, and that file."""
    folder.mkdir(exist_ok=True)
    text = (
        '[sheet]\nformat = 1\nmotor = "LK-120-M"\nmeasured_on = 2031-04-15\n'
        'measured_at = "motor terminals"\n'
        f'[turn_test]\npeak_voltage_kv = 2\nwaveforms = "{name}"\n'
    )
    (folder / "turns.sheet.toml").write_text(text, encoding="utf-8")
    rows = "".join(f"{k},{k},{2 * k},{3 * k}\n" for k in range(40))
    (folder / "turns.csv").write_text(
        f"time_us,ab_voltage_v,bc_voltage_v,ca_voltage_v\n{rows}", encoding="utf-8"
    )
    return folder / "turns.sheet.toml"


def test_a_sheet_is_kept_with_the_waveforms_beside_it(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    from cagewise.readers.test_sheet import read_test_sheet

    plant, motor = kiln
    sheet = sheet_with_waveforms(tmp_path / "in")
    direct = read_test_sheet(sheet)

    for expected in (Fate.IMPORTED, Fate.KNOWN):
        (done,) = taken(plant, tmp_path / "in", tag=TAG)  # the waveforms are no file of their own
        assert (done.fate, done.is_sheet) == (expected, True)
    shutil.rmtree(tmp_path / "in")

    (visit,) = plant.visits.of(motor)
    (kept,) = plant.measurements.sheets(visit)
    assert [each.name for each in kept.beside] == ["turns.csv"]
    assert plant.measurements.sheet(kept.id) == kept
    again = load_sheet(plant, kept)
    assert again.provenance == direct.provenance
    assert again.turns is not None
    assert direct.turns is not None
    assert again.turns.time_s.tolist() == direct.turns.time_s.tolist()


def test_another_file_of_waveforms_of_the_same_sheet_is_refused(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path
) -> None:
    plant, motor = kiln
    sheet = sheet_with_waveforms(tmp_path / "in")
    taken(plant, sheet, tag=TAG)
    waveforms = tmp_path / "in/turns.csv"
    waveforms.write_text(waveforms.read_text().replace("39,39,78,", "39,39,78.5,"))

    (done,) = taken(plant, sheet, tag=TAG)

    assert done.fate is Fate.REFUSED
    assert done.reason == "this sheet was kept with other content of 'turns.csv'"
    (visit,) = plant.visits.of(motor)
    assert len(plant.measurements.sheets(visit)) == 1


@pytest.mark.parametrize("name", ["../turns.csv", "sub/turns.csv", "link.csv", "a\\\\turns.csv"])
def test_waveforms_are_taken_from_beside_the_sheet_only(
    kiln: tuple[Plant, MotorEntry], tmp_path: Path, name: str
) -> None:
    plant, motor = kiln
    sheet = sheet_with_waveforms(tmp_path / "in", name)
    turns = tmp_path / "in/turns.csv"
    (tmp_path / "in/sub").mkdir()
    shutil.copy(turns, tmp_path / "in/sub")
    shutil.move(turns, tmp_path)
    (tmp_path / "in/link.csv").symlink_to(tmp_path / "turns.csv")

    (done,) = taken(plant, sheet, tag=TAG)

    assert done.fate is Fate.REFUSED
    assert "plain name" in done.reason or "outside the folder" in done.reason
    assert plant.visits.of(motor) == []
    assert list((plant.folder / "originals").iterdir()) == []


def test_a_plant_in_the_folder_is_not_imported_into_itself(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "in", (START,))
    new_plant(folder / "plant").close()
    shutil.copy(folder / START, folder / "plant" / "originals")

    assert [found.path.name for found in found_files([folder])] == [START]
