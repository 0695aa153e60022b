"""Which plant is meant, and what a new one is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from cagewise.errors import PlantFolderError, StoreReadOnlyError
from cagewise.store import Plant
from cagewise.workflows.plant_folder import (
    VARIABLE,
    look_into_plant,
    new_plant,
    open_plant,
    plant_folder,
)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with three plants in it, none of them named."""
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    for name in ("stated", "of environment", "plant"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "plant.toml").touch()
    return tmp_path


def test_what_is_stated_wins_then_the_environment_then_the_usual_folder(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert plant_folder() == Path("plant")
    monkeypatch.setenv(VARIABLE, str(here / "of environment"))
    assert plant_folder() == here / "of environment"
    assert plant_folder(here / "stated") == here / "stated"


def test_no_plant_is_named_with_what_to_do(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "plant" / "plant.toml").unlink()
    with pytest.raises(PlantFolderError, match=r"--plant FOLDER.*CAGEWISE_PLANT.*plant-new"):
        plant_folder()
    with pytest.raises(PlantFolderError, match=r"--plant: plant is no plant: there is no plant.t"):
        plant_folder(Path("plant"))
    monkeypatch.setenv(VARIABLE, "gone")
    with pytest.raises(PlantFolderError, match=r"CAGEWISE_PLANT: gone .* no such folder"):
        plant_folder()


def test_a_new_plant_is_as_said(tmp_path: Path) -> None:
    with new_plant(tmp_path / "a", name="mill", time_zone="Europe/Zurich") as plant:
        assert (plant.about.name, plant.about.time_zone) == ("mill", "Europe/Zurich")
    with new_plant(tmp_path / "b") as plant:
        assert plant.about.time_zone == "UTC"
    with pytest.raises(PlantFolderError, match="already"):
        new_plant(tmp_path / "a")
    with open_plant(tmp_path / "b") as plant:
        assert not plant.motors.all()


def test_a_plant_that_may_only_be_read_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    new_plant(tmp_path / "a").close()
    really = Plant.open

    def guarded(folder: Path, **options: Any) -> Plant:
        if not options.get("read_only"):
            raise StoreReadOnlyError("no rights")
        return really(folder, **options)

    monkeypatch.setattr(Plant, "open", guarded)
    with look_into_plant(tmp_path / "a") as plant:
        assert not plant.motors.all()
