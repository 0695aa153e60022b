"""Is a plant whole? Looked at from outside, with as little of the store's own code as possible."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from contextlib import closing
from hashlib import sha256
from pathlib import Path

from sqlalchemy import text

from cagewise.store import Plant
from cagewise.store.durable import INCOMING

HALVES = {
    "a recording without files": "SELECT r.id FROM recording r LEFT JOIN recording_file f "
    "ON f.recording_id = r.id WHERE f.recording_id IS NULL",
    "a file with one of its two recordings": "SELECT visit_id, checksum FROM recording "
    "GROUP BY visit_id, checksum HAVING count(*) <> 2",
    "a file in the ledger without recordings": "SELECT i.id FROM imported i "
    "LEFT JOIN recording r ON r.checksum = i.checksum WHERE r.id IS NULL",
    "an examination without document": "SELECT e.id FROM examination e "
    "LEFT JOIN examination_document d ON d.examination_id = e.id WHERE d.examination_id IS NULL",
    "an examination without inputs": "SELECT e.id FROM examination e "
    "LEFT JOIN examination_input i ON i.examination_id = e.id WHERE i.examination_id IS NULL",
    "an examination with one of its two readings": "SELECT e.id FROM examination e "
    "LEFT JOIN reading r ON r.examination_id = e.id GROUP BY e.id HAVING count(*) <> 2",
    "a motor without nameplate": "SELECT m.id FROM motor m "
    "LEFT JOIN nameplate n ON n.motor_id = m.id WHERE n.id IS NULL",
}
"""Half records, and the rows that would be one."""

OF_TWO = ("a file with one of its two recordings",)
"""Those that hold only where every file gives two recordings."""


def require_whole(folder: Path, *, except_for: Collection[str] = ()) -> None:
    """Raise unless every record is whole and every file is what its name says."""
    with Plant.open(folder) as plant:
        if plant.database.is_sqlite:
            with closing(sqlite3.connect(plant.database.file)) as connection:
                assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
                assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        with plant.database.connection() as rows:
            for what, query in HALVES.items():
                if what in except_for:
                    continue
                assert rows.execute(text(query)).all() == [], what
            originals = rows.execute(text("SELECT checksum FROM original")).scalars().all()
            waveforms = rows.execute(text("SELECT waveform, waveform_checksum FROM recording"))
            stated = {row.waveform: row.waveform_checksum for row in waveforms}
    for checksum in originals:
        path = folder / "originals" / checksum[:2] / checksum
        assert sha256(path.read_bytes()).hexdigest() == checksum
    for name, checksum in stated.items():
        assert sha256((folder / "waveforms" / name).read_bytes()).hexdigest() == checksum
    for path in (folder / "originals").rglob("*"):
        if path.is_file() and not path.name.startswith(INCOMING):
            assert sha256(path.read_bytes()).hexdigest() == path.name
