"""The files beside a test sheet, such as the waveforms of a turn test, in their order."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the table, then guard it."""
    op.create_table(
        "test_sheet_file",
        sa.Column("test_sheet_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("checksum", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["checksum"], ["original.checksum"], name="fk_test_sheet_file_checksum_original"
        ),
        sa.ForeignKeyConstraint(
            ["test_sheet_id"],
            ["test_sheet.id"],
            name="fk_test_sheet_file_test_sheet_id_test_sheet",
        ),
        sa.PrimaryKeyConstraint("test_sheet_id", "position", name="pk_test_sheet_file"),
    )
    op.create_index("ix_test_sheet_file_checksum", "test_sheet_file", ["checksum"], unique=False)
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE TRIGGER test_sheet_file_never_changed BEFORE UPDATE OR DELETE ON "
            "test_sheet_file FOR EACH ROW EXECUTE FUNCTION never_changed()"
        )
        return
    for change in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER test_sheet_file_no_{change.lower()} BEFORE {change} ON "
            "test_sheet_file BEGIN "
            "SELECT RAISE(ABORT, 'test_sheet_file: what is kept is never changed'); END"
        )
