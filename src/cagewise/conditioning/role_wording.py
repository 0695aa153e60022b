"""What is said about roles: errors with the exact options that would help, and statements."""

from __future__ import annotations

from collections.abc import Iterable

from cagewise.conditioning.assignments import Pairing, Sequences
from cagewise.errors import ChannelRoleError
from cagewise.measurement import Recording
from cagewise.measurement.role_text import RoleText, role_option

LARGEST_PART = 10.0
"""Three equal currents have no size to compare with: larger parts are not printed."""
ORDER_NAMES = {1: "a-b-c", -1: "a-c-b", 0: "unknown"}
"""Order of the phases in words."""


def options(pairing: Pairing, named: Pairing, recording: Recording) -> str:
    """Return the options that turn the roles as named into ``pairing``, ready for a shell."""
    before = {place.row: place for place in named.voltage + named.current}
    return " ".join(
        role_option(
            recording.channels[place.row].name, RoleText(role=place.role, factor=float(place.sign))
        )
        for place in sorted(pairing.voltage + pairing.current, key=lambda place: place.row)
        if place != before.get(place.row)
    )


def role_error(what: str, remedies: Iterable[str], recording: Recording) -> ChannelRoleError:
    """Return the error that asks for roles; several remedies are alternatives."""
    listed = [remedy for remedy in remedies if remedy]
    if not listed:
        remedy = (
            "No naming of these channels makes a motor of them: check that they belong to one "
            "motor and have the right ratios, and give what does not belong the role 'other'"
        )
    elif len(listed) == 1:
        remedy = f"It fits with {listed[0]}"
    else:
        remedy = "It would fit in several ways: " + "; or ".join(listed)
    if any(step.startswith("roles stated") for step in recording.provenance.steps):
        remedy += " (on top of the roles already stated)"
    return ChannelRoleError(what, where=recording.provenance.source, remedy=remedy + ".")


def what_is_wrong(
    voltage: Sequences, current: Sequences, lag_deg: float, agree: tuple[bool, bool]
) -> str:
    """Return why the roles as named cannot be right, as a clause.

    ``agree`` says whether voltages and currents make three-phase sets.
    """
    if not agree[0]:
        return "the voltages as named do not make a three-phase set"
    if not agree[1]:
        return (
            "the currents as named do not make a three-phase set "
            f"(a third of their sum is {_percent(current.residual_part)} their size)"
        )
    if voltage.order * current.order < 0:
        return (
            f"the voltages as named turn {ORDER_NAMES[voltage.order]}, "
            f"the currents {ORDER_NAMES[current.order]}"
        )
    return f"as named, the current would lag its phase voltage by {lag_deg:.0f} degrees"


def _percent(part: float) -> str:
    """Return a part in per cent; beyond tenfold the number means nothing."""
    return f"{100.0 * part:.0f} % of" if part <= LARGEST_PART else "more than ten times"
