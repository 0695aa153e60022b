"""Recordings that were looked at, from the desk's memory: they never change."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.store import KeptRecording
from cagewise.web.desk import Desk
from cagewise.workflows.plant_roles import RolesSeen, look_at_roles

MOST_VALUES = 40_000_000
"""Samples of all channels that a page reads by itself (a second or two); more are asked for."""
_BYTES = 20_000
"""Memory that what is known of a recording takes, nearly."""


def look_at_desk(desk: Desk, kept: KeptRecording, *, confirmed: bool = False) -> RolesSeen:
    """Return what is known of a recording, from the desk's memory."""
    visit = desk.plant.visits.get(kept.visit_id)
    entry = desk.plant.motors.get(visit.motor_id)
    nameplate = desk.plant.motors.nameplate(entry, on=visit.day)
    key = ("roles", kept.id, nameplate.id, confirmed)
    return desk.prepared.get(
        key, lambda: look_at_roles(desk.plant, kept, confirmed=confirmed), lambda _: _BYTES
    )


def looked_by_itself(recordings: Sequence[KeptRecording]) -> set[int]:
    """Return the numbers of the recordings that a page looks at without being asked."""
    left, chosen = MOST_VALUES, set()
    for kept in recordings:
        left -= kept.n_samples * kept.n_channels
        if left < 0:
            break
        chosen.add(kept.id)
    return chosen
