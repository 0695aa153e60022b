"""The jobs that are kept: who may change what, in which order, whatever dies in between.

A job *waits*, *runs* and is then *done*, *failed* or *cancelled*, for good. A worker that runs it
holds a claim with a lease and renews it. A lease that ran out means that the worker is dead: the
job waits again, with its attempt counted. All changes are single transactions on one file, so any
number of servers may serve the same plant.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import delete, or_, select
from sqlalchemy.orm import Session, aliased

from cagewise.errors import NotKeptError
from cagewise.store.instants import now
from cagewise.web.jobs.kinds import check
from cagewise.web.jobs.records import Claim, Job, JobFault, State, job_of
from cagewise.web.keeping import JobRow, Workbench

LEASE = timedelta(seconds=15)
"""Time for which a worker is believed to live without a sign."""
MOST_ATTEMPTS = 3
"""A job that ended its worker so often is not begun again."""
KEPT = timedelta(days=90)
"""Time after which a job that is over is forgotten."""
LONGEST_WORDS = 300
"""Characters of the words and the title."""


class Jobs:
    """What is to be done and was done.

    Parameters
    ----------
    workbench
        Open.
    clock
        For tests.
    """

    def __init__(self, workbench: Workbench, clock: Callable[[], datetime] = now) -> None:
        self._workbench = workbench
        self._now = clock
        self.on_change: Callable[[], None] = lambda: None
        """Called when there is something to do at once for the workers of this server."""

    def submit(self, kind: str, arguments: Mapping[str, Any], *, title: str, by: str) -> Job:
        """Ask for work; the same work that waits already is that one.

        Parameters
        ----------
        kind
            One of :data:`~cagewise.web.jobs.kinds.KINDS`.
        arguments
            Of the kind, JSON values.
        title
            What it is, for people.
        by
            Name of the account that asks; empty without accounts.

        Raises
        ------
        UsageError
            If there is no such kind, or it takes other arguments.
        """
        checked = check(kind, arguments)
        key = key_of(kind, checked)
        waiting = select(JobRow).where(JobRow.key == key, JobRow.state == State.WAITING)
        with self._workbench.writing() as session:
            row = session.scalars(waiting).one_or_none()
            if row is None:
                row = JobRow(
                    kind=kind,
                    key=key,
                    title=title[:LONGEST_WORDS],
                    arguments=checked,
                    by=by,
                    made_at=self._now(),
                )
                session.add(row)
                session.flush()
            job = job_of(row)
        self.on_change()
        return job

    def get(self, job_id: int) -> Job:
        """Return a job.

        Raises
        ------
        NotKeptError
            If there is none of that number.
        """
        with self._workbench.reading() as session:
            return job_of(_row(session, job_id))

    def all(self, most: int = 100) -> Sequence[Job]:
        """Return the jobs: those that are not over first, then the newest."""
        over = JobRow.state.not_in([State.WAITING, State.RUNNING])
        with self._workbench.reading() as session:
            rows = session.scalars(select(JobRow).order_by(over, JobRow.id.desc()).limit(most))
            return [job_of(row) for row in rows]

    def cancel(self, job_id: int) -> Job:
        """Ask that a job be ended; one that waits ends here, one that is over stays as it is.

        Raises
        ------
        NotKeptError
            If there is none of that number.
        """
        with self._workbench.writing() as session:
            row = _row(session, job_id)
            if row.state == State.WAITING:
                self._end(row, State.CANCELLED)
            elif row.state == State.RUNNING:
                row.cancel_asked = True
            job = job_of(row)
        self.on_change()
        return job

    # What follows is for workers.

    def claim(self) -> Claim | None:
        """Take the job that waits longest; one that is equal to a running one goes on waiting."""
        running = aliased(JobRow)
        same = select(running.id).where(running.key == JobRow.key, running.state == State.RUNNING)
        chosen = (
            select(JobRow)
            .where(JobRow.state == State.WAITING, ~same.exists())
            .order_by(JobRow.id)
            .limit(1)
        )
        with self._workbench.reading() as session:
            if session.scalars(chosen).one_or_none() is None:
                return None  # nothing is written while there is nothing to do
        with self._workbench.writing() as session:
            row = session.scalars(chosen).one_or_none()
            if row is None:
                return None
            row.state, row.claim = State.RUNNING, secrets.token_hex(16)
            row.attempts += 1
            row.started_at = row.started_at or self._now()
            row.lease_until = self._now() + LEASE
            row.progress, row.words = None, ""
            return Claim(job=job_of(row), token=row.claim)

    def asked_to_cancel(self, claim: Claim) -> bool | None:
        """Return whether a claimed job shall end; None if the claim was lost."""
        with self._workbench.reading() as session:
            row = session.get(JobRow, claim.job.id)
            if row is None or not _holds(row, claim):
                return None
            return row.cancel_asked

    def beat(self, claim: Claim, progress: float | None, words: str) -> bool:
        """Note how far a claimed job is, and that its worker lives; False if it was lost."""

        def note(row: JobRow) -> None:
            row.progress = None if progress is None else min(max(progress, 0.0), 1.0)
            row.words = words[:LONGEST_WORDS]
            row.lease_until = self._now() + LEASE

        return self._as_holder(claim, note)

    def finish(self, claim: Claim, result: Any) -> bool:  # noqa: ANN401 - any JSON
        """Note what came of a claimed job; False if it was lost."""

        def note(row: JobRow) -> None:
            row.progress, row.result = 1.0, result
            self._end(row, State.DONE)

        return self._as_holder(claim, note)

    def fail(self, claim: Claim, fault: JobFault) -> bool:
        """Note why a claimed job failed; False if it was lost."""

        def note(row: JobRow) -> None:
            row.error = asdict(fault)
            self._end(row, State.FAILED)

        return self._as_holder(claim, note)

    def cancelled(self, claim: Claim) -> bool:
        """Note that a claimed job was ended as asked; False if it was lost."""
        return self._as_holder(claim, lambda row: self._end(row, State.CANCELLED))

    def crashed(self, claim: Claim, how: str) -> bool:
        """Note that the worker of a claimed job died; False if it was lost."""
        with self._workbench.writing() as session:
            row = session.get(JobRow, claim.job.id)
            held = row is not None and _holds(row, claim)
            if row is not None and held:
                self._begin_again(session, row, how)
            return held

    def give_back(self, claim: Claim) -> bool:
        """Let a claimed job wait again because its server ends: that is no failed attempt."""
        with self._workbench.writing() as session:
            row = session.get(JobRow, claim.job.id)
            held = row is not None and _holds(row, claim)
            if row is not None and held:
                row.attempts -= 1
                self._begin_again(session, row, "")
            return held

    def recover(self) -> int:
        """Let jobs whose worker is dead wait again; return how many."""
        dead = or_(JobRow.lease_until < self._now(), JobRow.lease_until.is_(None))
        chosen = select(JobRow).where(JobRow.state == State.RUNNING, dead)
        with self._workbench.reading() as session:
            if session.scalars(chosen).first() is None:
                return 0
        with self._workbench.writing() as session:
            rows = session.scalars(chosen).all()
            for row in rows:
                self._begin_again(session, row, "its server was ended")
        return len(rows)

    def forget_old(self) -> None:
        """Forget jobs that were over long ago."""
        with self._workbench.writing() as session:
            session.execute(delete(JobRow).where(JobRow.ended_at < self._now() - KEPT))

    def _as_holder(self, claim: Claim, change: Callable[[JobRow], None]) -> bool:
        """Change a job if the claim still counts."""
        with self._workbench.writing() as session:
            row = session.get(JobRow, claim.job.id)
            if row is None or not _holds(row, claim):
                return False
            change(row)
            return True

    def _begin_again(self, session: Session, row: JobRow, how: str) -> None:
        """Let a job wait again, unless that was tried too often or the same work waits already."""
        if row.cancel_asked:
            self._end(row, State.CANCELLED)
            return
        if row.attempts >= MOST_ATTEMPTS:
            row.error = asdict(_too_often(row.attempts, how))
            self._end(row, State.FAILED)
            return
        same = select(JobRow.id).where(JobRow.key == row.key, JobRow.state == State.WAITING)
        other = session.scalars(same).first()
        if other is not None:
            row.words = f"Number {other} does the same."
            self._end(row, State.CANCELLED)
            return
        row.state, row.claim, row.lease_until = State.WAITING, "", None
        row.progress, row.words = None, ""

    def _end(self, row: JobRow, state: State) -> None:
        """Write that a job is over."""
        row.state, row.claim, row.lease_until = state, "", None
        row.ended_at = self._now()


def key_of(kind: str, arguments: Mapping[str, Any]) -> str:
    """Return what equal work has in common."""
    text = json.dumps([kind, arguments], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _row(session: Session, job_id: int) -> JobRow:
    row = session.get(JobRow, job_id) if job_id < 2**63 else None
    if row is None:
        raise NotKeptError(
            f"there is no work of number {job_id}",
            remedy="What ended long ago is forgotten; see the list for what is left.",
        )
    return row


def _holds(row: JobRow, claim: Claim) -> bool:
    """Return whether a claim still counts."""
    return row.state == State.RUNNING and row.claim == claim.token


def _too_often(attempts: int, how: str) -> JobFault:
    """Return why a job is not begun again."""
    return JobFault(
        kind="crash",
        what=f"it was begun {attempts} times, and each time its process ended before it was done"
        + (f" (the last time: {how})" if how else ""),
        remedy="The memory of the machine may be too small for it; the log of the server may tell "
        "more. Nothing that was kept is harmed; ask for it again when that is mended.",
    )
