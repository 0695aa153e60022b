"""Recordings of a plant: decoded from files of the user, and again from the originals it keeps.

What a recording is depends on what was stated: roles in the motor file and by the user, a rate, a
selection. It is kept beside the recording; when it changes, the originals are decoded again into
another recording, and the old one stays for the examinations that used it.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from cagewise.machine.motor import Motor
from cagewise.measurement import Recording, TestSheet
from cagewise.readers import ReadOptions
from cagewise.readers.test_sheet import read_test_sheet
from cagewise.store import Decoded, KeptRecording, KeptSheet, Original, Plant, Visit
from cagewise.workflows.plant_motors import motor_of
from cagewise.workflows.visit_files import read_one

BETWEEN_PARTS = "+"
"""Between the names of variables that were taken together from one file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What the user states about the files of an import."""

    roles: Mapping[str, str] = field(default_factory=dict)
    """Channel name to role; wins over the motor file."""
    sampling_rate_hz: float | None = None
    select: tuple[str, ...] = ()
    """Variables or groups to take from files that hold several recordings."""
    accept_length_mismatch: bool = False
    """Read what is there although a file states another number of samples."""

    @property
    def says_nothing(self) -> bool:
        """Whether files are read as they are."""
        return self == Statement()

    @property
    def part(self) -> str:
        """Which recording of a file it selects."""
        return BETWEEN_PARTS.join(self.select)

    def kept_with(self, motor: Motor) -> dict[str, Any]:
        """Return what is kept beside a recording; JSON values only."""
        said = asdict(self) | {"roles": dict(self.roles), "select": list(self.select)}
        return said | {"roles_of_motor_file": dict(motor.sensors.roles)}

    @classmethod
    def of(cls, kept: Mapping[str, Any]) -> Statement:
        """Return the statement that is kept beside a recording."""
        return cls(
            roles=dict(kept.get("roles", {})),
            sampling_rate_hz=kept.get("sampling_rate_hz"),
            select=tuple(kept.get("select", ())),
            accept_length_mismatch=bool(kept.get("accept_length_mismatch", False)),
        )


def read_decoded(
    path: Path,
    motor: Motor,
    statement: Statement,
    checksum_of: Callable[[tuple[Path, ...]], str] | None = None,
) -> Decoded:
    """Return the recording in a file, with what was stated about it.

    Parameters
    ----------
    path
        The file.
    motor
        As it was then: its file names roles of channels.
    statement
        What the user states.
    checksum_of
        Of the files, as for :func:`~cagewise.readers.read_recording`.

    Raises
    ------
    RecordingError, ChannelRoleError, MissingExtraError
        If it cannot be used.
    """
    options = ReadOptions(
        sampling_rate_hz=statement.sampling_rate_hz,
        select=statement.select,
        accept_length_mismatch=statement.accept_length_mismatch,
    )
    recording = read_one(path, motor.sensors.roles, statement.roles, options, checksum_of)
    return Decoded(recording=recording, part=statement.part, stated=statement.kept_with(motor))


def recordings_of(
    plant: Plant, visit: Visit, motor: Motor, roles: Mapping[str, str] | None = None
) -> tuple[KeptRecording, ...]:
    """Return the recordings of a visit as they are to be read now, each original once.

    Parameters
    ----------
    plant, visit, motor
        Of which the recordings are.
    roles
        Channel roles that the user states beside those that are kept.

    Returns
    -------
    tuple
        One per original and part: the one decoded with the roles of the motor file as it is now,
        made from the original if there is none.
    """
    by_part: dict[tuple[str, str], list[KeptRecording]] = {}
    for kept in plant.measurements.recordings(visit):
        by_part.setdefault((kept.checksum, kept.part), []).append(kept)
    return tuple(_as_stated(plant, visit, motor, same, roles or {}) for same in by_part.values())


def newest_recordings(plant: Plant, visit: Visit) -> tuple[KeptRecording, ...]:
    """Return the recordings of a visit, each original and part once, as it was last decoded."""
    newest: dict[tuple[str, str], KeptRecording] = {}
    for kept in plant.measurements.recordings(visit):
        newest[kept.checksum, kept.part] = kept
    return tuple(newest.values())


def state_roles(plant: Plant, kept: KeptRecording, roles: Mapping[str, str]) -> KeptRecording:
    """Decode a recording again with channel roles stated beside those that were stated before.

    The recording as it was stays, for the examinations that used it.

    Raises
    ------
    ChannelRoleError
        If a channel or role does not exist, or two channels would share a role.
    MissingFileError, DamagedFileError
        If the original is not there, or not what was kept.
    """
    visit = plant.visits.get(kept.visit_id)
    entry = plant.motors.get(visit.motor_id)
    motor = motor_of(plant.motors.nameplate(entry, on=visit.day), entry.tag)
    same = [
        each
        for each in plant.measurements.recordings(visit)
        if (each.checksum, each.part) == (kept.checksum, kept.part)
    ]
    return _as_stated(plant, visit, motor, same, roles)


def sheets_of(plant: Plant, visit: Visit) -> tuple[KeptSheet, ...]:
    """Return the test sheets of a visit; of several of one file name the one imported last.

    A sheet with a mistake is corrected and imported again: the first stays, for the examinations
    that used it.
    """
    last = {sheet.source: sheet for sheet in plant.measurements.sheets(visit)}
    return tuple(last.values())


def load(plant: Plant, kept: Sequence[KeptRecording]) -> Iterator[Recording]:
    """Yield the samples of recordings one at a time, so that only one is in memory."""
    for each in kept:
        yield plant.measurements.load(each)


def load_sheet(plant: Plant, kept: KeptSheet) -> TestSheet:
    """Return a test sheet, read from its original.

    Raises
    ------
    SheetError
        If this version of the program cannot read it.
    MissingFileError, DamagedFileError
        If the original is not there, or not what was kept.
    """
    original = Original(checksum=kept.checksum, size_bytes=0, name=kept.source)
    with _laid_out(plant, [original, *kept.beside]) as (path, *_):
        return read_test_sheet(path)


def _as_stated(
    plant: Plant,
    visit: Visit,
    motor: Motor,
    same: Sequence[KeptRecording],
    roles: Mapping[str, str],
) -> KeptRecording:
    """Return the recording that was decoded as is stated now; decode it if there is none."""
    newest = max(same, key=lambda kept: kept.id)
    if not newest.originals:  # not from a file: there is nothing to decode again
        return newest
    said = Statement.of(newest.stated)
    statement = replace(said, roles={**said.roles, **roles})
    wanted = statement.kept_with(motor)
    found = [kept for kept in same if dict(kept.stated) == wanted]
    if found:
        return found[-1]
    with _laid_out(plant, newest.originals) as paths:
        decoded = read_decoded(paths[0], motor, statement)
        waveform = plant.measurements.waveforms.keep(decoded.recording, part=decoded.part)
    return plant.measurements.add_recording(visit, decoded, newest.originals, waveform)


@contextmanager
def _laid_out(plant: Plant, originals: Sequence[Original]) -> Iterator[tuple[Path, ...]]:
    """Give originals under the names with which they came, in a folder that passes."""
    with tempfile.TemporaryDirectory(prefix="cagewise-") as folder:
        paths = tuple(Path(folder) / Path(original.name).name for original in originals)
        for original, path in zip(originals, paths, strict=True):
            shutil.copyfile(plant.measurements.originals.checked(original.checksum), path)
        yield paths
