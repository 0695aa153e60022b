"""The application: the desk, the routes, what guards them, and how errors are told."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from threading import Event

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import DEFAULT_EXCLUDED_CONTENT_TYPES, GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response

from cagewise import __version__
from cagewise.web.desk import Desk, open_desk
from cagewise.web.faults import Faults, answer
from cagewise.web.interface import describe
from cagewise.web.jobs.events import Streams
from cagewise.web.jobs.workers import Workers, at_work
from cagewise.web.routers import API, routers
from cagewise.web.security.bodies import Bodies
from cagewise.web.security.gate import Gate
from cagewise.web.security.headers import SafeHeaders
from cagewise.web.security.origins import Origins
from cagewise.web.security.rates import RequestRates
from cagewise.web.settings import WebSettings
from cagewise.web.static_files import Static

_COMPRESSION = 5
"""Level of gzip: a page of 100 kB takes a millisecond."""
_COMPRESSED_ALREADY = (*DEFAULT_EXCLUDED_CONTENT_TYPES, "application/octet-stream")


def create_app(settings: WebSettings) -> FastAPI:
    """Return the application of a plant.

    Parameters
    ----------
    settings
        Which plant, for whom.
    """

    @asynccontextmanager
    async def serving(app: FastAPI) -> AsyncIterator[None]:
        with open_desk(settings) as desk, at_work(_workers(desk)):
            app.state.desk = desk
            yield
            app.state.leaving.set()

    app = FastAPI(
        title="cagewise",
        version=__version__,
        lifespan=serving,
        openapi_url=f"{API}/openapi.json",
        docs_url=None,  # its page loads scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,
        middleware=guards(settings),
        exception_handlers={HTTPException: _told, RequestValidationError: _told},
    )
    app.state.leaving = Event()
    app.state.streams = Streams()
    for prefix, router in routers(settings):
        app.include_router(router, prefix=prefix)
    app.mount("/static", Static(), name="static")
    describe(app)
    return app


def _workers(desk: Desk) -> Workers:
    """Return what does long work for a server; what nobody needs any more is cleared first."""
    desk.jobs.forget_old()
    desk.uploads.clear()
    return Workers(
        desk.jobs, desk.plant.folder, desk.settings.processes, ended=desk.uploads.imported
    )


def guards(settings: WebSettings) -> list[Middleware]:
    """Return what stands before the routes, the outermost first."""
    return [
        Middleware(SafeHeaders),
        Middleware(Faults),
        Middleware(Origins, settings=settings),
        Middleware(RequestRates, settings=settings),
        Middleware(Gate),
        Middleware(Bodies, settings=settings),
        Middleware(
            GZipMiddleware,
            compresslevel=_COMPRESSION,
            exclude_content_types=_COMPRESSED_ALREADY,
        ),
    ]


async def _told(request: Request, error: Exception) -> Response:
    """Answer an error of the framework as any other."""
    return answer(request, error)
