from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from cagewise.errors import NotKeptError, StoreError
from cagewise.store import Decoded, Plant, SourceFile, Visit
from support.plants import DAY, import_file, motor_file, recording_of

CONTENT = b"counts " * 5000


@pytest.fixture
def visit(plant: Plant) -> Visit:
    return plant.visits.on(plant.motors.add(motor_file()), DAY)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "run.dat"
    file.write_bytes(CONTENT)
    return file


def test_a_visit_is_made_once(plant: Plant, visit: Visit) -> None:
    motor = plant.motors.find("P-101")
    assert plant.visits.on(motor, DAY) == visit
    assert plant.visits.of(motor) == [visit]
    assert plant.visits.get(visit.id) == visit
    with pytest.raises(NotKeptError):
        plant.visits.get(99)


def test_a_file_and_its_recordings_are_kept(plant: Plant, visit: Visit, path: Path) -> None:
    start = datetime(2026, 3, 2, 12, tzinfo=UTC)
    recording = replace(recording_of(CONTENT), start_time=start.replace(tzinfo=None))
    stated = {"sampling_rate_hz": 5000.0}
    [kept] = plant.measurements.keep_files(
        visit, [path], [Decoded(recording=recording, stated=stated)]
    )
    assert plant.measurements.recordings(visit) == [kept]
    assert plant.measurements.recording(kept.id) == kept
    assert kept.checksum == kept.originals[0].checksum == sha256(CONTENT).hexdigest()
    assert kept.originals[0].name == "run.dat"
    assert kept.stated == stated
    assert kept.started_at == start.replace(hour=11)  # Zurich is an hour ahead of UTC in March
    assert plant.measurements.originals.checked(kept.checksum).read_bytes() == CONTENT
    loaded = plant.measurements.load(kept)
    assert loaded.provenance == recording.provenance
    assert loaded.channels[0].raw.tobytes() == recording.channels[0].raw.tobytes()
    assert plant.measurements.visits_of_file(kept.checksum) == [visit.id]


def test_importing_again_adds_nothing(plant: Plant, visit: Visit, path: Path) -> None:
    kept = import_file(plant, path, visit)
    assert import_file(plant, path, visit) == kept
    decoded = [Decoded(recording=recording_of(CONTENT), part=part) for part in ("a", "b")]
    assert plant.measurements.keep_files(visit, [path], decoded) == kept
    assert plant.measurements.recordings(visit) == list(kept)


def test_decoding_in_another_way_is_another_recording(
    plant: Plant, visit: Visit, path: Path
) -> None:
    [first] = plant.measurements.keep_files(
        visit, [path], [Decoded(recording=recording_of(CONTENT))]
    )
    other = replace(recording_of(CONTENT), sampling_rate_hz=4000.0)
    [second] = plant.measurements.keep_files(visit, [path], [Decoded(recording=other)])
    assert first.id != second.id
    assert plant.measurements.load(first).sampling_rate_hz == 5000.0
    assert plant.measurements.load(second).sampling_rate_hz == 4000.0


def test_a_recording_of_several_files_keeps_their_order(
    plant: Plant, visit: Visit, tmp_path: Path
) -> None:
    parts = {"run.cfg": b"heads", "run.dat": b"counts", "run.dat.toml": b"rate = 1"}
    for name, content in parts.items():
        (tmp_path / name).write_bytes(content)
    recording = recording_of(b"headscounts")
    [kept] = plant.measurements.keep_files(
        visit, [tmp_path / name for name in parts], [Decoded(recording=recording)]
    )
    assert [original.name for original in kept.originals] == list(parts)
    assert kept.checksum == sha256(b"headscounts").hexdigest()


def test_a_file_that_changed_after_it_was_read_is_refused(
    plant: Plant, visit: Visit, path: Path
) -> None:
    with pytest.raises(StoreError, match="changed after it was read"):
        plant.measurements.keep_files(visit, [path], [Decoded(recording=recording_of(b"other"))])
    assert plant.measurements.recordings(visit) == []


def test_a_sheet_belongs_to_a_visit_once(plant: Plant, visit: Visit) -> None:
    original = plant.measurements.keep_original(b"a sheet", "sheet.toml")
    sheet = plant.measurements.add_sheet(visit, original, measured_on=DAY)
    assert plant.measurements.add_sheet(visit, original, measured_on=DAY) == sheet
    assert plant.measurements.sheets(visit) == [sheet]
    assert plant.measurements.sheet(sheet.id).source == "sheet.toml"
    assert plant.measurements.visits_of_file(original.checksum) == [visit.id]


def test_the_ledger_knows_a_file_without_reading_it(plant: Plant, path: Path) -> None:
    source = SourceFile.of(path)
    assert plant.ledger.find(source) is None
    refused = plant.ledger.note(source, "ab" * 32, refusal="no channel")
    assert plant.ledger.find(source) == refused
    imported = plant.ledger.note(source, "ab" * 32)
    assert imported.refusal == ""
    assert plant.ledger.note(source, "ab" * 32, refusal="no channel").refusal == ""
    assert plant.ledger.find_bytes("ab" * 32) == imported
    path.write_bytes(CONTENT + b"more")
    assert plant.ledger.find(SourceFile.of(path)) is None


def test_numbers_that_nobody_has_are_named(plant: Plant) -> None:
    with pytest.raises(NotKeptError, match="recording number 7"):
        plant.measurements.recording(7)
    with pytest.raises(NotKeptError, match="test sheet number 7"):
        plant.measurements.sheet(7)
    with pytest.raises(NotKeptError, match="motor number 7"):
        plant.motors.get(7)
