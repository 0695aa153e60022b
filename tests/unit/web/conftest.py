"""A plant, made once, and copied for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from cagewise.store import Plant
from cagewise.web.security import passwords
from cagewise.web.security.rights import Right
from support.plants import motor_file
from support.workbench import Bench, served

SERVED = passwords._HASHER


@pytest.fixture(autouse=True)
def quick_passwords(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let a password take a thousandth of the work; ``as_served`` takes that back."""
    quick = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr(passwords, "_HASHER", quick)
    passwords._nobody.cache_clear()
    yield
    passwords._nobody.cache_clear()


@pytest.fixture
def as_served(quick_passwords: None, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: ARG001 - after it
    """Let a password take the work that it takes in a served workbench."""
    monkeypatch.setattr(passwords, "_HASHER", SERVED)


@pytest.fixture(scope="session")
def _made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "plant"
    with Plant.create(folder, name="Works") as plant:
        plant.motors.add(motor_file("P-101"))
        plant.motors.add(motor_file("P-1010"))
    return folder


@pytest.fixture
def plant_folder(_made: Path, tmp_path: Path) -> Path:
    """Folder of a plant with two motors."""
    return shutil.copytree(_made, tmp_path / "plant")


@pytest.fixture
def bench(plant_folder: Path) -> Iterator[Bench]:
    """The plant served to this machine."""
    with served(plant_folder) as made:
        yield made


@pytest.fixture
def remote(plant_folder: Path) -> Iterator[Bench]:
    """The plant served to others, who have accounts."""
    accounts = (("Ada", Right.ADMIN), ("Ben", Right.WRITE), ("Cleo", Right.READ))
    with served(
        plant_folder,
        address="https://motors.plant.example",
        accounts=accounts,
        allow_remote=True,
        names=("motors.plant.example",),
    ) as made:
        yield made
