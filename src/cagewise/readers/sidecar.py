"""The sidecar: ``<file name>.toml`` beside a recording says what the file itself does not.

::

    sampling_rate_hz = 10000
    nominal_frequency_hz = 50
    start_time = 2026-03-01T08:00:00

    [[channel]]
    column = 2              # name, or number where the file has no names
    name = "IL1"
    role = "i_a"            # -i_a for a clamp that was put on the wrong way round
    unit = "A"
    scale = 100.0           # multiplies what the file gives: clamp or transformer ratio
    offset = 0.0            # added after scaling, in the unit
"""

from __future__ import annotations

import difflib
import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from cagewise.errors import RecordingError
from cagewise.measurement import Channel, Recording, Role
from cagewise.measurement.roles import apply_roles, channel_name
from cagewise.readers.format import ReadOptions, require_rate

_KEYS = ("sampling_rate_hz", "start_time", "nominal_frequency_hz", "channel")
_CHANNEL_KEYS = ("column", "name", "role", "unit", "scale", "offset")

_LARGEST_NUMBER = 1e300
"""Numbers beyond this are mistakes, and overflow when multiplied."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SidecarChannel:
    """What the sidecar says about one channel; None means nothing."""

    column: str
    """Name of the channel in the file, or its number as text."""
    name: str | None = None
    role: str | None = None
    """``[-]ROLE[*NUMBER]``."""
    unit: str | None = None
    scale: float = 1.0
    """Multiplies the values that the file gives."""
    offset: float = 0.0
    """Added after scaling, in the channel's unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sidecar:
    """Contents of a sidecar file; an absent one says nothing."""

    path: Path | None = None
    sampling_rate_hz: float | None = None
    start_time: datetime | None = None
    nominal_frequency_hz: float | None = None
    channels: tuple[SidecarChannel, ...] = ()

    def merged_into(self, options: ReadOptions) -> ReadOptions:
        """Return the options, completed by what only the sidecar states."""
        if options.sampling_rate_hz is not None:
            return options
        return replace(options, sampling_rate_hz=self.sampling_rate_hz)

    def applied_to(self, recording: Recording) -> Recording:
        """Return the recording with names, units, scales and roles as stated here.

        Raises
        ------
        ChannelRoleError
            If a column does not exist or two channels are given one role.
        """
        if self.path is None:
            return recording
        said = {channel_name(recording, c.column): c for c in self.channels}
        channels = []
        for channel in recording.channels:
            entry = said.get(channel.name)
            if entry is not None:
                channel = replace(  # noqa: PLW2901 - the entry describes this very channel
                    channel,
                    name=entry.name or channel.name,
                    unit=channel.unit if entry.unit is None else entry.unit,
                    scale=channel.scale * entry.scale,
                    offset=channel.offset * entry.scale + entry.offset,
                )
            channels.append(channel)
        _require_different_names([channel.name for channel in channels], self.path)
        result = replace(
            recording,
            channels=tuple(channels),
            start_time=self.start_time or recording.start_time,
            nominal_frequency_hz=self.nominal_frequency_hz or recording.nominal_frequency_hz,
        ).with_step(f"sidecar {self.path.name} applied")
        return apply_roles(result, {e.name or n: e.role for n, e in said.items() if e.role})


