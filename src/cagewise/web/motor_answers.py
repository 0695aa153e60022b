"""What is worked out once for a motor file: its plan, and what open bars would show on it."""

from __future__ import annotations

from cagewise.decision.expect import Expectation
from cagewise.decision.plan import Plan
from cagewise.store import MotorEntry
from cagewise.web.desk import Desk
from cagewise.workflows.plant_plan import expectation_of, plan_of

_BYTES = 100_000
"""Memory that one of them takes, nearly."""


def plan_at(desk: Desk, entry: MotorEntry) -> Plan:
    """Return the plan of a motor from the desk's memory."""
    key = ("plan", entry.id, entry.nameplate_id)
    return desk.prepared.get(key, lambda: plan_of(desk.plant, entry), lambda _: _BYTES)


def expectation_at(desk: Desk, entry: MotorEntry) -> Expectation:
    """Return the expectation of a motor from the desk's memory."""
    key = ("expectation", entry.id, entry.nameplate_id)
    return desk.prepared.get(key, lambda: expectation_of(desk.plant, entry), lambda _: _BYTES)
