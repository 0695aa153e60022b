"""The first schema: sites, motors, visits, measurements, examinations, outbox, ledger."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_INSTANT = sa.String(27).with_variant(sa.DateTime(timezone=True), "postgresql")
"""As it was in this revision: text that sorts on SQLite."""

NEVER_CHANGED = (
    "nameplate",
    "original",
    "recording",
    "recording_file",
    "test_sheet",
    "examination",
    "examination_document",
    "examination_input",
)
"""Tables whose rows the database itself refuses to change or remove."""


def upgrade() -> None:
    """Create all tables, then guard those that are never changed."""
    _create_imported()
    _create_message()
    _create_original()
    _create_plant()
    _create_site()
    _create_motor()
    _create_nameplate()
    _create_sensor()
    _create_visit()
    _create_examination()
    _create_recording()
    _create_test_sheet()
    _create_examination_document()
    _create_examination_input()
    _create_recording_file()
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
    op.execute(
        "CREATE FUNCTION never_changed() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION '%: what is kept is never changed', TG_TABLE_NAME; END $$"
    )
    for table in NEVER_CHANGED:
        op.execute(
            f"CREATE TRIGGER {table}_never_changed BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION never_changed()"
        )


def _create_imported() -> None:
    op.create_table(
        "imported",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("modified_ns", sa.BigInteger(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("seen_at", _INSTANT, nullable=False),
        sa.Column("refusal", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_imported"),
        sa.UniqueConstraint(
            "source", "size_bytes", "modified_ns", name="uq_imported_source_size_bytes_modified_ns"
        ),
    )
    op.create_index("ix_imported_checksum", "imported", ["checksum"], unique=False)


def _create_message() -> None:
    op.create_table(
        "message",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("message_key", sa.Text(), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.Column("not_before", _INSTANT, nullable=False),
        sa.Column("claim", sa.Text(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("last_error", sa.Text(), nullable=False),
        sa.Column("done_at", _INSTANT, nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_message"),
        sa.UniqueConstraint("channel", "message_key", name="uq_message_channel_message_key"),
    )
    op.create_index(
        "ix_message_done_at_not_before", "message", ["done_at", "not_before"], unique=False
    )


def _create_original() -> None:
    op.create_table(
        "original",
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("kept_at", _INSTANT, nullable=False),
        sa.PrimaryKeyConstraint("checksum", name="pk_original"),
    )


def _create_plant() -> None:
    op.create_table(
        "plant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plant_id", sa.Text(), nullable=False),
        sa.Column("created_at", _INSTANT, nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.CheckConstraint("id = 1", name="ck_plant_only_one"),
        sa.PrimaryKeyConstraint("id", name="pk_plant"),
    )


def _create_site() -> None:
    op.create_table(
        "site",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_site"),
        sa.UniqueConstraint("name", name="uq_site_name"),
    )


def _create_motor() -> None:
    op.create_table(
        "motor",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("tag", sa.Text(), nullable=False),
        sa.Column("tag_key", sa.Text(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_motor_site_id_site"),
        sa.PrimaryKeyConstraint("id", name="pk_motor"),
        sa.UniqueConstraint("site_id", "tag_key", name="uq_motor_site_id_tag_key"),
    )
    op.create_index("ix_motor_tag_key", "motor", ["tag_key"], unique=False)


def _create_nameplate() -> None:
    op.create_table(
        "nameplate",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("motor_id", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("toml", sa.Text(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("description", sa.Text(), nullable=False),
        sa.Column("criticality", sa.Text(), nullable=False),
        sa.Column("rated_power_w", sa.Double(), nullable=False),
        sa.Column("next_outage", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["motor_id"], ["motor.id"], name="fk_nameplate_motor_id_motor"),
        sa.PrimaryKeyConstraint("id", name="pk_nameplate"),
    )
    op.create_index(
        "ix_nameplate_motor_id_valid_from_id",
        "nameplate",
        ["motor_id", "valid_from", "id"],
        unique=False,
    )


def _create_sensor() -> None:
    op.create_table(
        "sensor",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("motor_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("ratio", sa.Double(), nullable=True),
        sa.Column("mounted_on", sa.Date(), nullable=True),
        sa.Column("calibrated_on", sa.Date(), nullable=True),
        sa.Column("removed_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["motor_id"], ["motor.id"], name="fk_sensor_motor_id_motor"),
        sa.PrimaryKeyConstraint("id", name="pk_sensor"),
    )
    op.create_index("ix_sensor_motor_id", "sensor", ["motor_id"], unique=False)


def _create_visit() -> None:
    op.create_table(
        "visit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("motor_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["motor_id"], ["motor.id"], name="fk_visit_motor_id_motor"),
        sa.PrimaryKeyConstraint("id", name="pk_visit"),
        sa.UniqueConstraint("motor_id", "day", name="uq_visit_motor_id_day"),
    )


def _create_examination() -> None:
    op.create_table(
        "examination",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("motor_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("nameplate_id", sa.Integer(), nullable=False),
        sa.Column("made_at", _INSTANT, nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("ground", sa.Text(), nullable=False),
        sa.Column("probability", sa.Double(), nullable=True),
        sa.Column("open_bars", sa.Double(), nullable=True),
        sa.Column("open_bars_low", sa.Double(), nullable=True),
        sa.Column("open_bars_high", sa.Double(), nullable=True),
        sa.Column("upper_limit_bars", sa.Double(), nullable=True),
        sa.Column("load_fraction", sa.Double(), nullable=True),
        sa.Column("winding_temperature_degc", sa.Double(), nullable=True),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("act_by_earliest", sa.Date(), nullable=True),
        sa.Column("act_by_latest", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["motor_id"], ["motor.id"], name="fk_examination_motor_id_motor"),
        sa.ForeignKeyConstraint(
            ["nameplate_id"], ["nameplate.id"], name="fk_examination_nameplate_id_nameplate"
        ),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_examination_visit_id_visit"),
        sa.PrimaryKeyConstraint("id", name="pk_examination"),
        sa.UniqueConstraint("visit_id", "fingerprint", name="uq_examination_visit_id_fingerprint"),
    )
    op.create_index(
        "ix_examination_motor_id_day_id", "examination", ["motor_id", "day", "id"], unique=False
    )


def _create_recording() -> None:
    op.create_table(
        "recording",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("format_name", sa.Text(), nullable=False),
        sa.Column("waveform", sa.Text(), nullable=False),
        sa.Column("waveform_checksum", sa.String(length=64), nullable=False),
        sa.Column("waveform_bytes", sa.BigInteger(), nullable=False),
        sa.Column("sampling_rate_hz", sa.Double(), nullable=False),
        sa.Column("n_samples", sa.BigInteger(), nullable=False),
        sa.Column("n_channels", sa.Integer(), nullable=False),
        sa.Column("started_at", _INSTANT, nullable=True),
        sa.Column("stated", sa.JSON(), nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_recording_visit_id_visit"),
        sa.PrimaryKeyConstraint("id", name="pk_recording"),
        sa.UniqueConstraint(
            "visit_id",
            "checksum",
            "part",
            "waveform_checksum",
            name="uq_recording_visit_id_checksum_part_waveform_checksum",
        ),
    )


def _create_test_sheet() -> None:
    op.create_table(
        "test_sheet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("added_at", _INSTANT, nullable=False),
        sa.ForeignKeyConstraint(
            ["checksum"], ["original.checksum"], name="fk_test_sheet_checksum_original"
        ),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_test_sheet_visit_id_visit"),
        sa.PrimaryKeyConstraint("id", name="pk_test_sheet"),
        sa.UniqueConstraint("visit_id", "checksum", name="uq_test_sheet_visit_id_checksum"),
    )
    op.create_index("ix_test_sheet_checksum", "test_sheet", ["checksum"], unique=False)


def _create_examination_document() -> None:
    op.create_table(
        "examination_document",
        sa.Column("examination_id", sa.Integer(), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("schema_version", sa.Text(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["examination_id"],
            ["examination.id"],
            name="fk_examination_document_examination_id_examination",
        ),
        sa.PrimaryKeyConstraint("examination_id", name="pk_examination_document"),
    )


def _create_examination_input() -> None:
    op.create_table(
        "examination_input",
        sa.Column("examination_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("test_sheet_id", sa.Integer(), nullable=True),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("earlier", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "(recording_id IS NULL) <> (test_sheet_id IS NULL)",
            name="ck_examination_input_one_kind",
        ),
        sa.ForeignKeyConstraint(
            ["examination_id"],
            ["examination.id"],
            name="fk_examination_input_examination_id_examination",
        ),
        sa.ForeignKeyConstraint(
            ["recording_id"], ["recording.id"], name="fk_examination_input_recording_id_recording"
        ),
        sa.ForeignKeyConstraint(
            ["test_sheet_id"],
            ["test_sheet.id"],
            name="fk_examination_input_test_sheet_id_test_sheet",
        ),
        sa.PrimaryKeyConstraint("examination_id", "position", name="pk_examination_input"),
    )


def _create_recording_file() -> None:
    op.create_table(
        "recording_file",
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["checksum"], ["original.checksum"], name="fk_recording_file_checksum_original"
        ),
        sa.ForeignKeyConstraint(
            ["recording_id"], ["recording.id"], name="fk_recording_file_recording_id_recording"
        ),
        sa.PrimaryKeyConstraint("recording_id", "position", name="pk_recording_file"),
    )
    op.create_index("ix_recording_file_checksum", "recording_file", ["checksum"], unique=False)
