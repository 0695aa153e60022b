"""Propose roles for channels that have none; the proposal is printed, never used."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cagewise.conditioning.assignments import Pairing, Place
from cagewise.conditioning.lag_window import expected_lag_deg
from cagewise.conditioning.role_fit import compare
from cagewise.conditioning.role_survey import RolePhasors
from cagewise.conditioning.role_wording import options
from cagewise.conditioning.survey import Survey
from cagewise.errors import ChannelRoleError
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Recording,
    Role,
)

_NOTHING_NAMED = Pairing((), ())


def ask_for_roles(survey: Survey, found: RolePhasors, nameplate: Nameplate) -> ChannelRoleError:
    """Return the error that asks for roles, with a proposal where one can be made."""
    recording = survey.recording
    what = "no channel is known to be a stator current"
    where = recording.provenance.source
    notes = (note.partition("; candidates")[0] for note in recording.provenance.notes)
    unclear = [note for note in notes if note.startswith("roles of ")]
    what = "; ".join([what, *unclear])
    open_ones = [c for c in recording.channels if c.role is Role.UNASSIGNED]
    names = ", ".join(f"{c.name} [{c.unit}]" if c.unit else c.name for c in open_ones)
    currents, voltages = _split_by_kind(recording, found, nameplate)
    if not 1 <= len(currents) <= 3:
        return ChannelRoleError(
            what,
            where=where,
            remedy=f'Say which is which, as in --role "NAME=i_a". Without a role are: {names}.',
        )
    proposal = _propose(found, nameplate, currents, voltages[:3])
    return ChannelRoleError(
        what,
        where=where,
        remedy="Judged by sizes and angles these could be the roles (check them before use): "
        f"{options(proposal, _NOTHING_NAMED, recording)}.",
    )


def _split_by_kind(
    recording: Recording, found: RolePhasors, nameplate: Nameplate
) -> tuple[list[int], list[int]]:
    """Return the rows that could be currents and voltages, by unit or else by size."""
    currents, voltages = [], []
    for row in found.stray:
        unit = recording.channels[row].unit.strip()
        if unit.endswith("A"):
            currents.append(row)
        elif unit.endswith("V"):
            voltages.append(row)
        elif _distance(found.phasors[row], nameplate.rated_current_a) <= min(
            _distance(found.phasors[row], nameplate.rated_voltage_v),
            _distance(found.phasors[row], nameplate.rated_voltage_v / math.sqrt(3.0)),
        ):
            currents.append(row)
        else:
            voltages.append(row)
    return currents, voltages


def _distance(phasor: complex, rated_rms: float) -> float:
    """Return how far a peak phasor is from a rated rms value, as a logarithm."""
    return abs(math.log(abs(phasor) / math.sqrt(2.0) / rated_rms))


def _propose(
    found: RolePhasors, nameplate: Nameplate, currents: Sequence[int], voltages: Sequence[int]
) -> Pairing:
    """Return the most natural roles: file order unless the angles speak against it."""
    natural_current = tuple(
        Place(row, role) for row, role in zip(currents, CURRENT_ROLES, strict=False)
    )
    pool = _kind_of_voltage(found, nameplate, voltages)
    if len(voltages) < 1 or (pool is PHASE_VOLTAGE_ROLES and len(voltages) < 3):
        return Pairing((), natural_current)
    natural = Pairing(
        tuple(Place(row, role) for row, role in zip(voltages, pool, strict=False)),
        natural_current,
    )
    assumed = RolePhasors(
        phasors=found.phasors,
        currents=tuple(currents),
        voltages=tuple(voltages),
        voltage_roles=pool,
        dead=(),
        stray=(),
    )
    largest = max(abs(found.phasors[row]) for row in currents)
    part = largest / math.sqrt(2.0) / nameplate.rated_current_a
    scored = compare(natural, assumed, expected_lag_deg(part, 1.0, nameplate))
    fitting = scored.expected or scored.possible
    images = [fit.pairing.nearest(natural, found.phasors) for fit in fitting]
    return min(images, key=lambda image: image.changes_from(natural), default=natural)


def _kind_of_voltage(
    found: RolePhasors, nameplate: Nameplate, voltages: Sequence[int]
) -> tuple[Role, ...]:
    """Return whether voltages are line or phase voltages, by the nearer rated value."""
    if len(voltages) < 3:
        return LINE_VOLTAGE_ROLES
    phase_v = nameplate.rated_voltage_v / math.sqrt(3.0)
    line = sum(_distance(found.phasors[row], nameplate.rated_voltage_v) for row in voltages)
    phase = sum(_distance(found.phasors[row], phase_v) for row in voltages)
    return LINE_VOLTAGE_ROLES if line <= phase else PHASE_VOLTAGE_ROLES
