"""Watchers that are killed: every file is taken once, every visit examined once, none is lost."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from cagewise.store import Plant
from support.kills import seeds_of_kills
from support.plants import SERVER, new_database
from support.processes import Child, run_at_once
from support.receivers import Web, wait_for, web
from support.watching import (
    FILES,
    KILN,
    drop,
    drop_all,
    make_table,
    require_each_once,
    send_the_rest,
    watch_once,
)

KILLED = -signal.SIGKILL


@contextmanager
def watching(folder: Path, *options: str) -> Iterator[subprocess.Popen[str]]:
    """Run the program itself."""
    command = [sys.executable, "-m", "cagewise", "watch", "in", "--plant", "plant"]
    command += ["--every", "0.1", "--rest", "0.3", *options]
    with subprocess.Popen(  # noqa: S603 - our own program
        command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def kill_on_arrival(process: subprocess.Popen[str], receiver: Web, count: int) -> None:
    """Kill a sender when its message has arrived and was not yet confirmed."""
    assert wait_for(lambda: len(receiver.got) >= count), "no message came"
    process.kill()
    process.wait(10)
    receiver.released.set()


@dataclass(frozen=True)
class Model:
    """A plant with files to watch, its receiver, and the steps of a watcher that nobody kills."""

    folder: Path
    receiver: Web
    steps: list[str]


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Model]:
    folder, steps = tmp_path_factory.mktemp("model"), list[str]()
    with web() as receiver:
        make_table(folder / "model", receiver.url)
        drop_all(folder / "model")
        shutil.copytree(folder / "model", folder / "free")
        watch_once(folder / "free", steps.append, lambda _: None)
        require_each_once(folder / "free", receiver.got)
        yield Model(folder / "model", receiver, steps)


AT = ("recording inserted", "examination complete", "examination committed", "claimed", "done")
"""Steps between what is joined here; those inside the store have their own test."""


@pytest.mark.parametrize("step", [*AT, pytest.param("every other", marks=pytest.mark.slow)])
def test_killed_at_a_step_a_second_round_completes(step: str, model: Model, tmp_path: Path) -> None:
    last = {name: n for n, name in enumerate(model.steps, start=1)}
    assert set(AT) <= last.keys()
    for name in [step] if step in AT else last.keys() - set(AT):
        folder = tmp_path / f"{last[name]}"
        shutil.copytree(model.folder, folder)
        model.receiver.got.clear()
        child = Child(watch_once, folder, kill_at=last[name])
        assert child.end() == KILLED, name
        watch_once(folder, lambda _: None, lambda _: None)
        send_the_rest(folder)
        require_each_once(folder, model.receiver.got)


@pytest.mark.parametrize("seed", seeds_of_kills(quick=1))
def test_the_program_is_killed_at_any_moment_while_files_come_in(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)  # noqa: S311 - to choose a moment
    waiting = [(tag, name) for tag, names in FILES.items() for name in names]
    chance.shuffle(waiting)
    with web("hang") as receiver:
        make_table(tmp_path, receiver.url)
        with watching(tmp_path) as process:
            drop(tmp_path, KILN, FILES[KILN][0])
            kill_on_arrival(process, receiver, 1)
        for _ in range(3):
            with watching(tmp_path) as process:
                time.sleep(chance.uniform(1.0, 3.0))
                for each in (waiting.pop() for _ in waiting[:2]):
                    drop(tmp_path, *each)
                time.sleep(chance.uniform(0.0, 1.5))
                process.kill()
        with watching(tmp_path, "--once") as process:
            assert process.wait(60) == 0, process.stdout.read() if process.stdout else ""
        send_the_rest(tmp_path)
        require_each_once(tmp_path, receiver.got)
        keys = [key for key, _ in receiver.got]
        assert keys.count(keys[0]) >= 2  # it had arrived, and nobody could know


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_asked_to_stop_the_program_finishes_its_step(
    number: signal.Signals, tmp_path: Path
) -> None:
    with web("hang") as receiver:
        make_table(tmp_path, receiver.url)
        drop(tmp_path, KILN, FILES[KILN][0])
        with watching(tmp_path) as process:
            assert wait_for(lambda: receiver.got)
            process.send_signal(number)
            time.sleep(0.2)
            receiver.plan.append(204)
            receiver.released.set()
            said, _ = process.communicate(timeout=30)
        assert process.returncode == 0, said
        assert said.splitlines()[-1].endswith("stopped")
        assert "Traceback" not in said
    with Plant.open(tmp_path / "plant") as plant:
        [left] = plant.outbox.unsent()
    assert left.last_error  # the step was finished: what came of it is noted


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_two_watchers_at_once_do_each_thing_once(database: str, tmp_path: Path) -> None:
    with ExitStack() as stack:
        url = "history.sqlite"
        if database == "postgresql":
            server = os.environ.get(SERVER)
            if not server:
                pytest.skip(f"no PostgreSQL server (set {SERVER} to its URL)")
            url = stack.enter_context(new_database(server))
        receiver = stack.enter_context(web())
        make_table(tmp_path, receiver.url, url)
        drop_all(tmp_path)
        said = run_at_once([Child(watch_once, tmp_path) for _ in range(2)])
        send_the_rest(tmp_path)
        require_each_once(tmp_path, receiver.got)
        assert sum(each.count("Examined") for each in said) == 3
        assert len(receiver.got) == 3
