"""What is known of a file that is on its way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from cagewise.web.keeping import UploadRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file that is received."""

    id: str
    """Random."""
    motor_id: int
    batch: str
    """What is sent together: files of one recording stay beside each other."""
    name: str
    """As it is kept."""
    size_bytes: int
    received_bytes: int
    """On the disk for certain; sending goes on from here."""
    checksum: str
    """SHA-256 in hexadecimal; empty until it is whole."""
    by: str
    made_at: datetime
    touched_at: datetime
    job_id: int | None
    """The job that imports it."""

    @property
    def is_whole(self) -> bool:
        """Whether nothing is missing."""
        return bool(self.checksum)


def upload_of(row: UploadRow) -> Upload:
    """Return a row as a record."""
    return Upload(
        id=row.id,
        motor_id=row.motor_id,
        batch=row.batch,
        name=row.name,
        size_bytes=row.size_bytes,
        received_bytes=row.received_bytes,
        checksum=row.checksum,
        by=row.by,
        made_at=row.made_at,
        touched_at=row.touched_at,
        job_id=row.job_id,
    )
