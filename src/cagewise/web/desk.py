"""What every request works with."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, cast

from fastapi import Depends, Request

from cagewise.errors import UsageError
from cagewise.store import Plant
from cagewise.web.jobs import Jobs
from cagewise.web.keeping import Workbench
from cagewise.web.prepared import Prepared
from cagewise.web.security.accounts import Accounts
from cagewise.web.security.forms import Forms
from cagewise.web.security.origins import is_loopback
from cagewise.web.security.rates import LoginRates
from cagewise.web.security.sessions import Sessions, Tokens
from cagewise.web.settings import WebSettings
from cagewise.web.uploads import Uploads

if TYPE_CHECKING:
    from starlette.requests import HTTPConnection


@dataclass(slots=True, kw_only=True)
class Desk:
    """The open plant and what serves it; one per server, used by all its threads.

    Further members (prepared pictures) are added by the packages that own them.
    """

    settings: WebSettings
    plant: Plant
    """Open for as long as the server runs; every thread has its own session in it."""
    workbench: Workbench
    """What the workbench keeps for itself."""
    accounts: Accounts
    sessions: Sessions
    tokens: Tokens
    forms: Forms
    logins: LoginRates
    """In memory: forgotten when the server ends."""
    jobs: Jobs
    """Long work; whether this server does any of it is not known here."""
    uploads: Uploads
    """Files on their way into the plant."""
    prepared: Prepared = field(default_factory=Prepared)
    """Pictures that were made, as many as memory is given for."""


@contextmanager
def open_desk(settings: WebSettings) -> Iterator[Desk]:
    """Open the plant and what serves it.

    Raises
    ------
    UsageError
        If it would be served to others without their having to log in.
    StoreError
        If the plant, or what the workbench keeps, cannot be opened.
    """
    reachable = settings.behind_proxy or not is_loopback(settings.host)
    if reachable and not settings.allow_remote:
        raise UsageError(
            "others could reach the workbench there",
            where="--behind-proxy" if settings.behind_proxy else "--host",
            remedy="Say --allow-remote if they shall; then everybody needs an account.",
        )
    with Plant.open(settings.plant) as plant, Workbench.open(settings.plant) as workbench:
        accounts = Accounts(workbench)
        if settings.allow_remote and not accounts.has_admin():
            raise UsageError(
                "there is no account that may manage the others",
                where="--allow-remote",
                remedy='Make one first: "cagewise account add NAME --right admin".',
            )
        yield Desk(
            settings=settings,
            plant=plant,
            workbench=workbench,
            accounts=accounts,
            sessions=Sessions(workbench),
            tokens=Tokens(workbench),
            forms=Forms(workbench),
            logins=LoginRates(),
            jobs=Jobs(workbench),
            uploads=Uploads(workbench, plant.folder),
        )


def desk_of(request: HTTPConnection) -> Desk:
    """Return the desk of the server."""
    return cast("Desk", request.app.state.desk)


def _desk(request: Request) -> Desk:
    return desk_of(request)


AtDesk = Annotated[Desk, Depends(_desk)]
"""Parameter of a route that works with the plant."""
