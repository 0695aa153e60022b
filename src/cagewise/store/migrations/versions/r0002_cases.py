"""Cases, and what happened to a motor: decisions, repairs, outcomes, notes, attachments."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_INSTANT = sa.String(27).with_variant(sa.DateTime(timezone=True), "postgresql")

NEVER_CHANGED = ("event", "outcome", "found_bar", "attachment")


def upgrade() -> None:
    """Create the tables, then guard those that are never changed."""
    _create_motor_case()
    _create_event()
    _create_outcome()
    _create_found_bar()
    _create_attachment()
    if op.get_bind().dialect.name == "postgresql":
        _guard_on_server()
    else:
        _guard_in_file()


def _guard_in_file() -> None:
    for table in NEVER_CHANGED:
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{change.lower()} BEFORE {change} ON {table} BEGIN "
                f"SELECT RAISE(ABORT, '{table}: what is kept is never changed'); END"
            )


def _guard_on_server() -> None:
    for table in NEVER_CHANGED:
        op.execute(
            f"CREATE TRIGGER {table}_never_changed BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION never_changed()"
        )


def _create_motor_case() -> None:
    op.create_table(
        "motor_case",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("motor_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("examination_id", sa.Integer(), nullable=True),
        sa.Column("opened_on", sa.Date(), nullable=False),
        sa.Column("opened_at", _INSTANT, nullable=False),
        sa.Column("closed_on", sa.Date(), nullable=True),
        sa.Column("closed_at", _INSTANT, nullable=True),
        sa.Column("closing", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["examination_id"], ["examination.id"], name="fk_motor_case_examination_id_examination"
        ),
        sa.ForeignKeyConstraint(["motor_id"], ["motor.id"], name="fk_motor_case_motor_id_motor"),
        sa.PrimaryKeyConstraint("id", name="pk_motor_case"),
    )
    op.create_index(
        "ix_motor_case_motor_id_opened_on", "motor_case", ["motor_id", "opened_on"], unique=False
    )


def _create_event() -> None:
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("motor_id", sa.Integer(), nullable=False),
        sa.Column("case_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("recorded_at", _INSTANT, nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("corrects_id", sa.Integer(), nullable=True),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["case_id"], ["motor_case.id"], name="fk_event_case_id_motor_case"),
        sa.ForeignKeyConstraint(["corrects_id"], ["event.id"], name="fk_event_corrects_id_event"),
        sa.ForeignKeyConstraint(["motor_id"], ["motor.id"], name="fk_event_motor_id_motor"),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
    )
    op.create_index("ix_event_case_id", "event", ["case_id"], unique=False)
    op.create_index("ix_event_motor_id_day_id", "event", ["motor_id", "day", "id"], unique=False)


def _create_attachment() -> None:
    op.create_table(
        "attachment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("event_id", sa.Integer(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("caption", sa.Text(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name="fk_attachment_event_id_event"),
        sa.PrimaryKeyConstraint("id", name="pk_attachment"),
        sa.UniqueConstraint("event_id", "checksum", name="uq_attachment_event_id_checksum"),
    )


def _create_outcome() -> None:
    op.create_table(
        "outcome",
        sa.Column("event_id", sa.Integer(), nullable=False),
        sa.Column("found", sa.Text(), nullable=False),
        sa.Column("open_bars", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name="fk_outcome_event_id_event"),
        sa.PrimaryKeyConstraint("event_id", name="pk_outcome"),
    )


def _create_found_bar() -> None:
    op.create_table(
        "found_bar",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("event_id", sa.Integer(), nullable=False),
        sa.Column("bar", sa.Integer(), nullable=False),
        sa.Column("damage", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["event_id"], ["outcome.event_id"], name="fk_found_bar_event_id_outcome"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_found_bar"),
        sa.UniqueConstraint("event_id", "bar", name="uq_found_bar_event_id_bar"),
    )
