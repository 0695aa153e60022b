"""Readings of all examinations, one in a row."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from cagewise.errors import DamagedFileError, NotKeptError, OutputError
from cagewise.report.readings_rows import MOTOR_COLUMNS, READING_COLUMNS
from cagewise.report.readings_wording import HEADS, MEANING
from cagewise.report.spreadsheet_text import guarded
from cagewise.store import Plant
from cagewise.workflows.plant_readings import chosen_motors, write_csv, write_xlsx
from support.handed_plants import FORMULA, GROWING, MADE, handed_plant
from support.kept_histories import LAST, add_examination

COLUMNS = tuple(READING_COLUMNS)
PAGE = Path(__file__).parents[3] / "docs" / "exports.md"


@pytest.fixture(scope="module")
def _kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return handed_plant(tmp_path_factory.mktemp("handed") / "plant")


@pytest.fixture
def plant(_kept: Path, tmp_path: Path) -> Iterator[Plant]:
    with Plant.open(shutil.copytree(_kept, tmp_path / "plant")) as opened:
        yield opened


def rows_of(plant: Plant, *tags: str) -> list[dict[str, str]]:
    stream = io.StringIO(newline="")
    write_csv(plant, chosen_motors(plant, tags), stream)
    return list(csv.DictReader(io.StringIO(stream.getvalue(), newline=""), strict=True))


def test_every_reading_of_every_examination_is_one_row(plant: Plant) -> None:
    rows = rows_of(plant)
    kept = sum(
        len(readings)
        for motor in plant.motors.all()
        for readings in plant.examinations.readings(motor).values()
    )
    assert len(rows) == kept == 8
    first = next(row for row in rows if row["tag"] == GROWING)
    assert tuple(first) == COLUMNS
    assert (first["day"], first["indicator"]) == ("2031-01-10", "direct_component")
    assert (first["class"], first["title"]) == ("running, fundamental", "direct component")
    assert (float(first["value"]), first["valid"], first["reason"]) == (0.4, "true", "")
    assert float(first["open_bars_low"]) == pytest.approx(0.36, rel=1e-12)
    assert float(first["load_fraction"]) == 0.75
    motor = plant.motors.find(GROWING)
    made = plant.examinations.of_motor(motor)[0]
    assert first["fingerprint"] == plant.examinations.fingerprint(made)


def test_an_examination_made_again_stands_beside_the_older_one(plant: Plant) -> None:
    add_examination(plant, plant.motors.find(FORMULA), LAST, 0.9, "suspect", **MADE)
    counts = [row["counts"] for row in rows_of(plant, FORMULA)]
    assert counts == ["false", "false", "true", "true"]


def test_a_damaged_document_leaves_the_numbers(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    def damaged(_: object) -> None:
        raise DamagedFileError("the document is damaged")

    monkeypatch.setattr(plant.examinations, "document", damaged)
    rows = rows_of(plant, FORMULA)
    assert [row["class"] for row in rows] == ["", ""]
    assert float(rows[0]["value"]) == 0.3


def test_the_workbook_says_the_same_with_types(plant: Plant, tmp_path: Path) -> None:
    file = tmp_path / "readings.xlsx"
    write_xlsx(plant, plant.motors.all(), file)
    book = openpyxl.load_workbook(file)
    assert book.sheetnames == ["Readings", "Motors", "About"]
    heads, *rows = book["Readings"].iter_rows(values_only=True)
    assert heads == tuple(HEADS[name] for name in COLUMNS)
    said = rows_of(plant)
    assert len(rows) == len(said)
    for row, other in zip(rows, said, strict=True):
        values = dict(zip(COLUMNS, row, strict=True))
        assert values["day"] == datetime.fromisoformat(other["day"])
        assert values["valid"] is (other["valid"] == "true")
        assert values["value"] == float(other["value"])
        assert guarded(str(values["tag"])) == other["tag"]
    motors = list(book["Motors"].iter_rows(values_only=True, min_row=2))
    assert [row[1] for row in motors] == [motor.tag for motor in plant.motors.all()]
    formula = next(row for row in motors if row[1] == FORMULA)
    told = dict(zip(MOTOR_COLUMNS, formula, strict=True))
    assert (told["cage"], told["insulation"]) == ("not decidable", "suspect")
    assert told["measured_on"] == datetime.combine(LAST, datetime.min.time())
    assert not [c for sheet in book for row in sheet.iter_rows() for c in row if c.data_type == "f"]


def test_the_same_plant_gives_the_same_bytes(plant: Plant, tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("a.xlsx", "b.xlsx")]
    for file in files:
        write_xlsx(plant, plant.motors.all(), file)
    assert files[0].read_bytes() == files[1].read_bytes()


def test_a_file_is_never_replaced_unasked_and_never_half(
    plant: Plant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "readings.csv"
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="exists"):
        write_csv(plant, plant.motors.all(), file)

    def broken(*_: object) -> str:
        raise NotKeptError("gone")

    monkeypatch.setattr(plant.examinations, "fingerprint", broken)
    with pytest.raises(NotKeptError):
        write_csv(plant, plant.motors.all(), file, overwrite=True)
    assert file.read_text(encoding="utf-8") == "mine"
    assert {path.name for path in tmp_path.iterdir()} == {"plant", "readings.csv"}


def test_motors_are_found_by_tag_each_once(plant: Plant) -> None:
    assert [m.tag for m in chosen_motors(plant, ["gr-1", "GR-1"])] == [GROWING]
    with pytest.raises(NotKeptError):
        chosen_motors(plant, ["nowhere"])


def test_every_column_is_explained() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert set(READING_COLUMNS) == set(MEANING)
    assert set(READING_COLUMNS) | set(MOTOR_COLUMNS) <= set(HEADS)
    assert [name for name in READING_COLUMNS if f"`{name}`" not in page] == []
