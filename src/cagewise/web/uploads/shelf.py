"""The folder of files that are on their way, and what is known of each."""

from __future__ import annotations

import re
import secrets
import shutil
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from cagewise.errors import AlreadyKeptError, InputError, NotKeptError, StoreFullError
from cagewise.store.durable import INCOMING, file_errors, make_folder
from cagewise.store.instants import now
from cagewise.store.plant import UPLOADS
from cagewise.web.jobs import Job, State
from cagewise.web.keeping import JobRow, UploadRow, Workbench
from cagewise.web.uploads.names import safe_name
from cagewise.web.uploads.records import Upload, upload_of
from cagewise.web.uploads.writer import Writer

ABANDONED = timedelta(days=2)
"""Time after which a file that nobody goes on with is removed: over a night, and the next day."""
COPIES = 2
"""Times its own size that a file needs beside itself until it is imported: the original that is
kept, and its waveforms, which are no larger."""
MOST_OPEN = 500
"""Files that may be on their way at once."""
_BATCH = re.compile(r"[0-9a-f]{16}")


class Uploads:
    """Files on their way.

    Parameters
    ----------
    workbench
        Open.
    plant
        Folder of the plant.
    clock
        For tests.
    """

    def __init__(
        self, workbench: Workbench, plant: Path, clock: Callable[[], datetime] = now
    ) -> None:
        self._workbench = workbench
        self._folder = plant / UPLOADS
        self._now = clock
        self._writers: dict[str, Writer] = {}
        self._lock = threading.Lock()

    def begin(
        self, motor_id: int, name: str, size_bytes: int, *, batch: str = "", by: str = ""
    ) -> Upload:
        """Announce a file.

        Parameters
        ----------
        motor_id
            Of which it is.
        name
            As it came; see :func:`~cagewise.web.uploads.names.safe_name`.
        size_bytes
            Of all of it.
        batch
            Files it is sent together with; empty for the first one.
        by
            Name of the account.

        Raises
        ------
        InputError
            If the name cannot be used, or the file is empty.
        NotKeptError
            If there is no such batch of this motor.
        AlreadyKeptError
            If the batch has a file of this name, or is being imported already.
        StoreFullError
            If there is not enough space for it.
        """
        kept = safe_name(name)
        if size_bytes <= 0:
            raise InputError(
                "the file is empty", where=kept, remedy="Copy it again from the instrument."
            )
        with file_errors(self._folder):
            make_folder(self._folder)
        self._require_space(size_bytes)
        with self._workbench.writing() as session:
            self._require_room(session)
            if batch:
                _require_fits(_of_batch(session, batch), motor_id, kept)
            moment = self._now()
            row = UploadRow(
                id=secrets.token_urlsafe(16),
                motor_id=motor_id,
                batch=batch or secrets.token_hex(8),
                name=kept,
                size_bytes=size_bytes,
                by=by,
                made_at=moment,
                touched_at=moment,
            )
            session.add(row)
            session.flush()
            return upload_of(row)

    def get(self, upload_id: str) -> Upload:
        """Return what is known of a file.

        Raises
        ------
        NotKeptError
            If there is none; it may have been imported, or abandoned.
        """
        with self._workbench.reading() as session:
            return upload_of(_row(session, upload_id))

    def write(self, upload_id: str, offset: int) -> Writer:
        """Go on receiving a file; whoever received it before is shut out.

        Raises
        ------
        NotKeptError
            If there is none.
        AlreadyKeptError
            If ``offset`` is not where it has to go on.
        StoreError
            If it cannot be written.
        """
        with self._lock:
            before = self._writers.pop(upload_id, None)
        if before is not None:
            before.shut_out()
        upload = self.get(upload_id)
        if upload.is_whole or offset != upload.received_bytes:
            raise AlreadyKeptError(
                f"{upload.received_bytes} of {upload.size_bytes} bytes are here, so sending "
                f"cannot go on from {offset}",
                where=upload.name,
                remedy="Ask how much has been received, and go on from there.",
            )
        self._require_space(upload.size_bytes - offset)
        writer = Writer(self, upload, self.path_of(upload, whole=False), self.path_of(upload))
        with self._lock:
            self._writers[upload_id] = writer
        return writer

    def received(self, upload: Upload, received_bytes: int, checksum: str = "") -> Upload:
        """Note how much of a file is on the disk for certain."""
        with self._workbench.writing() as session:
            row = _row(session, upload.id)
            row.received_bytes, row.checksum = received_bytes, checksum
            row.touched_at = self._now()
            return upload_of(row)

    def announce(self, upload: Upload, size_bytes: int) -> Upload:
        """Say how large a file is after all: a form does not tell it before."""
        with self._workbench.writing() as session:
            row = _row(session, upload.id)
            row.size_bytes = size_bytes
            return upload_of(row)

    def left(self, writer: Writer) -> None:
        """Forget who received a file."""
        with self._lock:
            if self._writers.get(writer.upload.id) is writer:
                del self._writers[writer.upload.id]

    def of_batch(self, batch: str) -> Sequence[Upload]:
        """Return the files that were sent together."""
        with self._workbench.reading() as session:
            return [upload_of(row) for row in _of_batch(session, batch)]

    def hand_over(self, batch: str, motor_id: int) -> Sequence[Upload]:
        """Return the files of a batch if all of them are there: they may be imported.

        Raises
        ------
        NotKeptError
            If there is no such batch of this motor.
        AlreadyKeptError
            If some are not whole.
        """
        files = [each for each in self.of_batch(batch) if each.motor_id == motor_id]
        if not files:
            raise _no_batch(batch)
        missing = [each.name for each in files if not each.is_whole]
        if missing:
            raise AlreadyKeptError(
                f"not all of it has been received ({', '.join(missing[:3])})",
                remedy="Send the rest, or take the file back.",
            )
        return files

    def assign(self, batch: str, job: Job) -> None:
        """Note which job imports a batch."""
        with self._workbench.writing() as session:
            for row in _of_batch(session, batch):
                row.job_id = job.id

    def remove(self, upload_id: str) -> None:
        """Take a file back.

        Raises
        ------
        NotKeptError
            If there is none.
        AlreadyKeptError
            If it is being imported.
        """
        with self._workbench.writing() as session:
            row = _row(session, upload_id)
            if _is_imported_now(session, row):
                raise AlreadyKeptError(
                    "it is being imported", where=row.name, remedy="Cancel that first."
                )
            upload = upload_of(row)
            session.delete(row)
        self._discard(upload)

    def imported(self, job: Job) -> None:
        """Remove the files that a job has imported; those it refused stay for another try."""
        batch = job.arguments.get("batch", "") if job.kind == "import" else ""
        if not batch or job.state is not State.DONE:
            return
        files = job.result.get("files", ()) if isinstance(job.result, dict) else ()
        refused = {each["name"] for each in files if each.get("fate") == "refused"}
        done = [each for each in self.of_batch(batch) if each.name not in refused]
        if refused & {each.name for each in self.of_batch(batch)}:
            # a file may be refused for what is beside it, so that stays, too
            stems = {name.split(".")[0].casefold() for name in refused}
            done = [each for each in done if each.name.split(".")[0].casefold() not in stems]
        self._forget([each.id for each in done])
        for each in done:
            self._discard(each)

    def clear(self) -> None:
        """Remove what nobody goes on with, and folders that nobody knows of."""
        oldest = self._now() - ABANDONED
        with self._workbench.reading() as session:
            rows = session.scalars(select(UploadRow).where(UploadRow.touched_at < oldest)).all()
            gone = [upload_of(row) for row in rows if not _is_imported_now(session, row)]
        self._forget([each.id for each in gone])
        for each in gone:
            self._discard(each)
        self._clear_unknown(oldest)

    def path_of(self, upload: Upload, *, whole: bool = True) -> Path:
        """Return where a file is when it is whole, or until then."""
        name = upload.name if whole else f"{INCOMING}{upload.id}"
        return self._folder / upload.batch / name

    def _forget(self, ids: Sequence[str]) -> None:
        with self._workbench.writing() as session:
            session.execute(delete(UploadRow).where(UploadRow.id.in_(ids)))

    def _discard(self, upload: Upload) -> None:
        """Remove the bytes of a file that is forgotten."""
        with self._lock:
            writer = self._writers.pop(upload.id, None)
        if writer is not None:
            writer.shut_out()
        with suppress(OSError):  # it is swept up later
            for whole in (True, False):
                self.path_of(upload, whole=whole).unlink(missing_ok=True)
            (self._folder / upload.batch).rmdir()

    def _clear_unknown(self, oldest: datetime) -> None:
        """Remove folders of batches that nobody knows of."""
        with self._workbench.reading() as session:
            known = set(session.scalars(select(UploadRow.batch)))
        with suppress(OSError):
            for path in self._folder.iterdir():
                old = path.stat().st_mtime < oldest.timestamp()
                if old and path.name not in known and _BATCH.fullmatch(path.name):
                    shutil.rmtree(path, ignore_errors=True)

    def _require_space(self, size_bytes: int) -> None:
        """Raise if a file would fill the disk, now or when it is imported."""
        with file_errors(self._folder, "read"):
            free = shutil.disk_usage(self._folder).free
        if (1 + COPIES) * size_bytes > free:
            raise StoreFullError(
                f"the disk of the plant has {_megabytes(free)} left, and to take the file in "
                f"{_megabytes((1 + COPIES) * size_bytes)} are needed",
                remedy="Make space and send it again.",
            )

    def _require_room(self, session: Session) -> None:
        """Raise if too many files are on their way."""
        ids = session.scalars(select(UploadRow.id).limit(MOST_OPEN)).all()
        if len(ids) >= MOST_OPEN:
            raise InputError(
                f"{MOST_OPEN} files are on their way already",
                remedy="Import those first, or take them back.",
            )


