"""The recipe of the files in ``schemas/``: one SQLite database of every earlier schema, with rows.

``python tests/unit/store/make_earlier_schemas.py 0001`` writes ``schemas/0001.sqlite``. It was run
once for each revision, before the next was published; the files are never made again.
"""

from __future__ import annotations

import json
import sys
import zlib
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, create_engine

from cagewise.store import schema
from support.plants import motor_file

FOLDER = Path(__file__).parent / "schemas"
PLANT_ID = "6f0f3c52-6a0c-4f4e-9d4f-000000000001"
MOMENT = "2026-03-02T10:00:00.000000Z"
DAY = "2026-03-02"
ORIGINAL = b"a recording of long ago"
DOCUMENT = json.dumps(
    {
        "state": "suspect",
        "indicators": [
            {
                "name": "lower_side_line",
                "unit": "dB",
                "valid": True,
                "value": -42.0,
                "interval": [-43.0, -41.0],
                "open_bar_equivalent": {"value": 1.2, "interval": [0.8, 1.7]},
                "detection_limit": 0.4,
            },
            {"name": "upper_side_line", "unit": "dB", "valid": False, "interval": None},
        ],
    }
)


def rows_of(revision: str) -> dict[str, list[dict[str, Any]]]:
    """Return rows for the tables of a revision, those that others refer to first."""
    file, text = sha256(ORIGINAL).hexdigest(), motor_file()
    document = DOCUMENT.encode("utf-8")
    rows: dict[str, list[dict[str, Any]]] = {
        "plant": [{"id": 1, "plant_id": PLANT_ID, "created_at": MOMENT, "program_version": "0"}],
        "site": [{"id": 1, "name": ""}],
        "motor": [{"id": 1, "site_id": 1, "tag": "P-101", "tag_key": "p-101", "added_at": MOMENT}],
        "nameplate": [
            {"id": 1, "motor_id": 1, "valid_from": "2020-01-01", "toml": text}
            | {"checksum": sha256(text.encode()).hexdigest(), "added_at": MOMENT, "note": ""}
            | {"description": "an invented pump", "criticality": "high", "rated_power_w": 315e3}
        ],
        "original": [{"checksum": file, "size_bytes": len(ORIGINAL), "kept_at": MOMENT}],
        "visit": [{"id": 1, "motor_id": 1, "day": DAY, "note": "", "added_at": MOMENT}],
        "test_sheet": [
            {"id": 1, "visit_id": 1, "checksum": file, "source": "sheet.toml"}
            | {"measured_on": DAY, "added_at": MOMENT}
        ],
        "examination": [
            {"id": 1, "visit_id": 1, "motor_id": 1, "day": DAY, "nameplate_id": 1}
            | {"made_at": MOMENT, "program_version": "0", "fingerprint": "f" * 64}
            | {"state": "suspect", "ground": "", "probability": 0.4, "action": ""}
        ],
        "examination_document": [
            {"examination_id": 1, "document": zlib.compress(document), "schema_version": "1.1"}
            | {"checksum": sha256(document).hexdigest(), "settings": "{}"}
        ],
        "examination_input": [
            {"examination_id": 1, "position": 0, "test_sheet_id": 1, "checksum": file}
            | {"earlier": False}
        ],
    }
    if revision >= "0002":
        rows["motor_case"] = [
            {"id": 1, "motor_id": 1, "part": "cage", "title": "a bar", "examination_id": 1}
            | {"opened_on": DAY, "opened_at": MOMENT, "closing": ""}
        ]
        rows["event"] = [
            {"id": 1, "motor_id": 1, "case_id": 1, "kind": "outcome", "day": DAY, "author": ""}
            | {"recorded_at": MOMENT, "text": "", "action": "", "facts": "{}"}
        ]
        rows["outcome"] = [{"event_id": 1, "found": "damaged", "open_bars": 2}]
        rows["found_bar"] = [
            {"id": 1, "event_id": 1, "bar": 7, "damage": "open", "place": "drive end"}
        ]
    if revision >= "0005":
        rows["test_sheet_file"] = [
            {"test_sheet_id": 1, "position": 0, "checksum": file, "name": "turns.csv"}
        ]
    if revision >= "0004":
        rows["nameplate"][0]["facts"] = json.dumps({"motor": {"rotor_bars": 58}})
        rows["examination"][0] |= {"load_fraction_low": 0.7, "load_fraction_high": 0.8} | {
            "winding": "suspect", "insulation": "", "next_step": "part_tests"
        } | {"methods_agreeing": 2, "classes_agreeing": 1}  # fmt: skip
        rows["reading"] = [
            {"examination_id": 1, "position": 0, "name": "lower_side_line", "unit": "dB"}
            | {"valid": True, "value": -42.0, "low": -43.0, "high": -41.0, "open_bars": 1.2}
        ]
    return rows


def write(connection: Connection, revision: str) -> None:
    """Make the schema of a revision and its rows."""
    connection.exec_driver_sql("PRAGMA page_size = 512")
    connection.exec_driver_sql("VACUUM")
    connection.exec_driver_sql("BEGIN")
    schema.upgrade(connection, revision)
    for table, rows in rows_of(revision).items():
        for row in rows:
            names = ", ".join(row)
            marks = ", ".join("?" * len(row))
            statement = f"INSERT INTO {table} ({names}) VALUES ({marks})"  # noqa: S608 - our own names
            connection.exec_driver_sql(statement, tuple(row.values()))
    connection.exec_driver_sql("COMMIT")


def main(revision: str) -> None:
    """Write the file of a revision."""
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / f"{revision}.sqlite"
    path.unlink(missing_ok=True)
    engine = create_engine(f"sqlite:///{path}", isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        write(connection, revision)
    engine.dispose()


if __name__ == "__main__":
    main(sys.argv[1])
