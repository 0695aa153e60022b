"""Processes that do work on a plant and can be killed; they start from one that is warm."""

from __future__ import annotations

import multiprocessing
import os
import resource
import signal
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from tempfile import TemporaryDirectory

from cagewise.errors import CagewiseError
from cagewise.store import Plant, export, restore
from cagewise.workflows.plant_import import ImportOptions, import_files
from support.plants import DAY, examination_of, import_file, motor_file

Step = Callable[[str], None]
PATIENCE_S = 60.0
"""Time after which a process is taken to hang."""

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(["support.processes", "cagewise.machine.motor_build"])


@dataclass(frozen=True)
class Killer:
    """A step that kills its own process at its n-th call."""

    at: int

    def step(self) -> Step:
        """Return the step."""
        calls = 0

        def count(_name: str) -> None:
            nonlocal calls
            calls += 1
            if calls == self.at:
                os.kill(os.getpid(), signal.SIGKILL)

        return count


Work = Callable[[Path, Step, Callable[[str], None]], None]
"""Work on a folder; it says what it has finished through the last argument."""


def create(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Create a plant."""
    Plant.create(folder / "plant", database=database_of(folder), step=step).close()
    say("created")


def import_all(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Import and examine all files beside a plant, and write a message about each."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        for path in sorted((folder / "files").iterdir()):
            motor = plant.motors.find("P-101")
            visit = plant.visits.on(motor, DAY)
            kept = import_file(plant, path, visit)
            say(f"imported {path.name}")
            new = examination_of(kept, motor.nameplate_id)
            with plant.writing():
                plant.examinations.add(visit, new)
                plant.outbox.put("webhook", path.name, {})
            say(f"examined {path.name}")


def import_folder(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Import all files beside a plant as the command does: many are kept together."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        for report in import_files(plant, [folder / "files"], ImportOptions(tag="P-101", day=DAY)):
            say(f"{report.fate} {report.path.name}")


def migrate(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Open a plant, which brings it up to date."""
    Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S).close()
    say("migrated")


def export_all(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Export a plant over an older archive."""
    with Plant.open(folder / "plant", patience_s=PATIENCE_S) as plant:
        export(plant, folder / "plant.zip", overwrite=True, step=step)
    say("exported")


def restore_all(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Restore a plant."""
    restore(folder / "plant.zip", folder / "again", step=step)
    say("restored")


def send_all(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Send all messages; sending is saying."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        while claimed := plant.outbox.claim(most=3):
            for message in claimed:
                say(f"{message.key} {message.attempts}")
                plant.outbox.done(message)


def add_motors(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Add motors, each with an edit."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        for n in range(20):
            motor = plant.motors.add(motor_file(f"{os.getpid()}-{n}"))
            plant.motors.edit(motor, motor_file(motor.tag) + "# edited\n")
            say(motor.tag)


def database_of(folder: Path) -> str:
    """Return the database that a test wants, from a file beside the plant."""
    path = folder / "database.txt"
    return path.read_text() if path.is_file() else "history.sqlite"


class Child:
    """A process that works on a folder."""

    def __init__(self, work: Work, folder: Path, *, kill_at: int = 0) -> None:
        self._ours, theirs = _CONTEXT.Pipe(duplex=False)
        self._process: ForkServerProcess = _CONTEXT.Process(
            target=_run, args=(work, folder, kill_at, theirs)
        )
        self._process.start()
        theirs.close()
        self.said: list[str] = []

    def listen(self, seconds: float) -> bool:
        """Take in what is said, for at most so long; return whether the process still runs."""
        self._process.join(seconds)
        return self._process.is_alive()

    def kill(self) -> None:
        """End the process at once."""
        self._process.kill()

    def end(self) -> int:
        """Wait for the end; return its status, negative when killed."""
        try:
            while self._ours.poll(PATIENCE_S):
                self.said.append(self._ours.recv())
        except EOFError:
            pass
        self._process.join(PATIENCE_S)
        status = self._process.exitcode
        self._process.close()
        self._ours.close()
        assert status is not None, "the process hangs"
        return status


def _run(work: Work, folder: Path, kill_at: int, out: Connection) -> None:
    work(folder, Killer(kill_at).step(), out.send)
    out.close()


def keep_large_with_small_files(folder: Path) -> None:
    """Keep a file while the system lets no file grow that large."""
    with Plant.open(folder) as plant:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, 1_000_000))
        plant.measurements.keep_original(bytes(3_000_000), "large.dat")


NOBODY = 65534
"""User and group without rights."""


def become_nobody() -> None:
    """Give up all rights, after everything that is imported late was imported."""
    with TemporaryDirectory() as folder, Plant.create(Path(folder) / "plant") as plant:
        plant.measurements.keep_original(b"warm", "warm.dat")
        plant.motors.add(motor_file())
    if os.geteuid() == 0:
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def write_as_nobody(folder: Path) -> None:
    """Write to a plant without the rights of its owner."""
    become_nobody()
    with Plant.open(folder) as plant:
        plant.measurements.keep_original(b"new", "new.dat")


def read_as_nobody(folder: Path) -> None:
    """Read a plant in a folder that may only be read."""
    become_nobody()
    with Plant.open(folder, read_only=True) as plant:
        [motor] = plant.motors.all()
        plant.measurements.originals.verify(sha256(b"kept before").hexdigest())
        assert plant.examinations.of_motor(motor) == []


def create_as_nobody(folder: Path) -> None:
    """Create a plant without the right to."""
    become_nobody()
    Plant.create(folder / "another")


def attempt(function: Callable[[Path], None], folder: Path) -> str:
    """Call a function in a process of its own; return the kind and message of its error."""
    ours, theirs = _CONTEXT.Pipe(duplex=False)
    process = _CONTEXT.Process(target=_attempt, args=(function, folder, theirs))
    process.start()
    theirs.close()
    said: str = ours.recv() if ours.poll(PATIENCE_S) else "hangs"
    process.join(PATIENCE_S)
    process.close()
    ours.close()
    return said


def _attempt(function: Callable[[Path], None], folder: Path, out: Connection) -> None:
    try:
        function(folder)
    except CagewiseError as error:
        out.send(f"{type(error).__name__}: {error.what}")
    else:
        out.send("done")
    out.close()


def run_at_once(children: Sequence[Child]) -> list[list[str]]:
    """Wait for processes that must all succeed; return what each said."""
    assert [child.end() for child in children] == [0] * len(children)
    return [child.said for child in children]
