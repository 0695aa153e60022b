"""Photographs and papers: received under safe names, given back so that no browser runs them."""

from __future__ import annotations

import shutil
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from urllib.parse import quote

from fastapi.responses import FileResponse
from starlette.datastructures import UploadFile

from cagewise.errors import InputError
from cagewise.store import Attachment
from cagewise.web.settings import MEBIBYTE

LARGEST_BYTES = 64 * MEBIBYTE
"""Of one file: a scanned report, not a film."""
MOST_FILES = 20
LONGEST_NAME_BYTES = 180
"""In UTF-8: file systems take 255, and the store puts nothing before it."""
UNNAMED = "file"

_IMAGES: tuple[tuple[bytes, int, bytes, str], ...] = (
    (b"\xff\xd8\xff", 0, b"", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", 0, b"", "image/png"),
    (b"GIF87a", 0, b"", "image/gif"),
    (b"GIF89a", 0, b"", "image/gif"),
    (b"RIFF", 8, b"WEBP", "image/webp"),
)
"""First bytes, and others further on, of images in which nothing can run. Drawings (SVG) are none
of them."""
_HEAD_BYTES = 16


@contextmanager
def received(files: Sequence[UploadFile]) -> Iterator[list[Path]]:
    """Put files that were sent into a passing folder, under names without harm.

    Raises
    ------
    InputError
        If there are too many, or one is too large.
    """
    sent = [file for file in files if file.filename or file.size]
    if len(sent) > MOST_FILES:
        raise InputError(f"more than {MOST_FILES} files at once", where="files")
    for file in sent:
        if (file.size or 0) > LARGEST_BYTES:
            raise InputError(
                f"larger than {LARGEST_BYTES // MEBIBYTE} MiB",
                where=safe_name(file.filename or ""),
                remedy="Attach photographs and papers; recordings belong to a visit.",
            )
    with TemporaryDirectory(prefix="cagewise-") as folder:
        yield [_put(file, Path(folder) / str(at)) for at, file in enumerate(sent)]


def safe_name(name: str) -> str:
    """Return a file name without folders, control characters and excess length."""
    last = PurePosixPath(name.replace("\\", "/")).name
    shown = "".join(c for c in last if unicodedata.category(c)[0] != "C").strip(" .")
    while len(shown.encode()) > LONGEST_NAME_BYTES:
        stem, dot, ending = shown.rpartition(".")
        shown = f"{stem[:-1]}{dot}{ending}" if len(stem) > 1 and len(ending) < 10 else shown[:-1]
    return shown or UNNAMED


def _put(file: UploadFile, folder: Path) -> Path:
    """Copy a file that was sent into a new folder."""
    folder.mkdir()
    path = folder / safe_name(file.filename or "")
    with path.open("wb") as target:
        shutil.copyfileobj(file.file, target)
    return path


def image_type(path: Path) -> str:
    """Return the media type of an image by its first bytes; empty if it is none."""
    with path.open("rb") as stream:
        head = stream.read(_HEAD_BYTES)
    for begin, at, more, kind in _IMAGES:
        if head.startswith(begin) and head[at:].startswith(more):
            return kind
    return ""


def given_back(attachment: Attachment, path: Path) -> FileResponse:
    """Return a kept file: an image to be shown, anything else to be saved."""
    kind = image_type(path)
    name = safe_name(attachment.name)
    way = "inline" if kind else "attachment"
    return FileResponse(
        path,
        media_type=kind or "application/octet-stream",
        headers={
            "content-disposition": f"{way}; filename*=utf-8''{quote(name, safe='')}",
            "cache-control": "private, max-age=3600",
        },
    )
