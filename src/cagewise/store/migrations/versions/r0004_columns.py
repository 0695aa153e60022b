"""What lists and pages ask for in columns: the other parts of a motor, its load, its motor file.

Rows of examinations and nameplates are never changed; here, and only here, the new columns of the
old ones are filled from what is kept beside them. The guard is lifted and put back within the one
transaction of the migration: whoever is killed meanwhile leaves the old plant with its guard. A
row whose document is damaged keeps empty columns, and pages say that it is not known.
"""

from __future__ import annotations

import json
import tomllib
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_BATCH = 200
"""Documents in memory at a time."""

_OF_EXAMINATION: tuple[tuple[str, sa.types.TypeEngine[Any]], ...] = (
    ("load_fraction_low", sa.Double()),
    ("load_fraction_high", sa.Double()),
    ("winding", sa.Text()),
    ("insulation", sa.Text()),
    ("next_step", sa.Text()),
    ("methods_agreeing", sa.Integer()),
    ("classes_agreeing", sa.Integer()),
)
_PARTS = {"winding": "stator winding", "insulation": "stator insulation"}
_FACTS = {
    "motor": ("rotor_bars", "stator_slots", "coil_span_slots", "rotor_slots", "cage"),
    "winding": ("construction", "built_year", "insulation"),
    "criticality": ("spare", "false_pull_cost", "miss_cost"),
}
"""What of a motor file a ranking asks for, by section."""
_NO_STEP = ("rotor_bars",)
"""Next steps that ask somebody, and measure nothing."""


def upgrade() -> None:
    """Add the columns, fill them, and index what lists look for."""
    for name, kind in _OF_EXAMINATION:
        op.add_column("examination", sa.Column(name, kind, nullable=True))
    op.add_column("nameplate", sa.Column("facts", sa.JSON(none_as_null=True), nullable=True))
    with _unguarded("examination"):
        _fill_examinations()
    with _unguarded("nameplate"):
        _fill_nameplates()
    op.create_index("ix_motor_case_closed_on", "motor_case", ["closed_on"], unique=False)
    op.create_index("ix_event_kind", "event", ["kind"], unique=False)
    op.create_index("ix_event_corrects_id", "event", ["corrects_id"], unique=False)


@contextmanager
def _unguarded(table: str) -> Iterator[None]:
    """Lift the guard against changes of one table, and put the very same one back."""
    bind = op.get_bind()
    if bind.dialect.name == "postgresql":
        op.execute(f"ALTER TABLE {table} DISABLE TRIGGER {table}_never_changed")
        yield
        op.execute(f"ALTER TABLE {table} ENABLE TRIGGER {table}_never_changed")
        return
    name = f"{table}_no_update"
    guard = bind.exec_driver_sql(
        "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?", (name,)
    ).scalar_one()
    bind.exec_driver_sql(f"DROP TRIGGER {name}")
    yield
    bind.exec_driver_sql(guard)


def _step(name: str) -> None:
    """Say how far it is, for tests that end the program there."""
    told: Callable[[str], None] | None = op.get_context().config.attributes.get("step")  # type: ignore[union-attr]
    if told is not None:
        told(name)


def _fill_examinations() -> None:
    documents = sa.table("examination_document", sa.column("examination_id"), sa.column("document"))
    examination = sa.table(
        "examination", sa.column("id"), *(sa.column(name) for name, _ in _OF_EXAMINATION)
    )
    change = (
        sa.update(examination)
        .where(examination.c.id == sa.bindparam("of"))
        .values({name: sa.bindparam(name) for name, _ in _OF_EXAMINATION})
    )
    chosen = sa.select(documents).order_by(documents.c.examination_id).limit(_BATCH)
    bind, last = op.get_bind(), -1
    while rows := bind.execute(chosen.where(documents.c.examination_id > last)).all():
        last = rows[-1].examination_id
        known = [
            {"of": row.examination_id, **columns}
            for row in rows
            if (columns := _columns(row.document)) is not None
        ]
        if known:
            bind.execute(change, known)
        _step("columns filled")


def _columns(packed: bytes) -> dict[str, Any] | None:
    """Return the columns of one document, None of a damaged one."""
    try:
        document = json.loads(zlib.decompress(packed))
    except (zlib.error, ValueError):
        return None
    load = (document.get("operating_point") or {}).get("load_fraction") or {}
    low, high = load.get("interval") or (None, None)
    steps = document.get("recommendation", {}).get("next_steps", [])
    codes = [step["code"] for step in steps if step["code"] not in _NO_STEP]
    return {
        "load_fraction_low": low,
        "load_fraction_high": high,
        **{column: _state(document.get("parts"), part) for column, part in _PARTS.items()},
        "next_step": next(iter(codes), ""),
        "methods_agreeing": document.get("methods_agreeing"),
        "classes_agreeing": document.get("classes_agreeing"),
    }


def _state(parts: Sequence[dict[str, Any]] | None, part: str) -> str | None:
    """Return the state of a part, empty where it was not tested, None where nothing is said."""
    if parts is None:
        return None
    return next((said["state"] for said in parts if said["part"] == part), "")


def _fill_nameplates() -> None:
    nameplate = sa.table("nameplate", sa.column("id"), sa.column("toml"), _json_column())
    bind = op.get_bind()
    for row in bind.execute(sa.select(nameplate.c.id, nameplate.c.toml)).all():
        facts = _facts(row.toml)
        if facts is not None:
            change = sa.update(nameplate).where(nameplate.c.id == row.id)
            bind.execute(change.values(facts=facts))


def _json_column() -> sa.ColumnClause[Any]:
    return sa.column("facts", sa.JSON(none_as_null=True))


def _facts(text: str) -> dict[str, dict[str, Any]] | None:
    """Return what a motor file states of the few things, None of one that cannot be read."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None
    sections = {section: content.get(section, {}) for section in _FACTS}
    return {
        section: {name: sections[section][name] for name in names if name in sections[section]}
        for section, names in _FACTS.items()
    }
