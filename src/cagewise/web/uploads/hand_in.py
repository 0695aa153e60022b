"""What pages and the interface both do: receive a file, and ask for its import."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import date
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.errors import UsageError
from cagewise.web.jobs import Job
from cagewise.web.jobs.shown import import_title
from cagewise.web.security.refusal import RefusedError
from cagewise.web.uploads.receive import pour
from cagewise.web.uploads.records import Upload
from cagewise.web.uploads.shelf import Uploads

if TYPE_CHECKING:
    from cagewise.web.desk import Desk


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is said about files that are to be imported."""

    motor_id: int
    day: date | None
    """When recordings that do not say it were made."""
    examine: bool
    by: str


async def receive(
    uploads: Uploads, upload_id: str, offset: int, stream: AsyncIterator[bytes]
) -> Upload:
    """Receive a file, or the next part of it."""
    writer = await asyncio.to_thread(uploads.write, upload_id, offset)
    return await pour(stream, writer)


def import_batch(desk: Desk, ask: Ask, batch: str) -> Job:
    """Ask for the import of files that were sent together.

    Raises
    ------
    NotKeptError
        If there is no such motor or batch.
    AlreadyKeptError
        If not all files are whole.
    """
    motor = desk.plant.motors.get(ask.motor_id)
    files = desk.uploads.hand_over(batch, ask.motor_id)
    title = import_title(motor, [each.name for each in files])
    job = desk.jobs.submit("import", _arguments(ask) | {"batch": batch}, title=title, by=ask.by)
    desk.uploads.assign(batch, job)
    return job


def import_folder(desk: Desk, ask: Ask, folder: str) -> Job:
    """Ask for the import of a folder of this machine.

    Raises
    ------
    RefusedError
        If the workbench serves others: they have no business with the folders of this machine.
    UsageError
        If there is no such folder.
    """
    if desk.settings.allow_remote:
        raise RefusedError(
            HTTPStatus.FORBIDDEN,
            "folders of the server are only imported where it serves nobody else",
            remedy="Send the files.",
        )
    motor = desk.plant.motors.get(ask.motor_id)
    path = Path(folder)
    if not path.is_absolute() or not path.exists():
        raise UsageError(
            "there is no such folder on this machine", where=folder, remedy="Name its whole path."
        )
    title = import_title(motor, [path.name])
    return desk.jobs.submit("import", _arguments(ask) | {"folder": folder}, title=title, by=ask.by)


def _arguments(ask: Ask) -> dict[str, object]:
    day = None if ask.day is None else ask.day.isoformat()
    return {"motor_id": ask.motor_id, "day": day, "examine": ask.examine}
