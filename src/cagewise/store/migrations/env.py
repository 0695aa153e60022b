"""What Alembic runs: the revisions, on the connection and in the transaction of the caller."""

from __future__ import annotations

from alembic import context

from cagewise.store.tables import Base

connection = context.config.attributes.get("connection")
context.configure(
    connection=connection,
    url=None if connection is not None else context.config.get_main_option("sqlalchemy.url"),
    target_metadata=Base.metadata,
    transactional_ddl=True,
    render_as_batch=True,
)
context.run_migrations()
