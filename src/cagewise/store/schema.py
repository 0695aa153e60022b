"""The schema of the database: which revision it has, and bringing an older one up to date.

Older plants are brought up to date when they are opened: the write lock is taken, the SQLite file
is copied aside, and all revisions run in one transaction. Killed anywhere, the plant is still the
old one, and the next opening does it again.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, inspect, text

from cagewise.errors import NewerSchemaError, StoreReadOnlyError
from cagewise.store.database import Database
from cagewise.store.durable import file_errors, incoming, make_folder
from cagewise.store.steps import Step, no_step

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0005"
"""The revision that this program works with; a test holds it against the files."""

BACKUPS = "backups"
"""Folder of the copies made before a migration."""

_MIGRATIONS = Path(__file__).parent / "migrations"
_ADVISORY_LOCK = 0x63616765
"""Number of the lock on a server under which only one program changes the schema."""


def prepare(database: Database, folder: Path, step: Step = no_step) -> None:
    """Make sure that the database has the schema of this program.

    Raises
    ------
    NewerSchemaError
        If a later version of the program has written it.
    StoreReadOnlyError
        If it would have to be changed and may not be.
    """
    with database.reading() as session:
        found = revision(session.connection())
    if found == HEAD:
        return
    require_known(found, database.where)
    if database.read_only:
        raise StoreReadOnlyError(
            f"it has schema {found or 'none'}, this program needs {HEAD}",
            where=database.where,
            remedy="Open it once with permission to write.",
        )
    with database.connection() as connection:
        lock(connection)
        found = revision(connection)  # another process may have been faster
        require_known(found, database.where)
        if found == HEAD:
            return
        if found is not None and database.is_sqlite:
            back_up(database.file, folder / BACKUPS / f"before-{HEAD}-was-{found}.sqlite", step)
        upgrade(connection, step=step)
        step("upgraded")


def upgrade(connection: Connection, to: str = "head", step: Step = no_step) -> None:
    """Run the revisions up to one, on a connection that is in a transaction."""
    from alembic import command

    config = configuration()
    config.attributes["connection"] = connection
    config.attributes["step"] = step
    command.upgrade(config, to)


def configuration() -> Config:
    """Return Alembic's settings: where the revisions lie."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def revisions() -> tuple[str, ...]:
    """Return all revisions, the oldest first."""
    from alembic.script import ScriptDirectory

    script = ScriptDirectory.from_config(configuration())
    return tuple(reversed([entry.revision for entry in script.walk_revisions()]))


def revision(connection: Connection) -> str | None:
    """Return the revision of a database, None of an empty one."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def back_up(source: Path, target: Path, step: Step = no_step) -> None:
    """Copy an SQLite database in one state, while others read and write it."""
    with file_errors(target):
        make_folder(target.parent)
        with incoming(target.parent, step) as file:
            path = Path(file.stream.name)
            fill_from(source, path)
            file.settle(target)
    step("backed up")


def fill_from(source: Path, target: Path) -> None:
    """Write one state of an SQLite database into a file of its own, readable without writing."""
    with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE")


def require_known(found: str | None, where: str) -> None:
    """Raise if this program does not know a revision."""
    if found is None or found in revisions():
        return
    raise NewerSchemaError(
        f"it was written by a later version of the program (schema {found}; this one knows {HEAD})",
        where=where,
        remedy="Bring this installation up to date; nothing was changed.",
    )


def lock(connection: Connection) -> None:
    """Wait until nobody else changes the schema (SQLite: BEGIN IMMEDIATE has done that)."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ADVISORY_LOCK})
