"""Limits of the history stand in the one file, and every one is read."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

import cagewise
from cagewise.history import limits
from cagewise.history.limits import PlantLimits, RepairLimits, TrendLimits

SOURCE = Path(cagewise.__file__).parent
SECTIONS = (TrendLimits, RepairLimits, PlantLimits)


@pytest.mark.parametrize(
    ("section", "name"), [(kind, f.name) for kind in SECTIONS for f in fields(kind)]
)
def test_every_limit_is_used(section: type, name: str) -> None:
    users = [
        path
        for path in (SOURCE / "history").glob("*.py")
        if re.search(rf"\.{name}\b", path.read_text(encoding="utf-8"))
    ]
    assert users, f"{section.__name__}.{name} is not read by any module"


def test_limits_in_force_are_those_of_the_file_or_the_defaults() -> None:
    """The defaults are the same numbers."""
    assert limits.trend_limits() == TrendLimits()
    assert limits.repair_limits() == RepairLimits()
    assert limits.plant_limits() == PlantLimits()
