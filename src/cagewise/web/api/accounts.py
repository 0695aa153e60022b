"""Accounts and tokens: who asks, who may come in, what programs prove themselves with."""

from __future__ import annotations

from datetime import datetime
from http import HTTPStatus
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from cagewise.web.desk import AtDesk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayAdmin, MayRead
from cagewise.web.security.accounts import LONGEST_NAME, Account
from cagewise.web.security.passwords import LONGEST, SHORTEST
from cagewise.web.security.rights import Right

router = APIRouter(tags=["accounts"])

RightWord = Literal["read", "write", "admin"]


class Me(BaseModel):
    """Who asks."""

    name: str = Field(description="Of the account; empty where there are no accounts.")
    right: RightWord = Field(description="What the caller may do with this token or session.")
    way: Literal["machine", "session", "token"] = Field(description="How that is known.")


class ShownAccount(BaseModel):
    """Somebody who may log in."""

    id: int
    name: str
    right: RightWord
    made_at: datetime
    password_at: datetime = Field(description="When the password was last set.")


class NewAccount(BaseModel):
    """An account to be made."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    password: str = Field(min_length=SHORTEST, max_length=LONGEST)
    right: RightWord


class AccountChange(BaseModel):
    """What shall be different; what is left out stays."""

    model_config = ConfigDict(extra="forbid")

    right: RightWord | None = None
    password: str | None = Field(None, min_length=SHORTEST, max_length=LONGEST)


@router.get("/me")
def me(visitor: MayRead) -> Me:
    """Return who asks, and what they may do."""
    right = visitor.right or Right.READ
    return Me.model_validate({"name": visitor.name, "right": right.word, "way": visitor.way.value})


@router.get("/accounts")
def accounts(desk: AtDesk, _: MayAdmin) -> list[ShownAccount]:
    """Return all accounts."""
    return [_shown(account) for account in desk.accounts.all()]


@router.post("/accounts", status_code=HTTPStatus.CREATED)
def add_account(desk: AtDesk, _: MayAdmin, new: NewAccount) -> ShownAccount:
    """Add an account. With the first one, which has to be an admin, everybody has to log in."""
    return _shown(desk.accounts.add(new.name, new.password, Right.of(new.right)))


@router.patch("/accounts/{account_id}", status_code=HTTPStatus.NO_CONTENT)
def change_account(account_id: Number, desk: AtDesk, _: MayAdmin, change: AccountChange) -> None:
    """Change the right or the password of an account."""
    if change.right is not None:
        desk.accounts.change_right(account_id, Right.of(change.right))
    if change.password is not None:
        desk.accounts.set_password(account_id, change.password)


@router.delete("/accounts/{account_id}", status_code=HTTPStatus.NO_CONTENT)
def remove_account(account_id: Number, desk: AtDesk, _: MayAdmin) -> None:
    """Remove an account, its sessions and its tokens."""
    desk.accounts.remove(account_id)


def _shown(account: Account) -> ShownAccount:
    return ShownAccount.model_validate(
        {
            "id": account.id,
            "name": account.name,
            "right": account.right.word,
            "made_at": account.made_at,
            "password_at": account.password_at,
        }
    )
