"""What was measured: synchronous channels with their roles and where they came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import ChannelRoleError
from cagewise.quantities import RealArray

_NOTHING: Mapping[str, float] = MappingProxyType({})


class Role(StrEnum):
    """What a channel measures. Voltages are phase-to-neutral (``v_a``) or line-line (``v_ab``)."""

    CURRENT_A = "i_a"
    CURRENT_B = "i_b"
    CURRENT_C = "i_c"
    VOLTAGE_A = "v_a"
    VOLTAGE_B = "v_b"
    VOLTAGE_C = "v_c"
    VOLTAGE_AB = "v_ab"
    VOLTAGE_BC = "v_bc"
    VOLTAGE_CA = "v_ca"
    OTHER = "other"
    """Known not to be a stator current or voltage (vibration, speed, a second feeder...)."""
    UNASSIGNED = "unassigned"
    """Not known; asked about if it could matter."""


CURRENT_ROLES = (Role.CURRENT_A, Role.CURRENT_B, Role.CURRENT_C)
PHASE_VOLTAGE_ROLES = (Role.VOLTAGE_A, Role.VOLTAGE_B, Role.VOLTAGE_C)
LINE_VOLTAGE_ROLES = (Role.VOLTAGE_AB, Role.VOLTAGE_BC, Role.VOLTAGE_CA)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One measured quantity.

    Instruments deliver integer counts; they are kept as they came (quantisation and clipping are
    judged on them) together with the scale to engineering units.
    """

    name: str
    """Name in the file."""
    raw: NDArray[Any]
    """Samples as stored in the file, int or float, shape (n_samples,), read-only."""
    unit: str = ""
    """SI unit of :attr:`samples` ("A", "V"), or the file's own text when it is not known."""
    role: Role = Role.UNASSIGNED
    scale: float = 1.0
    """Engineering units per unit of :attr:`raw` (instrument-transformer ratio included)."""
    offset: float = 0.0
    """Engineering value at ``raw == 0``."""
    range_low: float | None = None
    """Lowest value of :attr:`raw` the instrument can deliver, when the file states it."""
    range_high: float | None = None
    """Highest value of :attr:`raw` the instrument can deliver, when the file states it."""

    def __post_init__(self) -> None:
        if self.raw.ndim != 1:
            message = f"channel {self.name!r} must be one-dimensional, got shape {self.raw.shape}"
            raise ValueError(message)
        self.raw.setflags(write=False)

    @property
    def samples(self) -> RealArray:
        """Samples in engineering units, float64, shape (n_samples,); a new array at each call."""
        values = self.raw.astype(np.float64)
        if self.scale != 1.0:
            values *= self.scale
        if self.offset != 0.0:
            values += self.offset
        return values


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where a recording came from and what was done to it, step by step."""

    source: str
    """File name (no folder) or generator."""
    format_name: str
    """Name of the reader's format, as ``cagewise formats`` prints it."""
    sha256: str = ""
    """Checksum of the original bytes, when there are any."""
    steps: tuple[str, ...] = ()
    """Processing steps, each appended after it succeeded."""
    notes: tuple[str, ...] = ()
    """What the reader had to decide or noticed (decimal comma, short file, assumed rate...)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """Synchronous channels of one occasion, equal in length.

    ``sampling_rate_hz`` is the nominal rate. Where the file states the time of every sample and
    they are not uniform, ``sample_times_s`` holds them and the quality findings judge them.
    """

    channels: tuple[Channel, ...]
    sampling_rate_hz: float
    provenance: Provenance
    start_time: datetime | None = None
    nominal_frequency_hz: float | None = None
    """Line frequency as stated by the file, if it states one."""
    sample_times_s: RealArray | None = None
    """Stated sample times from the first sample, shape (n_samples,), or None when uniform."""
    truth: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    """What a simulation knows about itself; empty for measurements. Never read by indicators."""

    def __post_init__(self) -> None:
        lengths = {channel.raw.size for channel in self.channels}
        if len(lengths) > 1:
            message = f"channels of one recording must be equally long, got {sorted(lengths)}"
            raise ValueError(message)
        if not self.sampling_rate_hz > 0.0:
            message = f"sampling rate must be positive, got {self.sampling_rate_hz}"
            raise ValueError(message)

    @property
    def n_samples(self) -> int:
        """Number of samples of every channel."""
        return int(self.channels[0].raw.size) if self.channels else 0

    @property
    def duration_s(self) -> float:
        """Length of the recording at its nominal rate."""
        return self.n_samples / self.sampling_rate_hz

    @property
    def roles(self) -> frozenset[Role]:
        """Roles that are present."""
        return frozenset(channel.role for channel in self.channels)

    def find(self, role: Role) -> Channel | None:
        """Return the channel with ``role``, or None."""
        return next((channel for channel in self.channels if channel.role is role), None)

    def with_roles(self, roles: Mapping[str, Role]) -> Recording:
        """Return a recording in which the named channels have the given roles.

        Raises
        ------
        ChannelRoleError
            If a name is not a channel of the recording, or two channels would share a role.
        """
        names = [channel.name for channel in self.channels]
        for name in roles:
            if name not in names:
                raise ChannelRoleError(
                    f"there is no channel named {name!r}",
                    where=self.provenance.source,
                    remedy=f"The channels are: {', '.join(names)}.",
                )
        channels = tuple(replace(c, role=roles.get(c.name, c.role)) for c in self.channels)
        _require_unique_roles(channels, self.provenance.source)
        return replace(self, channels=channels)

    def with_step(self, step: str) -> Recording:
        """Return the recording with a processing step added to its provenance."""
        provenance = replace(self.provenance, steps=(*self.provenance.steps, step))
        return replace(self, provenance=provenance)

    def section(self, start: int, stop: int) -> Recording:
        """Return samples ``start`` to ``stop`` of every channel, as views."""
        channels = tuple(replace(c, raw=c.raw[start:stop]) for c in self.channels)
        times = None if self.sample_times_s is None else self.sample_times_s[start:stop]
        return replace(self, channels=channels, sample_times_s=times)


def _require_unique_roles(channels: tuple[Channel, ...], where: str) -> None:
    """Raise if two channels claim the same role."""
    holder: dict[Role, str] = {}
    for channel in channels:
        if channel.role in (Role.OTHER, Role.UNASSIGNED):
            continue
        if channel.role in holder:
            raise ChannelRoleError(
                f"channels {holder[channel.role]!r} and {channel.name!r} both claim the role "
                f"{channel.role.value!r}",
                where=where,
                remedy="Give each channel its own role.",
            )
        holder[channel.role] = channel.name
