"""Files on their way into a plant: copied and packed, and kept only when they are settled.

Many arrivals are settled together: the disk is waited for once, and one transaction holds the rows.
Until then nothing has a name or a row; an arrival that is dropped leaves nothing behind.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from zoneinfo import ZoneInfo

from cagewise import __version__
from cagewise.measurement import Recording
from cagewise.store.durable import Unnamed, file_errors, settle
from cagewise.store.instants import instant_of
from cagewise.store.records import Original, Waveform
from cagewise.store.steps import Step
from cagewise.store.vault import Vault
from cagewise.store.waveforms import Waveforms


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """A recording as a reader gave it."""

    recording: Recording
    part: str = ""
    """Which recording of a file that holds several."""
    stated: Mapping[str, Any] = field(default_factory=dict)
    """What the user stated about the file: rate, roles, selection."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A recording without its samples, which are in the waveform."""

    columns: Mapping[str, Any]
    """Of its row."""
    waveform: Waveform


class Arrival:
    """The files of one recording or sheet, and the recordings in them.

    Parameters
    ----------
    originals, waveforms
        Where they go.
    zone
        Of the plant's calendar.
    """

    def __init__(self, originals: Vault, waveforms: Waveforms, zone: ZoneInfo) -> None:
        self.originals: list[Original] = []
        """In the order in which they were copied."""
        self.packed: list[Packed] = []
        self.checksums: list[str] = []
        """Of the first file; of the first and the second, one after the other; and so on."""
        self._vault = originals
        self._waveforms = waveforms
        self._zone = zone
        self._copied: dict[tuple[Path, ...], str] = {}
        self._unnamed: list[Unnamed] = []
        self._folders: list[Path] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Drop it if the block failed."""
        if kind is not None:
            self.drop()

    @property
    def size_bytes(self) -> int:
        """Bytes that it brings, about."""
        kept = [each.waveform.size_bytes for each in self.packed]
        return sum(each.size_bytes for each in self.originals) + sum(kept)

    def copy(self, files: Sequence[Path]) -> str:
        """Copy files as they came; return the SHA-256 of their bytes, one after the other.

        The same files again are not read again.

        Raises
        ------
        StoreFullError, StoreReadOnlyError, StoreError
            If they cannot be read or written, or change meanwhile.
        """
        key = tuple(files)
        if key not in self._copied:
            several = hashlib.sha256() if len(files) > 1 else None
            for file in files:
                copy = self._vault.copied(file, also=several)
                self._unnamed += copy.unnamed
                self._folders += copy.folders
                self.originals.append(copy.original)
                self.checksums.append(several.hexdigest() if several else copy.original.checksum)
            self._copied[key] = self.checksums[-1] if files else ""
        return self._copied[key]

    def pack(self, decoded: Decoded) -> None:
        """Write the samples of a recording.

        Raises
        ------
        InputError, StoreError
            As :meth:`Waveforms.keep`.
        """
        waveform, unnamed = self._waveforms.packed(decoded.recording, part=decoded.part)
        self._unnamed += unnamed
        self.packed.append(packed(decoded, waveform, self._zone))

    def drop(self) -> None:
        """Remove what was not settled."""
        for file in self._unnamed:
            file.drop()

    @staticmethod
    def settle(arrivals: Iterable[Arrival], where: Path, step: Step) -> None:
        """Flush the files of arrivals to the disk and give them their names."""
        arrivals = list(arrivals)
        with file_errors(where):
            settle(
                [file for each in arrivals for file in each._unnamed],  # noqa: SLF001 - its own
                [folder for each in arrivals for folder in each._folders],  # noqa: SLF001 - its own
                step=step,
            )


def packed(decoded: Decoded, waveform: Waveform, zone: ZoneInfo) -> Packed:
    """Return what goes into the row of a recording."""
    recording = decoded.recording
    origin, start = recording.provenance, recording.start_time
    return Packed(
        waveform=waveform,
        columns={
            "checksum": origin.sha256,
            "part": decoded.part,
            "source": origin.source,
            "format_name": origin.format_name,
            "waveform": waveform.path,
            "waveform_checksum": waveform.checksum,
            "waveform_bytes": waveform.size_bytes,
            "sampling_rate_hz": recording.sampling_rate_hz,
            "n_samples": recording.n_samples,
            "n_channels": len(recording.channels),
            "started_at": None if start is None else instant_of(start, zone),
            "stated": dict(decoded.stated),
            "program_version": __version__,
        },
    )
