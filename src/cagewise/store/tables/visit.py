"""Visits and what was measured on them; the files themselves lie in the folder."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import BigInteger, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from cagewise.store.tables.base import CHECKSUM_LENGTH, Base, Checksum, Facts, Identity


class OriginalRow(Base):
    """A file as it came, kept by its checksum."""

    __tablename__ = "original"

    checksum: Mapped[str] = mapped_column(String(CHECKSUM_LENGTH), primary_key=True)
    size_bytes: Mapped[int] = mapped_column(BigInteger)
    kept_at: Mapped[datetime]


class VisitRow(Base):
    """One occasion of measuring: a day and a motor."""

    __tablename__ = "visit"
    __table_args__ = (UniqueConstraint("motor_id", "day"),)

    id: Mapped[Identity]
    motor_id: Mapped[int] = mapped_column(ForeignKey("motor.id"))
    day: Mapped[date]
    note: Mapped[str]
    added_at: Mapped[datetime]


class RecordingRow(Base):
    """One recording as it was decoded; another way of decoding is another row."""

    __tablename__ = "recording"
    __table_args__ = (UniqueConstraint("visit_id", "checksum", "part", "waveform_checksum"),)

    id: Mapped[Identity]
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"))
    checksum: Mapped[Checksum]
    """Of the bytes of its files, one after the other, as the provenance has it."""
    part: Mapped[str]
    """Which recording of a file that holds several; empty for the only one."""
    source: Mapped[str]
    """File name."""
    format_name: Mapped[str]
    waveform: Mapped[str]
    """Path below the place of the waveforms."""
    waveform_checksum: Mapped[Checksum]
    waveform_bytes: Mapped[int] = mapped_column(BigInteger)
    sampling_rate_hz: Mapped[float]
    n_samples: Mapped[int] = mapped_column(BigInteger)
    n_channels: Mapped[int]
    started_at: Mapped[datetime | None]
    stated: Mapped[Facts]
    """What the user stated about the file: rate, roles, selection."""
    program_version: Mapped[str]
    """That decoded it."""
    added_at: Mapped[datetime]


class RecordingFileRow(Base):
    """One of the files that make up a recording, in their order."""

    __tablename__ = "recording_file"
    __table_args__ = (Index(None, "checksum"),)

    recording_id: Mapped[int] = mapped_column(ForeignKey("recording.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    checksum: Mapped[Checksum] = mapped_column(ForeignKey("original.checksum"))
    name: Mapped[str]
    """File name as it came."""


class TestSheetRow(Base):
    """One test sheet; it is read again from its original."""

    __test__ = False
    __tablename__ = "test_sheet"
    __table_args__ = (UniqueConstraint("visit_id", "checksum"), Index(None, "checksum"))

    id: Mapped[Identity]
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"))
    checksum: Mapped[Checksum] = mapped_column(ForeignKey("original.checksum"))
    source: Mapped[str]
    """File name as it came."""
    measured_on: Mapped[date]
    added_at: Mapped[datetime]


class TestSheetFileRow(Base):
    """A file beside a test sheet that the sheet names, such as its waveforms."""

    __test__ = False
    __tablename__ = "test_sheet_file"
    __table_args__ = (Index(None, "checksum"),)

    test_sheet_id: Mapped[int] = mapped_column(ForeignKey("test_sheet.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    checksum: Mapped[Checksum] = mapped_column(ForeignKey("original.checksum"))
    name: Mapped[str]
    """As the sheet names it."""
