"""Accounts, passwords, sessions and tokens, without a server."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import argon2
import pytest

from cagewise.errors import AlreadyKeptError, InputError, NotKeptError
from cagewise.web.keeping import AccountRow, Workbench
from cagewise.web.security import passwords
from cagewise.web.security.accounts import Account, Accounts
from cagewise.web.security.rights import Right, Way
from cagewise.web.security.sessions import ABSOLUTE, IDLE, MARK, Sessions, Tokens
from support.workbench import PASSWORD, Clock


@pytest.fixture
def workbench(tmp_path: Path) -> Iterator[Workbench]:
    with Workbench.open(tmp_path) as made:
        yield made


@pytest.fixture
def accounts(workbench: Workbench) -> Accounts:
    return Accounts(workbench)


@pytest.fixture
def ada(accounts: Accounts) -> Account:
    return accounts.add("Ada", PASSWORD, Right.ADMIN)


def test_a_name_and_its_password_open_the_account(accounts: Accounts, ada: Account) -> None:
    assert accounts.check(" ADA ", PASSWORD) == ada
    assert accounts.check("Ada", PASSWORD + " ") is None
    assert accounts.check("Bea", PASSWORD) is None


@pytest.mark.usefixtures("as_served")
def test_a_password_is_kept_as_argon2id_with_the_defaults_of_the_library(
    accounts: Accounts, ada: Account, workbench: Workbench
) -> None:
    with workbench.reading() as session:
        row = session.get(AccountRow, ada.id)
        assert row is not None
        kept = row.password
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")  # RFC 9106, second recommended option
    assert accounts.check("Ada", PASSWORD) is not None
    for file in workbench.file.parent.iterdir():
        assert PASSWORD.encode() not in file.read_bytes()


@pytest.mark.usefixtures("as_served")
def test_a_password_kept_with_weaker_parameters_is_kept_anew(
    accounts: Accounts, ada: Account, workbench: Workbench
) -> None:
    weak = argon2.PasswordHasher(time_cost=1, memory_cost=8192, parallelism=1).hash(PASSWORD)
    with workbench.writing() as session:
        session.get_one(AccountRow, ada.id).password = weak
    assert accounts.check("Ada", PASSWORD) == ada
    with workbench.reading() as session:
        assert "m=65536,t=3,p=4" in session.get_one(AccountRow, ada.id).password


def test_composed_and_decomposed_letters_are_the_same_password(accounts: Accounts) -> None:
    accounts.add("Ada", "grüne äpfel öfter", Right.ADMIN)
    assert accounts.check("Ada", "gru\u0308ne a\u0308pfel o\u0308fter") is not None


def test_an_unknown_name_costs_the_same_work(
    accounts: Accounts, ada: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    verify = argon2.PasswordHasher.verify

    def counting(self: argon2.PasswordHasher, kept: str, password: str) -> bool:
        seen.append(kept.rpartition("$")[0].rpartition("$")[0])  # parameters, without salt and hash
        return verify(self, kept, password)

    monkeypatch.setattr(argon2.PasswordHasher, "verify", counting)
    accounts.check(ada.name, "wrong wrong wrong")
    accounts.check("Nobody", "wrong wrong wrong")
    assert len(seen) == 2
    assert seen[0] == seen[1]


@pytest.mark.parametrize("password", ["", "elevenchars", "x" * 257])
def test_a_password_has_a_length_and_no_other_rule(accounts: Accounts, password: str) -> None:
    with pytest.raises(InputError, match="the password has"):
        accounts.add("Ada", password, Right.ADMIN)
    accounts.add("Ada", "aaaaaaaaaaaa", Right.ADMIN)


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "a\x1b[31m", "n" * 65])
def test_a_name_can_be_printed(accounts: Accounts, name: str) -> None:
    with pytest.raises(InputError, match="printed"):
        accounts.add(name, PASSWORD, Right.ADMIN)


def test_a_name_is_taken_whatever_its_capitals(accounts: Accounts, ada: Account) -> None:
    with pytest.raises(AlreadyKeptError):
        accounts.add(ada.name.upper(), PASSWORD, Right.READ)


def test_somebody_may_always_manage_the_accounts(accounts: Accounts) -> None:
    with pytest.raises(InputError, match="first account"):
        accounts.add("Ben", PASSWORD, Right.WRITE)
    ada = accounts.add("Ada", PASSWORD, Right.ADMIN)
    ben = accounts.add("Ben", PASSWORD, Right.WRITE)
    with pytest.raises(InputError, match="nobody would be left"):
        accounts.change_right(ada.id, Right.READ)
    with pytest.raises(InputError, match="nobody would be left"):
        accounts.remove(ada.id, last=True)
    accounts.change_right(ben.id, Right.ADMIN)
    accounts.remove(ada.id)
    with pytest.raises(InputError, match="nobody would be left"):
        accounts.remove(ben.id)
    accounts.remove(ben.id, last=True)
    assert not accounts.exist()
    with pytest.raises(NotKeptError):
        accounts.remove(ben.id)


def test_a_session_is_random_and_kept_as_a_hash(workbench: Workbench, ada: Account) -> None:
    sessions = Sessions(workbench)
    one, two = sessions.begin(ada), sessions.begin(ada)
    assert one != two
    assert len(one) == 43  # 256 bits in base 64
    visitor = sessions.find(one)
    assert visitor is not None
    assert (visitor.way, visitor.name, visitor.right) == (Way.SESSION, "Ada", Right.ADMIN)
    with closing(sqlite3.connect(workbench.file)) as connection:
        assert one not in "\n".join(connection.iterdump())


def test_a_session_ends_when_nobody_used_it(workbench: Workbench, ada: Account) -> None:
    clock = Clock()
    sessions = Sessions(workbench, clock)
    secret = sessions.begin(ada)
    clock.pass_by(IDLE - timedelta(minutes=2))
    assert sessions.find(secret) is not None
    clock.pass_by(IDLE - timedelta(minutes=2))
    assert sessions.find(secret) is not None
    clock.pass_by(IDLE)
    assert sessions.find(secret) is None


def test_a_session_ends_however_much_it_is_used(workbench: Workbench, ada: Account) -> None:
    clock = Clock()
    sessions = Sessions(workbench, clock)
    secret = sessions.begin(ada)
    step = timedelta(hours=6)
    for _ in range(ABSOLUTE // step - 1):
        clock.pass_by(step)
        assert sessions.find(secret) is not None
    clock.pass_by(step)
    assert sessions.find(secret) is None


def test_a_new_session_ends_the_one_before(workbench: Workbench, ada: Account) -> None:
    sessions = Sessions(workbench)
    former = sessions.begin(ada)
    again = sessions.begin(ada, former=former)
    assert sessions.find(former) is None
    assert sessions.find(again) is not None


def test_a_new_password_ends_sessions_and_tokens(
    workbench: Workbench, accounts: Accounts, ada: Account
) -> None:
    sessions, tokens = Sessions(workbench), Tokens(workbench)
    session = sessions.begin(ada)
    token = tokens.issue(ada.id, name="export", right=Right.READ, days=30)
    accounts.set_password(ada.id, "another four good words")
    assert sessions.find(session) is None
    assert tokens.find(token) is None
    assert accounts.check("Ada", PASSWORD) is None


def test_a_removed_account_opens_nothing(
    workbench: Workbench, accounts: Accounts, ada: Account
) -> None:
    session = Sessions(workbench).begin(ada)
    token = Tokens(workbench).issue(ada.id, name="export", right=Right.READ, days=30)
    accounts.remove(ada.id, last=True)
    assert Sessions(workbench).find(session) is None
    assert Tokens(workbench).find(token) is None


def test_a_token_may_no_more_than_its_account_now(
    workbench: Workbench, accounts: Accounts, ada: Account
) -> None:
    clock = Clock()
    tokens = Tokens(workbench, clock)
    ben = accounts.add("Ben", PASSWORD, Right.WRITE)
    secret = tokens.issue(ben.id, name="export", right=Right.ADMIN, days=30)
    assert secret.startswith(MARK)
    visitor = tokens.find(secret)
    assert visitor is not None
    assert visitor.right is Right.WRITE
    accounts.change_right(ben.id, Right.READ)
    visitor = tokens.find(secret)
    assert visitor is not None
    assert visitor.right is Right.READ
    tokens.revoke(ada.id, tokens.of(ben.id)[0].id)
    assert tokens.find(secret) is not None
    clock.pass_by(timedelta(days=30))
    assert tokens.find(secret) is None


def test_a_token_is_revoked_by_its_owner(workbench: Workbench, ada: Account) -> None:
    tokens = Tokens(workbench)
    secret = tokens.issue(ada.id, name="export", right=Right.READ, days=1)
    tokens.revoke(ada.id, tokens.of(ada.id)[0].id)
    assert tokens.find(secret) is None
    assert tokens.of(ada.id) == ()


def test_only_two_passwords_are_computed_at_once() -> None:
    assert passwords._AT_ONCE._value == 2
