"""The processes that do the work: progress, cancel, crashes, the end of the server."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from time import monotonic, sleep

import psutil
import pytest

from cagewise.web.jobs import Job, Jobs, State
from cagewise.web.jobs.workers import Workers, at_work
from cagewise.web.keeping import Workbench
from support import job_kinds

PATIENCE_S = 60.0


@pytest.fixture(autouse=True)
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    job_kinds.patch(monkeypatch)


@contextmanager
def server(folder: Path, most: int = 1) -> Iterator[Jobs]:
    """What a server does about jobs."""
    with Workbench.open(folder) as bench:
        jobs = Jobs(bench)
        with at_work(Workers(jobs, folder, most)):
            yield jobs


def until(jobs: Jobs, job: Job, good: Callable[[Job], bool]) -> Job:
    """Wait until a job is as it should be."""
    deadline = monotonic() + PATIENCE_S
    while not good(found := jobs.get(job.id)):
        assert monotonic() < deadline, found
        assert not found.state.is_over, found
        sleep(0.02)
    return found


def over(job: Job) -> bool:
    return job.state.is_over


def running(job: Job) -> bool:
    return job.state is State.RUNNING and job.words != ""


def begun(folder: Path, name: str = "") -> list[int]:
    """Return the processes that have begun a job."""
    path = folder / f"begun-{name}.txt"
    return [int(line) for line in path.read_text().split()] if path.exists() else []


def test_a_job_is_done_and_tells_how_far_it_is(plant_folder: Path) -> None:
    with server(plant_folder) as jobs:
        job = jobs.submit("sleep", {"steps": 30}, title="Sleep", by="")
        seen = until(jobs, job, lambda found: (found.progress or 0.0) > 0.0)
        assert seen.words.startswith("step ")
        done = until(jobs, job, over)
    assert (done.state, done.progress, done.result) == (State.DONE, 1.0, {"begun": 1, "see": "/"})
    assert begun(plant_folder) != [os.getpid()]


@pytest.mark.parametrize("kind", ["sleep", "stubborn"])
def test_a_job_is_cancelled_within_a_second(plant_folder: Path, kind: str) -> None:
    with server(plant_folder) as jobs:
        job = jobs.submit(kind, {"steps": 1000}, title="Long", by="")
        until(jobs, job, running)
        asked = monotonic()
        jobs.cancel(job.id)
        ended = until(jobs, job, over)
        took = monotonic() - asked
    assert ended.state is State.CANCELLED
    assert took < 1.0
    assert not psutil.pid_exists(begun(plant_folder)[0])


def test_another_server_may_be_asked_to_cancel(plant_folder: Path) -> None:
    with server(plant_folder) as jobs, Workbench.open(plant_folder) as other:
        job = jobs.submit("sleep", {"steps": 1000}, title="Long", by="")
        until(jobs, job, running)
        asked = monotonic()
        Jobs(other).cancel(job.id)
        assert until(jobs, job, over).state is State.CANCELLED
        assert monotonic() - asked < 1.0


def test_errors_are_kept_with_their_remedy(
    plant_folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with server(plant_folder, most=2) as jobs:
        failing = jobs.submit("fail", {}, title="", by="")
        broken = jobs.submit("broken", {}, title="", by="")
        failed, fault = until(jobs, failing, over), until(jobs, broken, over)
    assert failed.fault is not None
    assert (failed.fault.kind, failed.fault.what) == ("store-full", "no space is left")
    assert failed.fault.remedy == "Make <b>space</b>."
    assert fault.fault is not None
    assert fault.fault.kind == "fault"
    [reference] = [word for word in fault.fault.remedy.split() if word in caplog.text]
    assert len(reference) == 8
    assert "ZeroDivisionError" in caplog.text


def test_a_crash_harms_nobody_and_the_job_is_begun_again(plant_folder: Path) -> None:
    with server(plant_folder, most=2) as jobs:
        other = jobs.submit("sleep", {"steps": 60, "name": "other"}, title="Other", by="")
        twice = jobs.submit("die", {"times": 2, "name": "twice"}, title="Dies twice", by="")
        assert until(jobs, twice, over).result == {"begun": 3}
        assert until(jobs, other, over).result == {"begun": 1, "see": "/"}
        always = jobs.submit("die", {"times": 99, "name": "always"}, title="Dies", by="")
        failed = until(jobs, always, over)
    assert failed.state is State.FAILED
    assert failed.fault is not None
    assert "killed by SIGKILL" in failed.fault.what
    assert len(begun(plant_folder, "always")) == 3


def test_ending_the_server_lets_the_job_wait_for_the_next_one(plant_folder: Path) -> None:
    with server(plant_folder) as jobs:
        job = jobs.submit("sleep", {"steps": 40}, title="Long", by="")
        until(jobs, job, running)
    [first] = begun(plant_folder)
    assert not psutil.pid_exists(first)
    with server(plant_folder) as jobs:
        assert jobs.get(job.id).attempts <= 1
        assert until(jobs, job, over).result == {"begun": 2, "see": "/"}


def test_two_servers_share_the_work_and_do_each_piece_once(plant_folder: Path) -> None:
    with ExitStack() as stack:
        first = stack.enter_context(server(plant_folder))
        second = stack.enter_context(server(plant_folder))
        asked = [
            (first, second)[n % 2].submit("once", {"name": f"{n}"}, title=f"{n}", by="")
            for n in range(6)
        ]
        results = [until(first, job, over).result for job in asked]
    assert results == [{"begun": 1}] * 6


def test_a_killed_worker_is_replaced_at_once(plant_folder: Path) -> None:
    with server(plant_folder) as jobs:
        job = jobs.submit("sleep", {"steps": 30}, title="Long", by="")
        until(jobs, job, running)
        os.kill(begun(plant_folder)[0], signal.SIGKILL)
        done = until(jobs, job, over)
    assert (done.result["begun"], done.attempts) == (2, 2)
