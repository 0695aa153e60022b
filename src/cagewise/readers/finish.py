"""What every recording goes through after its format's reader: usable at all, SI, roles."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Channel, Recording, Role
from cagewise.measurement.roles import apply_roles, guess_missing_roles
from cagewise.readers.sidecar import Sidecar
from cagewise.readers.units import in_si

_BLOCK = 65536
"""Samples looked at at a time: the search for one usable number ends in the first block."""


def require_usable(recording: Recording, path: Path) -> None:
    """Raise if there is nothing to examine: no or one sample, only NaN, only zeros.

    Single NaN or zero channels beside good ones stay; quality findings judge them.
    """
    where = str(path)
    if not recording.channels or recording.n_samples == 0:
        raise RecordingError(
            "there is not a single sample in it",
            where=where,
            remedy="Check that the instrument had finished writing.",
        )
    if recording.n_samples == 1:
        raise RecordingError(
            "one sample is not a recording", where=where, remedy="Record some seconds."
        )
    if not any(_any(channel.raw, finite=True) for channel in recording.channels):
        raise RecordingError(
            "no channel holds a single number (all values are missing)",
            where=where,
            remedy="Check the export settings and the decimal sign.",
        )
    if not any(_any(channel.raw, finite=False) for channel in recording.channels):
        raise RecordingError(
            "every sample of every channel is zero",
            where=where,
            remedy="Check that the sensors were connected and the right inputs were recorded.",
        )


def finished(recording: Recording, sidecar: Sidecar, roles: Mapping[str, str] | None) -> Recording:
    """Return the recording with sidecar applied, units in SI and roles stated or guessed."""
    recording = sidecar.applied_to(recording)
    channels = tuple(in_si(_with_quiet_nans(c)) for c in recording.channels)
    recording = replace(recording, channels=channels)
    recording = apply_roles(recording, roles or {})
    recording = guess_missing_roles(recording)
    return _without_dead_channels(recording)


def _with_quiet_nans(channel: Channel) -> Channel:
    """Return the channel with every NaN in the usual form.

    Damaged files hold "signalling" NaNs, which raise a warning when converted to float64.
    """
    raw = channel.raw
    if raw.dtype != np.float32 or not bool(np.isnan(raw).any()):
        return channel
    return replace(channel, raw=np.where(np.isnan(raw), np.float32(np.nan), raw))


def _without_dead_channels(recording: Recording) -> Recording:
    """Return the recording in which unassigned channels of zeros are known to be of no use."""
    dead = [
        channel.name
        for channel in recording.channels
        if channel.role is Role.UNASSIGNED and not _any(channel.raw, finite=False)
    ]
    if not dead:
        return recording
    note = f"nothing but zero, taken as not connected: {', '.join(dead)}"
    provenance = replace(recording.provenance, notes=(*recording.provenance.notes, note))
    settled = recording.with_roles(dict.fromkeys(dead, Role.OTHER))
    return replace(settled, provenance=provenance)


def _any(raw: NDArray[np.generic], *, finite: bool) -> bool:
    """Return whether any sample is a number (``finite``) or, else, a number other than zero."""
    for start in range(0, raw.size, _BLOCK):
        block = raw[start : start + _BLOCK]
        usable = np.isfinite(block) if finite else (block != 0) & np.isfinite(block)
        if bool(usable.any()):
            return True
    return False


def with_provenance(recording: Recording, *, sha256: str, notes: tuple[str, ...]) -> Recording:
    """Return the recording with the checksum and further notes in its provenance.

    A file name that is no text (bytes of another code page) is kept as far as it can be written.
    """
    origin = recording.provenance
    source = origin.source.encode("utf-8", "replace").decode("utf-8")
    provenance = replace(origin, source=source, sha256=sha256, notes=(*notes, *origin.notes))
    return replace(recording, provenance=provenance)


def channel_of(
    name: str, raw: NDArray[np.generic], unit: str = "", scale: float = 1.0, offset: float = 0.0
) -> Channel:
    """Return a channel of native byte order and a number type that samples can have."""
    if raw.dtype.kind == "b":
        raw = raw.astype(np.int8)
    elif raw.dtype == np.float16 or not raw.dtype.isnative:
        raw = raw.astype(np.float32 if raw.dtype == np.float16 else raw.dtype.newbyteorder("="))
    return Channel(name=name, raw=raw, unit=unit, scale=scale, offset=offset)
