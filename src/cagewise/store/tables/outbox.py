"""What is to be sent to others, each message once."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Index, UniqueConstraint
from sqlalchemy.orm import Mapped

from cagewise.store.tables.base import Base, Facts, Identity


class MessageRow(Base):
    """A message that waits, is being sent, or was sent."""

    __tablename__ = "message"
    __table_args__ = (
        UniqueConstraint("channel", "message_key"),
        Index(None, "done_at", "not_before"),
    )

    id: Mapped[Identity]
    channel: Mapped[str]
    """Where it goes: a webhook, a topic."""
    message_key: Mapped[str]
    """Says what it is about; the same key enters a channel once."""
    payload: Mapped[Facts]
    added_at: Mapped[datetime]
    not_before: Mapped[datetime]
    """Nobody may take it earlier: the end of a claim, or of a pause after a failure."""
    claim: Mapped[str]
    """Token of the one who sends it; empty when nobody does."""
    attempts: Mapped[int]
    last_error: Mapped[str]
    done_at: Mapped[datetime | None]
