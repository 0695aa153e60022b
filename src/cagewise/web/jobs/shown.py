"""Jobs as they are told to people and programs."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from cagewise.store import MotorEntry
from cagewise.web.jobs.records import Job, JobFault, State
from cagewise.web.problems import without_folders

STATE_WORDS = {
    State.WAITING: "waits",
    State.RUNNING: "goes on",
    State.DONE: "done",
    State.FAILED: "failed",
    State.CANCELLED: "cancelled",
}


def import_title(motor: MotorEntry, names: list[str]) -> str:
    """Return what an import is, for people."""
    what = names[0] if len(names) == 1 else f"{len(names)} files"
    return f"Import of {what} for {motor.tag}"


def examine_title(motor: MotorEntry, day: date | None) -> str:
    """Return what an examination is, for people."""
    return f"Examination of {motor.tag}, " + ("the latest visit" if day is None else f"{day}")


def reexamine_title(motor: MotorEntry | None) -> str:
    """Return what examining again is, for people."""
    of = "all motors" if motor is None else motor.tag
    return f"Examination by this version of the program: {of}"


EXPORT_TITLE = "Export of the whole plant"


def fault_of(job: Job, *, hide_paths: bool) -> JobFault | None:
    """Return why a job failed, without folders of this machine where others may read it."""
    if job.fault is None or not hide_paths:
        return job.fault
    said: dict[str, Any] = {name: without_folders(text) for name, text in asdict(job.fault).items()}
    return JobFault(**said)
