"""All rows of one database into another, empty one of the same schema."""

from __future__ import annotations

from sqlalchemy import Connection, Table, func, select, text

from cagewise.store.tables import Base

_BATCH = 1000
"""Rows in memory at a time."""


def copy_rows(source: Connection, target: Connection) -> None:
    """Copy all rows, tables that others refer to first."""
    for table in Base.metadata.sorted_tables:
        order = list(table.primary_key.columns)
        result = source.execution_options(yield_per=_BATCH).execute(select(table).order_by(*order))
        for rows in result.mappings().partitions(_BATCH):
            target.execute(table.insert(), [dict(row) for row in rows])
    if target.dialect.name == "postgresql":
        _go_on_counting(target)


def row_counts(connection: Connection) -> dict[str, int]:
    """Return how many rows every table has."""
    return {
        table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
        for table in Base.metadata.sorted_tables
    }


def _go_on_counting(target: Connection) -> None:
    """Let a server give the next numbers after those that were copied."""
    for table in Base.metadata.sorted_tables:
        if _counts(table):
            target.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "  # noqa: S608 - our own names
                    f"(SELECT max(id) FROM {table.name})) WHERE EXISTS (SELECT 1 FROM {table.name})"
                )
            )


def _counts(table: Table) -> bool:
    """Return whether the database numbers the rows of a table."""
    return "id" in table.columns
