"""What somebody may do, and who is asking."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum


class Right(IntEnum):
    """What an account may do; each right holds those before it."""

    READ = 1
    WRITE = 2
    ADMIN = 3

    @property
    def word(self) -> str:
        """The right as it is shown and typed."""
        return self.name.lower()

    @classmethod
    def of(cls, word: str) -> Right:
        """Return the right of a word.

        Raises
        ------
        KeyError
            If there is no such right.
        """
        return cls[word.upper()]


class Way(StrEnum):
    """How it is known who asks."""

    NOBODY = "nobody"
    """It is not known."""
    MACHINE = "machine"
    """Somebody at this machine, on a workbench without accounts."""
    SESSION = "session"
    """A browser that is logged in."""
    TOKEN = "token"  # noqa: S105 - a word
    """A program that brings a token."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Who asks, and what they may do."""

    way: Way
    name: str = ""
    """Of the account; empty without one. It signs what is written."""
    right: Right | None = None
    """None if they may do nothing."""
    account_id: int | None = None

    def may(self, right: Right) -> bool:
        """Return whether the visitor has a right."""
        return self.right is not None and self.right >= right


NOBODY = Visitor(way=Way.NOBODY)
AT_THIS_MACHINE = Visitor(way=Way.MACHINE, right=Right.ADMIN)
"""Where there are no accounts, whoever sits at the machine may do everything."""
