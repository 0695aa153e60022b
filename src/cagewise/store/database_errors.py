"""What a database said, in our words."""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError

from cagewise.errors import (
    DamagedFileError,
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
)

_SENTENCES: dict[type[StoreError], tuple[str, str]] = {
    StoreLockedError: (
        "another program is writing and did not end",
        "Wait until it has finished, or end it, and do it again.",
    ),
    StoreFullError: (
        "no space is left",
        "Make space and do it again; what was kept before is unharmed.",
    ),
    StoreReadOnlyError: (
        "the database may not be written",
        "Check the permissions of the folder and of the file, and whether the disk is read-only.",
    ),
    DamagedFileError: (
        "the database file is damaged",
        "Restore the plant from an archive; the originals in the folder are unharmed.",
    ),
    StoreUnreachableError: (
        "the database does not answer",
        "Check `database` in plant.toml, the network, and whether the server runs.",
    ),
}

_SQLITE: dict[str, type[StoreError]] = {
    "SQLITE_BUSY": StoreLockedError,
    "SQLITE_LOCKED": StoreLockedError,
    "SQLITE_FULL": StoreFullError,
    "SQLITE_IOERR_SHMSIZE": StoreFullError,  # no room for the index of the log
    "SQLITE_READONLY": StoreReadOnlyError,
    "SQLITE_PERM": StoreReadOnlyError,
    "SQLITE_CANTOPEN": StoreReadOnlyError,
    "SQLITE_CORRUPT": DamagedFileError,
    "SQLITE_NOTADB": DamagedFileError,
}
"""Name of an SQLite error code, or its first two words."""

_SERVER: dict[str, type[StoreError]] = {
    "55P03": StoreLockedError,  # lock_not_available
    "40P01": StoreLockedError,  # deadlock_detected
    "40001": StoreLockedError,  # serialization_failure
    "53100": StoreFullError,  # disk_full
    "25006": StoreReadOnlyError,  # read_only_sql_transaction
    "42501": StoreReadOnlyError,  # insufficient_privilege
}
"""SQLSTATE of PostgreSQL, appendix A of its manual."""


def database_error(error: DBAPIError, where: str) -> StoreError:
    """Return our error for one of the database."""
    kind = _kind(error)
    said = str(error.orig).strip().splitlines()
    detail = said[0] if said else type(error.orig).__name__
    if kind is None:
        return StoreError(
            f"the database refused ({detail})", where=where, remedy="Nothing was changed."
        )
    what, remedy = _SENTENCES[kind]
    return kind(f"{what} ({detail})", where=where, remedy=remedy)


def _kind(error: DBAPIError) -> type[StoreError] | None:
    """Return which of our errors it is."""
    origin = error.orig
    if isinstance(origin, sqlite3.Error):
        name = getattr(origin, "sqlite_errorname", "")
        return _SQLITE.get(name) or _SQLITE.get("_".join(name.split("_")[:2]))
    state = getattr(origin, "sqlstate", None)
    if state is None:
        return StoreUnreachableError
    return _SERVER.get(state)
