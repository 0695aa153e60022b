"""Examinations: what the chain said of a visit, with all that is needed to run it again."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, LargeBinary, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from cagewise.store.tables.base import Base, Checksum, Facts, Identity


class ExaminationRow(Base):
    """One examination; never changed, never removed. A better one is another row."""

    __tablename__ = "examination"
    __table_args__ = (
        UniqueConstraint("visit_id", "fingerprint"),
        Index(None, "motor_id", "day", "id"),
    )

    id: Mapped[Identity]
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"))
    motor_id: Mapped[int] = mapped_column(ForeignKey("motor.id"))
    """Of the visit; here so that one index serves both a motor and the whole plant."""
    day: Mapped[date]
    """Of the visit."""
    nameplate_id: Mapped[int] = mapped_column(ForeignKey("nameplate.id"))
    """The version of the motor file that was used."""
    made_at: Mapped[datetime]
    program_version: Mapped[str]
    fingerprint: Mapped[Checksum]
    """Of document, settings, nameplate and inputs: the same examination is kept once."""
    state: Mapped[str]
    ground: Mapped[str]
    probability: Mapped[float | None]
    open_bars: Mapped[float | None]
    open_bars_low: Mapped[float | None]
    open_bars_high: Mapped[float | None]
    upper_limit_bars: Mapped[float | None]
    load_fraction: Mapped[float | None]
    load_fraction_low: Mapped[float | None]
    load_fraction_high: Mapped[float | None]
    winding_temperature_degc: Mapped[float | None]
    action: Mapped[str]
    act_by_earliest: Mapped[date | None]
    act_by_latest: Mapped[date | None]
    winding: Mapped[str | None]
    """State of the winding; empty where it was not tested, None where that is not known."""
    insulation: Mapped[str | None]
    """State of the insulation, alike."""
    next_step: Mapped[str | None]
    """What to measure next, as the document calls it."""
    methods_agreeing: Mapped[int | None]
    classes_agreeing: Mapped[int | None]


class ExaminationDocumentRow(Base):
    """The document of an examination; apart, so that lists need not read past it."""

    __tablename__ = "examination_document"

    examination_id: Mapped[int] = mapped_column(ForeignKey("examination.id"), primary_key=True)
    document: Mapped[bytes] = mapped_column(LargeBinary)
    """JSON text in UTF-8, compressed by zlib."""
    checksum: Mapped[Checksum]
    """Of the text before compression."""
    schema_version: Mapped[str]
    """Of the document."""
    settings: Mapped[Facts]


class ExaminationInputRow(Base):
    """A recording or a test sheet that an examination looked at."""

    __tablename__ = "examination_input"
    __table_args__ = (
        CheckConstraint("(recording_id IS NULL) <> (test_sheet_id IS NULL)", name="one_kind"),
    )

    examination_id: Mapped[int] = mapped_column(ForeignKey("examination.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    recording_id: Mapped[int | None] = mapped_column(ForeignKey("recording.id"))
    test_sheet_id: Mapped[int | None] = mapped_column(ForeignKey("test_sheet.id"))
    checksum: Mapped[Checksum]
    """Of its original bytes."""
    earlier: Mapped[bool]
    """Of an earlier visit, to compare with."""


class ReadingRow(Base):
    """One number of an examination, so that a trend need not unpack documents."""

    __tablename__ = "reading"

    examination_id: Mapped[int] = mapped_column(ForeignKey("examination.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    unit: Mapped[str]
    valid: Mapped[bool]
    value: Mapped[float | None]
    low: Mapped[float | None]
    high: Mapped[float | None]
    open_bars: Mapped[float | None]
    open_bars_low: Mapped[float | None]
    open_bars_high: Mapped[float | None]
    detection_limit_bars: Mapped[float | None]
