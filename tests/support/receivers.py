"""Receivers of messages on this machine: a web server, and the least of an MQTT 3.1.1 broker.

Each does to one message after the other what a list says, so that a test can let it fail.
"""

from __future__ import annotations

import json
import socket
import socketserver
import ssl
import struct
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any


@dataclass
class Web:
    """What a web server got, and what it answers."""

    plan: list[int | str] = field(default_factory=list)
    """Statuses, or "close", "hang", "drip"; 204 when the list is at its end."""
    headers: Mapping[str, str] = field(default_factory=dict)
    """Sent with each answer."""
    got: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    """Keys and messages, all that arrived whole."""
    heads: list[Mapping[str, str]] = field(default_factory=list)
    paths: list[str] = field(default_factory=list)
    port: int = 0
    released: threading.Event = field(default_factory=threading.Event)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/findings"


class _WebHandler(BaseHTTPRequestHandler):
    """Takes a message, notes it, and does what the plan says."""

    server: _WebServer

    def do_POST(self) -> None:
        state = self.server.state
        content = self.rfile.read(int(self.headers["Content-Length"]))
        state.got.append((self.headers["Idempotency-Key"], json.loads(content)))
        state.heads.append(dict(self.headers.items()))
        state.paths.append(self.path)
        what = state.plan.pop(0) if state.plan else 204
        self.close_connection = True
        if isinstance(what, int):
            self._answer(what)
        elif what == "hang":
            state.released.wait(30)
        elif what == "drip":
            self._drip()

    def _answer(self, status: int) -> None:
        self.send_response(status)
        for name, value in self.server.state.headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def _drip(self) -> None:
        for byte in b"HTTP/1.1 204 No Content\r\n" + b"X: y\r\n" * 1000:
            self.wfile.write(bytes([byte]))
            if self.server.state.released.wait(0.05):
                return

    def log_message(self, *_about: object) -> None:
        """Say nothing."""


class _WebServer(ThreadingHTTPServer):
    def __init__(self, state: Web) -> None:
        super().__init__(("127.0.0.1", 0), _WebHandler)
        self.state = state

    def handle_error(self, *_about: object) -> None:
        """A sender that goes away is what is tested."""


@contextmanager
def web(*plan: int | str, chain: tuple[Path, Path] | None = None) -> Iterator[Web]:
    """Run a web server; with a certificate and its key, over TLS."""
    state = Web(plan=list(plan))
    server = _WebServer(state)
    if chain is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(*chain)
        server.socket = context.wrap_socket(server.socket, server_side=True)
    state.port = server.server_address[1]
    with running(server):
        yield state
        state.released.set()


@dataclass
class Broker:
    """What an MQTT receiver got, and what it does."""

    plan: list[str] = field(default_factory=list)
    """For each connection "lose" (closed before PUBACK), "silent" (no PUBACK), "deny" (CONNACK 5),
    "mute" (no CONNACK); else all is confirmed."""
    got: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    """Topics and messages, all that arrived whole."""
    logins: list[tuple[str, str]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    """What the sender did against the standard."""
    port: int = 0


@contextmanager
def broker(*plan: str) -> Iterator[Broker]:
    """Run the least of a broker: it takes messages of quality 1, and gives them to nobody.

    MQTT version 3.1.1, OASIS Standard, 29 October 2014: sections 2.2 (fixed header), 3.1
    (CONNECT), 3.2 (CONNACK), 3.3 (PUBLISH), 3.4 (PUBACK), 3.14 (DISCONNECT).
    """
    state = Broker(plan=list(plan))

    class Handler(socketserver.BaseRequestHandler):
        def handle(self) -> None:
            connection: socket.socket = self.request
            connection.settimeout(20)
            with suppress(ConnectionError, TimeoutError):  # a sender may go away
                serve(state, connection, state.plan.pop(0) if state.plan else "")

    class Server(socketserver.ThreadingTCPServer):
        daemon_threads = True
        allow_reuse_address = True

    server = Server(("127.0.0.1", 0), Handler)
    state.port = server.server_address[1]
    with running(server):
        yield state


def serve(state: Broker, connection: socket.socket, what: str) -> None:
    """Talk with one sender until it leaves."""
    kind, _, body = packet(connection)
    if kind != 1:
        state.faults.append("the first packet is not CONNECT [MQTT-3.1.0-1]")
    state.logins.append(connect(state, body))
    if what == "mute":
        connection.recv(1)
        return
    connection.sendall(bytes([0x20, 2, 0, 5 if what == "deny" else 0]))
    while what != "deny":
        kind, flags, body = packet(connection)
        if kind == 14:
            return
        number = published(state, kind, flags, body)
        if what == "lose":
            return
        if what != "silent":
            connection.sendall(bytes([0x40, 2]) + struct.pack(">H", number))


def published(state: Broker, kind: int, flags: int, body: bytes) -> int:
    """Note a message (section 3.3); return the identifier of its packet."""
    if kind != 3 or (flags >> 1) & 3 != 1:
        state.faults.append(f"packet {kind} with flags {flags}, not PUBLISH of quality 1")
    topic, rest = text(body)
    number, content = struct.unpack(">H", rest[:2])[0], rest[2:]
    if not number:
        state.faults.append("packet identifier 0 [MQTT-2.3.1-1]")
    state.got.append((topic, json.loads(content)))
    return int(number)


def connect(state: Broker, body: bytes) -> tuple[str, str]:
    """Check CONNECT (section 3.1.2); return user and password."""
    protocol, rest = text(body)
    level, flags = rest[0], rest[1]
    if (protocol, level) != ("MQTT", 4):
        state.faults.append(f"protocol {protocol} level {level} [MQTT-3.1.2-1, 3.1.2-2]")
    if flags & 1:
        state.faults.append("the reserved flag is set [MQTT-3.1.2-3]")
    client, rest = text(rest[4:])
    if not client and not flags & 2:
        state.faults.append("no name and no clean session [MQTT-3.1.3-7]")
    user, rest = text(rest) if flags & 0x80 else ("", rest)
    password, rest = text(rest) if flags & 0x40 else ("", rest)
    if rest:
        state.faults.append("bytes are left in CONNECT")
    return user, password


def packet(connection: socket.socket) -> tuple[int, int, bytes]:
    """Read one packet: its kind, its flags, the rest (section 2.2)."""
    first = exactly(connection, 1)[0]
    length, shift = 0, 0
    while True:
        byte = exactly(connection, 1)[0]
        length |= (byte & 0x7F) << shift
        shift += 7
        if not byte & 0x80:
            return first >> 4, first & 0x0F, exactly(connection, length)


def text(content: bytes) -> tuple[str, bytes]:
    """Read a string (section 1.5.3); return it and what follows."""
    length = struct.unpack(">H", content[:2])[0]
    return content[2 : 2 + length].decode(), content[2 + length :]


def exactly(connection: socket.socket, count: int) -> bytes:
    """Read so many bytes."""
    content = b""
    while len(content) < count:
        block = connection.recv(count - len(content))
        if not block:
            raise ConnectionResetError
        content += block
    return content


@contextmanager
def running(server: socketserver.BaseServer) -> Iterator[None]:
    """Run a server beside the test."""
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def wait_for(condition: Any, seconds: float = 20.0) -> bool:
    """Wait until something is so; return whether it came to be."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.02)
    return bool(condition())
