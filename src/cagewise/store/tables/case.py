"""Cases, and what happened to a motor: decisions, repairs, outcomes, notes, with their pictures."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import BigInteger, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from cagewise.store.tables.base import Base, Checksum, Facts, Identity


class CaseRow(Base):
    """A suspicion that is followed from the first doubt to the closed outcome."""

    __tablename__ = "motor_case"  # "case" is a word of SQL
    __table_args__ = (Index(None, "motor_id", "opened_on"), Index(None, "closed_on"))

    id: Mapped[Identity]
    motor_id: Mapped[int] = mapped_column(ForeignKey("motor.id"))
    part: Mapped[str]
    """Part of the motor that is suspected."""
    title: Mapped[str]
    examination_id: Mapped[int | None] = mapped_column(ForeignKey("examination.id"))
    """That raised the suspicion."""
    opened_on: Mapped[date]
    opened_at: Mapped[datetime]
    closed_on: Mapped[date | None]
    closed_at: Mapped[datetime | None]
    closing: Mapped[str]
    """Why it was closed; empty while it is open."""


class EventRow(Base):
    """Something that happened; never changed. A correction is another event that names it."""

    __tablename__ = "event"
    __table_args__ = (
        Index(None, "motor_id", "day", "id"),
        Index(None, "case_id"),
        Index(None, "kind"),
        Index(None, "corrects_id"),
    )

    id: Mapped[Identity]
    motor_id: Mapped[int] = mapped_column(ForeignKey("motor.id"))
    case_id: Mapped[int | None] = mapped_column(ForeignKey("motor_case.id"))
    kind: Mapped[str]
    """Decision, repair, outcome or note."""
    day: Mapped[date]
    """On which it happened."""
    recorded_at: Mapped[datetime]
    author: Mapped[str]
    text: Mapped[str]
    corrects_id: Mapped[int | None] = mapped_column(ForeignKey("event.id"))
    action: Mapped[str]
    """What was decided, or what was done in a repair; empty for others."""
    due_on: Mapped[date | None]
    """By when a decision is to be carried out."""
    facts: Mapped[Facts]
    """What the shop stated of a repaired motor: names with their unit, and values."""


class OutcomeRow(Base):
    """What was found when somebody looked inside."""

    __tablename__ = "outcome"

    event_id: Mapped[int] = mapped_column(ForeignKey("event.id"), primary_key=True)
    found: Mapped[str]
    """Damaged, sound, or not opened."""
    open_bars: Mapped[int | None]
    """Number of bars found fully open; None when nobody counted."""


class FoundBarRow(Base):
    """Where one damaged bar was found."""

    __tablename__ = "found_bar"
    __table_args__ = (UniqueConstraint("event_id", "bar"),)

    id: Mapped[Identity]
    event_id: Mapped[int] = mapped_column(ForeignKey("outcome.event_id"))
    bar: Mapped[int]
    """Number of the bar, counted from any one, in one direction of turning."""
    damage: Mapped[str]
    """Open or cracked."""
    place: Mapped[str]
    """Along the bar: drive end, slot, other end."""


class AttachmentRow(Base):
    """A photograph or paper that belongs to an event; kept by its checksum."""

    __tablename__ = "attachment"
    __table_args__ = (UniqueConstraint("event_id", "checksum"),)

    id: Mapped[Identity]
    event_id: Mapped[int] = mapped_column(ForeignKey("event.id"))
    checksum: Mapped[Checksum]
    size_bytes: Mapped[int] = mapped_column(BigInteger)
    name: Mapped[str]
    """File name as it came."""
    caption: Mapped[str]
    added_at: Mapped[datetime]
