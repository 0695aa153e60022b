"""Use case: folders are watched; what is new in them is imported, examined and posted.

Everything that must outlive the program is in the plant: which files were taken (the ledger), what
was examined (the examinations), what is to be sent (the outbox). A watcher that is killed at any
moment therefore goes on where it was, and several watchers do no harm to each other.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from cagewise.errors import (
    CagewiseError,
    ChannelRoleError,
    NewerSchemaError,
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
)
from cagewise.store import MotorEntry, Plant, SourceFile, Visit
from cagewise.workflows.plant_assess import (
    AssessedVisit,
    PlantAssessOptions,
    keep_examination,
    make_examination,
)
from cagewise.workflows.plant_files import SIDECAR_ENDING, FoundFile, found_file, is_sidecar
from cagewise.workflows.plant_import import Fate, FileReport, Importer, ImportOptions
from cagewise.workflows.plant_messages import put_finding, put_question
from cagewise.workflows.plant_post import Poster, Sent
from cagewise.workflows.post_file import Channel
from cagewise.workflows.watched_files import Look, WatchedFiles, folder_to_watch

REST_S = 60.0
"""Time for which a file must not change. An instrument that pauses for longer between two parts of
a file is rare; a part that was taken too early is refused, and taken when it changes. Common
practice, no source."""

AGAIN_S = 3600.0
"""After it, what was refused is tried once more: a share may have been away, a motor missing."""

PASSING = (StoreFullError, StoreLockedError, StoreReadOnlyError, StoreUnreachableError)
"""Errors of the plant that may be over at the next round."""
WHOLE_PLANT = frozenset({*PASSING, NewerSchemaError, StoreError})
"""Errors that are not of one visit alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchOptions:
    """What is watched, and how."""

    folders: Sequence[Path]
    imported: ImportOptions = field(default_factory=ImportOptions)
    rest_s: float = REST_S
    channels: Sequence[Channel] = ()
    """Where findings are posted; of ``post.toml``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """A visit that was examined, and its examination kept."""

    motor: MotorEntry
    done: AssessedVisit
    messages: int
    """That were put into the outbox with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotExamined:
    """A visit that could not be examined."""

    motor: MotorEntry
    visit: Visit
    error: CagewiseError
    messages: int

    @property
    def needs_answer(self) -> bool:
        """Whether it is not certain which channel is which."""
        return isinstance(self.error, ChannelRoleError)


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderGone:
    """A folder that could not be looked into; it is tried again each time."""

    folder: Path
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StillRefused:
    """Files that were refused before this watcher began, and were refused again."""

    count: int


Event = FileReport | Examined | NotExamined | FolderGone | StillRefused | Sent


