"""What pages and the interface both do: state roles, and ask for an examination."""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.store import KeptRecording, Visit
from cagewise.web.desk import Desk
from cagewise.web.jobs import Job
from cagewise.web.jobs.shown import examine_title
from cagewise.workflows.plant_decode import state_roles


def state_and_examine(
    desk: Desk, kept: KeptRecording, naming: Mapping[str, str], *, confirmed: bool, by: str
) -> Job:
    """State the roles of a recording and ask for an examination of its visit.

    Raises
    ------
    ChannelRoleError
        If a channel or role does not exist, or two channels would share a role.
    """
    found = desk.plant.visits.get(kept.visit_id)
    if naming:
        kept = state_roles(desk.plant, kept, naming)
    return examine_visit(desk, found, confirmed=confirmed, by=by)


def examine_visit(desk: Desk, found: Visit, *, confirmed: bool, by: str) -> Job:
    """Ask for an examination of a visit."""
    entry = desk.plant.motors.get(found.motor_id)
    arguments = {
        "motor_id": entry.id,
        "day": found.day.isoformat(),
        "roles_confirmed": confirmed,
    }
    return desk.jobs.submit("examine", arguments, title=examine_title(entry, found.day), by=by)
