"""The tables, one file per subject. Importing this package makes all of them known."""

from cagewise.store.tables import case, examination, imported, motor, outbox, plant, visit
from cagewise.store.tables.base import Base

__all__ = ["Base", "case", "examination", "imported", "motor", "outbox", "plant", "visit"]
