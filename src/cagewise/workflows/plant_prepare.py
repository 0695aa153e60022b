"""What can be done for an import before anything is kept: read, copied, decoded, packed.

Here lies nearly all the work of an import. It only reads the database, so that it can be done by
several threads, and it leaves nothing behind if it is dropped.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
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
from cagewise.store.arrival import Arrival
from cagewise.store.instants import day_of
from cagewise.store.motors import tag_key
from cagewise.workflows.plant_decode import read_decoded
from cagewise.workflows.plant_files import FoundFile
from cagewise.workflows.plant_motors import motor_of
from cagewise.workflows.plant_reports import Fate, FileReport, ImportOptions, MappedBy


@dataclass(frozen=True, slots=True)
class Target:
    """The motor of a file."""

    motor: MotorEntry
    by: MappedBy


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A recording or sheet that is read, copied and packed, and has no row yet."""

    found: FoundFile
    target: Target
    day: date
    """Of the visit."""
    sources: tuple[SourceFile, ...]
    """Its files, as they were before they were read."""
    arrival: Arrival

    @property
    def checksum(self) -> str:
        """SHA-256 of its first file."""
        return self.arrival.originals[0].checksum


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A file that cannot be used."""

    found: FoundFile
    error: CagewiseError
    source: SourceFile | None = None
    """None if it is not even there."""
    checksum: str = ""


class Preparer:
    """Prepares files for the importer; may be called by several threads at once.

    Parameters
    ----------
    plant
        Open.
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
        self._motors: dict[tuple[int, date | None], Motor] = {}
        self._stated = (
            None if options.tag is None else plant.motors.find(options.tag, site=options.site)
        )
        self._tags = frozenset(tag_key(each.tag) for each in plant.motors.all(site=options.site))

    def prepared(self, found: FoundFile) -> Prepared | Refused | FileReport:
        """Return a file prepared or refused; a report if there is nothing to do.

        Raises
        ------
        StoreError
            If the plant cannot be written.
        """
        if found.fault is not None:
            return refused(found, found.fault)
        arrival = self._plant.measurements.arrival()
        try:
            with arrival:
                return self._prepared(found, arrival)
        except (InputError, MissingExtraError, StoreError) as error:
            if ends_all(error):
                raise
            return refused(found, error)
        except OSError as error:
            fault = RecordingError(f"the file cannot be read ({error.strerror or error})")
            return refused(found, fault)

    def _prepared(self, found: FoundFile, arrival: Arrival) -> Prepared | FileReport:
        """Read, copy, decode and pack a file."""
        sources = tuple(SourceFile.of(path) for path in found.files)
        target = self._target(found)
        if target is not None and self._is_known(sources, target.motor):
            return report_of(found, Fate.KNOWN, target)
        take = self._sheet if found.is_sheet else self._recording
        day, target = take(found, target, arrival)
        if tuple(SourceFile.of(path) for path in found.files) != sources:
            raise StoreError(
                "the file changed while it was read",
                remedy="Wait until the instrument has finished writing, and import it again.",
            )
        return Prepared(found=found, target=target, day=day, sources=sources, arrival=arrival)

    def _recording(
        self, found: FoundFile, target: Target | None, arrival: Arrival
    ) -> tuple[date, Target]:
        """Prepare a recording; return its day and its motor."""
        if target is None:
            arrival.copy(found.own_files)
            target = self._of_before(arrival.originals[0].checksum)
        if target is None:
            raise _no_motor(found)
        nameplate = self._nameplate(target.motor, self._options.day)
        said = self._options.statement
        decoded = read_decoded(found.files[0], nameplate, said, arrival.copy)
        self.require_free(arrival.originals[0].checksum, target.motor)
        day = self._day_of(decoded, found.path)
        then = self._nameplate(target.motor, day)
        if then.sensors.roles != nameplate.sensors.roles:
            decoded = read_decoded(found.files[0], then, said, arrival.copy)
        arrival.copy(found.sidecars)
        arrival.pack(decoded)
        return day, target

    def _sheet(
        self, found: FoundFile, target: Target | None, arrival: Arrival
    ) -> tuple[date, Target]:
        """Prepare a test sheet; return its day and its motor."""
        sheet = read_test_sheet(found.path)
        if arrival.copy(found.files) != sheet.provenance.sha256:
            raise StoreError(
                "it changed while it was read", remedy="Import it again when it is finished."
            )
        checksum = arrival.originals[0].checksum
        target = target or self._of_before(checksum)
        if target is None:
            motor = self._plant.motors.find(sheet.motor_tag, site=self._options.site)
            target = Target(motor, MappedBy.SHEET)
        self.require_free(checksum, target.motor)
        if tag_key(sheet.motor_tag) != tag_key(target.motor.tag):
            raise SheetError(
                f"this sheet is of motor {sheet.motor_tag!r}, and by the {target.by.value} it "
                f"would go to {target.motor.tag!r}",
                remedy="Correct the tag in the sheet, or import it for its own motor.",
            )
        return sheet.measured_on, target

    def _target(self, found: FoundFile) -> Target | None:
        """Return the motor of a file: stated, or by the nearest folder that is named like one."""
        if self._stated is not None:
            return Target(self._stated, MappedBy.STATED)
        for folder in found.path.absolute().parents:
            if tag_key(folder.name) in self._tags:
                motor = self._plant.motors.find(folder.name, site=self._options.site)
                return Target(motor, MappedBy.FOLDER)
        return None

    def _of_before(self, checksum: str) -> Target | None:
        """Return the motor for which the same bytes were imported before, if it is one."""
        owners = self._plant.measurements.motors_of_file(checksum)
        if len(owners) != 1:
            return None
        return Target(self._plant.motors.get(*owners), MappedBy.BEFORE)

    def _is_known(self, sources: Sequence[SourceFile], motor: MotorEntry) -> bool:
        """Return whether these very files were imported for a motor before, without reading them.

        What is stated anew about a file may make another recording of it.
        """
        if self._options.again or not self._options.statement.says_nothing:
            return False
        noted = [self._plant.ledger.find(source) for source in sources]
        if any(each is None or each.refusal for each in noted):
            return False
        return noted[0] is not None and motor.id in self._plant.measurements.motors_of_file(
            noted[0].checksum
        )

    def require_free(self, checksum: str, motor: MotorEntry) -> None:
        """Raise if a file is that of another motor."""
        others = self._plant.measurements.motors_of_file(checksum)
        if others and motor.id not in others and not self._options.again:
            names = ", ".join(repr(self._plant.motors.get(each).tag) for each in sorted(others))
            raise RecordingError(
                f"the same file was imported for {names}, now it would go to {motor.tag!r}",
                remedy="One measurement is of one motor; if it is of both, add --again.",
            )

    def _nameplate(self, motor: MotorEntry, day: date | None) -> Motor:
        """Return a motor as it was on a day, as it is now if None."""
        if (motor.id, day) not in self._motors:
            version = self._plant.motors.nameplate(motor, on=day)
            self._motors[motor.id, day] = motor_of(version, motor.tag)
        return self._motors[motor.id, day]

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


def ends_all(error: CagewiseError) -> bool:
    """Return whether an error is no fault of the file: a full disk, a locked database."""
    return (
        isinstance(error, StoreError)
        and not isinstance(error, NotKeptError)
        and type(error) is not StoreError
    )


def refused(found: FoundFile, error: CagewiseError) -> Refused | FileReport:
    """Return a file as refused; one that nobody took for a recording is passed over."""
    if found.is_foreign:
        return FileReport(path=found.path, fate=Fate.FOREIGN)
    try:
        source = SourceFile.of(found.path)
        with found.path.open("rb") as stream:
            checksum = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:  # it is not there or cannot be opened: there is nothing to note it by
        return Refused(found=found, error=error)
    return Refused(found=found, error=error, source=source, checksum=checksum)


def report_of(found: FoundFile, fate: Fate, target: Target, day: date | None = None) -> FileReport:
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
