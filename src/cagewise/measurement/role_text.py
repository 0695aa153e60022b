"""Channel roles as text: ``NAME=[-]ROLE[*NUMBER]``.

``IL2=-i_b`` says that channel ``IL2`` is the current of phase b with its clamp reversed, and
``U1=v_ab*60`` that ``U1`` is the line voltage a-b behind a 60:1 transformer. The same text is used
by the command line, the motor file and the side file of a recording.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from cagewise.errors import ChannelRoleError
from cagewise.measurement.recording import Recording, Role


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleText:
    """What one channel is said to measure."""

    role: Role
    factor: float = 1.0
    """Multiplies the engineering values: -1 for a reversed clamp, 60 for a 60:1 transformer."""

    def __str__(self) -> str:
        sign = "-" if self.factor < 0.0 else ""
        size = abs(self.factor)
        return f"{sign}{self.role.value}" + (f"*{size:g}" if size != 1.0 else "")


def parse_role_text(text: str) -> RoleText:
    """Return the meaning of ``[-]ROLE[*NUMBER]``.

    Raises
    ------
    ChannelRoleError
        If the role is not known or the number is not a positive finite one.
    """
    body = text.strip()
    sign = -1.0 if body.startswith("-") else 1.0
    name, star, number = body.removeprefix("-").partition("*")
    try:
        role = Role(name.strip().lower())
        size = float(number) if star else 1.0
    except ValueError:
        role, size = Role.UNASSIGNED, math.nan
    if not (math.isfinite(size) and size > 0.0):
        known = ", ".join(item.value for item in Role if item is not Role.UNASSIGNED)
        raise ChannelRoleError(
            f"{text!r} is not a channel role",
            remedy=f"Write [-]ROLE[*NUMBER] with a positive number; roles are {known}.",
        )
    return RoleText(role=role, factor=sign * size)


def parse_role_options(options: Iterable[str]) -> dict[str, RoleText]:
    """Return the meaning of options ``NAME=[-]ROLE[*NUMBER]``, by channel name."""
    result: dict[str, RoleText] = {}
    for option in options:
        name, equals, text = option.rpartition("=")
        if not equals or not name:
            raise ChannelRoleError(
                f"{option!r} does not assign a role",
                remedy='Write NAME=ROLE, for example "IL2=-i_b".',
            )
        result[name] = parse_role_text(text)
    return result


def role_option(name: str, text: RoleText) -> str:
    """Return the option that assigns ``text`` to the channel ``name``, ready for a shell."""
    return f'--role "{name}={text}"'


def apply_role_texts(recording: Recording, texts: Mapping[str, RoleText]) -> Recording:
    """Return the recording with roles, polarities and ratios as stated.

    Raises
    ------
    ChannelRoleError
        If a name is not a channel of the recording, or two channels would share a role.
    """
    assigned = recording.with_roles({name: text.role for name, text in texts.items()})
    channels = tuple(
        replace(c, scale=c.scale * texts[c.name].factor, offset=c.offset * texts[c.name].factor)
        if c.name in texts
        else c
        for c in assigned.channels
    )
    step = "roles stated: " + ", ".join(f"{name}={text}" for name, text in texts.items())
    result = replace(assigned, channels=channels)
    return result.with_step(step) if texts else result
