"""How errors are told: what, where, remedy, and the status that fits.

=========================  ======  ==============================================================
error                      status  when
=========================  ======  ==============================================================
``UsageError``             400     asked in a way that makes no sense
``InputError`` and kinds   422     a file, a nameplate, a sheet, a value cannot be used
``NotKeptError``           404     the plant knows nothing of that name
``AlreadyKeptError``       409     the plant has one of that name that says something else
``StoreLockedError``       423     somebody else writes; try again
``StoreFullError``         507     no space is left
``StoreReadOnlyError``     403     the plant may be read, not written
``StoreUnreachableError``  503     the database or the place of the waveforms does not answer
``NewerSchemaError``       503     a later version of the program has written the plant
``ArchiveError``           422     an archive cannot be restored
``SimulationError``        422     the machine described cannot be computed
``MissingExtraError``      501     an optional part of the installation is needed
``RefusedError``              its     not logged in 401, may not 403, too large 413, compressed 415,
                                   another's name 421, too often 429
any other of ours          500     said in words: missing or damaged files of the plant
anything else              500     a fault of the program: only a reference number is shown
=========================  ======  ==============================================================

Interfaces get it as ``application/problem+json`` (RFC 9457), people as a page.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from http import HTTPStatus

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from cagewise.errors import (
    AlreadyKeptError,
    ArchiveError,
    CagewiseError,
    InputError,
    MissingExtraError,
    NewerSchemaError,
    NotKeptError,
    SimulationError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
    UsageError,
)
from cagewise.web.security.refusal import RefusedError

MEDIA_TYPE = "application/problem+json"
_LOCKED_RETRY_S = 5

STATUS: tuple[tuple[type[CagewiseError], HTTPStatus], ...] = (
    (UsageError, HTTPStatus.BAD_REQUEST),
    (InputError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (NotKeptError, HTTPStatus.NOT_FOUND),
    (AlreadyKeptError, HTTPStatus.CONFLICT),
    (StoreLockedError, HTTPStatus.LOCKED),
    (StoreFullError, HTTPStatus.INSUFFICIENT_STORAGE),
    (StoreReadOnlyError, HTTPStatus.FORBIDDEN),
    (StoreUnreachableError, HTTPStatus.SERVICE_UNAVAILABLE),
    (NewerSchemaError, HTTPStatus.SERVICE_UNAVAILABLE),
    (ArchiveError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (SimulationError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (MissingExtraError, HTTPStatus.NOT_IMPLEMENTED),
)
"""First match counts; what is not listed is a fault of the plant or of the program."""

TITLES = {
    HTTPStatus.BAD_REQUEST: "This makes no sense",
    HTTPStatus.UNAUTHORIZED: "Log in first",
    HTTPStatus.FORBIDDEN: "Not allowed",
    HTTPStatus.NOT_FOUND: "Not here",
    HTTPStatus.METHOD_NOT_ALLOWED: "Not done at this address",
    HTTPStatus.CONFLICT: "There is one already",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "Too large",
    HTTPStatus.UNSUPPORTED_MEDIA_TYPE: "Not in this form",
    HTTPStatus.MISDIRECTED_REQUEST: "Not under this name",
    HTTPStatus.UNPROCESSABLE_ENTITY: "This cannot be used",
    HTTPStatus.LOCKED: "Somebody else is writing",
    HTTPStatus.TOO_MANY_REQUESTS: "Too often",
    HTTPStatus.INTERNAL_SERVER_ERROR: "This went wrong",
    HTTPStatus.NOT_IMPLEMENTED: "Not installed",
    HTTPStatus.SERVICE_UNAVAILABLE: "Not now",
    HTTPStatus.INSUFFICIENT_STORAGE: "No space left",
}


class Fault(BaseModel):
    """One value of a request that cannot be used."""

    where: str = Field(description="Name of the value, as body.rated_power_kw.")
    what: str = Field(description="What is wrong with it.")


class Problem(BaseModel):
    """An error, as RFC 9457 words it."""

    type: str = Field(description="Kind of the error: urn:cagewise:problem:KIND.")
    title: str = Field(description="The error in a few words; the same for every one of a status.")
    status: int = Field(description="HTTP status.")
    detail: str = Field(description="What is wrong.")
    where: str = Field("", description="File, line, key or value in question.")
    remedy: str = Field("", description="What can be done about it.")
    reference: str = Field("", description="Number under which the log of the server tells more.")
    faults: list[Fault] = Field(
        default_factory=list, description="Every value that cannot be used."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An error ready to be answered."""

    problem: Problem
    headers: dict[str, str] = field(default_factory=dict)
    bare: bool = False
    """Say nothing about the plant."""


