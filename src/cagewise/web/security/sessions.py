"""What a browser or a program proves with that it has logged in: random, and kept as a hash."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import TypeVar

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from cagewise.errors import InputError, NotKeptError
from cagewise.store.instants import now
from cagewise.web.keeping import AccountRow, SessionRow, TokenRow, Workbench
from cagewise.web.security.accounts import Account, account_of
from cagewise.web.security.rights import Right, Visitor, Way

IDLE = timedelta(hours=8)
"""After which a browser that asked for nothing has to log in again: a shift."""
ABSOLUTE = timedelta(days=3)
"""After which every browser has to log in again."""
MARK = "cagewise_"
"""Beginning of a token, by which people and scanners recognise one that was lost."""
LONGEST_TOKEN_DAYS = 366

Row = TypeVar("Row", SessionRow, TokenRow)

_BYTES = 32
_NOTED = timedelta(minutes=1)
"""How exactly it is kept when a session was last seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """What is shown of a token; the token itself is nowhere."""

    id: int
    name: str
    right: Right
    made_at: datetime
    expires_at: datetime


class Sessions:
    """The browsers that are logged in."""

    def __init__(self, workbench: Workbench, clock: Callable[[], datetime] = now) -> None:
        self._workbench = workbench
        self._clock = clock

    def begin(self, account: Account, former: str = "") -> str:
        """Return what the cookie of a new session holds.

        Parameters
        ----------
        account
            Who has logged in.
        former
            Cookie that the browser came with; it opens nothing any more.
        """
        secret, moment = secrets.token_urlsafe(_BYTES), self._clock()
        with self._workbench.writing() as session:
            session.execute(
                delete(SessionRow).where(
                    (SessionRow.key == hashed(former))
                    | (SessionRow.made_at < moment - ABSOLUTE)
                    | (SessionRow.seen_at < moment - IDLE)
                )
            )
            session.add(
                SessionRow(
                    key=hashed(secret), account_id=account.id, made_at=moment, seen_at=moment
                )
            )
        return secret

    def find(self, secret: str) -> Visitor | None:
        """Return whose session a cookie holds; None if it is over."""
        moment = self._clock()
        with self._workbench.reading() as session:
            found = _joined(session, SessionRow, secret)
        if found is None:
            return None
        row, account = found
        if moment - row.made_at >= ABSOLUTE or moment - row.seen_at >= IDLE:
            self.end(secret)
            return None
        if moment - row.seen_at >= _NOTED:
            self._note(row.key, moment)
        return Visitor(
            way=Way.SESSION, name=account.name, right=account.right, account_id=account.id
        )

    def end(self, secret: str) -> None:
        """End a session."""
        with self._workbench.writing() as session:
            session.execute(delete(SessionRow).where(SessionRow.key == hashed(secret)))

    def _note(self, key: str, moment: datetime) -> None:
        """Note that a session was seen."""
        with self._workbench.writing() as session:
            row = session.get(SessionRow, key)
            if row is not None:
                row.seen_at = moment


class Tokens:
    """The tokens with which programs call the interface."""

    def __init__(self, workbench: Workbench, clock: Callable[[], datetime] = now) -> None:
        self._workbench = workbench
        self._clock = clock

    def issue(self, account_id: int, *, name: str, right: Right, days: int) -> str:
        """Return a new token; it can never be shown again.

        Parameters
        ----------
        account_id
            On whose behalf it acts.
        name
            What it is for.
        right
            At most this; never more than the account has.
        days
            After which it ends.

        Raises
        ------
        InputError
            If it cannot be issued like this.
        NotKeptError
            If there is no such account.
        """
        if not 1 <= days <= LONGEST_TOKEN_DAYS:
            raise InputError(f"a token lasts 1 to {LONGEST_TOKEN_DAYS} days", where="days")
        if not name.strip() or not name.isprintable():
            raise InputError("it has to be said what the token is for", where="name")
        secret, moment = MARK + secrets.token_urlsafe(_BYTES), self._clock()
        with self._workbench.writing() as session:
            account = session.get(AccountRow, account_id)
            if account is None:
                raise NotKeptError("there is no such account")
            row = TokenRow(
                key=hashed(secret),
                account_id=account_id,
                name=name.strip()[:64],
                access_right=min(int(right), account.access_right),
                made_at=moment,
                expires_at=moment + timedelta(days=days),
            )
            session.add(row)
        return secret

    def of(self, account_id: int) -> tuple[Token, ...]:
        """Return the tokens of an account."""
        with self._workbench.reading() as session:
            rows = select(TokenRow).where(TokenRow.account_id == account_id).order_by(TokenRow.id)
            return tuple(
                Token(
                    id=row.id,
                    name=row.name,
                    right=Right(row.access_right),
                    made_at=row.made_at,
                    expires_at=row.expires_at,
                )
                for row in session.scalars(rows)
            )

    def find(self, secret: str) -> Visitor | None:
        """Return on whose behalf a token acts; None if it opens nothing."""
        with self._workbench.reading() as session:
            found = _joined(session, TokenRow, secret)
        if found is None or found[0].expires_at <= self._clock():
            return None
        row, account = found
        return Visitor(
            way=Way.TOKEN,
            name=account.name,
            right=min(account.right, Right(row.access_right)),
            account_id=account.id,
        )

    def revoke(self, account_id: int, token_id: int) -> None:
        """End a token of an account; one of another account is not touched."""
        with self._workbench.writing() as session:
            session.execute(
                delete(TokenRow).where(TokenRow.id == token_id, TokenRow.account_id == account_id)
            )


def hashed(secret: str) -> str:
    """Return what is kept of a secret of 256 random bits: a plain hash is enough for one."""
    return sha256(secret.encode()).hexdigest()


def _joined(session: Session, table: type[Row], secret: str) -> tuple[Row, Account] | None:
    """Return the row of a secret and its account."""
    row = session.scalar(select(table).where(table.key == hashed(secret)))
    account = None if row is None else session.get(AccountRow, row.account_id)
    return None if row is None or account is None else (row, account_of(account))
