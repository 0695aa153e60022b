"""A form with files, read while it comes: small fields in memory, files to the disk at once."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from http import HTTPStatus

from fastapi import Request
from python_multipart import MultipartParser
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import parse_options_header
from starlette.requests import ClientDisconnect

from cagewise.errors import InputError
from cagewise.web.security.refusal import RefusedError
from cagewise.web.uploads.receive import Pump
from cagewise.web.uploads.records import Upload
from cagewise.web.uploads.shelf import Uploads

LONGEST_FIELD_BYTES = 4096
MOST_PARTS = 200
LONGEST_HEADERS_BYTES = 8192

Event = tuple[str, bytes]


@dataclass(slots=True)
class SentForm:
    """What a form brought."""

    fields: dict[str, str] = field(default_factory=dict)
    files: list[Upload] = field(default_factory=list)
    """All whole, and of one batch."""


@dataclass(slots=True)
class _Part:
    """A part of the form that is being read."""

    headers: dict[str, bytes] = field(default_factory=dict)
    header: bytes = b""
    value: bytes = b""
    name: str = ""
    content: bytearray = field(default_factory=bytearray)
    upload: Upload | None = None
    pump: Pump | None = None
    skipped: bool = False

    def read_heading(self, name: str, data: bytes) -> None:
        """Take a piece of a heading."""
        if name == "field":
            self.header += data
        elif name == "value":
            self.value += data
        else:
            self.headers[self.header.decode("latin-1").casefold()] = self.value
            self.header = self.value = b""
        if len(self.header) + len(self.value) > LONGEST_HEADERS_BYTES:
            raise _no_form("a heading is too long")


class FormReader:
    """Reads one form.

    Parameters
    ----------
    uploads
        Where files go.
    motor_id, by
        Of the files.
    check
        Called with the fields before the first file is taken; it may refuse.
    """

    def __init__(
        self,
        uploads: Uploads,
        *,
        motor_id: int,
        by: str,
        check: Callable[[dict[str, str]], None],
    ) -> None:
        self._uploads = uploads
        self._motor_id = motor_id
        self._by = by
        self._check = check
        self._form = SentForm()
        self._part = _Part()
        self._count = 0
        self._largest = 0
        self._ended = False

    async def read(self, request: Request) -> SentForm:
        """Read the form of a request.

        Raises
        ------
        InputError
            If it is no such form, or holds no file.
        RefusedError
            If a field or the check refuses it.
        StoreError
            If a file cannot be received.
        """
        self._largest = _announced(request)
        events: list[Event] = []
        parser = _parser(request, events)
        try:
            async for piece in request.stream():
                _fed(parser, piece)
                for name, data in events:
                    await self._take(name, data)
                events.clear()
            self._require_complete()
        except ClientDisconnect as error:
            await asyncio.shield(self._take_back())
            raise RefusedError(HTTPStatus.BAD_REQUEST, "the connection broke") from error
        except BaseException:
            await asyncio.shield(self._take_back())
            raise
        return self._form

    def _require_complete(self) -> None:
        """Raise if the end of the form is missing, or no file was in it."""
        if not self._ended:
            raise _no_form("its end is missing")
        if not self._form.files:
            raise InputError("no file was chosen", remedy="Choose one or several, then send them.")

    async def _take(self, name: str, data: bytes) -> None:
        """Take an event of the parser."""
        part = self._part
        match name:
            case "data":
                await self._content(data)
            case "begin":
                self._begin()
            case "headers":
                await self._open()
            case "end":
                await self._close()
            case "over":
                self._ended = True
            case _:
                part.read_heading(name, data)

    def _begin(self) -> None:
        """Begin a part."""
        self._part = _Part()
        self._count += 1
        if self._count > MOST_PARTS:
            raise _no_form(f"more than {MOST_PARTS} parts")

    async def _open(self) -> None:
        """Decide what a part is, by its headings."""
        said, options = parse_options_header(self._part.headers.get("content-disposition", b""))
        if said != b"form-data" or b"name" not in options:
            raise _no_form("a part without a name")
        self._part.name = options[b"name"].decode(errors="replace")
        if b"filename" not in options:
            return
        filename = options[b"filename"].decode(errors="replace")
        if not filename:  # a choice of files in which nothing was chosen
            self._part.skipped = True
            return
        self._check(self._form.fields)
        batch = self._form.files[0].batch if self._form.files else ""
        begun = await asyncio.to_thread(
            self._uploads.begin, self._motor_id, filename, self._largest, batch=batch, by=self._by
        )
        self._part.upload = begun
        writer = await asyncio.to_thread(self._uploads.write, begun.id, 0)
        self._part.pump = Pump(writer)

    async def _content(self, data: bytes) -> None:
        """Take some bytes of a part."""
        part = self._part
        if part.pump is not None:
            await part.pump.push(data)
        elif not part.skipped:
            part.content += data
            if len(part.content) > LONGEST_FIELD_BYTES:
                raise _no_form(f"the field {part.name!r} is too long")

    async def _close(self) -> None:
        """End a part."""
        part = self._part
        if part.pump is not None:
            self._form.files.append(await part.pump.end_as_all())
        elif not part.skipped:
            self._form.fields[part.name] = bytes(part.content).decode(errors="replace")
        self._part = _Part()

    async def _take_back(self) -> None:
        """Forget the files of a form that was not read to its end: nobody can go on with it."""
        if self._part.pump is not None:
            await self._part.pump.give_up()
        begun = [*self._form.files, *([self._part.upload] if self._part.upload else [])]
        for upload in begun:
            await asyncio.to_thread(self._uploads.remove, upload.id)


def _announced(request: Request) -> int:
    """Return how much a request announces; every file in it is smaller."""
    stated = request.headers.get("content-length", "")
    if not (stated.isascii() and stated.isdecimal()):
        raise RefusedError(
            HTTPStatus.LENGTH_REQUIRED, "the request does not say how much it brings"
        )
    return int(stated)


def _parser(request: Request, events: list[Event]) -> MultipartParser:
    """Return a parser that notes what it finds."""
    said, options = parse_options_header(request.headers.get("content-type", ""))
    if said != b"multipart/form-data" or not options.get(b"boundary"):
        raise _no_form("it is not of the type multipart/form-data")

    def noting(name: str) -> Callable[[bytes, int, int], None]:
        return lambda data, start, end: events.append((name, data[start:end]))

    def marking(name: str) -> Callable[[], None]:
        return lambda: events.append((name, b""))

    return MultipartParser(
        options[b"boundary"],
        {
            "on_part_begin": marking("begin"),
            "on_part_data": noting("data"),
            "on_part_end": marking("end"),
            "on_header_field": noting("field"),
            "on_header_value": noting("value"),
            "on_header_end": marking("header"),
            "on_headers_finished": marking("headers"),
            "on_end": marking("over"),
        },
    )


def _fed(parser: MultipartParser, piece: bytes) -> None:
    """Give a parser some bytes."""
    try:
        parser.write(piece)
    except FormParserError as error:
        raise _no_form(str(error)) from error


def _no_form(what: str) -> InputError:
    return InputError(
        f"this is not a form with files ({what})", remedy="Load the page again and repeat it."
    )
