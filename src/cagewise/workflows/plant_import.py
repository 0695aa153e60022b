"""Use case: files and folders into a plant, each recording and sheet once, however often it is run.

Every file stands for itself: one that cannot be used is refused with its reason, is noted, and is
tried again the next time; the others are kept.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from functools import cached_property
from pathlib import Path

from cagewise.errors import (
    CagewiseError,
    InputError,
    MissingExtraError,
    NotKeptError,
    RecordingError,
    SheetError,
    StoreError,
)
from cagewise.machine.motor import Motor
from cagewise.readers.test_sheet import read_test_sheet
from cagewise.store import Decoded, MotorEntry, Plant, SourceFile
from cagewise.store.instants import day_of
from cagewise.store.motors import tag_key
from cagewise.workflows.plant_decode import Statement, read_decoded
from cagewise.workflows.plant_files import FoundFile, found_files
from cagewise.workflows.plant_motors import motor_of


class Fate(StrEnum):
    """What became of a file."""

    IMPORTED = "imported"
    KNOWN = "there already"
    REFUSED = "refused"
    FOREIGN = "passed over"
    """Found in a folder, and no recording by its name either."""


class MappedBy(StrEnum):
    """How it was known to which motor a file belongs."""

    STATED = "--motor"
    FOLDER = "name of the folder"
    SHEET = "tag in the sheet"
    BEFORE = "import before"


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportOptions:
    """What the user states beside the files."""

    tag: str | None = None
    """Motor of all files; else the nearest folder whose name is a tag, else the sheet's own."""
    site: str | None = None
    day: date | None = None
    """When recordings that do not say it were made."""
    statement: Statement = field(default_factory=Statement)
    again: bool = False
    """Read files again that are known, and take those that another motor has too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """What became of one recording or test sheet."""

    path: Path
    fate: Fate
    is_sheet: bool = False
    tag: str = ""
    """Of the motor it belongs to, where that is known."""
    mapped_by: MappedBy | None = None
    day: date | None = None
    """Of the visit."""
    reason: str = ""
    """Why it was refused, as a clause."""
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class _Target:
    """The motor of a file."""

    motor: MotorEntry
    by: MappedBy


class Importer:
    """Takes files into a plant, one after the other.

    Parameters
    ----------
    plant
        Open for writing.
    options
        What the user states.

    Raises
    ------
    NotKeptError
        If the plant has no motor of the stated tag.
    """

    def __init__(self, plant: Plant, options: ImportOptions) -> None:
        self._plant = plant
        self._options = options
        self._motors: dict[int, Motor] = {}
        self._stated = (
            None if options.tag is None else plant.motors.find(options.tag, site=options.site)
        )

    def take(self, found: FoundFile) -> FileReport:
        """Take one recording or sheet, and say what became of it.

        Raises
        ------
        StoreError
            If the plant cannot be written; what was imported before is kept.
        """
        try:
            if found.fault is not None:
                raise found.fault
            return self._taken(found)
        except StoreError as error:
            if not isinstance(error, NotKeptError) and type(error) is not StoreError:
                raise  # full, locked, damaged: no fault of this file
            return self._refused(found, error)
        except (InputError, MissingExtraError) as error:
            return self._refused(found, error)
        except OSError as error:
            fault = RecordingError(f"the file cannot be read ({error.strerror or error})")
            return self._refused(found, fault)

    def _taken(self, found: FoundFile) -> FileReport:
        """Import what is new."""
        sources = [SourceFile.of(path) for path in found.files]
        target = self._target(found)
        if target is not None and self._is_known(sources, target.motor):
            return _report(found, Fate.KNOWN, target)
        checksums = [_checksum(path) for path in found.files]
        target = target or self._of_before(checksums[0])
        if target is not None:
            self._require_free(checksums[0], target.motor)
        take = self._take_sheet if found.is_sheet else self._take_recording
        day, target, new = take(found, target)
        with self._plant.writing():
            for source, checksum in zip(sources, checksums, strict=True):
                self._plant.ledger.note(source, checksum)
        return _report(found, Fate.IMPORTED if new else Fate.KNOWN, target, day)

    def _take_recording(
        self, found: FoundFile, target: _Target | None
    ) -> tuple[date, _Target, bool]:
        """Keep a recording; return its day, its motor and whether it is new."""
        if target is None:
            raise _no_motor(found)
        plant, motor = self._plant, target.motor
        nameplate = self._nameplate(motor, self._options.day)
        decoded = read_decoded(found.files[0], nameplate, self._options.statement)
        day = self._day_of(decoded, found.path)
        then = self._nameplate(motor, day)
        if then.sensors.roles != nameplate.sensors.roles:
            decoded = read_decoded(found.files[0], then, self._options.statement)
        visit = plant.visits.on(motor, day)
        before = {kept.id for kept in plant.measurements.recordings(visit)}
        kept = plant.measurements.keep_files(visit, found.files, [decoded])
        return visit.day, target, kept[0].id not in before

    def _take_sheet(self, found: FoundFile, target: _Target | None) -> tuple[date, _Target, bool]:
        """Keep a test sheet; return its day, its motor and whether it is new."""
        plant, path = self._plant, found.path
        sheet = read_test_sheet(path)
        if target is None:
            motor = plant.motors.find(sheet.motor_tag, site=self._options.site)
            target = _Target(motor, MappedBy.SHEET)
            self._require_free(_checksum(path), motor)
        if tag_key(sheet.motor_tag) != tag_key(target.motor.tag):
            raise SheetError(
                f"this sheet is of motor {sheet.motor_tag!r}, and by the {target.by.value} it "
                f"would go to {target.motor.tag!r}",
                remedy="Correct the tag in the sheet, or import it for its own motor.",
            )
        if _checksum(path) != sheet.provenance.sha256:
            raise SheetError(
                "it names a file of waveforms beside it, and a plant keeps sheets of one file only",
                remedy="Leave the waveforms out of the sheet, or examine it with the motor file.",
            )
        original = plant.measurements.keep_original(path)
        visit = plant.visits.on(target.motor, sheet.measured_on)
        before = {kept.id for kept in plant.measurements.sheets(visit)}
        kept = plant.measurements.add_sheet(visit, original, measured_on=sheet.measured_on)
        return visit.day, target, kept.id not in before

    def _target(self, found: FoundFile) -> _Target | None:
        """Return the motor of a file: stated, or by the nearest folder that is named like one."""
        if self._stated is not None:
            return _Target(self._stated, MappedBy.STATED)
        for folder in found.path.absolute().parents:
            if tag_key(folder.name) in self._tags:
                motor = self._plant.motors.find(folder.name, site=self._options.site)
                return _Target(motor, MappedBy.FOLDER)
        return None

    def _of_before(self, checksum: str) -> _Target | None:
        """Return the motor for which the same bytes were imported before, if it is one."""
        owners = self._owners(checksum)
        if len(owners) != 1:
            return None
        return _Target(self._plant.motors.get(owners.pop()), MappedBy.BEFORE)

    @cached_property
    def _tags(self) -> frozenset[str]:
        """The tags of all motors, as they are compared."""
        motors = self._plant.motors.all(site=self._options.site)
        return frozenset(tag_key(motor.tag) for motor in motors)

    def _is_known(self, sources: Sequence[SourceFile], motor: MotorEntry) -> bool:
        """Return whether these very files were imported for a motor before, without reading them.

        What is stated anew about a file may make another recording of it.
        """
        if self._options.again or not self._options.statement.says_nothing:
            return False
        noted = [self._plant.ledger.find(source) for source in sources]
        if any(each is None or each.refusal for each in noted):
            return False
        return noted[0] is not None and motor.id in self._owners(noted[0].checksum)

    def _require_free(self, checksum: str, motor: MotorEntry) -> None:
        """Raise if a file is that of another motor."""
        others = self._owners(checksum)
        if others and motor.id not in others and not self._options.again:
            names = ", ".join(repr(self._plant.motors.get(each).tag) for each in sorted(others))
            raise RecordingError(
                f"the same file was imported for {names}, now it would go to {motor.tag!r}",
                remedy="One measurement is of one motor; if it is of both, add --again.",
            )

    def _owners(self, checksum: str) -> set[int]:
        """Return the numbers of the motors that have a file."""
        visits = self._plant.measurements.visits_of_file(checksum)
        return {self._plant.visits.get(number).motor_id for number in visits}

    def _nameplate(self, motor: MotorEntry, day: date | None) -> Motor:
        """Return a motor as it was on a day, as it is now if None."""
        version = self._plant.motors.nameplate(motor, on=day)
        if version.id not in self._motors:
            self._motors[version.id] = motor_of(version, motor.tag)
        return self._motors[version.id]

    def _day_of(self, decoded: Decoded, path: Path) -> date:
        """Return when a recording was made: as it says itself, else as the user says."""
        started = decoded.recording.start_time
        if started is not None:
            return day_of(started, self._plant.about.zone)
        if self._options.day is None:
            raise RecordingError(
                "it does not say when it was made",
                remedy="State the day with --day, as in --day 2031-05-17, or `start_time` in a "
                f"file {path.name}.toml beside it.",
            )
        return self._options.day

    def _refused(self, found: FoundFile, error: CagewiseError) -> FileReport:
        """Note why a file was refused; one that nobody took for a recording is passed over."""
        if found.is_foreign:
            return FileReport(path=found.path, fate=Fate.FOREIGN)
        try:
            source = SourceFile.of(found.path)
            self._plant.ledger.note(source, _checksum(found.path), refusal=error.what)
        except OSError:
            pass  # it is not there or cannot be opened: there is nothing to note it by
        return FileReport(
            path=found.path,
            fate=Fate.REFUSED,
            is_sheet=found.is_sheet,
            reason=error.what,
            remedy=error.remedy,
        )


def import_files(
    plant: Plant, paths: Sequence[Path], options: ImportOptions | None = None
) -> Iterator[FileReport]:
    """Take files and folders into a plant; yield what became of each as it is done.

    Raises
    ------
    NotKeptError
        If the plant has no motor of the stated tag.
    StoreError
        If the plant cannot be written; what was yielded is kept.
    """
    importer = Importer(plant, options or ImportOptions())
    for found in found_files(paths):
        yield importer.take(found)


def _report(found: FoundFile, fate: Fate, target: _Target, day: date | None = None) -> FileReport:
    """Return what became of a file that was not refused."""
    return FileReport(
        path=found.path,
        fate=fate,
        is_sheet=found.is_sheet,
        tag=target.motor.tag,
        mapped_by=target.by,
        day=day,
    )


def _no_motor(found: FoundFile) -> RecordingError:
    """Return the error for a recording of nobody knows which motor."""
    return RecordingError(
        "it is not known of which motor it is",
        where=str(found.path),
        remedy="Name it with --motor TAG, or put the file into a folder of that name.",
    )


def _checksum(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