def told(error: Exception, *, reference: str = "", hide_paths: bool) -> Told:
    """Return what is answered to an error.

    Parameters
    ----------
    error
        Any.
    reference
        Number of the entry in the log; only told where nothing else is.
    hide_paths
        Whether folders of this machine are left out of the words.
    """
    if isinstance(error, RefusedError):
        return _of_refusal(error)
    if isinstance(error, CagewiseError):
        return _of_ours(error, hide_paths=hide_paths)
    if isinstance(error, RequestValidationError):
        return _of_values(error)
    if isinstance(error, HTTPException):
        return _of_framework(error)
    status = HTTPStatus.INTERNAL_SERVER_ERROR
    remedy = f"Please report it with the reference {reference} and what the log says under it."
    problem = _problem(status, "fault", "This is a fault of the program.", remedy=remedy)
    return Told(problem=problem.model_copy(update={"reference": reference}))


def status_of(error: CagewiseError) -> HTTPStatus:
    """Return the status that fits an error of ours."""
    if isinstance(error, RefusedError):
        return error.status
    found = (status for kind, status in STATUS if isinstance(error, kind))
    return next(found, HTTPStatus.INTERNAL_SERVER_ERROR)


def _of_refusal(error: RefusedError) -> Told:
    headers = {}
    if error.retry_after_s is not None:
        headers["retry-after"] = str(error.retry_after_s)
    if error.status is HTTPStatus.UNAUTHORIZED:
        headers["www-authenticate"] = 'Bearer realm="cagewise"'
    problem = _problem(error.status, "refused", _sentence(error.what), remedy=error.remedy)
    return Told(problem=problem, headers=headers, bare=error.bare)


def _of_ours(error: CagewiseError, *, hide_paths: bool) -> Told:
    status = status_of(error)
    said = {"where": error.where, "remedy": error.remedy, "detail": error.what}
    if hide_paths:
        said = {name: without_folders(text) for name, text in said.items()}
    problem = _problem(status, kind_of(error), _sentence(said.pop("detail")), **said)
    locked = status is HTTPStatus.LOCKED
    return Told(problem=problem, headers={"retry-after": str(_LOCKED_RETRY_S)} if locked else {})


def _of_values(error: RequestValidationError) -> Told:
    """Say which values cannot be used, but not what they were."""
    faults = [
        Fault(where=".".join(str(part) for part in each["loc"]), what=str(each["msg"]))
        for each in error.errors()
    ]
    detail = "; ".join(f"{fault.where}: {fault.what}" for fault in faults[:3])
    problem = _problem(HTTPStatus.UNPROCESSABLE_ENTITY, "values", detail)
    return Told(problem=problem.model_copy(update={"faults": faults}))


def _of_framework(error: HTTPException) -> Told:
    status = HTTPStatus(error.status_code)
    detail = "There is nothing at this address." if status is HTTPStatus.NOT_FOUND else ""
    problem = _problem(status, "http", detail or _sentence(str(error.detail)))
    return Told(problem=problem, headers=dict(error.headers or {}))


def _problem(
    status: HTTPStatus, kind: str, detail: str, *, where: str = "", remedy: str = ""
) -> Problem:
    return Problem(
        type=f"urn:cagewise:problem:{kind}",
        title=TITLES.get(status, status.phrase),
        status=int(status),
        detail=detail,
        where=where,
        remedy=remedy,
    )


def kind_of(error: CagewiseError) -> str:
    """Return the kind of an error: ``not-kept`` for ``NotKeptError``."""
    words = re.findall(r"[A-Z][a-z]*", type(error).__name__.removesuffix("Error"))
    return "-".join(word.lower() for word in words)


def without_folders(text: str) -> str:
    """Return a text whose paths are reduced to the name of the file."""
    posix = re.sub(r"(?<![\w.:/])/(?:[^/\s'\"`]+/)+", "", text)
    return re.sub(r"\b[A-Za-z]:\\(?:[^\\\s'\"`]+\\)*", "", posix)


def _sentence(what: str) -> str:
    """Return a clause as a sentence."""
    whole = what[:1].upper() + what[1:]
    return whole if whole.endswith((".", "!", "?", ":")) or not whole else f"{whole}."