def sidecar_text(recording: Recording, said: Sequence[tuple[str, Channel]]) -> str:
    """Return a sidecar that gives the columns named in ``said`` the properties of the channels."""
    lines = []
    if recording.nominal_frequency_hz is not None:
        lines.append(f"nominal_frequency_hz = {recording.nominal_frequency_hz!r}")
    if recording.start_time is not None:
        lines.append(f"start_time = {recording.start_time.isoformat()}")
    for column, channel in said:
        lines += [
            "",
            "[[channel]]",
            f"column = {_quoted(column)}",
            f"name = {_quoted(channel.name)}",
        ]
        if channel.role is not Role.UNASSIGNED:
            lines.append(f"role = {_quoted(channel.role.value)}")
        lines.append(f"unit = {_quoted(channel.unit)}")
        lines += [f"scale = {channel.scale!r}", f"offset = {channel.offset!r}"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """Return a TOML string; JSON's escapes are a subset of TOML's."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def load_sidecar(paths: tuple[Path, ...]) -> Sidecar:
    """Return the sidecar beside any of the files of one recording, or an empty one.

    Raises
    ------
    RecordingError
        If there are two, or the one is not TOML, has unknown keys, or a value of the wrong kind.
    """
    found = [side for path in paths if (side := path.with_name(path.name + ".toml")).is_file()]
    if not found:
        return Sidecar()
    if len(found) > 1:
        raise RecordingError(
            f"there are two sidecars, {found[0].name} and {found[1].name}",
            where=str(found[0].parent),
            remedy="Keep one of them.",
        )
    return _parse(found[0])


def _parse(path: Path) -> Sidecar:
    """Return the contents of one sidecar file."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise RecordingError(
            f"the sidecar is not readable as TOML ({error})",
            where=str(path),
            remedy="See docs/formats.md for an example.",
        ) from error
    _require_known(table, _KEYS, str(path))
    where = f"{path}, sampling_rate_hz"
    rate = _number(table, "sampling_rate_hz", str(path))
    frequency = _number(table, "nominal_frequency_hz", str(path))
    start = table.get("start_time")
    if not isinstance(start, datetime | None):
        raise _wrong(path, "start_time", "a date and time such as 2026-03-01T08:00:00", start)
    if frequency is not None and not frequency > 0.0:
        raise _wrong(path, "nominal_frequency_hz", "a positive number of hertz", frequency)
    entries = table.get("channel", [])
    if not isinstance(entries, list):
        raise _wrong(path, "channel", "one [[channel]] table per channel", entries)
    return Sidecar(
        path=path,
        sampling_rate_hz=None if rate is None else require_rate(rate, where=where),
        start_time=start,
        nominal_frequency_hz=frequency,
        channels=tuple(_channel(entry, path) for entry in entries),
    )


def _channel(entry: object, path: Path) -> SidecarChannel:
    """Return one [[channel]] table."""
    if not isinstance(entry, dict):
        raise _wrong(path, "channel", "one [[channel]] table per channel", entry)
    where = f"{path}, [[channel]]"
    _require_known(entry, _CHANNEL_KEYS, where)
    column = entry.get("column")
    if isinstance(column, bool) or not isinstance(column, int | str):
        raise _wrong(path, "[[channel]] column", "a channel name or number", column)
    texts: dict[str, str | None] = {}
    for key in ("name", "role", "unit"):
        texts[key] = entry.get(key)
        if not isinstance(texts[key], str | None):
            raise _wrong(path, f"[[channel]] {key}", "a text", texts[key])
    scale = _number(entry, "scale", where)
    offset = _number(entry, "offset", where)
    if scale == 0.0:
        raise _wrong(path, "[[channel]] scale", "a number other than zero", scale)
    return SidecarChannel(
        column=str(column),
        name=texts["name"],
        role=texts["role"],
        unit=texts["unit"],
        scale=1.0 if scale is None else scale,
        offset=0.0 if offset is None else offset,
    )


def _number(table: Mapping[str, Any], key: str, where: str) -> float | None:
    """Return a number of the table as a float, or None where it is absent."""
    value = table.get(key)
    if value is None:
        return None
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not (number and abs(value) <= _LARGEST_NUMBER):  # false for NaN
        raise _wrong(Path(where), key, "a number", value)
    return float(value)


def _wrong(path: Path, key: str, expected: str, got: object) -> RecordingError:
    """Return the error for a value of the wrong kind."""
    return RecordingError(
        f"`{key}` must be {expected}, got {got!r}",
        where=str(path),
        remedy="See docs/formats.md for an example.",
    )


def _require_known(table: Mapping[str, object], known: tuple[str, ...], where: str) -> None:
    """Raise for the first unknown key, with the nearest known one."""
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"Did you mean {near[0]!r}? " if near else ""
            raise RecordingError(
                f"unknown key {key!r}", where=where, remedy=f"{hint}Known: {', '.join(known)}."
            )


def _require_different_names(names: list[str], path: Path) -> None:
    """Raise if the sidecar gave one name to two channels."""
    for name in names:
        if names.count(name) > 1:
            raise RecordingError(
                f"two channels would be named {name!r}",
                where=str(path),
                remedy="Give every channel a name of its own.",
            )
