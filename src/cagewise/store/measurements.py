"""What was measured on a visit: the files as they came, and the recordings decoded from them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from cagewise import __version__
from cagewise.errors import NotKeptError, StoreError
from cagewise.measurement import Recording
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.instants import instant_of
from cagewise.store.records import KeptRecording, KeptSheet, Original, Visit, Waveform
from cagewise.store.tables.visit import (
    OriginalRow,
    RecordingFileRow,
    RecordingRow,
    TestSheetRow,
    VisitRow,
)
from cagewise.store.vault import BLOCK_BYTES, Vault
from cagewise.store.waveforms import Waveforms


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """A recording as a reader gave it."""

    recording: Recording
    part: str = ""
    """Which recording of a file that holds several."""
    stated: Mapping[str, Any] = field(default_factory=dict)
    """What the user stated about the file: rate, roles, selection."""


class Measurements:
    """The originals, recordings and test sheets of a plant."""

    def __init__(self, context: Context, originals: Vault, waveforms: Waveforms) -> None:
        self._context = context
        self._database = context.database
        self.originals = originals
        self.waveforms = waveforms

    def keep_original(self, source: Path | bytes, name: str = "") -> Original:
        """Keep a file as it came; when this returns, it is on the disk under its checksum.

        Keeping the same bytes again changes nothing.

        Raises
        ------
        StoreFullError, StoreReadOnlyError, StoreError
            If it cannot be kept; nothing is left behind.
        """
        kept = self.originals.keep(source, name)
        self._context.step("original kept")
        values = {
            "checksum": kept.checksum,
            "size_bytes": kept.size_bytes,
            "kept_at": self._context.now(),
        }
        with self._database.writing() as session:
            insert_if_absent(session, OriginalRow, values)
        self._context.step("original noted")
        return kept

    def keep_waveforms(self, decoded: Sequence[Decoded]) -> tuple[Waveform, ...]:
        """Keep recordings as Parquet."""
        return tuple(self.waveforms.keep(each.recording, part=each.part) for each in decoded)

    def keep_files(
        self, visit: Visit, files: Sequence[Path], decoded: Sequence[Decoded]
    ) -> tuple[KeptRecording, ...]:
        """Keep the files that together are recordings, and the recordings, all or none.

        The files are copied while the recordings are packed.

        Parameters
        ----------
        visit
            To which they belong.
        files
            In the order in which they are hashed (a header, its data, its sidecar).
        decoded
            What was read from them.

        Raises
        ------
        StoreError
            If they cannot be kept, or changed since they were decoded.
        """
        with ThreadPoolExecutor(1) as other:
            packing = other.submit(self.keep_waveforms, decoded)
            try:
                originals = [self.originals.keep(file) for file in files]
            finally:
                waveforms = packing.result()
        self._require_same_bytes(decoded, originals)
        self._context.step("files kept")
        with self._database.writing() as session:
            for kept in originals:
                self._note_original(session, kept)
            recordings = tuple(
                self.add_recording(visit, each, originals, waveform)
                for each, waveform in zip(decoded, waveforms, strict=True)
            )
            self._context.step("recordings added")
        self._context.step("recordings committed")
        return recordings

    def add_recording(
        self, visit: Visit, decoded: Decoded, originals: Sequence[Original], waveform: Waveform
    ) -> KeptRecording:
        """Add a recording to a visit; the same one again is the one that is there."""
        values = self._row(visit, decoded, waveform)
        if not values["checksum"]:  # a recording without a file: the bytes are those that are kept
            values["checksum"] = originals[0].checksum if originals else waveform.checksum
        chosen = select(RecordingRow).where(
            RecordingRow.visit_id == visit.id,
            RecordingRow.checksum == values["checksum"],
            RecordingRow.part == decoded.part,
            RecordingRow.waveform_checksum == waveform.checksum,
        )
        with self._database.writing() as session:
            new = insert_if_absent(session, RecordingRow, values)
            row = session.scalars(chosen).one()
            if new:
                self._context.step("recording inserted")
                session.add_all(
                    RecordingFileRow(
                        recording_id=row.id, position=n, checksum=kept.checksum, name=kept.name
                    )
                    for n, kept in enumerate(originals)
                )
                session.flush()
            return _recordings(session, [row])[0]

    def _row(self, visit: Visit, decoded: Decoded, waveform: Waveform) -> dict[str, Any]:
        """Return the columns of a recording."""
        recording = decoded.recording
        origin, start = recording.provenance, recording.start_time
        return {
            "visit_id": visit.id,
            "checksum": origin.sha256,
            "part": decoded.part,
            "source": origin.source,
            "format_name": origin.format_name,
            "waveform": waveform.path,
            "waveform_checksum": waveform.checksum,
            "waveform_bytes": waveform.size_bytes,
            "sampling_rate_hz": recording.sampling_rate_hz,
            "n_samples": recording.n_samples,
            "n_channels": len(recording.channels),
            "started_at": None if start is None else instant_of(start, self._context.zone),
            "stated": dict(decoded.stated),
            "program_version": __version__,
            "added_at": self._context.now(),
        }

    def add_sheet(self, visit: Visit, original: Original, *, measured_on: date) -> KeptSheet:
        """Add a test sheet to a visit; the same one again is the one that is there."""
        values = {
            "visit_id": visit.id,
            "checksum": original.checksum,
            "source": original.name,
            "measured_on": measured_on,
            "added_at": self._context.now(),
        }
        chosen = select(TestSheetRow).where(
            TestSheetRow.visit_id == visit.id, TestSheetRow.checksum == original.checksum
        )
        with self._database.writing() as session:
            self._note_original(session, original)
            insert_if_absent(session, TestSheetRow, values)
            return _sheet(session.scalars(chosen).one())

    def load(self, recording: KeptRecording) -> Recording:
        """Return the samples of a recording, exactly as they were decoded.

        Raises
        ------
        MissingFileError, DamagedFileError
            If the file is not there, or not what was kept.
        """
        return self.waveforms.load(recording.waveform)

    def recordings(self, visit: Visit) -> Sequence[KeptRecording]:
        """Return the recordings of a visit, in the order in which they were added."""
        chosen = (
            select(RecordingRow).where(RecordingRow.visit_id == visit.id).order_by(RecordingRow.id)
        )
        with self._database.reading() as session:
            return _recordings(session, session.scalars(chosen).all())

    def recording(self, recording_id: int) -> KeptRecording:
        """Return the recording of a number that a record holds."""
        with self._database.reading() as session:
            row = session.get(RecordingRow, recording_id)
            if row is None:
                raise NotKeptError(f"there is no recording number {recording_id}")
            return _recordings(session, [row])[0]

    def sheets(self, visit: Visit) -> Sequence[KeptSheet]:
        """Return the test sheets of a visit, in the order in which they were added."""
        chosen = (
            select(TestSheetRow).where(TestSheetRow.visit_id == visit.id).order_by(TestSheetRow.id)
        )
        with self._database.reading() as session:
            return [_sheet(row) for row in session.scalars(chosen)]

    def sheet(self, sheet_id: int) -> KeptSheet:
        """Return the test sheet of a number that a record holds."""
        with self._database.reading() as session:
            row = session.get(TestSheetRow, sheet_id)
            if row is None:
                raise NotKeptError(f"there is no test sheet number {sheet_id}")
            return _sheet(row)

    def visits_of_file(self, checksum: str) -> Sequence[int]:
        """Return the numbers of the visits to which a file belongs already."""
        of_recordings = (
            select(RecordingRow.visit_id)
            .join(RecordingFileRow)
            .where(RecordingFileRow.checksum == checksum)
        )
        of_sheets = select(TestSheetRow.visit_id).where(TestSheetRow.checksum == checksum)
        chosen = select(VisitRow.id).where(
            VisitRow.id.in_(of_recordings) | VisitRow.id.in_(of_sheets)
        )
        with self._database.reading() as session:
            return session.scalars(chosen.order_by(VisitRow.id)).all()

    def _require_same_bytes(
        self, decoded: Sequence[Decoded], originals: Sequence[Original]
    ) -> None:
        """Raise if other bytes were decoded than those that were kept.

        The checksum of a recording is that of its files one after the other; sidecars follow them
        and do not count.
        """
        wanted = {each.recording.provenance.sha256 for each in decoded} - {""}
        if not originals or wanted <= {originals[0].checksum}:
            return
        digest = hashlib.sha256()
        for kept in originals:
            with self.originals.open(kept.checksum) as stream:
                while block := stream.read(BLOCK_BYTES):
                    digest.update(block)
            if wanted == {digest.hexdigest()}:
                return
        raise StoreError(
            "the file changed after it was read",
            where=originals[0].name,
            remedy="Wait until the instrument has finished writing, and import it again.",
        )

    def _note_original(self, session: Session, kept: Original) -> None:
        values = {
            "checksum": kept.checksum,
            "size_bytes": kept.size_bytes,
            "kept_at": self._context.now(),
        }
        insert_if_absent(session, OriginalRow, values)


def _recordings(session: Session, rows: Sequence[RecordingRow]) -> list[KeptRecording]:
    """Return rows as records, with their files."""
    files: dict[int, list[Original]] = {row.id: [] for row in rows}
    chosen = (
        select(RecordingFileRow, OriginalRow.size_bytes)
        .join(OriginalRow)
        .where(RecordingFileRow.recording_id.in_(files))
        .order_by(RecordingFileRow.recording_id, RecordingFileRow.position)
    )
    for file, size in session.execute(chosen):
        files[file.recording_id].append(
            Original(checksum=file.checksum, size_bytes=size, name=file.name)
        )
    return [_recording(row, tuple(files[row.id])) for row in rows]


def _recording(row: RecordingRow, originals: tuple[Original, ...]) -> KeptRecording:
    """Return a row as a record."""
    return KeptRecording(
        id=row.id,
        visit_id=row.visit_id,
        checksum=row.checksum,
        part=row.part,
        source=row.source,
        format_name=row.format_name,
        waveform=Waveform(
            path=row.waveform, checksum=row.waveform_checksum, size_bytes=row.waveform_bytes
        ),
        sampling_rate_hz=row.sampling_rate_hz,
        n_samples=row.n_samples,
        n_channels=row.n_channels,
        started_at=row.started_at,
        stated=row.stated,
        program_version=row.program_version,
        originals=originals,
    )


def _sheet(row: TestSheetRow) -> KeptSheet:
    """Return a row as a record."""
    return KeptSheet(
        id=row.id,
        visit_id=row.visit_id,
        checksum=row.checksum,
        source=row.source,
        measured_on=row.measured_on,
    )
