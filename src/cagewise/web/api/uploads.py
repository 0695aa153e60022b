"""Files into the plant: sent, gone on with after a break, taken back, imported."""

from __future__ import annotations

import asyncio
from datetime import date, datetime
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from pydantic import BaseModel, ConfigDict, Field

from cagewise.web.api.jobs import JobAnswer, answer_of
from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.web.security.refusal import RefusedError
from cagewise.web.uploads import Upload
from cagewise.web.uploads.hand_in import Ask, import_batch, import_folder, receive

router = APIRouter(tags=["files"])

LARGEST = 2**53 - 1
MotorId = Annotated[int, Path(ge=1, le=2**63 - 1, description="Number of the motor.")]
UploadId = Annotated[
    str, Path(pattern="^[A-Za-z0-9_-]{1,64}$", description="Of the file on its way.")
]
_RAW = {
    "requestBody": {
        "required": False,
        "description": "The bytes of the file, as they are.",
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


class UploadAnswer(BaseModel):
    """A file on its way into the plant."""

    id: str
    motor_id: int
    batch: str = Field(description="Files that are sent together; say it with the next one.")
    name: str = Field(description="As it is kept: without folders and characters nobody sees.")
    size_bytes: int
    received_bytes: int = Field(description="On the disk for certain; go on from here.")
    whole: bool = Field(description="Nothing is missing.")
    sha256: str = Field(description="Of the whole file; empty until then.")
    made_at: datetime
    job_id: int | None = Field(description="The job that imports it.")


class ImportAsked(BaseModel):
    """What is to be imported: files that were sent together, or a folder of the server."""

    model_config = ConfigDict(extra="forbid")

    batch: str = Field("", pattern="^[0-9a-f]{0,32}$", description="Files sent together.")
    folder: str = Field(
        "",
        max_length=4096,
        description="Or a folder or file on the machine of the server; only where the workbench "
        "serves nobody else.",
    )
    day: date | None = Field(
        None, description="When recordings that do not say it themselves were made."
    )
    examine: bool = Field(True, description="Examine the visits they belong to afterwards.")


class FileSaid(BaseModel):
    """What is said about a file that is sent."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(min_length=1, max_length=1000, description="Name of the file.")
    size: int | None = Field(
        None, ge=1, le=LARGEST, description="Of all of it, if the body is not all of it."
    )
    batch: str = Field(
        "", pattern="^[0-9a-f]{0,32}$", description="Files it is sent together with."
    )


@router.post("/motors/{motor_id}/files", status_code=HTTPStatus.CREATED, openapi_extra=_RAW)
async def send(
    request: Request,
    desk: AtDesk,
    visitor: MayWrite,
    motor_id: MotorId,
    said: Annotated[FileSaid, Query()],
) -> UploadAnswer:
    """Send a file of a motor, or announce it (no body, with ``size``) to send it in parts."""
    whole = said.size or _announced(request)
    largest = desk.settings.largest_upload_bytes
    if whole > largest:
        raise RefusedError(
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
            f"files of more than {largest >> 20} MiB are not taken",
            remedy="Start the workbench with a larger limit, or record for a shorter time.",
        )
    await asyncio.to_thread(desk.plant.motors.get, motor_id)
    upload = await asyncio.to_thread(
        desk.uploads.begin, motor_id, said.name, whole, batch=said.batch, by=visitor.name
    )
    if request.headers.get("content-length", "") != "0":
        upload = await receive(desk.uploads, upload.id, 0, request.stream())
    return answer(upload)


@router.get("/uploads/{upload_id}")
def upload(desk: AtDesk, _: MayRead, upload_id: UploadId) -> UploadAnswer:
    """Return how much of a file has been received."""
    return answer(desk.uploads.get(upload_id))


@router.patch("/uploads/{upload_id}", openapi_extra=_RAW)
async def go_on(
    request: Request,
    desk: AtDesk,
    _: MayWrite,
    upload_id: UploadId,
    offset: Annotated[int, Query(ge=0, le=LARGEST, description="As much as was received.")],
) -> UploadAnswer:
    """Send the rest of a file, or a part of it."""
    return answer(await receive(desk.uploads, upload_id, offset, request.stream()))


@router.delete("/uploads/{upload_id}", status_code=HTTPStatus.NO_CONTENT)
def take_back(desk: AtDesk, _: MayWrite, upload_id: UploadId) -> None:
    """Take a file back that is not imported yet."""
    desk.uploads.remove(upload_id)


@router.post("/motors/{motor_id}/imports", status_code=HTTPStatus.ACCEPTED)
def import_files(
    desk: AtDesk, visitor: MayWrite, motor_id: MotorId, asked: ImportAsked
) -> JobAnswer:
    """Import files that were sent together; a job does it."""
    ask = Ask(motor_id=motor_id, day=asked.day, examine=asked.examine, by=visitor.name)
    if asked.folder:
        return answer_of(import_folder(desk, ask, asked.folder), desk)
    return answer_of(import_batch(desk, ask, asked.batch), desk)


def answer(upload: Upload) -> UploadAnswer:
    """Return a file on its way as it is answered."""
    return UploadAnswer(
        id=upload.id,
        motor_id=upload.motor_id,
        batch=upload.batch,
        name=upload.name,
        size_bytes=upload.size_bytes,
        received_bytes=upload.received_bytes,
        whole=upload.is_whole,
        sha256=upload.checksum,
        made_at=upload.made_at,
        job_id=upload.job_id,
    )


def _announced(request: Request) -> int:
    """Return how many bytes the body of a request has."""
    stated = request.headers.get("content-length", "")
    if not (stated.isascii() and stated.isdecimal()):
        raise RefusedError(
            HTTPStatus.LENGTH_REQUIRED,
            "neither the request nor size says how large the file is",
            remedy="Send the length of the body, or ?size=BYTES.",
        )
    return int(stated)
