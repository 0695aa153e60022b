"""What the store gives back: plain frozen records, without a tie to the database."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Any

from cagewise.store.examination_keys import ExaminationKeys

Facts = Mapping[str, Any]
_NOTHING: Facts = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """A file as it came."""

    checksum: str
    """SHA-256 of its bytes, in hexadecimal."""
    size_bytes: int
    name: str = ""
    """File name as it came."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waveform:
    """A recording as it lies in the folder of waveforms."""

    path: str
    """Below the place of the waveforms, with forward slashes."""
    checksum: str
    """SHA-256 of the file."""
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorEntry:
    """A motor with what lists need of its nameplate on a day."""

    id: int
    site: str
    """Empty in a plant of one site."""
    tag: str
    description: str
    criticality: str
    rated_power_w: float
    next_outage: date | None
    nameplate_id: int
    """Version of the nameplate that counts on that day."""
    valid_from: date
    """Of that version."""
    facts: Facts | None = None
    """What a ranking asks of the motor file, by section and key, as far as it says so; None where
    an old row could not be filled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameplateVersion:
    """One version of a motor file."""

    id: int
    motor_id: int
    valid_from: date
    toml: str
    checksum: str
    added_at: datetime
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """A sensor that stays on a motor."""

    name: str
    role: str = ""
    """What it measures, as a channel role."""
    serial: str = ""
    ratio: float | None = None
    """Primary per secondary."""
    mounted_on: date | None = None
    calibrated_on: date | None = None
    removed_on: date | None = None
    note: str = ""
    id: int | None = None
    """Given by the store."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One occasion of measuring."""

    id: int
    motor_id: int
    day: date
    """By the calendar of the plant."""
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRecording:
    """A recording that the plant keeps."""

    id: int
    visit_id: int
    checksum: str
    """Of its original bytes, as the provenance has it."""
    part: str
    source: str
    format_name: str
    waveform: Waveform
    sampling_rate_hz: float
    n_samples: int
    n_channels: int
    started_at: datetime | None
    stated: Facts
    program_version: str
    originals: tuple[Original, ...]
    """The files it came in, in their order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSheet:
    """A test sheet that the plant keeps."""

    id: int
    visit_id: int
    checksum: str
    source: str
    measured_on: date
    beside: tuple[Original, ...] = ()
    """The files that it names, such as its waveforms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReading:
    """One number of an examination, for trends."""

    name: str
    """Stable identifier, as in the document."""
    unit: str = ""
    valid: bool = True
    value: float | None = None
    low: float | None = None
    """Lower end of the 95 % interval."""
    high: float | None = None
    open_bars: float | None = None
    """Open-bar equivalent, with its 95 % interval."""
    open_bars_low: float | None = None
    open_bars_high: float | None = None
    detection_limit_bars: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewExamination:
    """An examination to be kept."""

    document: str
    """JSON text, kept byte for byte."""
    schema_version: str
    """Of the document."""
    program_version: str
    nameplate_id: int
    """Version of the motor file that was used."""
    keys: ExaminationKeys
    inputs: Sequence[KeptRecording | KeptSheet]
    """Of the visit."""
    readings: Sequence[KeptReading] = ()
    earlier: Sequence[KeptRecording | KeptSheet] = ()
    """Of earlier visits, that were compared with."""
    settings: Facts = field(default_factory=lambda: _NOTHING)
    """With which it can be run again; JSON values only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptExamination:
    """An examination without its document."""

    id: int
    visit_id: int
    motor_id: int
    day: date
    """Of the visit."""
    nameplate_id: int
    made_at: datetime
    program_version: str
    keys: ExaminationKeys


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationInput:
    """Something an examination looked at; one of the two numbers is given."""

    recording_id: int | None
    test_sheet_id: int | None
    checksum: str
    earlier: bool
    """Of an earlier visit, to compare with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationDocument:
    """The document of an examination with what made it."""

    text: str
    """JSON, byte for byte as it was given."""
    schema_version: str
    settings: Facts
    inputs: tuple[ExaminationInput, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A suspicion that is followed."""

    id: int
    motor_id: int
    part: str
    title: str
    examination_id: int | None
    opened_on: date
    closed_on: date | None
    closing: str

    @property
    def is_open(self) -> bool:
        """Whether it is still followed."""
        return self.closed_on is None


class Found(StrEnum):
    """What was seen when somebody looked inside."""

    DAMAGED = "damaged"
    SOUND = "sound"
    NOT_OPENED = "not opened"


class BarDamage(StrEnum):
    """How a bar was found."""

    OPEN = "open"
    CRACKED = "cracked"


class BarPlace(StrEnum):
    """Where along a bar the damage was found."""

    DRIVE_END = "drive end"
    SLOT = "slot"
    OTHER_END = "other end"
    NOT_STATED = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundBar:
    """One damaged bar."""

    bar: int
    """Number, counted from any bar, in one direction of turning."""
    damage: BarDamage = BarDamage.OPEN
    place: BarPlace = BarPlace.NOT_STATED


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What somebody decided to do."""

    action: str
    due_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """What was done, and what the shop stated."""

    action: str
    facts: Facts = field(default_factory=lambda: _NOTHING)
    """Names with their unit, and values: bars, slots, material, winding data."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What was found."""

    found: Found
    open_bars: int | None = None
    """Number of bars found fully open; None when nobody counted."""
    bars: tuple[FoundBar, ...] = ()
    """The damaged bars whose place was noted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A remark."""


Happening = Decision | Repair | Outcome | Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A photograph or paper that belongs to an event."""

    checksum: str
    name: str
    caption: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened to a motor."""

    id: int
    motor_id: int
    case_id: int | None
    day: date
    """On which it happened, by the calendar of the plant."""
    recorded_at: datetime
    author: str
    text: str
    what: Happening
    corrects_id: int | None
    """The event that this one puts right."""
    attachments: tuple[Attachment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """A message that this process may send now."""

    id: int
    channel: str
    key: str
    """The same whenever this message is sent again: a receiver can tell a repetition by it."""
    payload: Facts
    attempts: int
    """This one included. More than one: it may have been delivered before."""
    claim: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFile:
    """A file of the user as it can be told without reading it."""

    path: str
    """Absolute."""
    size_bytes: int
    modified_ns: int

    @classmethod
    def of(cls, path: Path) -> SourceFile:
        """Return what the file system says of a file now."""
        found = path.resolve()
        stat = found.stat()
        return cls(path=str(found), size_bytes=stat.st_size, modified_ns=stat.st_mtime_ns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What the ledger says of a file."""

    source: SourceFile
    checksum: str
    seen_at: datetime
    refusal: str
    """Why it could not be imported; empty when it was."""


def checksum_of(content: bytes) -> str:
    """Return the SHA-256 of bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()
