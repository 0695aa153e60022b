"""The database of an archive: checked, brought up to date, and put where it is wanted."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Connection, create_engine, select

from cagewise.errors import PlantFolderError
from cagewise.store import schema
from cagewise.store.archive.copy_rows import copy_rows, row_counts
from cagewise.store.archive.format import DATABASE_ENTRY, Manifest, damaged
from cagewise.store.contents import Contents, contents_of
from cagewise.store.database import Database, parse_url
from cagewise.store.kept_files import kept_files
from cagewise.store.steps import Step
from cagewise.store.tables.plant import PlantRow


def settle_database(
    manifest: Manifest, building: Path, wanted: str, where: str, step: Step
) -> Contents:
    """Check the database of an archive and put it where it is wanted; return what it holds.

    Parameters
    ----------
    manifest
        Of the archive.
    building
        Folder in which the plant is put together; the database lies in it.
    wanted
        A name in the folder, or the URL of a server.
    where
        Of the archive, for messages.
    step
        For tests.
    """
    file = building / DATABASE_ENTRY
    with checked_database(manifest, building, where, step) as (copy, contents):
        if "://" in wanted:
            _copy_to_server(copy, Database(parse_url(wanted, building)), manifest.plant_id, step)
        else:
            copy.use_write_ahead_log()
    if "://" in wanted:
        file.unlink()
    elif wanted != DATABASE_ENTRY:
        file.rename(building / wanted)
    step("database settled")
    return contents


@contextmanager
def checked_database(
    manifest: Manifest, building: Path, where: str, step: Step
) -> Iterator[tuple[Database, Contents]]:
    """Give the database of an archive, brought up to date, if it is sound and of this archive.

    Parameters
    ----------
    manifest, where, step
        As for :func:`settle_database`.
    building
        Folder in which the database lies.
    """
    _require_our_schema(building / DATABASE_ENTRY, where)
    copy = Database(parse_url(DATABASE_ENTRY, building))
    try:
        schema.prepare(copy, building, step)
        _require_agreement(manifest, copy, where)
        with copy.reading() as session:
            contents = contents_of(session)
        yield copy, contents
    finally:
        copy.close()


def _require_our_schema(file: Path, where: str) -> None:
    """Raise if a database is damaged, or holds anything that our revisions do not make."""
    try:
        with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as connection:
            sound = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            sound = sound and not connection.execute("PRAGMA foreign_key_check").fetchall()
            found = _contents(connection)
            revisions = (
                connection.execute("SELECT version_num FROM alembic_version").fetchall()
                if ("table", "alembic_version") in found
                else []
            )
    except sqlite3.DatabaseError as error:
        raise damaged(f"its database is damaged ({error})", where) from error
    if not sound or len(revisions) != 1:
        raise damaged("its database does not agree with itself", where)
    schema.require_known(str(revisions[0][0]), where)
    strange = sorted(found ^ _made_by(str(revisions[0][0])))
    if strange:
        raise damaged(f"its database has not the tables of a plant ({strange[0][1]})", where)


def _contents(connection: sqlite3.Connection) -> set[tuple[str, str]]:
    """Return kind and name of everything in a database but what SQLite makes itself."""
    rows = connection.execute("SELECT type, name FROM sqlite_master")
    return {(kind, name) for kind, name in rows if not name.startswith("sqlite_")}


def _made_by(revision: str) -> set[tuple[str, str]]:
    """Return what a database of a revision holds."""
    engine = create_engine("sqlite://")
    try:
        with engine.begin() as connection:
            schema.upgrade(connection, revision)
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)  # noqa: S101 - for the type checker
            return _contents(raw)
    finally:
        engine.dispose()


def _require_agreement(manifest: Manifest, database: Database, where: str) -> None:
    """Raise if a database speaks of files that are not there, or is of another plant."""
    names = {entry.name for entry in manifest.entries} | set(manifest.missing)
    with database.reading() as session:
        absent = next((f.name for f in kept_files(session) if f.name not in names), None)
        found = session.scalars(select(PlantRow.plant_id)).first()
    if absent is not None:
        raise damaged(f"its database speaks of {absent}, which is not in it", where)
    if found != manifest.plant_id:
        raise damaged("its database is of another plant", where)


def _copy_to_server(source: Database, target: Database, plant_id: str, step: Step) -> None:
    """Copy all rows to a server, in one transaction; rows that are all there already stay."""
    try:
        schema.prepare(target, Path(), step)
        with source.one_state() as rows, target.connection() as connection:
            schema.lock(connection)
            standing = connection.scalars(select(PlantRow.plant_id)).first()
            if standing is None:
                copy_rows(rows, connection)
            elif standing != plant_id or not _equal(rows, connection):
                raise PlantFolderError(
                    "the database holds a plant already",
                    where=target.where,
                    remedy="Name an empty database.",
                )
        step("rows copied")
    finally:
        target.close()


def _equal(one: Connection, other: Connection) -> bool:
    """Return whether two databases have as many rows in every table."""
    return row_counts(one) == row_counts(other)
