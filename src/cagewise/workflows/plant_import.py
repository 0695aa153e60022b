"""Use case: files and folders into a plant, each recording and sheet once, however often it is run.

Every file stands for itself: one that cannot be used is refused with its reason, is noted, and is
tried again the next time; the others are kept. Two threads read, copy, decode and pack the next
files while those that are ready are kept together: the disk is waited for once for all of them.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from pathlib import Path

from cagewise.errors import RecordingError, SheetError, StoreError
from cagewise.store import Plant
from cagewise.store.arrival import Arrival
from cagewise.workflows.plant_files import FoundFile, found_files
from cagewise.workflows.plant_prepare import Prepared, Preparer, Refused, report_of
from cagewise.workflows.plant_reports import Fate, FileReport, ImportOptions, MappedBy

__all__ = ["Fate", "FileReport", "ImportOptions", "Importer", "MappedBy", "import_files"]

_THREADS = 2
"""That prepare files: as many recordings are in memory at most."""

_AHEAD = 8
"""Files that are being prepared, or are ready and wait for earlier ones."""

_MOST_FILES = 20
"""That are kept together: a kill undoes no more work than this."""

_MOST_BYTES = 64_000_000
"""As above: large files are not held back to wait for others."""

_MOST_S = 1.0
"""As above: so long at most is a file ready and not kept."""

_Ready = Prepared | Refused | FileReport


class Importer:
    """Takes files into a plant.

    Parameters
    ----------
    plant
        Open for writing.
    options
        What the user states.

    Raises
    ------
    NotKeptError
        If the plant has no motor of the stated tag.
    """

    def __init__(self, plant: Plant, options: ImportOptions) -> None:
        self._plant = plant
        self._preparer = Preparer(plant, options)

    def take(self, found: FoundFile) -> FileReport:
        """Take one recording or sheet, and say what became of it.

        Raises
        ------
        StoreError
            If the plant cannot be written; what was imported before is kept.
        """
        batch = _Batch()
        batch.add(self._preparer.prepared(found))
        [report] = self._kept(batch)
        return report

    def take_all(self, found: Iterable[FoundFile]) -> Iterator[FileReport]:
        """Take recordings and sheets in their order; yield what became of each when it is kept.

        Raises
        ------
        StoreError
            If the plant cannot be written; what was yielded is kept.
        """
        batch = _Batch()
        ahead: deque[Future[_Ready]] = deque()
        with ThreadPoolExecutor(_THREADS) as pool:
            try:
                for each in found:
                    ahead.append(pool.submit(self._preparer.prepared, each))
                    while ahead and (len(ahead) >= _AHEAD or ahead[0].done()):
                        yield from self._next(ahead, batch)
                while ahead:
                    yield from self._next(ahead, batch)
                yield from self._kept(batch)
            finally:
                for future in ahead:
                    future.cancel()
                    future.add_done_callback(_drop)
                batch.drop()

    def _next(self, ahead: deque[Future[_Ready]], batch: _Batch) -> Iterator[FileReport]:
        """Wait for the next file; keep the batch when it is full, or when that takes long."""
        if batch.ready and not wait([ahead[0]], timeout=batch.patience_s).done:
            yield from self._kept(batch)
        try:
            ready = ahead.popleft().result()
        except StoreError:
            yield from self._kept(batch)  # those before it were good
            raise
        batch.add(ready)
        if batch.is_full:
            yield from self._kept(batch)

    def _kept(self, batch: _Batch) -> list[FileReport]:
        """Put what is ready on the disk, then write its rows, all or none; empty the batch."""
        ready = batch.ready
        if all(isinstance(each, FileReport) for each in ready):
            batch.ready = []
            return [each for each in ready if isinstance(each, FileReport)]
        try:
            self._plant.measurements.settle(batch.arrivals)
            with self._plant.writing():
                return [self._entered(each) for each in ready]
        finally:
            batch.drop()

    def _entered(self, ready: _Ready) -> FileReport:
        """Write the rows of a file; return what became of it."""
        if isinstance(ready, FileReport):
            return ready
        if isinstance(ready, Refused):
            return self._refused(ready)
        try:
            return self._added(ready)
        except (RecordingError, SheetError) as error:
            source, checksum = ready.sources[0], ready.checksum
            return self._refused(
                Refused(found=ready.found, error=error, source=source, checksum=checksum)
            )

    def _added(self, ready: Prepared) -> FileReport:
        """Write the rows of a file that can be used; nothing is written before an error."""
        # once more: another program, or a file of the same batch, may have been faster
        self._preparer.require_free(ready.checksum, ready.target.motor)
        plant, arrival = self._plant, ready.arrival
        visit = plant.visits.on(ready.target.motor, ready.day)
        if ready.found.is_sheet:
            new = plant.measurements.add_arrived_sheet(visit, arrival)
        else:
            new = plant.measurements.add_arrived(visit, arrival)
        for source, original in zip(ready.sources, arrival.originals, strict=True):
            plant.ledger.note(source, original.checksum)
        fate = Fate.IMPORTED if new else Fate.KNOWN
        return report_of(ready.found, fate, ready.target, ready.day)

    def _refused(self, refused: Refused) -> FileReport:
        """Note why a file was refused."""
        found, error = refused.found, refused.error
        if refused.source is not None:
            self._plant.ledger.note(refused.source, refused.checksum, refusal=error.what)
        return FileReport(
            path=found.path,
            fate=Fate.REFUSED,
            is_sheet=found.is_sheet,
            reason=error.what,
            remedy=error.remedy,
        )


class _Batch:
    """Files that are ready and are to be kept together."""

    def __init__(self) -> None:
        self.ready: list[_Ready] = []
        self._begun = 0.0

    def add(self, ready: _Ready) -> None:
        """Add a file."""
        if not self.ready:
            self._begun = time.monotonic()
        self.ready.append(ready)

    @property
    def arrivals(self) -> list[Arrival]:
        """The files on their way in."""
        return [each.arrival for each in self.ready if isinstance(each, Prepared)]

    @property
    def patience_s(self) -> float:
        """How long the first of them may still wait."""
        return max(0.0, self._begun + _MOST_S - time.monotonic())

    @property
    def is_full(self) -> bool:
        """Whether it is not to wait for more."""
        size = sum(arrival.size_bytes for arrival in self.arrivals)
        return len(self.ready) >= _MOST_FILES or size >= _MOST_BYTES or not self.patience_s

    def drop(self) -> None:
        """Forget them; what was not kept is removed."""
        for arrival in self.arrivals:
            arrival.drop()
        self.ready = []


def _drop(future: Future[_Ready]) -> None:
    """Remove what was prepared for nothing."""
    if not future.cancelled() and future.exception() is None:
        ready = future.result()
        if isinstance(ready, Prepared):
            ready.arrival.drop()


def import_files(
    plant: Plant, paths: Sequence[Path], options: ImportOptions | None = None
) -> Iterator[FileReport]:
    """Take files and folders into a plant; yield what became of each when it is kept.

    Raises
    ------
    NotKeptError
        If the plant has no motor of the stated tag.
    StoreError
        If the plant cannot be written; what was yielded is kept.
    """
    yield from Importer(plant, options or ImportOptions()).take_all(found_files(paths))
