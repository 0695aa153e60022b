"""Fixtures shared by all tests."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

_DEFAULT = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder with open recordings nobody on the project made; the test skips where it is absent."""
    folder = Path(os.environ.get("CAGEWISE_OPEN_DATA", str(_DEFAULT)))
    if not folder.is_dir():
        pytest.skip(f"open recordings are not at {folder} (set CAGEWISE_OPEN_DATA)")
    return folder
