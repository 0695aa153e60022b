"""Which files a plant should hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from cagewise.store.tables.case import AttachmentRow
from cagewise.store.tables.visit import OriginalRow, RecordingRow

ORIGINALS = "originals"
ATTACHMENTS = "attachments"
WAVEFORMS = "waveforms"
"""Folders of kept files; that of waveforms may be elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFile:
    """A file that the database speaks of."""

    folder: str
    """``originals``, ``waveforms`` or ``attachments``."""
    path: str
    """Of a waveform, below its place; empty for others."""
    checksum: str
    size_bytes: int

    @property
    def name(self) -> str:
        """Its name in a plant that keeps everything in its folder, and in an archive."""
        return f"{self.folder}/{self.path or f'{self.checksum[:2]}/{self.checksum}'}"


def kept_files(session: Session) -> Iterator[KeptFile]:
    """Yield every file once."""
    originals = select(OriginalRow.checksum, OriginalRow.size_bytes).order_by(OriginalRow.checksum)
    for checksum, size in session.execute(originals):
        yield KeptFile(folder=ORIGINALS, path="", checksum=checksum, size_bytes=size)
    waveforms = (
        select(RecordingRow.waveform, RecordingRow.waveform_checksum, RecordingRow.waveform_bytes)
        .distinct()
        .order_by(RecordingRow.waveform)
    )
    for path, checksum, size in session.execute(waveforms):
        yield KeptFile(folder=WAVEFORMS, path=path, checksum=checksum, size_bytes=size)
    attachments = (
        select(AttachmentRow.checksum, AttachmentRow.size_bytes)
        .distinct()
        .order_by(AttachmentRow.checksum)
    )
    for checksum, size in session.execute(attachments):
        yield KeptFile(folder=ATTACHMENTS, path="", checksum=checksum, size_bytes=size)
