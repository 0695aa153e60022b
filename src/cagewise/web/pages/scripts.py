"""The plotting library, from its installed package: nothing is fetched from elsewhere."""

from __future__ import annotations

import gzip
from functools import cache
from importlib import metadata, resources

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from cagewise.web.security.access import MayRead

router = APIRouter(include_in_schema=False)

FOREVER = "public, max-age=31536000, immutable"
"""The version is part of the address: what is there never changes."""
COMPRESSION = 6


@cache
def plotly_address() -> str:
    """Return the address of the plotting library."""
    return f"/scripts/plotly-{metadata.version('plotly')}.min.js"


@cache
def _plotly() -> bytes:
    """Return the library."""
    return resources.files("plotly").joinpath("package_data", "plotly.min.js").read_bytes()


@cache
def _plotly_packed() -> bytes:
    """Return the library compressed, a third as long."""
    return gzip.compress(_plotly(), COMPRESSION, mtime=0)


@router.get("/scripts/plotly.js")
def plotly_of_today(_: MayRead) -> RedirectResponse:
    """Lead to the version that is installed."""
    return RedirectResponse(plotly_address(), headers={"Cache-Control": "no-cache"})


@router.get("/scripts/{name}")
def plotly(name: str, request: Request, _: MayRead) -> Response:
    """Return the plotting library."""
    if f"/scripts/{name}" != plotly_address():
        return Response(status_code=404)
    packed = "gzip" in request.headers.get("accept-encoding", "")
    headers = {"Cache-Control": FOREVER, "Vary": "Accept-Encoding"}
    if packed:
        headers["Content-Encoding"] = "gzip"
    content = _plotly_packed() if packed else _plotly()
    return Response(content, media_type="text/javascript; charset=utf-8", headers=headers)
