"""Kinds of work to test with: they sleep, fail, die, and count how often they were begun."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Mapping
from typing import Any

import pytest
from pydantic import ConfigDict

from cagewise.errors import StoreFullError
from cagewise.store import Plant
from cagewise.web.jobs import kinds
from cagewise.web.jobs.kinds import Arguments, Tell


class Anything(Arguments):
    """Takes whatever it is given."""

    model_config = ConfigDict(extra="allow")


TEST_KINDS = ("sleep", "stubborn", "die", "fail", "broken", "once")


def install() -> None:
    """Let this process know the kinds for good."""
    for name in TEST_KINDS:
        kinds.KINDS[name] = (Anything, f"support.job_kinds:{name}")


def patch(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let this process know the kinds during a test."""
    for name in TEST_KINDS:
        monkeypatch.setitem(kinds.KINDS, name, (Anything, f"support.job_kinds:{name}"))


def _begun(plant: Plant, arguments: Mapping[str, Any]) -> int:
    """Note that it was begun, with the process; return how often it was."""
    path = plant.folder / f"begun-{arguments.get('name', '')}.txt"
    with path.open("a") as stream:
        stream.write(f"{os.getpid()}\n")
    return len(path.read_text().split())


def sleep(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Sleep in steps, telling each."""
    count = _begun(plant, arguments)
    steps = int(arguments.get("steps", 10))
    for n in range(steps):
        tell(n / steps, f"step {n}")
        time.sleep(0.05)
    return {"begun": count, "see": "/"}


def stubborn(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> None:
    """Do not listen to anybody."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    _begun(plant, arguments)
    tell(None, "not listening")
    time.sleep(60)


def die(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:  # noqa: ARG001 - a kind
    """Kill the own process the first times."""
    count = _begun(plant, arguments)
    if count <= int(arguments["times"]):
        os.kill(os.getpid(), signal.SIGKILL)
    return {"begun": count}


def fail(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> None:  # noqa: ARG001 - a kind
    """Raise an error of ours."""
    raise StoreFullError(
        "no space is left", where="/secret/place/run.dat", remedy="Make <b>space</b>."
    )


def broken(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> None:  # noqa: ARG001 - a kind
    """Raise what is a fault of the program."""
    raise ZeroDivisionError


def once(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Write a file that must be written once by one process at a time."""
    name = str(arguments["name"])
    own = plant.folder / f"own-{name}"
    with own.open("x"):
        tell(0.5, "alone")
        time.sleep(0.05)
    own.unlink()
    return {"begun": _begun(plant, arguments)}
