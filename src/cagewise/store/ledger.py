"""Which files were looked at already, so that a folder can be imported again and again."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import func, select

from cagewise.store.context import Context, insert_if_absent
from cagewise.store.records import Imported, SourceFile
from cagewise.store.tables.imported import ImportedRow


class Ledger:
    """The files that were imported, or refused."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._database = context.database

    def find(self, source: SourceFile) -> Imported | None:
        """Return what became of this state of a file, without reading it; None when it is new."""
        chosen = select(ImportedRow).where(
            ImportedRow.source == source.path,
            ImportedRow.size_bytes == source.size_bytes,
            ImportedRow.modified_ns == source.modified_ns,
        )
        with self._database.reading() as session:
            row = session.scalars(chosen).first()
            return None if row is None else _imported(row)

    def find_bytes(self, checksum: str) -> Imported | None:
        """Return what became of these bytes under any name, imported ones before refused ones."""
        chosen = (
            select(ImportedRow)
            .where(ImportedRow.checksum == checksum)
            .order_by(ImportedRow.refusal, ImportedRow.id)
        )
        with self._database.reading() as session:
            row = session.scalars(chosen).first()
            return None if row is None else _imported(row)

    def below(self, folder: Path) -> Mapping[SourceFile, str]:
        """Return every state of every file in a folder, with why it was refused; empty if not."""
        beginning = f"{folder}".rstrip(os.sep) + os.sep
        chosen = select(
            ImportedRow.source, ImportedRow.size_bytes, ImportedRow.modified_ns, ImportedRow.refusal
        ).where(func.substr(ImportedRow.source, 1, len(beginning)) == beginning)
        with self._database.reading() as session:
            return {
                SourceFile(path=path, size_bytes=size, modified_ns=modified): refusal
                for path, size, modified, refusal in session.execute(chosen)
            }

    def note(self, source: SourceFile, checksum: str, *, refusal: str = "") -> Imported:
        """Note that a file was imported, or why not; a file that was refused may come in later.

        Call it inside :meth:`Plant.writing` together with what was imported.
        """
        chosen = select(ImportedRow).where(
            ImportedRow.source == source.path,
            ImportedRow.size_bytes == source.size_bytes,
            ImportedRow.modified_ns == source.modified_ns,
        )
        with self._database.writing() as session:
            values = self._values(source, checksum, refusal)
            if insert_if_absent(session, ImportedRow, values):
                return Imported(
                    source=source, checksum=checksum, seen_at=values["seen_at"], refusal=refusal
                )
            row = session.scalars(chosen.with_for_update()).one()
            if row.refusal and not refusal:
                row.refusal, row.seen_at = "", self._context.now()
            return _imported(row)

    def _values(self, source: SourceFile, checksum: str, refusal: str) -> dict[str, Any]:
        """Return the columns of a row."""
        return {
            "source": source.path,
            "size_bytes": source.size_bytes,
            "modified_ns": source.modified_ns,
            "checksum": checksum,
            "seen_at": self._context.now(),
            "refusal": refusal,
        }


def _imported(row: ImportedRow) -> Imported:
    """Return a row as a record."""
    return Imported(
        source=SourceFile(path=row.source, size_bytes=row.size_bytes, modified_ns=row.modified_ns),
        checksum=row.checksum,
        seen_at=row.seen_at,
        refusal=row.refusal,
    )
