"""Passwords: how they are kept, and how long a wrong one takes (as long as a right one)."""

from __future__ import annotations

import unicodedata
from functools import cache
from threading import BoundedSemaphore

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError, VerifyMismatchError

from cagewise.errors import InputError

SHORTEST = 12
"""Characters of a password. Length is all that is asked: rules about kinds of characters make
people write passwords down (NIST SP 800-63B-4, section 3.1.1.2, asks for 15, or 8 beside a second
factor; 12 is common practice)."""
LONGEST = 256
"""Characters; longer ones would only be work for the server."""

_HASHER = PasswordHasher()  # Argon2id with the second recommended option of RFC 9106, section 4
_AT_ONCE = BoundedSemaphore(2)
"""Each computation takes 64 MiB: a crowd at the door must not fill the memory."""


def require_password(password: str) -> None:
    """Raise if a new password is too short or too long.

    Raises
    ------
    InputError
        If it is.
    """
    if len(_plain(password)) < SHORTEST:
        raise InputError(
            f"the password has fewer than {SHORTEST} characters",
            where="password",
            remedy="Four or five unrelated words are easy to remember and hard to guess.",
        )
    if len(password) > LONGEST:
        raise InputError(f"the password has more than {LONGEST} characters", where="password")


def hash_password(password: str) -> str:
    """Return what is kept of a password."""
    with _AT_ONCE:
        return _HASHER.hash(_plain(password))


def fits(kept: str | None, password: str) -> bool:
    """Return whether a password is the one that was kept.

    Parameters
    ----------
    kept
        None if there is no such account: then the answer is no, after the same work.
    password
        As it was typed.
    """
    against = kept if kept is not None else _nobody()
    with _AT_ONCE:
        try:
            _HASHER.verify(against, _plain(password[: LONGEST + 1]))
        except (VerifyMismatchError, VerificationError, InvalidHashError):
            return False
    return kept is not None


def is_outdated(kept: str) -> bool:
    """Return whether a kept password was made with weaker parameters than those of today."""
    return _HASHER.check_needs_rehash(kept)


def _plain(password: str) -> str:
    """Return a password as any keyboard would have typed it: composed or not, it is the same."""
    return unicodedata.normalize("NFKC", password)


@cache
def _nobody() -> str:
    """Return what is compared with where there is nothing to compare with."""
    return _HASHER.hash("the password of nobody at all")


def prepare() -> None:
    """Do once what would make the first comparison slower than the others."""
    _nobody()
