"""Which files were looked at already."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from cagewise.store.tables.base import Base, Checksum, Identity


class ImportedRow(Base):
    """One state of one file, by what can be told of it without reading it."""

    __tablename__ = "imported"
    __table_args__ = (
        UniqueConstraint("source", "size_bytes", "modified_ns"),
        Index(None, "checksum"),
    )

    id: Mapped[Identity]
    source: Mapped[str]
    """Absolute path."""
    size_bytes: Mapped[int] = mapped_column(BigInteger)
    modified_ns: Mapped[int] = mapped_column(BigInteger)
    """Time of modification, nanoseconds since 1970."""
    checksum: Mapped[Checksum]
    seen_at: Mapped[datetime]
    refusal: Mapped[str]
    """Why it could not be imported; empty when it was."""
