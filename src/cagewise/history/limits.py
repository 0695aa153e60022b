"""Limits of what is said of a history, as they are in force."""

from __future__ import annotations

from cagewise.decision.history_limits import PlantLimits, RepairLimits, TrendLimits
from cagewise.decision.limits import load_limits

__all__ = [
    "PlantLimits",
    "RepairLimits",
    "TrendLimits",
    "plant_limits",
    "repair_limits",
    "trend_limits",
]


def trend_limits() -> TrendLimits:
    """Return the limits in force."""
    return load_limits().trend


def repair_limits() -> RepairLimits:
    """Return the limits in force."""
    return load_limits().repair


def plant_limits() -> PlantLimits:
    """Return the limits in force."""
    return load_limits().plant
