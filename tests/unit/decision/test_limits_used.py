"""No threshold stands in the file without being asked."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import cagewise
from cagewise.decision.limits import LimitEntry, limit_entries

SOURCE = Path(cagewise.__file__).parent


@pytest.mark.parametrize("entry", limit_entries(), ids=lambda e: f"{e.section}.{e.name}")
def test_every_limit_is_used(entry: LimitEntry) -> None:
    """Its name is read as an attribute somewhere outside the class that declares it."""
    if entry.name.endswith("_days"):
        pattern = re.compile(r"_days\"")  # the window is chosen by state and criticality
    else:
        pattern = re.compile(rf"\.{entry.name}\b")
    users = [p for p in SOURCE.rglob("*.py") if pattern.search(p.read_text(encoding="utf-8"))]

    assert users, f"{entry.name} is not read by any module"
