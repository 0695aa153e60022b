"""What is known of a job."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from cagewise.web.keeping import JobRow


class State(StrEnum):
    """How far a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def is_over(self) -> bool:
        """Whether nothing will happen any more."""
        return self not in {State.WAITING, State.RUNNING}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFault:
    """Why a job failed."""

    kind: str
    """As of a problem: ``recording``, ``store-full``, ``fault``, ``crash``."""
    what: str
    where: str = ""
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Long work, as it was when it was asked for."""

    id: int
    kind: str
    title: str
    """What it is, for people."""
    arguments: dict[str, Any]
    state: State
    progress: float | None
    """Share that is done, 0 to 1; None while nobody can say."""
    words: str
    """What is being done now."""
    result: Any
    """What came of it, JSON; None unless it is done."""
    fault: JobFault | None
    """None unless it failed."""
    by: str
    """Who asked; empty without accounts."""
    made_at: datetime
    started_at: datetime | None
    ended_at: datetime | None
    attempts: int
    """How often it was begun."""
    cancel_asked: bool

    @property
    def see(self) -> str:
        """Address of the page that shows what came of it; empty if it is the job's own."""
        found = self.result.get("see", "") if isinstance(self.result, dict) else ""
        return found if isinstance(found, str) and found.startswith("/") else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """The right of one worker to a job: nobody else may write what becomes of it."""

    job: Job
    token: str


def job_of(row: JobRow) -> Job:
    """Return a row as a record."""
    return Job(
        id=row.id,
        kind=row.kind,
        title=row.title,
        arguments=dict(row.arguments),
        state=State(row.state),
        progress=row.progress,
        words=row.words,
        result=row.result,
        fault=None if row.error is None else JobFault(**row.error),
        by=row.by,
        made_at=row.made_at,
        started_at=row.started_at,
        ended_at=row.ended_at,
        attempts=row.attempts,
        cancel_asked=row.cancel_asked,
    )
