"""What is to be sent to others: written down with the finding itself, then sent from here.

A message enters once per channel and key, in the transaction of what it tells. It is claimed by one
sender at a time for a while; when it was sent, it is done and never given out again. A sender that
is killed leaves its claim to run out. Whether it had sent the message by then nobody can know, so
the message goes out again *with the same key*, and ``attempts`` says that this may be a repetition.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from cagewise.store.context import Context, insert_if_absent
from cagewise.store.records import Facts, Message
from cagewise.store.tables.outbox import MessageRow

LEASE = timedelta(minutes=5)
"""For how long a claim holds: many times what sending one message takes."""

NEVER = datetime(9999, 12, 31, tzinfo=UTC)
"""Earliest instant of the next attempt at a message that was refused for good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnsentMessage:
    """A message that is not done: what a list shows of it."""

    id: int
    channel: str
    key: str
    payload: Facts
    attempts: int
    added_at: datetime
    not_before: datetime
    """Earliest instant of the next attempt; the end of a claim while somebody sends it."""
    is_refused: bool
    """Whether it was refused for good: it is sent again only when somebody asks for it."""
    last_error: str
    """Of the last attempt; empty before the first."""


class Outbox:
    """The messages of a plant."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._database = context.database

    def put(self, channel: str, key: str, payload: Mapping[str, Any]) -> bool:
        """Write a message down; return False when one with this key was in the channel already.

        Call it inside :meth:`Plant.writing` together with what it tells.
        """
        moment = self._context.now()
        values = {
            "channel": channel,
            "message_key": key,
            "payload": dict(payload),
            "added_at": moment,
            "not_before": moment,
            "claim": "",
            "attempts": 0,
            "last_error": "",
        }
        with self._database.writing() as session:
            return insert_if_absent(session, MessageRow, values)

    def claim(
        self, *, channels: Sequence[str] = (), most: int = 1, lease: timedelta = LEASE
    ) -> Sequence[Message]:
        """Take messages that nobody else may send until ``lease`` is over, the oldest first."""
        moment = self._context.now()
        chosen = (
            select(MessageRow)
            .where(MessageRow.done_at.is_(None), MessageRow.not_before <= moment)
            .order_by(MessageRow.id)
            .limit(most)
            .with_for_update(skip_locked=True)
        )
        if channels:
            chosen = chosen.where(MessageRow.channel.in_(channels))
        with self._database.writing() as session:
            rows = session.scalars(chosen).all()
            for row in rows:
                row.claim = secrets.token_hex(16)
                row.not_before = moment + lease
                row.attempts += 1
            session.flush()
            taken = [_message(row) for row in rows]
        self._context.step("claimed")
        return taken

    def done(self, message: Message) -> bool:
        """Say that a message was sent; it is never given out again.

        Returns False, and changes nothing, when the claim had run out and another sender has it.
        """
        with self._database.writing() as session:
            row = self._claimed(session, message)
            if row is None:
                return False
            row.done_at = self._context.now()
            row.claim = ""
        self._context.step("done")
        return True

    def failed(self, message: Message, error: str, *, again_in: timedelta) -> bool:
        """Say that a message could not be sent, and when to try again; as :meth:`done`."""
        with self._database.writing() as session:
            row = self._claimed(session, message)
            if row is None:
                return False
            row.not_before = self._context.now() + again_in
            row.claim, row.last_error = "", error
            return True

    def refused(self, message: Message, error: str) -> bool:
        """Say that a message was refused and would be again: it is kept, and shown; as `done`."""
        with self._database.writing() as session:
            row = self._claimed(session, message)
            if row is None:
                return False
            row.not_before, row.claim, row.last_error = NEVER, "", error
            return True

    def rests(self, channel: str) -> bool:
        """Return whether a message of a channel failed and is not to be tried again yet."""
        chosen = (
            select(MessageRow.id)
            .where(MessageRow.done_at.is_(None), MessageRow.channel == channel)
            .where(MessageRow.last_error != "", MessageRow.not_before < NEVER)
            .where(MessageRow.not_before > self._context.now())
            .limit(1)
        )
        with self._database.reading() as session:
            return session.scalars(chosen).first() is not None

    def again(self, *, channels: Sequence[str]) -> int:
        """Let messages that failed or were refused be sent at once; return how many."""
        chosen = (
            select(MessageRow)
            .where(MessageRow.done_at.is_(None), MessageRow.claim == "")
            .where(MessageRow.channel.in_(channels))
            .where(MessageRow.not_before > self._context.now())
            .with_for_update()
        )
        with self._database.writing() as session:
            rows = session.scalars(chosen).all()
            for row in rows:
                row.not_before = self._context.now()
            return len(rows)

    def unsent(self) -> Sequence[UnsentMessage]:
        """Return the messages that are not done, the oldest first."""
        chosen = select(MessageRow).where(MessageRow.done_at.is_(None)).order_by(MessageRow.id)
        with self._database.reading() as session:
            return [_unsent(row) for row in session.scalars(chosen)]

    def waiting(self) -> int:
        """Return how many messages are not done."""
        with self._database.reading() as session:
            return len(
                session.scalars(select(MessageRow.id).where(MessageRow.done_at.is_(None))).all()
            )

    def _claimed(self, session: Session, message: Message) -> MessageRow | None:
        """Return the row while the claim is ours."""
        return session.scalars(
            select(MessageRow)
            .where(MessageRow.id == message.id, MessageRow.claim == message.claim)
            .where(MessageRow.done_at.is_(None))
            .with_for_update()
        ).first()


def _message(row: MessageRow) -> Message:
    """Return a row as a record."""
    return Message(
        id=row.id,
        channel=row.channel,
        key=row.message_key,
        payload=row.payload,
        attempts=row.attempts,
        claim=row.claim,
    )


def _unsent(row: MessageRow) -> UnsentMessage:
    """Return a row as a list shows it."""
    return UnsentMessage(
        id=row.id,
        channel=row.channel,
        key=row.message_key,
        payload=row.payload,
        attempts=row.attempts,
        added_at=row.added_at,
        not_before=row.not_before,
        is_refused=row.not_before >= NEVER,
        last_error=row.last_error,
    )
