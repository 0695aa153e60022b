"""A plant: one folder in which everything is kept."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import select
from sqlalchemy.orm import Session

from cagewise import __version__
from cagewise.errors import PlantFolderError
from cagewise.store import schema
from cagewise.store.cases import Cases
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.database import PATIENCE_S, Database, parse_url
from cagewise.store.durable import INCOMING, clear_abandoned, file_errors, make_folder
from cagewise.store.examinations import Examinations
from cagewise.store.instants import now
from cagewise.store.kept_files import ATTACHMENTS, ORIGINALS
from cagewise.store.ledger import Ledger
from cagewise.store.measurements import Measurements
from cagewise.store.motors import Motors
from cagewise.store.outbox import Outbox
from cagewise.store.plant_file import (
    DATABASE,
    NAME,
    WAVEFORMS,
    PlantFile,
    read_plant_file,
    write_plant_file,
    zone_named,
)
from cagewise.store.read_only_place import ReadOnlyPlace
from cagewise.store.results import FOLDER as RESULTS
from cagewise.store.results import Results
from cagewise.store.steps import Step, no_step
from cagewise.store.tables import Base
from cagewise.store.tables.plant import PlantRow
from cagewise.store.unexamined import Unexamined
from cagewise.store.vault import Vault
from cagewise.store.visits import Visits
from cagewise.store.waveforms import Waveforms

WORKBENCH = "workbench.sqlite"
"""What the workbench keeps for itself in the folder: not part of the plant, and of no archive."""
CACHE = "cache"
"""Folder of what can be computed again: not part of the plant, and of no archive."""
UPLOADS = "uploads"
"""Folder of files that are on their way into the plant: not part of it yet, and of no archive."""
_OURS = {ORIGINALS, ATTACHMENTS, WAVEFORMS, schema.BACKUPS, NAME, CACHE, UPLOADS}
_OURS |= {f"{WORKBENCH}{ending}" for ending in ("", "-wal", "-shm")}


class Plant:
    """An open plant; use :meth:`create` or :meth:`open`, and a ``with`` block.

    Parameters
    ----------
    folder
        Of the plant.
    about
        What ``plant.toml`` says.
    database
        Open, with the schema of this program.
    step, clock
        For tests.
    """

    def __init__(
        self,
        folder: Path,
        about: PlantFile,
        database: Database,
        *,
        step: Step = no_step,
        clock: Callable[[], datetime] = now,
    ) -> None:
        self.folder = folder
        self.about = about
        self.database = database
        context = Context(database=database, zone=about.zone, step=step, clock=clock)
        self.motors = Motors(context)
        self.visits = Visits(context)
        waveforms = Waveforms(about.waveforms_in(folder), step)
        if database.read_only:
            waveforms.place = ReadOnlyPlace(waveforms.place)
        self.measurements = Measurements(context, Vault(folder / ORIGINALS, step), waveforms)
        self.examinations = Examinations(context)
        self.cases = Cases(context, Vault(folder / ATTACHMENTS, step))
        self.outbox = Outbox(context)
        self.ledger = Ledger(context)
        self.unexamined = Unexamined(context)
        self.results = Results(folder / CACHE / RESULTS, step)

    @classmethod
    def create(
        cls,
        folder: Path,
        *,
        name: str = "",
        time_zone: str = "UTC",
        database: str = DATABASE,
        waveforms: str = WAVEFORMS,
        step: Step = no_step,
    ) -> Plant:
        """Make a plant in a folder that is empty or not there, and open it.

        Killed half-way, it is completed by calling this again: ``plant.toml`` is written last.

        Parameters
        ----------
        folder
            Of the new plant.
        name
            In words.
        time_zone
            Of the plant's calendar, as in ``Europe/Zurich``.
        database
            A file in the folder, or the URL of an empty PostgreSQL database, without a password
            (PGPASSWORD or a password file holds it).
        waveforms
            A folder in the folder, or an fsspec URL.
        step
            For tests.

        Raises
        ------
        PlantFolderError
            If something else is in the folder, or in the database.
        """
        zone_named(time_zone, "time_zone")
        folder = folder.resolve()
        _require_free(folder, database)
        with file_errors(folder):
            for each in (folder, folder / ORIGINALS, folder / ATTACHMENTS):
                make_folder(each)
        step("folders made")
        engine = Database(parse_url(database, folder))
        try:
            engine.use_write_ahead_log()
            schema.prepare(engine, folder, step)
            plant_id = _identity(engine, step)
            about = PlantFile(
                plant_id=plant_id,
                name=name,
                time_zone=time_zone,
                database=database,
                waveforms=waveforms,
            )
            write_plant_file(folder, about, step)
        finally:
            engine.close()
        return cls.open(folder, step=step)

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        read_only: bool = False,
        patience_s: float = PATIENCE_S,
        step: Step = no_step,
        clock: Callable[[], datetime] = now,
    ) -> Plant:
        """Open a plant; one of an earlier version is brought up to date.

        Parameters
        ----------
        folder
            Of the plant.
        read_only
            Nothing may be written.
        patience_s
            Time that is waited for another writer.
        step, clock
            For tests.

        Raises
        ------
        PlantFolderError
            If the folder is no plant, or its database belongs to another.
        NewerSchemaError
            If a later version of the program has written it.
        StoreLockedError, StoreReadOnlyError, StoreUnreachableError
            If the database cannot be used now.
        """
        folder = folder.resolve()
        about = read_plant_file(folder)
        database = Database(
            parse_url(about.database, folder), patience_s=patience_s, read_only=read_only
        )
        try:
            _require_file(database)
            if not read_only:
                database.use_write_ahead_log()
            schema.prepare(database, folder, step)
            _require_same(database, about.plant_id)
            plant = cls(folder, about, database, step=step, clock=clock)
        except BaseException:
            database.close()
            raise
        if not read_only:
            for each in (folder, folder / ORIGINALS, folder / ATTACHMENTS):
                clear_abandoned(each)
            plant.measurements.waveforms.place.clear_abandoned()
        return plant

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Keep everything that is written inside the block together, or nothing of it.

        Long work (reading files, examining) belongs before the block: others wait meanwhile.
        """
        with self.database.writing():
            yield

    def close(self) -> None:
        """Close the plant; nothing is pending, every call has kept what it returned."""
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _require_free(folder: Path, database: str) -> None:
    """Raise if a folder holds anything but the beginning of a plant."""
    if not folder.exists():
        return
    if not folder.is_dir():
        raise PlantFolderError("this is not a folder", where=str(folder))
    with file_errors(folder, "read"):
        names = {path.name for path in folder.iterdir()}
    if NAME in names:
        raise PlantFolderError(
            "this folder is a plant already", where=str(folder), remedy="Open it."
        )
    files = {database, f"{database}-wal", f"{database}-shm", f"{database}-journal"}
    foreign = sorted(n for n in names - _OURS - files if not n.startswith(INCOMING))
    if foreign:
        raise PlantFolderError(
            f"the folder holds other things ({', '.join(foreign[:3])})",
            where=str(folder),
            remedy="Name an empty folder, or one that is not there yet.",
        )


