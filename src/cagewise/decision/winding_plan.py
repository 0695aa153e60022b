"""Which winding and insulation tests a motor in service is asked for, and at which voltages."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.decision.limits import Limits, load_limits
from cagewise.decision.test_levels import (
    DISCHARGE,
    DISCONNECT,
    LOCK_OUT,
    MAY_BREAK,
    TestLevel,
    advise_test_levels,
)
from cagewise.machine.motor import Motor
from cagewise.measurement.cautions import TestKind

FOR_NEW_WINDINGS = ("acceptance_", "surge_new", "impulse_")
"""Beginnings of the names of levels that are never for a winding in service."""
_CAUTIONS = frozenset({LOCK_OUT, DISCONNECT, DISCHARGE, MAY_BREAK})


@dataclass(frozen=True, slots=True, kw_only=True)
class WindingPlan:
    """Winding and insulation tests of a motor in service."""

    tests: tuple[TestKind, ...]
    """What is worth measuring on this motor at rest, the position test left out."""
    levels: tuple[TestLevel, ...]
    """Test voltages for a winding in service whose source is, or may be, for this motor."""

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the levels say of themselves, cautions left out, each once."""
        said = (remark for level in self.levels for remark in level.remarks)
        return tuple(dict.fromkeys(remark for remark in said if remark not in _CAUTIONS))


def winding_plan(motor: Motor, limits: Limits | None = None) -> WindingPlan:
    """Return the winding and insulation tests of a motor in service."""
    limits = limits or load_limits()
    levels = tuple(
        level
        for level in advise_test_levels(motor)
        if level.in_scope is not False and not level.name.startswith(FOR_NEW_WINDINGS)
    )
    names = " ".join(level.name for level in levels)
    tests = [TestKind.RESISTANCE, TestKind.INSULATION]
    if "maintenance_direct" in names:
        tests.append(TestKind.STEP_VOLTAGE)
    if motor.nameplate.rated_voltage_v > limits.plan.dissipation_from_v:
        tests.append(TestKind.DISSIPATION)
    if "surge_in_service" in names:
        tests.append(TestKind.TURN)
    return WindingPlan(tests=tuple(tests), levels=levels)
