"""Workbenches to test with: a plant served to a client in this process."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any, TypeVar

from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from cagewise.web.app import create_app
from cagewise.web.desk import Desk
from cagewise.web.keeping import Workbench
from cagewise.web.security.accounts import Accounts
from cagewise.web.security.rights import Right
from cagewise.web.settings import WebSettings

Result = TypeVar("Result")
HERE = "http://127.0.0.1:8730"
PASSWORD = "four words are enough"  # noqa: S105 - of an invented account
WHEN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
HTML = {"accept": "text/html"}


@dataclass
class Clock:
    """A clock that a test sets."""

    now: datetime = WHEN

    def __call__(self) -> datetime:
        return self.now

    def pass_by(self, time: timedelta) -> None:
        self.now += time


@dataclass
class Bench:
    """A served plant, and a browser that talks to it."""

    app: FastAPI
    client: TestClient

    @property
    def desk(self) -> Desk:
        """What the server works with."""
        found: Desk = self.app.state.desk
        return found

    def mark(self, path: str = "/account") -> str:
        """Return the mark of the forms of a page."""
        return mark_of(self.client.get(path, headers=HTML))

    def post(self, path: str, *, page: str = "/account", **fields: str) -> Response:
        """Fill in a form of a page and send it."""
        fields["csrf"] = self.mark(page)
        return self.client.post(path, data=fields, headers=HTML, follow_redirects=False)

    def log_in(self, name: str, password: str = PASSWORD, **fields: str) -> Response:
        """Log in at the door."""
        return self.post("/login", page="/login", name=name, password=password, **fields)

    def another_browser(self) -> Bench:
        """Return a browser without any cookie."""
        return replace(self, client=TestClient(self.app, base_url=str(self.client.base_url)))


@contextmanager
def served(
    folder: Path,
    *,
    address: str = HERE,
    accounts: tuple[tuple[str, Right], ...] = (),
    **said: Any,
) -> Iterator[Bench]:
    """Serve a plant, with these accounts, all of the same password."""
    if accounts:
        with Workbench.open(folder) as workbench:
            for name, right in accounts:
                Accounts(workbench).add(name, PASSWORD, right)
    app = create_app(replace(WebSettings(plant=folder), **said))
    with TestClient(app, base_url=address, raise_server_exceptions=True) as client:
        yield Bench(app, client)


def mark_of(answer: Response) -> str:
    """Return the mark that a page gives its forms."""
    found = re.search(r'<meta name="csrf" content="([^"]*)">', answer.text)
    assert found is not None, answer.text
    return unescape(found[1])


def in_own_loop(work: Coroutine[Any, Any, Result]) -> Result:
    """Run something in a loop of its own: the browser of other tests keeps that of this thread."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()
