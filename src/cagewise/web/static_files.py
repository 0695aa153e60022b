"""The style sheet and the scripts: kept by the browser for as long as they do not change."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from os import PathLike, stat_result
from pathlib import Path
from urllib.parse import parse_qs

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

FOLDER = Path(__file__).parent / "static"
FOREVER = "public, max-age=31536000, immutable"
"""For an address that names the content."""
_ASK = "no-cache"
"""Keep it, and ask every time whether it is still the same."""
_DIGITS = 12


@cache
def static(name: str) -> str:
    """Return the address of a static file; it changes when the file does.

    Parameters
    ----------
    name
        Of the file in ``static``, as ``style.css``.
    """
    return f"/static/{name}?v={version_of(name)}"


@cache
def version_of(name: str) -> str:
    """Return the beginning of the checksum of a static file."""
    return sha256((FOLDER / name).read_bytes()).hexdigest()[:_DIGITS]


class Static(StaticFiles):
    """The static files; nothing else in the folder of the program is reached."""

    def __init__(self) -> None:
        super().__init__(directory=FOLDER, follow_symlink=False)

    def file_response(
        self,
        full_path: str | PathLike[str],
        stat_result: stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """Return a file with the word for how long it may be kept."""
        response = super().file_response(full_path, stat_result, scope, status_code)
        stated = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("v", [""])[0]
        name = Path(full_path).relative_to(FOLDER.resolve()).as_posix()
        response.headers["cache-control"] = FOREVER if stated == version_of(name) else _ASK
        return response
