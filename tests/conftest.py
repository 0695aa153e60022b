"""Fixtures shared by all tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from cagewise.store import KeptExamination, Plant
from support.pictured import pictured_plant

_DEFAULT = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder with open recordings nobody on the project made; the test skips where it is absent."""
    folder = Path(os.environ.get("CAGEWISE_OPEN_DATA", str(_DEFAULT)))
    if not folder.is_dir():
        pytest.skip(f"open recordings are not at {folder} (set CAGEWISE_OPEN_DATA)")
    return folder


@pytest.fixture(scope="session")
def pictured(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[Plant, dict[str, KeptExamination]]]:
    """A plant with examinations that have every picture, by the name of the visit."""
    with pictured_plant(tmp_path_factory.mktemp("pictured") / "plant") as made:
        yield made
