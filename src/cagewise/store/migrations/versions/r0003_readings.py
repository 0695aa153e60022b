"""Readings in their own table, filled from the documents: a trend need not unpack them."""

from __future__ import annotations

import json
import zlib
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_NOWHERE = (None, None)
_BATCH = 200
"""Documents in memory at a time."""


def upgrade() -> None:
    """Create the table, fill it, then guard it."""
    table = _create_reading()
    bind = op.get_bind()
    documents = sa.table("examination_document", sa.column("examination_id"), sa.column("document"))
    last = -1
    while rows := bind.execute(
        sa.select(documents)
        .where(documents.c.examination_id > last)
        .order_by(documents.c.examination_id)
        .limit(_BATCH)
    ).all():
        last = rows[-1].examination_id
        found = [each for row in rows for each in _readings(row.examination_id, row.document)]
        if found:
            bind.execute(table.insert(), found)
    _guard(bind.dialect.name)


def _create_reading() -> sa.Table:
    return op.create_table(
        "reading",
        sa.Column("examination_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("valid", sa.Boolean(), nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("low", sa.Double(), nullable=True),
        sa.Column("high", sa.Double(), nullable=True),
        sa.Column("open_bars", sa.Double(), nullable=True),
        sa.Column("open_bars_low", sa.Double(), nullable=True),
        sa.Column("open_bars_high", sa.Double(), nullable=True),
        sa.Column("detection_limit_bars", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["examination_id"],
            ["examination.id"],
            name="fk_reading_examination_id_examination",
        ),
        sa.PrimaryKeyConstraint("examination_id", "position", name="pk_reading"),
    )


def _readings(examination_id: int, packed: bytes) -> list[dict[str, Any]]:
    """Return the rows of one document; the document has had this form since schema 0001."""
    document = json.loads(zlib.decompress(packed))
    rows = []
    for position, said in enumerate(document.get("indicators", [])):
        low, high = said.get("interval") or _NOWHERE
        bars = said.get("open_bar_equivalent") or {}
        bars_low, bars_high = bars.get("interval") or _NOWHERE
        rows.append(
            {
                "examination_id": examination_id,
                "position": position,
                "name": said["name"],
                "unit": said.get("unit", ""),
                "valid": bool(said.get("valid")),
                "value": said.get("value"),
                "low": low,
                "high": high,
                "open_bars": bars.get("value"),
                "open_bars_low": bars_low,
                "open_bars_high": bars_high,
                "detection_limit_bars": said.get("detection_limit"),
            }
        )
    return rows


def _guard(dialect: str) -> None:
    if dialect == "postgresql":
        op.execute(
            "CREATE TRIGGER reading_never_changed BEFORE UPDATE OR DELETE ON reading "
            "FOR EACH ROW EXECUTE FUNCTION never_changed()"
        )
        return
    for change in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER reading_no_{change.lower()} BEFORE {change} ON reading BEGIN "
            "SELECT RAISE(ABORT, 'reading: what is kept is never changed'); END"
        )
