"""Use case: which channel of a kept recording is which, how that was checked, how good it is.

The checks are those of the examination. What they would propose instead comes out of their own
words, so that page and command line say the same.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning import QualityFinding, judge_quality
from cagewise.errors import ChannelRoleError
from cagewise.machine.motor import Motor
from cagewise.measurement import Channel, Recording, Role
from cagewise.measurement.role_text import RoleText, parse_role_text
from cagewise.pipeline.looking import look_at
from cagewise.quantities import NotKnown
from cagewise.store import KeptRecording, Plant
from cagewise.workflows.assess import AssessOptions, settings_of
from cagewise.workflows.plant_decode import Statement
from cagewise.workflows.plant_motors import motor_of

_OPTION = re.compile(r'--role "(?P<name>[^"]+)=(?P<text>-?[a-z_]+(?:\*[0-9.e+-]+)?)"')
"""As :func:`cagewise.measurement.role_text.role_option` writes it."""
_ALTERNATIVES = "; or "


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSeen:
    """One channel as it is taken."""

    name: str
    unit: str
    role: Role
    factor: float
    """That was stated: -1 for a reversed clamp, 60 for a 60:1 transformer, 1 if nothing was."""
    stated: bool
    """Whether somebody said so for this recording, rather than its name or the motor file."""
    rms: float | None
    """Of its samples without their mean, in its unit; None if it holds no number."""

    @property
    def text(self) -> str:
        """What is said of it, as ``-i_b`` or ``v_ab*60``."""
        return str(RoleText(role=self.role, factor=self.factor))


@dataclass(frozen=True, slots=True, kw_only=True)
class RolesSeen:
    """What is known of a recording before anything is read on it."""

    kept: KeptRecording
    channels: tuple[ChannelSeen, ...]
    notes: tuple[str, ...]
    """What its reader had to decide."""
    statements: tuple[str, ...] = ()
    """What the physical checks found to be so, each with its numbers."""
    quality: tuple[QualityFinding, ...] = ()
    """Worst first; findings on roles among them."""
    proven: bool = False
    """No other naming of these channels fits."""
    question: ChannelRoleError | None = None
    """What has to be answered before it can be examined."""
    proposals: tuple[Mapping[str, str], ...] = ()
    """Namings that would fit: channel to what is said of it, only what would change."""
    frequency_hz: float | None = None
    steady_s: float | None = None
    """Length of the longest steady stretch; None where there is none."""
    starts: int = 0
    """How often the motor is started in it."""


def look_at_roles(plant: Plant, kept: KeptRecording, *, confirmed: bool = False) -> RolesSeen:
    """Look at a recording that the plant keeps: its channels, their roles, its quality.

    Parameters
    ----------
    plant
        Open.
    kept
        The recording; all of it is read.
    confirmed
        The user was asked about the roles and insists.

    Raises
    ------
    MissingFileError, DamagedFileError
        If its waveform is not there, or not what was kept.
    """
    visit = plant.visits.get(kept.visit_id)
    entry = plant.motors.get(visit.motor_id)
    motor = motor_of(plant.motors.nameplate(entry, on=visit.day), entry.tag)
    recording = plant.measurements.load(kept)
    stated = {name: parse_role_text(text) for name, text in Statement.of(kept.stated).roles.items()}
    channels = tuple(_seen(channel, stated) for channel in recording.channels)
    settings = settings_of(AssessOptions(roles_confirmed=confirmed))
    notes = recording.provenance.notes
    try:
        looked = look_at(motor, recording, settings)
    except ChannelRoleError as error:
        return RolesSeen(
            kept=kept,
            channels=channels,
            notes=notes,
            quality=_quality(motor, recording),
            question=error,
            proposals=proposals_in(error.remedy, channels),
        )
    proof, longest = looked.proof, max((s.duration_s for s in looked.stretches), default=None)
    return RolesSeen(
        kept=kept,
        channels=channels,
        notes=notes,
        statements=proof.statements,
        quality=looked.quality,
        proven=proof.proven,
        frequency_hz=None if isinstance(looked.frequency_hz, NotKnown) else looked.frequency_hz,
        steady_s=longest,
        starts=len(looked.starts),
    )


def proposals_in(
    remedy: str, channels: tuple[ChannelSeen, ...] = ()
) -> tuple[Mapping[str, str], ...]:
    """Return the namings that the remedy of a question offers.

    Parameters
    ----------
    remedy
        Of a :class:`~cagewise.errors.ChannelRoleError`.
    channels
        As they are taken: what is offered counts on top of that.
    """
    before = {channel.name: channel.factor for channel in channels}
    found = []
    for part in remedy.split(_ALTERNATIVES):
        naming = {}
        for match in _OPTION.finditer(part):
            said = parse_role_text(match["text"])
            factor = said.factor * before.get(match["name"], 1.0)
            naming[match["name"]] = str(RoleText(role=said.role, factor=factor))
        if naming:
            found.append(naming)
    return tuple(found)


def _quality(motor: Motor, recording: Recording) -> tuple[QualityFinding, ...]:
    """Return what a recording is good for, apart from its roles."""
    return judge_quality(recording, nameplate=motor.nameplate)


def _seen(channel: Channel, stated: Mapping[str, RoleText]) -> ChannelSeen:
    """Return a channel as it is taken."""
    said = stated.get(channel.name)
    samples = channel.samples
    samples = samples[np.isfinite(samples)]
    with np.errstate(over="ignore", invalid="ignore"):  # a ratio may be any number
        rms = float(samples.std()) if samples.size else float("nan")
    return ChannelSeen(
        name=channel.name,
        unit=channel.unit,
        role=channel.role,
        factor=1.0 if said is None else said.factor,
        stated=said is not None,
        rms=rms if math.isfinite(rms) else None,
    )
