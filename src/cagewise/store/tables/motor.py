"""Motors, the versions of their nameplates, and the sensors that stay on them."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from cagewise.store.tables.base import Base, Checksum, Facts, Identity


class MotorRow(Base):
    """A motor: the position in the plant that bears the tag."""

    __tablename__ = "motor"
    __table_args__ = (UniqueConstraint("site_id", "tag_key"), Index(None, "tag_key"))

    id: Mapped[Identity]
    site_id: Mapped[int] = mapped_column(ForeignKey("site.id"))
    tag: Mapped[str]
    """As written."""
    tag_key: Mapped[str]
    """As compared: without spaces, in small letters."""
    added_at: Mapped[datetime]


class NameplateRow(Base):
    """One version of a motor file; never changed, never removed."""

    __tablename__ = "nameplate"
    __table_args__ = (Index(None, "motor_id", "valid_from", "id"),)

    id: Mapped[Identity]
    motor_id: Mapped[int] = mapped_column(ForeignKey("motor.id"))
    valid_from: Mapped[date]
    """First day on which the motor was like this; of equal days the later row counts."""
    toml: Mapped[str]
    """The motor file as it was given."""
    checksum: Mapped[Checksum]
    """Of :attr:`toml` in UTF-8."""
    added_at: Mapped[datetime]
    note: Mapped[str]
    """Why there is a new version."""
    description: Mapped[str]
    criticality: Mapped[str]
    rated_power_w: Mapped[float]
    next_outage: Mapped[date | None]
    facts: Mapped[Facts | None] = mapped_column(JSON(none_as_null=True))
    """What a ranking asks of the motor file; None where an old row could not be filled."""


class SensorRow(Base):
    """A sensor that stays on a motor: a clamp, a transformer, a tap."""

    __tablename__ = "sensor"
    __table_args__ = (Index(None, "motor_id"),)

    id: Mapped[Identity]
    motor_id: Mapped[int] = mapped_column(ForeignKey("motor.id"))
    name: Mapped[str]
    role: Mapped[str]
    """What it measures, as a channel role."""
    serial: Mapped[str]
    ratio: Mapped[float | None]
    """Primary per secondary."""
    mounted_on: Mapped[date | None]
    calibrated_on: Mapped[date | None]
    removed_on: Mapped[date | None]
    note: Mapped[str]
    added_at: Mapped[datetime]