def _identity(database: Database, step: Step) -> str:
    """Return the identity of the plant in a database; a new one if it has none."""
    values = {
        "id": 1,
        "plant_id": str(uuid.uuid4()),
        "created_at": now(),
        "program_version": __version__,
    }
    with database.writing() as session:
        _require_unused(session, database.where)
        insert_if_absent(session, PlantRow, values)
        plant_id = session.scalars(select(PlantRow.plant_id)).one()
    step("identity noted")
    return plant_id


def _require_unused(session: Session, where: str) -> None:
    """Raise if anything was ever kept in a database."""
    for table in Base.metadata.sorted_tables:
        if table.name != PlantRow.__tablename__ and session.execute(select(table).limit(1)).first():
            raise PlantFolderError(
                "the database holds a plant already",
                where=where,
                remedy="Name an empty one; to get a lost plant.toml back, restore an archive.",
            )


def _require_same(database: Database, plant_id: str) -> None:
    """Raise if a database belongs to another plant."""
    with database.reading() as session:
        found = session.scalars(select(PlantRow.plant_id)).first()
    if found != plant_id:
        raise PlantFolderError(
            "the database belongs to another plant than plant.toml says",
            where=database.where,
            remedy="Put the two that belong together into one folder, or correct `database`.",
        )


def _require_file(database: Database) -> None:
    """Raise if the file of the database is gone: an empty one must not take its place."""
    if database.is_sqlite and not database.file.is_file():
        raise PlantFolderError(
            "the database of this plant is not there",
            where=database.where,
            remedy="Copy it back, or restore the plant from an archive.",
        )


__all__ = ["ATTACHMENTS", "ORIGINALS", "Plant"]
