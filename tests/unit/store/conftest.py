"""Plants on both databases; each is a copy of one that was created once."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import make_url

from cagewise.store import Plant
from cagewise.store.plant_file import read_plant_file, write_plant_file
from support.plants import SERVER, new_database


@pytest.fixture(scope="session")
def server() -> str:
    """URL of a PostgreSQL server; the test skips where there is none."""
    url = os.environ.get(SERVER)
    if not url:
        pytest.skip(f"no PostgreSQL server (set {SERVER} to its URL)")
    return url


@pytest.fixture
def server_database(server: str) -> Iterator[str]:
    """URL of an empty database on a server."""
    with new_database(server) as url:
        yield url


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def created(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Path]:
    """Folder of an empty plant, made once for each kind of database."""
    folder = tmp_path_factory.mktemp("created") / "plant"
    with ExitStack() as stack:
        database = "history.sqlite"
        if request.param == "postgresql":
            server = request.getfixturevalue("server")
            database = stack.enter_context(new_database(server))
        Plant.create(folder, time_zone="Europe/Zurich", database=database).close()
        yield folder


@pytest.fixture
def plant(created: Path, tmp_path: Path) -> Iterator[Plant]:
    """An empty plant."""
    folder = tmp_path / "plant"
    shutil.copytree(created, folder)
    about = read_plant_file(folder)
    with ExitStack() as stack:
        if "://" in about.database:
            template = make_url(about.database).database or ""
            copy = stack.enter_context(new_database(os.environ[SERVER], template))
            write_plant_file(folder, replace(about, database=copy))
        yield stack.enter_context(Plant.open(folder))
