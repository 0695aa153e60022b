"""What all tables share: types of columns, and names of constraints that migrations can address."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, ClassVar

from sqlalchemy import JSON, Date, MetaData, String, Text
from sqlalchemy.orm import DeclarativeBase, mapped_column
from sqlalchemy.types import TypeEngine

from cagewise.store.instants import Instant

CHECKSUM_LENGTH = 64
"""Of a SHA-256 in hexadecimal."""

Identity = Annotated[int, mapped_column(primary_key=True)]
Checksum = Annotated[str, mapped_column(String(CHECKSUM_LENGTH))]
"""SHA-256 in hexadecimal."""
Facts = dict[str, Any]
"""A small JSON object of the caller; the store does not look into it."""


class Base(DeclarativeBase):
    """Base of all tables."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, TypeEngine[Any] | type[TypeEngine[Any]]]] = {
        str: Text,
        date: Date,
        datetime: Instant,
        Facts: JSON,
    }