def _row(session: Session, upload_id: str) -> UploadRow:
    row = session.get(UploadRow, upload_id)
    if row is None:
        raise NotKeptError(
            "there is no such file on its way",
            remedy="It was imported, taken back, or abandoned too long; send it again if needed.",
        )
    return row


def _of_batch(session: Session, batch: str) -> Sequence[UploadRow]:
    chosen = select(UploadRow).where(UploadRow.batch == batch).order_by(UploadRow.name)
    return session.scalars(chosen).all()


def _require_fits(rows: Sequence[UploadRow], motor_id: int, name: str) -> None:
    """Raise unless a further file may be sent together with these."""
    if not rows or any(row.motor_id != motor_id for row in rows):
        raise _no_batch(rows[0].batch if rows else "")
    if any(row.job_id is not None for row in rows):
        raise AlreadyKeptError(
            "what it was sent together with is imported already", remedy="Send it by itself."
        )
    if name.casefold() in {row.name.casefold() for row in rows}:
        raise AlreadyKeptError(
            "a file of this name was sent together with it",
            where=name,
            remedy="Send one after the other, each with what belongs to it.",
        )


def _is_imported_now(session: Session, row: UploadRow) -> bool:
    """Return whether a job that is not over needs a file."""
    job = None if row.job_id is None else session.get(JobRow, row.job_id)
    return job is not None and not State(job.state).is_over


def _no_batch(batch: str) -> NotKeptError:
    return NotKeptError(
        "no files of this motor were sent together under this name",
        where=batch,
        remedy="They were imported, taken back, or abandoned too long.",
    )


def _megabytes(size_bytes: int) -> str:
    return f"{size_bytes / 1e6:.0f} MB"
