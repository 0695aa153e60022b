"""Accounts: who may come in from elsewhere."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from cagewise.errors import AlreadyKeptError, InputError, NotKeptError
from cagewise.store.instants import now
from cagewise.web.keeping import AccountRow, SessionRow, TokenRow, Workbench
from cagewise.web.security.passwords import fits, hash_password, is_outdated, require_password
from cagewise.web.security.rights import Right

LONGEST_NAME = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Somebody who may log in."""

    id: int
    name: str
    right: Right
    made_at: datetime
    password_at: datetime
    """When the password was last set."""


class Accounts:
    """The accounts of a workbench."""

    def __init__(self, workbench: Workbench, clock: Callable[[], datetime] = now) -> None:
        self._workbench = workbench
        self._clock = clock

    def exist(self) -> bool:
        """Return whether there is any account; then everybody needs one."""
        with self._workbench.reading() as session:
            return bool(session.scalar(select(exists(select(AccountRow.id)))))

    def has_admin(self) -> bool:
        """Return whether somebody may manage accounts."""
        with self._workbench.reading() as session:
            return _admins(session) > 0

    def all(self) -> tuple[Account, ...]:
        """Return all accounts by name."""
        with self._workbench.reading() as session:
            rows = session.scalars(select(AccountRow).order_by(AccountRow.key))
            return tuple(account_of(row) for row in rows)

    def named(self, name: str) -> Account:
        """Return the account of a name, however it is capitalised.

        Raises
        ------
        NotKeptError
            If there is none.
        """
        with self._workbench.reading() as session:
            row = session.scalar(select(AccountRow).where(AccountRow.key == _key(name)))
            if row is None:
                raise _unknown(name)
            return account_of(row)

    def add(self, name: str, password: str, right: Right) -> Account:
        """Add an account.

        Raises
        ------
        InputError
            If the name or the password cannot be one.
        AlreadyKeptError
            If there is an account of that name.
        """
        shown = _checked_name(name)
        require_password(password)
        kept, moment = hash_password(password), self._clock()
        with self._workbench.writing() as session:
            if session.scalar(select(AccountRow.id).where(AccountRow.key == _key(shown))):
                raise AlreadyKeptError("there is an account of that name", where=shown)
            _require_an_admin_remains(session, None, right)
            row = AccountRow(
                name=shown,
                key=_key(shown),
                access_right=int(right),
                password=kept,
                made_at=moment,
                password_at=moment,
            )
            session.add(row)
            session.flush()
            return account_of(row)

    def remove(self, account_id: int, *, last: bool = False) -> None:
        """Remove an account, its sessions and its tokens.

        Parameters
        ----------
        account_id
            Of the account.
        last
            Whether it may be the last one; then the workbench has no accounts any more.

        Raises
        ------
        NotKeptError
            If there is no such account.
        InputError
            If nobody would be left to manage the others, or it is the last one.
        """
        with self._workbench.writing() as session:
            row = _row(session, account_id)
            others = session.scalar(select(exists().where(AccountRow.id != account_id)))
            if others or not last:
                _require_an_admin_remains(session, row, None)
            session.delete(row)

    def change_right(self, account_id: int, right: Right) -> None:
        """Change what an account may do, from its next request on.

        Raises
        ------
        NotKeptError, InputError
            As :meth:`remove`.
        """
        with self._workbench.writing() as session:
            row = _row(session, account_id)
            _require_an_admin_remains(session, row, right)
            row.access_right = int(right)

    def set_password(self, account_id: int, password: str) -> None:
        """Give an account another password; its browsers and programs have to log in again.

        Raises
        ------
        NotKeptError
            If there is no such account.
        InputError
            If it cannot be a password.
        """
        require_password(password)
        kept = hash_password(password)
        with self._workbench.writing() as session:
            row = _row(session, account_id)
            row.password, row.password_at = kept, self._clock()
            for table in (SessionRow, TokenRow):
                for each in session.scalars(select(table).where(table.account_id == account_id)):
                    session.delete(each)

    def check(self, name: str, password: str) -> Account | None:
        """Return the account that a name and a password open; None takes as long."""
        with self._workbench.reading() as session:
            row = session.scalar(select(AccountRow).where(AccountRow.key == _key(name)))
        kept = None if row is None else row.password
        if not fits(kept, password) or row is None or kept is None:
            return None
        if is_outdated(kept):
            self._keep_again(row.id, kept, hash_password(password))
        return account_of(row)

    def _keep_again(self, account_id: int, old: str, new: str) -> None:
        """Keep the same password with the parameters of today."""
        with self._workbench.writing() as session:
            row = session.get(AccountRow, account_id)
            if row is not None and row.password == old:
                row.password = new


def account_of(row: AccountRow) -> Account:
    """Return an account as it is kept."""
    return Account(
        id=row.id,
        name=row.name,
        right=Right(row.access_right),
        made_at=row.made_at,
        password_at=row.password_at,
    )


def _key(name: str) -> str:
    """Return what a name is found by."""
    return unicodedata.normalize("NFKC", name).strip().casefold()


def _checked_name(name: str) -> str:
    """Return a name as it is kept."""
    shown = unicodedata.normalize("NFKC", name).strip()
    if not 0 < len(shown) <= LONGEST_NAME or not shown.isprintable():
        raise InputError(
            f"a name has 1 to {LONGEST_NAME} characters that can be printed", where="name"
        )
    return shown


def _row(session: Session, account_id: int) -> AccountRow:
    """Return the row of an account."""
    row = session.get(AccountRow, account_id)
    if row is None:
        raise _unknown(f"account {account_id}")
    return row


def _unknown(name: str) -> NotKeptError:
    return NotKeptError("there is no account of that name", where=name)


def _admins(session: Session) -> int:
    """Return how many may manage accounts."""
    rows = select(AccountRow.id).where(AccountRow.access_right == int(Right.ADMIN))
    return len(session.scalars(rows).all())


def _require_an_admin_remains(
    session: Session, changed: AccountRow | None, right: Right | None
) -> None:
    """Raise if nobody could manage accounts after one has been given a right, or removed."""
    left = _admins(session)
    if changed is not None and changed.access_right == Right.ADMIN:
        left -= 1
    if right == Right.ADMIN or left > 0:
        return
    what = (
        "the first account has to be one that may manage the others"
        if changed is None
        else "nobody would be left who may manage accounts"
    )
    raise InputError(what, where="account", remedy="Give somebody the right admin first.")
