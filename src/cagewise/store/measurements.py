"""What was measured on a visit: the files as they came, and the recordings decoded from them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

from sqlalchemy import CompoundSelect, Select, insert, select, union
from sqlalchemy.orm import Session

from cagewise.errors import NotKeptError, SheetError, StoreError
from cagewise.measurement import Recording
from cagewise.store.arrival import Arrival, Decoded, Packed, packed
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.records import KeptRecording, KeptSheet, Original, Visit, Waveform
from cagewise.store.tables.visit import (
    OriginalRow,
    RecordingFileRow,
    RecordingRow,
    TestSheetFileRow,
    TestSheetRow,
    VisitRow,
)
from cagewise.store.vault import Vault
from cagewise.store.waveforms import Waveforms


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

    def arrival(self) -> Arrival:
        """Begin to take files in: nothing is kept before :meth:`settle` and :meth:`add_arrived`."""
        return Arrival(self.originals, self.waveforms, self._context.zone)

    def settle(self, arrivals: Iterable[Arrival]) -> None:
        """Put the files of arrivals on the disk for good; their rows may be written then.

        Raises
        ------
        StoreFullError, StoreReadOnlyError, StoreError
            If that cannot be done.
        """
        Arrival.settle(arrivals, self.originals.folder, self._context.step)
        self._context.step("files kept")

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
        arrival = self.arrival()
        try:
            with ThreadPoolExecutor(1) as other:
                copying = other.submit(arrival.copy, files)
                for each in decoded:
                    arrival.pack(each)
                copying.result()
            _require_same_bytes(decoded, arrival)
            self.settle([arrival])
        finally:
            arrival.drop()
        with self._database.writing() as session:
            self.add_arrived(visit, arrival)
            recordings = tuple(
                _recordings(session, [session.scalars(_same(visit, each, arrival)).one()])[0]
                for each in arrival.packed
            )
            self._context.step("recordings added")
        self._context.step("recordings committed")
        return recordings

    def add_arrived(self, visit: Visit, arrival: Arrival) -> bool:
        """Add the settled files of an arrival, and its recordings, to a visit.

        Returns
        -------
        bool
            Whether a recording is new; the same one again is the one that is there.
        """
        with self._database.writing() as session:
            for kept in dict.fromkeys(arrival.originals):
                self._note_original(session, kept)
            added = [self._add(session, visit, each, arrival) for each in arrival.packed]
        return any(added)

    def add_recording(
        self, visit: Visit, decoded: Decoded, originals: Sequence[Original], waveform: Waveform
    ) -> KeptRecording:
        """Add a recording to a visit; the same one again is the one that is there."""
        arrival = self.arrival()
        arrival.originals += originals
        arrival.packed.append(packed(decoded, waveform, self._context.zone))
        [new] = arrival.packed
        with self._database.writing() as session:
            self._add(session, visit, new, arrival)
            return _recordings(session, [session.scalars(_same(visit, new, arrival)).one()])[0]

    def _add(self, session: Session, visit: Visit, new: Packed, arrival: Arrival) -> bool:
        """Add a recording; return whether it is new."""
        values = {
            **new.columns,
            "checksum": _checksum_of(new, arrival),
            "visit_id": visit.id,
            "added_at": self._context.now(),
        }
        if not insert_if_absent(session, RecordingRow, values):
            return False
        self._context.step("recording inserted")
        number = session.scalars(
            _same(visit, new, arrival).with_only_columns(RecordingRow.id)
        ).one()
        files = [
            {"recording_id": number, "position": n, "checksum": kept.checksum, "name": kept.name}
            for n, kept in enumerate(arrival.originals)
        ]
        if files:
            session.connection().execute(insert(RecordingFileRow), files)
        return True

    def add_sheet(self, visit: Visit, original: Original, *, measured_on: date) -> KeptSheet:
        """Add a test sheet to a visit; the same one again is the one that is there."""
        with self._database.writing() as session:
            self._add_sheet(session, visit, [original], measured_on)
            return _sheets(session, _same_sheet(visit, original))[0]

    def add_arrived_sheet(self, visit: Visit, arrival: Arrival) -> bool:
        """Add the settled files of an arrival, a sheet first, to the visit of its day.

        Returns
        -------
        bool
            Whether it is new; the same one again is the one that is there.
        """
        with self._database.writing() as session:
            return self._add_sheet(session, visit, arrival.originals, visit.day)

    def _add_sheet(
        self, session: Session, visit: Visit, files: Sequence[Original], measured_on: date
    ) -> bool:
        """Add a sheet; return whether it is new."""
        for known in _sheets(session, _same_sheet(visit, files[0])):
            _require_same_beside(known, files[1:])
            return False
        for kept in dict.fromkeys(files):
            self._note_original(session, kept)
        values = {
            "visit_id": visit.id,
            "checksum": files[0].checksum,
            "source": files[0].name,
            "measured_on": measured_on,
            "added_at": self._context.now(),
        }
        if not insert_if_absent(session, TestSheetRow, values):
            return False
        [number] = session.scalars(_same_sheet(visit, files[0]).with_only_columns(TestSheetRow.id))
        session.add_all(
            TestSheetFileRow(
                test_sheet_id=number, position=n, checksum=kept.checksum, name=kept.name
            )
            for n, kept in enumerate(files[1:])
        )
        session.flush()
        return True

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
            return _sheets(session, chosen)

    def sheet(self, sheet_id: int) -> KeptSheet:
        """Return the test sheet of a number that a record holds."""
        with self._database.reading() as session:
            found = _sheets(session, select(TestSheetRow).where(TestSheetRow.id == sheet_id))
            if not found:
                raise NotKeptError(f"there is no test sheet number {sheet_id}")
            return found[0]

    def visits_of_file(self, checksum: str) -> Sequence[int]:
        """Return the numbers of the visits to which a file belongs already."""
        chosen = select(VisitRow.id).where(VisitRow.id.in_(_visits_of(checksum)))
        with self._database.reading() as session:
            return session.scalars(chosen.order_by(VisitRow.id)).all()

    def motors_of_file(self, checksum: str) -> frozenset[int]:
        """Return the numbers of the motors to which a file belongs already."""
        chosen = select(VisitRow.motor_id).where(VisitRow.id.in_(_visits_of(checksum))).distinct()
        with self._database.reading() as session:
            return frozenset(session.scalars(chosen))

    def _note_original(self, session: Session, kept: Original) -> None:
        values = {
            "checksum": kept.checksum,
            "size_bytes": kept.size_bytes,
            "kept_at": self._context.now(),
        }
        insert_if_absent(session, OriginalRow, values)


def _visits_of(checksum: str) -> CompoundSelect[int]:
    """Return the question for the visits to which a file belongs."""
    of_recordings = (
        select(RecordingRow.visit_id)
        .join(RecordingFileRow)
        .where(RecordingFileRow.checksum == checksum)
    )
    of_sheets = select(TestSheetRow.visit_id).where(TestSheetRow.checksum == checksum)
    return union(of_recordings, of_sheets)


def _checksum_of(new: Packed, arrival: Arrival) -> str:
    """Return what a recording is told by: the checksum of what it was read from."""
    if new.columns["checksum"]:
        return str(new.columns["checksum"])
    if arrival.originals:  # its provenance does not say: the bytes are those that are kept
        return arrival.originals[0].checksum
    return new.waveform.checksum


def _same(visit: Visit, new: Packed, arrival: Arrival) -> Select[RecordingRow]:
    """Return the question for the row of a recording."""
    return select(RecordingRow).where(
        RecordingRow.visit_id == visit.id,
        RecordingRow.checksum == _checksum_of(new, arrival),
        RecordingRow.part == new.columns["part"],
        RecordingRow.waveform_checksum == new.waveform.checksum,
    )


def _require_same_bytes(decoded: Sequence[Decoded], arrival: Arrival) -> None:
    """Raise if other bytes were decoded than those that were copied.

    The checksum of a recording is that of its files one after the other; sidecars follow them and
    do not count.
    """
    wanted = {each.recording.provenance.sha256 for each in decoded} - {""}
    if not arrival.originals or any(wanted <= {found} for found in arrival.checksums):
        return
    raise StoreError(
        "the file changed after it was read",
        where=arrival.originals[0].name,
        remedy="Wait until the instrument has finished writing, and import it again.",
    )


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


def _same_sheet(visit: Visit, original: Original) -> Select[TestSheetRow]:
    """Return the question for the row of a sheet."""
    return select(TestSheetRow).where(
        TestSheetRow.visit_id == visit.id, TestSheetRow.checksum == original.checksum
    )


def _require_same_beside(known: KeptSheet, beside: Sequence[Original]) -> None:
    """Raise if a sheet comes again with another file beside it: nobody knew which counts."""
    if [each.checksum for each in known.beside] != [each.checksum for each in beside]:
        names = ", ".join(each.name for each in (*known.beside, *beside)[-1:])
        raise SheetError(
            f"this sheet was kept with other content of {names!r}",
            remedy="Give the changed file another name and name that in the sheet.",
        )


def _sheets(session: Session, chosen: Select[TestSheetRow]) -> list[KeptSheet]:
    """Return rows as records, with the files beside them."""
    rows = session.scalars(chosen).all()
    beside: dict[int, list[Original]] = {row.id: [] for row in rows}
    files = (
        select(TestSheetFileRow, OriginalRow.size_bytes)
        .join(OriginalRow)
        .where(TestSheetFileRow.test_sheet_id.in_(beside))
        .order_by(TestSheetFileRow.test_sheet_id, TestSheetFileRow.position)
    )
    for file, size in session.execute(files):
        kept = Original(checksum=file.checksum, size_bytes=size, name=file.name)
        beside[file.test_sheet_id].append(kept)
    return [
        KeptSheet(
            id=row.id,
            visit_id=row.visit_id,
            checksum=row.checksum,
            source=row.source,
            measured_on=row.measured_on,
            beside=tuple(beside[row.id]),
        )
        for row in rows
    ]
