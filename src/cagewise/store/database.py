"""One database of two kinds, an SQLite file or a PostgreSQL server, and its transactions."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.orm import Session

from cagewise.errors import InputError, MissingExtraError, StoreLockedError
from cagewise.store.database_errors import database_error

PATIENCE_S = 30.0
"""Time that is waited for another writer. An import writes for milliseconds; a migration of a large
plant takes seconds."""

_WRITES = "cagewise_writes"
_DRIVER = "postgresql+psycopg"


class Database:
    """An engine with the settings that the guarantees of the store rest on."""

    def __init__(
        self, url: URL, *, patience_s: float = PATIENCE_S, read_only: bool = False
    ) -> None:
        self.url = url
        self.where = shown(url)
        self.patience_s = patience_s
        self.read_only = read_only
        self._own = threading.local()
        self._engine = (
            _sqlite(url, patience_s, read_only=read_only)
            if self.is_sqlite
            else _server(url, patience_s)
        )
        self._writer = self._engine.execution_options(**{_WRITES: True})

    @property
    def is_sqlite(self) -> bool:
        """Whether it is a file."""
        return self.url.get_backend_name() == "sqlite"

    @property
    def file(self) -> Path:
        """The SQLite file."""
        return Path(self.url.database or "")

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Give a session that sees one state of the database; inside :meth:`writing`, that one."""
        with self._session(self._engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Give a session whose changes are kept together at the end, or not at all.

        A block inside a block of the same thread belongs to the outer one.

        Raises
        ------
        StoreError
            If the database cannot be written; nothing was changed.
        """
        with self._session(self._writer) as session:
            if not session.get_bind().get_execution_options().get(_WRITES):
                message = "a block that writes stands inside one that reads"
                raise RuntimeError(message)
            yield session
            session.flush()

    @contextmanager
    def _session(self, engine: Engine) -> Iterator[Session]:
        outer: Session | None = getattr(self._own, "session", None)
        if outer is not None:
            yield outer
            return
        with self.errors(), Session(engine, expire_on_commit=False) as session, session.begin():
            self._own.session = session
            try:
                yield session
            finally:
                self._own.session = None

    @contextmanager
    def connection(self) -> Iterator[Connection]:
        """Give a connection in a transaction that writes."""
        with self.errors(), self._writer.begin() as connection:
            yield connection

    @contextmanager
    def one_state(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the database, however long it reads."""
        with self.errors(), self._engine.connect() as connection:
            if not self.is_sqlite:  # there, any transaction does
                connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def errors(self) -> Iterator[None]:
        """Turn errors of the database inside the block into ours."""
        try:
            yield
        except DBAPIError as error:
            raise database_error(error, self.where) from error

    def use_write_ahead_log(self) -> None:
        """Let readers and one writer work at the same time; the file remembers it."""
        if not self.is_sqlite:
            return
        deadline = time.monotonic() + self.patience_s
        while True:  # SQLite does not wait for this change by itself
            try:
                with self.errors(), self._engine.connect() as connection:
                    raw: Any = connection.connection.driver_connection
                    raw.execute("PRAGMA journal_mode = WAL")
            except StoreLockedError:
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.02)
            else:
                return

    def close(self) -> None:
        """Give all connections back."""
        self._engine.dispose()


def parse_url(text: str, folder: Path) -> URL:
    """Return the URL of a database: a name without ``://`` is an SQLite file in the folder.

    Raises
    ------
    InputError
        If it is no URL, or of another kind of database.
    """
    if "://" not in text:
        return URL.create("sqlite", database=str((folder / text).resolve()))
    try:
        url = make_url(text)
    except ArgumentError as error:
        raise _bad_url("this is no URL of a database") from error
    if url.get_backend_name() == "sqlite":
        return url.set(database=str((folder / (url.database or "")).resolve()))
    if url.get_backend_name() != "postgresql":
        raise _bad_url(f"{url.get_backend_name()} is not supported")
    return url.set(drivername=_DRIVER)


def _bad_url(what: str) -> InputError:
    """Return the error for an address that is none."""
    return InputError(
        what,
        where="database",
        remedy="Write the name of a file, or postgresql://user@host/database.",
    )


def shown(url: URL) -> str:
    """Return a URL as it may be shown: without a password."""
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    return url.render_as_string(hide_password=True)


def _sqlite(url: URL, patience_s: float, *, read_only: bool) -> Engine:
    """Return an engine whose every connection keeps its word before a commit returns."""
    file = Path(url.database or "").absolute()
    query = {"mode": "ro" if read_only else "rwc", "uri": "true", "timeout": f"{patience_s}"}
    if read_only and _nobody_can_write_beside(file):
        query["immutable"] = "1"  # else SQLite wants to write an index of the log there
    engine = create_engine(URL.create("sqlite", database=file.as_uri(), query=query))

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, below
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA trusted_schema = OFF")  # a restored file may come from anybody

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(_WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _nobody_can_write_beside(file: Path) -> bool:
    """Return whether a file lies in a folder that this program may only read, and is complete."""
    log = file.with_name(f"{file.name}-wal")
    return not os.access(file.parent, os.W_OK) and not (log.exists() and log.stat().st_size)


def _server(url: URL, patience_s: float) -> Engine:
    """Return an engine for a server; waiting for a lock ends with an error there too."""
    try:
        return create_engine(
            url,
            pool_pre_ping=True,
            connect_args={
                "connect_timeout": 10,
                "options": f"-c lock_timeout={int(patience_s * 1e3)} -c timezone=UTC",
            },
        )
    except (ImportError, NoSuchModuleError) as error:
        raise MissingExtraError(
            "the driver for PostgreSQL is not installed",
            where=shown(url),
            remedy="pip install 'cagewise[postgresql]'",
        ) from error
