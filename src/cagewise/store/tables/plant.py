"""The plant itself, and its sites."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped

from cagewise.store.tables.base import Base, Identity


class PlantRow(Base):
    """The one row that says to which folder this database belongs."""

    __tablename__ = "plant"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: Mapped[Identity]
    plant_id: Mapped[str]
    """As in ``plant.toml``."""
    created_at: Mapped[datetime]
    program_version: Mapped[str]
    """That created the plant."""


class SiteRow(Base):
    """A place with its own tags; a plant of one site has the site with the empty name."""

    __tablename__ = "site"
    __table_args__ = (UniqueConstraint("name"),)

    id: Mapped[Identity]
    name: Mapped[str]