class Watcher:
    """Does the same round again and again.

    Parameters
    ----------
    plant
        Open for writing.
    options
        What is watched.
    clock
        Seconds that never jump; for tests.

    Raises
    ------
    RecordingError
        If a folder is not there, or is a plant.
    NotKeptError
        If the plant has no motor of the stated tag.
    MissingExtraError
        If a channel needs a library that is not there.
    """

    def __init__(
        self, plant: Plant, options: WatchOptions, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._plant = plant
        self._options = options
        self._clock = clock
        self._folders = [folder_to_watch(folder) for folder in options.folders]
        self._files = WatchedFiles(self._folders, options.rest_s, clock)
        self._poster = Poster(plant, options.channels)
        Importer(plant, options.imported)  # an unknown tag is an error now, not at the first file
        self._settled: dict[Path, SourceFile] = {}
        self._refused: dict[Path, str] = {}
        self._tried: dict[int, tuple[int, ...]] = {}
        self._told: dict[int, str] = {}
        self._left: dict[int, Visit] = {}
        self._mark: tuple[int, ...] = ()
        self._gone: set[Path] = set()
        self._motors: tuple[int, ...] = ()
        self._again_at = clock() + AGAIN_S
        self._remember()

    def round(self, stopped: Callable[[], bool] = lambda: False) -> Iterator[Event]:
        """Import, examine and post what there is now; yield what happened, as it happens.

        Parameters
        ----------
        stopped
            Asked between two steps; when it says yes, the round ends there.

        Raises
        ------
        StoreError
            If the plant cannot be used; the next round goes on where this one ended.
        """
        look = self._files.look()
        yield from self._missing_folders(look)
        self._try_again_in_time()
        yield from self._import(look, stopped)
        yield from self._examine(stopped)
        yield from self._poster.send(stopped)

    @property
    def is_idle(self) -> bool:
        """Whether every file in the folders has come to rest and was dealt with."""
        look = self._files.look()
        return not look.moving and not self._new_in(look)

    def _remember(self) -> None:
        """Learn from the ledger which states of files need not be looked at again."""
        for folder in self._folders:
            for state, refusal in self._plant.ledger.below(folder).items():
                if refusal:
                    self._refused[Path(state.path)] = refusal
                else:
                    self._settled[Path(state.path)] = state

    def _new_in(self, look: Look) -> set[Path]:
        """Return the files at rest that were not dealt with as they are now."""
        new = {path for path, state in look.rested.items() if self._settled.get(path) != state}
        beside = {path.with_suffix("") for path in new if path.name.endswith(SIDECAR_ENDING)}
        return new | (beside & look.rested.keys())

    def _import(
        self, look: Look, stopped: Callable[[], bool]
    ) -> Iterator[FileReport | StillRefused]:
        """Take the files that are new and at rest."""
        new = self._new_in(look)
        if not new:
            return
        importer, still = Importer(self._plant, self._options.imported), 0
        waiting: set[Path] = set()
        for found in _found_among(new):
            if stopped():
                return
            if not self._is_whole(found, look):
                waiting.update(found.files)
                continue
            report = importer.take(found)
            self._settle((found.path, *found.files), look)
            still += self._is_still_refused(report)
            if self._is_news(report):
                yield report
        self._settle(new - waiting, look)
        if still:
            yield StillRefused(count=still)

    @staticmethod
    def _is_whole(found: FoundFile, look: Look) -> bool:
        """Return whether all files of a recording have come to rest."""
        return all(path in look.rested for path in found.files)

    def _settle(self, paths: Sequence[Path] | set[Path], look: Look) -> None:
        """Note the states that were dealt with: as they were looked at, so that a change counts."""
        self._settled.update({path: look.rested[path] for path in paths if path in look.rested})

    def _is_still_refused(self, report: FileReport) -> bool:
        """Return whether a file is refused again for a reason that was told before."""
        return report.fate is Fate.REFUSED and self._refused.get(report.path) == report.reason

    def _is_news(self, report: FileReport) -> bool:
        """Return whether a report tells something new, and remember it."""
        before = self._refused.pop(report.path, None)
        if report.fate is Fate.REFUSED:
            self._refused[report.path] = report.reason
            return before != report.reason
        return report.fate is Fate.IMPORTED

    def _try_again_in_time(self) -> None:
        """Forget what was refused after a while, and when motors were added or changed."""
        late = self._clock() >= self._again_at
        motors: tuple[int, ...] = ()
        if self._refused or self._told:
            motors = tuple(each.nameplate_id for each in self._plant.motors.all())
        if late or (self._motors and motors != self._motors):
            for path in self._refused:
                self._settled.pop(path, None)
            self._tried.clear()
        if late:
            self._mark = ()
            self._again_at = self._clock() + AGAIN_S
        self._motors = motors

    def _missing_folders(self, look: Look) -> Iterator[FolderGone]:
        """Yield folders that can no longer be looked into, each once until it is back."""
        for folder, reason in look.unreadable.items():
            if folder not in self._gone:
                yield FolderGone(folder=folder, reason=reason)
        self._gone = set(look.unreadable)

    def _examine(self, stopped: Callable[[], bool]) -> Iterator[Examined | NotExamined]:
        """Examine the visits that have got something new, the earliest first."""
        for visit in self._waiting():
            if stopped():
                return
            motor = self._plant.motors.get(visit.motor_id)
            if self._tried.get(visit.id) == self._state_of(motor, visit):
                continue
            try:
                yield from self._examined(motor, visit)
                self._left.pop(visit.id, None)
            except Exception as error:  # one recording must not keep all others waiting
                if type(error) in WHOLE_PLANT:
                    raise
                yield from self._not_examined(motor, visit, _in_words(error))
            self._tried[visit.id] = self._state_of(motor, visit)

    def _waiting(self) -> Sequence[Visit]:
        """Return the visits that wait: asked anew where something may have been added."""
        mark = self._plant.unexamined.mark()
        if mark != self._mark:
            self._left = {each.id: each for each in self._plant.unexamined.below(self._folders)}
            self._mark = mark
        return list(self._left.values())

    def _examined(self, motor: MotorEntry, visit: Visit) -> Iterator[Examined]:
        """Examine one visit; keep the examination together with its messages."""
        plant = self._plant
        made = make_examination(plant, motor, PlantAssessOptions(visit=visit.day))
        with plant.writing():
            plant.unexamined.hold(visit)
            if plant.unexamined.has_seen(visit, made.recordings, made.sheets):
                return  # another watcher was faster
            done = keep_examination(plant, made)
            messages = put_finding(plant, motor, done, self._options.channels)
        self._told.pop(visit.id, None)
        yield Examined(motor=motor, done=done, messages=messages)

    def _not_examined(
        self, motor: MotorEntry, visit: Visit, error: CagewiseError
    ) -> Iterator[NotExamined]:
        """Say once why a visit could not be examined."""
        messages = put_question(self._plant, motor, visit, error, self._options.channels)
        if self._told.get(visit.id) != error.what:
            self._told[visit.id] = error.what
            yield NotExamined(motor=motor, visit=visit, error=error, messages=messages)

    def _state_of(self, motor: MotorEntry, visit: Visit) -> tuple[int, ...]:
        """Return what an examination of a visit depends on, as numbers of what is kept."""
        recordings = self._plant.measurements.recordings(visit)
        sheets = self._plant.measurements.sheets(visit)
        version = self._plant.motors.nameplate(motor, on=visit.day)
        return (version.id, *(r.id for r in recordings), -1, *(s.id for s in sheets))


def _found_among(new: set[Path]) -> Iterator[FoundFile]:
    """Yield the recordings and sheets that new files belong to, each once."""
    taken: set[Path] = set()
    for path in sorted(new):
        if path not in taken and not is_sidecar(path):
            found = found_file(path, named=False)
            taken.update((path, *found.files))
            yield found


def _in_words(error: Exception) -> CagewiseError:
    """Return what a visit could not be examined for; a fault of the program is told as such."""
    if isinstance(error, CagewiseError):
        return error
    return CagewiseError(
        f"a fault of the program ({type(error).__name__}: {error})",
        remedy="Please report it, with the recordings of this visit.",
    )
