"""``workbench.sqlite``: opening it, its schema, its transactions."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Connection, inspect, text
from sqlalchemy.orm import Session

from cagewise.errors import DamagedFileError, NewerSchemaError
from cagewise.store.database import Database, parse_url
from cagewise.store.durable import file_errors
from cagewise.store.plant import WORKBENCH as NAME
from cagewise.web.keeping.tables import Base

SCHEMA = 1
"""Version of the tables, as ``PRAGMA user_version`` of the file."""

APPLICATION = 0x63775762
"""``PRAGMA application_id`` of the file: it tells ours from any other SQLite file."""

PATIENCE_S = 10.0
"""Time that is waited for another writer: everything that is written here is small."""

_REMEDY = (
    "Put a copy of the file back, or remove it: accounts and the list of jobs are lost then, "
    "nothing that was measured or decided."
)


class Workbench:
    """What the workbench keeps; open, usable by all threads of a process and by several processes.

    Every change is one transaction in :meth:`writing`; SQLite lets one writer at a time in, so a
    block that reads a row and changes it cannot be overtaken. Keep such blocks short.
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    @classmethod
    def open(cls, folder: Path, *, patience_s: float = PATIENCE_S) -> Workbench:
        """Open the file in the folder of a plant; it is made when it is not there.

        Parameters
        ----------
        folder
            Of the plant.
        patience_s
            Time that is waited for another writer.

        Raises
        ------
        NewerSchemaError
            If a later version of the program has written it.
        DamagedFileError
            If it is damaged, or the file of another program.
        StoreError
            If it cannot be read or written now.
        """
        file = folder.resolve() / NAME
        with file_errors(file):
            file.touch(0o600)  # it holds hashes of passwords
        database = Database(parse_url(str(file), folder), patience_s=patience_s)
        try:
            with _told():
                database.use_write_ahead_log()
                with database.connection() as connection:
                    _prepare(connection, str(file))
        except BaseException:
            database.close()
            raise
        return cls(database)

    @property
    def file(self) -> Path:
        """The file."""
        return self._database.file

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Give a session that sees one state."""
        with _told(), self._database.reading() as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Give a session whose changes are kept together at the end, or not at all."""
        with _told(), self._database.writing() as session:
            yield session

    def close(self) -> None:
        """Close it; nothing is pending."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _prepare(connection: Connection, where: str) -> None:
    """Make the tables in an empty file; refuse one that is not ours."""
    version = connection.execute(text("PRAGMA user_version")).scalar_one()
    application = connection.execute(text("PRAGMA application_id")).scalar_one()
    if not inspect(connection).get_table_names() and not version:
        Base.metadata.create_all(connection)
        connection.execute(text(f"PRAGMA user_version = {SCHEMA}"))
        connection.execute(text(f"PRAGMA application_id = {APPLICATION}"))
        return
    if application != APPLICATION:
        raise DamagedFileError("this file was not made by the workbench", where=where)
    if version > SCHEMA:
        raise NewerSchemaError(
            f"it was written by a later version of the program (schema {version}; "
            f"this one knows {SCHEMA})",
            where=where,
            remedy="Bring this installation up to date; nothing was changed.",
        )


@contextmanager
def _told() -> Iterator[None]:
    """Say of damage what it means for this file: no history is in it."""
    try:
        yield
    except DamagedFileError as error:
        raise DamagedFileError(error.what, where=error.where, remedy=_REMEDY) from error


__all__ = ["NAME", "PATIENCE_S", "SCHEMA", "Workbench"]
