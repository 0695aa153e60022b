"""What a recording knows beside its samples, as JSON text inside our own files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from types import MappingProxyType
from typing import Any

from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.readers.format import ReadOptions, require_rate

METADATA_NAME = "cagewise"
"""Name under which the text is stored."""

TIMES_NAME = "cagewise_sample_time_s"
"""Name of the vector of sample times, where they are not uniform."""

_LAYOUT = 1
"""Number of the layout; a reader refuses later ones."""


def metadata_text(recording: Recording) -> str:
    """Return the JSON text for a recording."""
    provenance = recording.provenance
    return json.dumps(
        {
            "layout": _LAYOUT,
            "sampling_rate_hz": recording.sampling_rate_hz,
            "start_time": recording.start_time and recording.start_time.isoformat(),
            "nominal_frequency_hz": recording.nominal_frequency_hz,
            "truth": dict(recording.truth),
            "channels": {channel.name: _of_channel(channel) for channel in recording.channels},
            "origin": {
                "source": provenance.source,
                "format_name": provenance.format_name,
                "sha256": provenance.sha256,
                "steps": list(provenance.steps),
                "notes": list(provenance.notes),
            },
        },
        ensure_ascii=False,
    )


def _of_channel(channel: Channel) -> dict[str, object]:
    """Return what is known of one channel beside its samples."""
    return {
        "unit": channel.unit,
        "role": channel.role.value,
        "scale": channel.scale,
        "offset": channel.offset,
        "range_low": channel.range_low,
        "range_high": channel.range_high,
    }


def recording_from(
    arrays: Mapping[str, NDArray[Any]],
    text: str,
    *,
    provenance: Provenance,
    options: ReadOptions,
    where: str,
) -> Recording:
    """Return the recording whose samples are ``arrays`` and everything else ``text``.

    Raises
    ------
    RecordingError
        If the text is not what :func:`metadata_text` writes, is of a later layout, or names a
        channel that is not there.
    """
    table = _parsed(text, where)
    try:
        origin = table["origin"]
        rate = require_rate(float(table["sampling_rate_hz"]), where=where)
        start, frequency = table["start_time"], table["nominal_frequency_hz"]
        return Recording(
            channels=tuple(
                _channel(name, arrays[name], said) for name, said in table["channels"].items()
            ),
            sampling_rate_hz=options.sampling_rate_hz or rate,
            sample_times_s=arrays.get(TIMES_NAME),
            start_time=None if start is None else datetime.fromisoformat(start),
            nominal_frequency_hz=None if frequency is None else float(frequency),
            truth=MappingProxyType({str(k): float(v) for k, v in table["truth"].items()}),
            provenance=_with_origin(provenance, origin),
        )
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        if isinstance(error, RecordingError):
            raise
        raise _damaged(where, f"{type(error).__name__}: {error}") from error


def origin_in(text: str, *, where: str) -> Provenance:
    """Return the provenance of the recording that was written, not that of the copy.

    Raises
    ------
    RecordingError
        As :func:`recording_from`.
    """
    try:
        origin = _parsed(text, where)["origin"]
        return Provenance(
            source=str(origin["source"]),
            format_name=str(origin["format_name"]),
            sha256=str(origin["sha256"]),
            steps=tuple(str(step) for step in origin["steps"]),
            notes=tuple(str(note) for note in origin["notes"]),
        )
    except (KeyError, TypeError) as error:
        raise _damaged(where, f"{type(error).__name__}: {error}") from error


def _with_origin(provenance: Provenance, origin: Mapping[str, Any]) -> Provenance:
    """Return the provenance of a copy, with steps and notes of what it is a copy of."""
    checksum = f", {origin['sha256']}" if origin["sha256"] else ""
    source = f"copy of {origin['source']} ({origin['format_name']}){checksum}"
    return replace(
        provenance,
        steps=tuple(str(step) for step in origin["steps"]),
        notes=(*provenance.notes, source, *(str(note) for note in origin["notes"])),
    )


def _channel(name: str, raw: NDArray[Any], said: Mapping[str, Any]) -> Channel:
    """Return a channel from its samples and what the text says about it."""
    return Channel(
        name=name,
        raw=raw,
        unit=str(said["unit"]),
        role=Role(said["role"]),
        scale=float(said["scale"]),
        offset=float(said["offset"]),
        range_low=_limit(said["range_low"]),
        range_high=_limit(said["range_high"]),
    )


def _limit(value: float | None) -> float | None:
    """Return a limit of the instrument's range."""
    return None if value is None else float(value)


def _parsed(text: str, where: str) -> dict[str, Any]:
    """Return the text as a table of the known layout."""
    try:
        table = json.loads(text)
    except ValueError as error:
        raise _damaged(where, str(error)) from error
    if not isinstance(table, dict) or not isinstance(table.get("layout"), int):
        raise _damaged(where, "it is no table")
    if table["layout"] > _LAYOUT:
        raise RecordingError(
            f"it was written by a later version (layout {table['layout']})",
            where=where,
            remedy="Bring this installation up to date.",
        )
    return table


def _damaged(where: str, why: str) -> RecordingError:
    """Return the error for a damaged text."""
    return RecordingError(
        f"the description of the channels is damaged ({why})",
        where=where,
        remedy="Write the file again from the original recording.",
    )
