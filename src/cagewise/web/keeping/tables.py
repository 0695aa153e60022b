"""The tables of ``workbench.sqlite``. Nothing secret is readable in them: only hashes are kept."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from sqlalchemy import JSON, BigInteger, CheckConstraint, ForeignKey, Index, MetaData, Text, text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeEngine

from cagewise.store.instants import Instant


class Base(DeclarativeBase):
    """Base of the tables; their metadata is not that of the history."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, TypeEngine[Any] | type[TypeEngine[Any]]]] = {
        str: Text,
        datetime: Instant,
    }


class SecretRow(Base):
    """A random secret of this installation, as that which signs forms."""

    __tablename__ = "secret"

    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[bytes]


class AccountRow(Base):
    """Somebody who may log in."""

    __tablename__ = "account"
    __table_args__ = (CheckConstraint("access_right BETWEEN 1 AND 3", name="access_right"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    """As it is shown, and as it signs."""
    key: Mapped[str] = mapped_column(unique=True)
    """The name without its capitals, by which it is found."""
    access_right: Mapped[int]
    """1 read, 2 write, 3 admin; each holds those before it."""
    password: Mapped[str]
    """Argon2id, with its parameters and salt."""
    made_at: Mapped[datetime]
    password_at: Mapped[datetime]
    """When the password was last set."""


class SessionRow(Base):
    """A browser that is logged in."""

    __tablename__ = "session"
    __table_args__ = (Index(None, "account_id"),)

    key: Mapped[str] = mapped_column(primary_key=True)
    """SHA-256 of what the cookie holds."""
    account_id: Mapped[int] = mapped_column(ForeignKey("account.id", ondelete="CASCADE"))
    made_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    """To the minute: it is written that seldom."""


class TokenRow(Base):
    """What a program calls the interface with, on behalf of an account."""

    __tablename__ = "token"
    __table_args__ = (
        Index(None, "account_id"),
        CheckConstraint("access_right BETWEEN 1 AND 3", name="access_right"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(unique=True)
    """SHA-256 of the token."""
    account_id: Mapped[int] = mapped_column(ForeignKey("account.id", ondelete="CASCADE"))
    name: Mapped[str]
    """What it is for."""
    access_right: Mapped[int]
    """At most this; never more than the account has now."""
    made_at: Mapped[datetime]
    expires_at: Mapped[datetime]


class JobRow(Base):
    """Long work: what is asked, how far it is, what came of it."""

    __tablename__ = "job"
    __table_args__ = (
        CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled')", name="state"
        ),
        Index("ix_job_state", "state", "id"),
        Index("uq_job_waiting", "key", unique=True, sqlite_where=text("state = 'waiting'")),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    """Which work; see the register of kinds."""
    key: Mapped[str]
    """SHA-256 of kind and arguments: an equal job waits only once."""
    title: Mapped[str]
    """What it is, for people."""
    arguments: Mapped[dict[str, Any]] = mapped_column(JSON)
    state: Mapped[str] = mapped_column(default="waiting")
    """waiting, running, done, failed or cancelled."""
    progress: Mapped[float | None]
    """Share of the work that is done, 0 to 1; None while nobody can say."""
    words: Mapped[str] = mapped_column(default="")
    """What is being done now."""
    result: Mapped[Any] = mapped_column(JSON(none_as_null=True), nullable=True)
    error: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    """Why it failed: what, where, remedy."""
    by: Mapped[str] = mapped_column(default="")
    """Name of the account that asked; empty without accounts."""
    made_at: Mapped[datetime]
    started_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    claim: Mapped[str] = mapped_column(default="")
    """Which worker has it; nobody else may write its progress."""
    lease_until: Mapped[datetime | None]
    """Until when the worker is believed to live without another sign."""
    attempts: Mapped[int] = mapped_column(default=0)
    """How often a worker has begun it."""
    cancel_asked: Mapped[bool] = mapped_column(default=False)


class UploadRow(Base):
    """A file that is on its way into the plant."""

    __tablename__ = "upload"
    __table_args__ = (
        Index(None, "batch"),
        CheckConstraint("received_bytes BETWEEN 0 AND size_bytes", name="received_bytes"),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    """Random: it stands in an address."""
    motor_id: Mapped[int]
    """Of the history; no key can hold it, it is another database."""
    batch: Mapped[str]
    """What is sent together: a recording of several files, sheets of the same day. It is the name
    of their folder."""
    name: Mapped[str]
    """File name as it is kept: without folders and control characters."""
    size_bytes: Mapped[int] = mapped_column(BigInteger)
    """As announced."""
    received_bytes: Mapped[int] = mapped_column(BigInteger, default=0)
    """Of them on the disk, for certain."""
    checksum: Mapped[str] = mapped_column(default="")
    """SHA-256 of the file when it is whole; empty until then."""
    by: Mapped[str] = mapped_column(default="")
    made_at: Mapped[datetime]
    touched_at: Mapped[datetime]
    """When something was last received of it."""
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id", ondelete="SET NULL"))
    """The job that imports it, when it is whole."""
