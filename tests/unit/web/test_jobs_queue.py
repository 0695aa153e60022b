"""The states of jobs: whatever servers and workers do in whichever order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    invariant,
    multiple,
    rule,
)
from sqlalchemy import select

from cagewise.errors import NotKeptError, UsageError
from cagewise.web.jobs import Job, Jobs, State
from cagewise.web.jobs.queue import KEPT, LEASE, MOST_ATTEMPTS
from cagewise.web.jobs.records import Claim, JobFault
from cagewise.web.keeping import JobRow, Workbench
from support import job_kinds
from support.workbench import Clock

FAULT = JobFault(kind="recording", what="the file is empty", where="run.dat", remedy="Copy it.")


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def jobs(tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> Iterator[Jobs]:
    job_kinds.patch(monkeypatch)
    with Workbench.open(tmp_path) as bench:
        yield Jobs(bench, clock)


def ask(jobs: Jobs, name: str = "a") -> Job:
    return jobs.submit("sleep", {"name": name}, title=f"Sleep {name}", by="Ben")


def claimed(jobs: Jobs) -> Claim:
    claim = jobs.claim()
    assert claim is not None
    return claim


def test_equal_work_waits_once_and_runs_one_after_the_other(jobs: Jobs) -> None:
    first = ask(jobs)
    assert ask(jobs).id == first.id
    claim = claimed(jobs)
    second = ask(jobs)
    assert second.id != first.id
    assert jobs.claim() is None
    assert jobs.finish(claim, {"see": "/x"})
    assert claimed(jobs).job.id == second.id


def test_what_is_not_known_cannot_be_asked_for(jobs: Jobs) -> None:
    with pytest.raises(UsageError, match="no work of the kind"):
        jobs.submit("format the disk", {}, title="", by="")
    with pytest.raises(UsageError, match="motor_id"):
        jobs.submit("import", {"batch": "aa"}, title="", by="")
    with pytest.raises(UsageError, match="batch"):
        jobs.submit("import", {"motor_id": 1, "batch": "../.."}, title="", by="")
    with pytest.raises(NotKeptError):
        jobs.get(99)
    with pytest.raises(NotKeptError):
        jobs.cancel(10**30)


def test_what_comes_of_a_job_is_kept(jobs: Jobs) -> None:
    ask(jobs, "a")
    ask(jobs, "b")
    one, other = claimed(jobs), claimed(jobs)
    assert jobs.beat(one, 3.0, "w" * 999)
    running = jobs.get(one.job.id)
    assert (running.progress, len(running.words), running.attempts) == (1.0, 300, 1)
    assert jobs.finish(one, {"see": "/visits/1"})
    assert jobs.fail(other, FAULT)
    done, failed = jobs.get(one.job.id), jobs.get(other.job.id)
    assert (done.state, done.see, done.by) == (State.DONE, "/visits/1", "Ben")
    assert (failed.state, failed.fault, failed.see) == (State.FAILED, FAULT, "")


def test_an_address_of_elsewhere_is_not_gone_to(jobs: Jobs) -> None:
    ask(jobs)
    claim = claimed(jobs)
    jobs.finish(claim, {"see": "https://elsewhere.example/"})
    assert jobs.get(claim.job.id).see == ""


def test_a_worker_that_gives_no_sign_loses_its_job(jobs: Jobs, clock: Clock) -> None:
    ask(jobs)
    lost = claimed(jobs)
    clock.pass_by(LEASE - timedelta(seconds=1))
    assert jobs.recover() == 0
    assert jobs.beat(lost, 0.5, "still here")
    clock.pass_by(LEASE + timedelta(seconds=1))
    assert jobs.recover() == 1
    again = claimed(jobs)
    assert again.job.attempts == 2
    assert jobs.asked_to_cancel(lost) is None
    assert not jobs.beat(lost, 0.9, "late")
    assert not jobs.finish(lost, {"wrong": True})
    assert jobs.get(again.job.id).state is State.RUNNING


def test_three_crashes_are_enough(jobs: Jobs) -> None:
    ask(jobs)
    for _ in range(MOST_ATTEMPTS):
        assert jobs.crashed(claimed(jobs), "killed by SIGKILL")
    [job] = jobs.all()
    assert job.state is State.FAILED
    assert job.fault is not None
    assert "SIGKILL" in job.fault.what
    assert jobs.claim() is None


def test_ending_the_server_is_no_crash(jobs: Jobs) -> None:
    ask(jobs)
    for _ in range(10):
        assert jobs.give_back(claimed(jobs))
    assert claimed(jobs).job.attempts == 1


def test_a_crash_gives_way_to_the_same_work_that_waits(jobs: Jobs) -> None:
    ask(jobs)
    claim = claimed(jobs)
    later = ask(jobs)
    assert jobs.crashed(claim, "")
    assert jobs.get(claim.job.id).state is State.CANCELLED
    assert str(later.id) in jobs.get(claim.job.id).words


def test_cancelling(jobs: Jobs) -> None:
    waiting = ask(jobs)
    assert jobs.cancel(waiting.id).state is State.CANCELLED
    ask(jobs)
    claim = claimed(jobs)
    assert jobs.cancel(claim.job.id).state is State.RUNNING
    assert jobs.asked_to_cancel(claim)
    assert jobs.crashed(claim, "")
    assert jobs.cancel(claim.job.id).state is State.CANCELLED


def test_what_was_over_long_ago_is_forgotten(jobs: Jobs, clock: Clock) -> None:
    over = jobs.cancel(ask(jobs, "old").id)
    waiting = ask(jobs, "waits")
    clock.pass_by(KEPT + timedelta(days=1))
    jobs.forget_old()
    assert [job.id for job in jobs.all()] == [waiting.id]
    with pytest.raises(NotKeptError):
        jobs.get(over.id)


class Servers(RuleBasedStateMachine):
    """Two servers on one plant, each with workers that do anything at any time."""

    claims = Bundle("claims")

    def __init__(self) -> None:
        super().__init__()
        job_kinds.install()
        self.folder = TemporaryDirectory()
        self.clock = Clock()
        self.benches = [Workbench.open(Path(self.folder.name)) for _ in range(2)]
        self.servers = [Jobs(bench, self.clock) for bench in self.benches]
        self.over: dict[int, State] = {}

    def teardown(self) -> None:
        for bench in self.benches:
            bench.close()
        self.folder.cleanup()

    @rule(server=st.integers(0, 1), name=st.sampled_from("abc"))
    def submit(self, server: int, name: str) -> None:
        assert ask(self.servers[server], name).state is State.WAITING

    @rule(target=claims, server=st.integers(0, 1))
    def claim(self, server: int) -> object:
        claim = self.servers[server].claim()
        return multiple() if claim is None else claim

    @rule(claim=claims, server=st.integers(0, 1), share=st.floats(-1, 2) | st.none())
    def beat(self, claim: Claim, server: int, share: float | None) -> None:
        self.servers[server].beat(claim, share, "words")

    @rule(claim=consumes(claims), server=st.integers(0, 1), end=st.integers(0, 4))
    def end(self, claim: Claim, server: int, end: int) -> None:
        jobs = self.servers[server]
        held = jobs.asked_to_cancel(claim) is not None
        ends = (
            lambda: jobs.finish(claim, {}),
            lambda: jobs.fail(claim, FAULT),
            lambda: jobs.cancelled(claim),
            lambda: jobs.crashed(claim, "killed"),
            lambda: jobs.give_back(claim),
        )
        assert ends[end]() == held

    @rule(server=st.integers(0, 1), number=st.integers(1, 6))
    def cancel(self, server: int, number: int) -> None:
        if any(job.id == number for job in self.servers[server].all()):
            self.servers[server].cancel(number)

    @rule(server=st.integers(0, 1), seconds=st.sampled_from([1, 10, 20]))
    def time_passes(self, server: int, seconds: int) -> None:
        self.clock.pass_by(timedelta(seconds=seconds))
        self.servers[server].recover()

    @invariant()
    def everything_fits(self) -> None:
        with self.benches[0].reading() as session:
            rows = session.scalars(select(JobRow)).all()
        for state in (State.WAITING, State.RUNNING):
            keys = [row.key for row in rows if row.state == state]
            assert len(keys) == len(set(keys))
        for row in rows:
            state = State(row.state)
            assert bool(row.claim) == (row.lease_until is not None) == (state is State.RUNNING)
            assert (row.ended_at is not None) == state.is_over
            assert (row.error is not None) == (state is State.FAILED)
            assert 0 <= row.attempts <= MOST_ATTEMPTS
            assert row.progress is None or 0.0 <= row.progress <= 1.0
            assert not (state is State.WAITING and row.cancel_asked)
            if state.is_over:
                assert self.over.setdefault(row.id, state) is state
        assert {row.id for row in rows} >= set(self.over)
        assert not any(
            State(row.state) is not self.over.get(row.id, State(row.state)) for row in rows
        )


Servers.TestCase.settings = settings(max_examples=25, stateful_step_count=30, deadline=None)
TestServers = Servers.TestCase
