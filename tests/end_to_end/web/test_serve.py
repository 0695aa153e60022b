"""``cagewise serve`` and ``cagewise account``: real processes, real sockets."""

from __future__ import annotations

import io
import os
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from time import monotonic

import httpx2
import pytest

from cagewise.cli.run import main
from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.web.keeping import Workbench
from cagewise.web.security.accounts import Accounts
from cagewise.web.security.rights import Right
from support.serving import serving

PASSWORD = "four words are enough"  # noqa: S105 - of an invented account
PATIENCE_S = 60.0


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    folder = tmp_path / "plant"
    Plant.create(folder, name="Works").close()
    return folder


def run(*arguments: str) -> tuple[ExitStatus, str, str]:
    out, err = io.StringIO(), io.StringIO()
    status = main(arguments, out=out, err=err)
    return status, out.getvalue(), err.getvalue()


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_it_serves_this_machine_until_the_keyboard_ends_it(plant: Path) -> None:
    with serving(plant) as (process, address):
        assert address.startswith("http://127.0.0.1:")
        answer = httpx2.get(f"{address}api/v1/about")
        assert answer.json()["name"] == "Works"
        assert "server" not in answer.headers
        port = address.rstrip("/").rpartition(":")[2]
        status, _, said = run("serve", "--plant", str(plant), "--port", port)
        assert status is ExitStatus.USAGE
        assert f"port {port} already" in said
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=PATIENCE_S)
        assert process.returncode == 0, err
        assert out.endswith("ended\n")
        assert err == ""
    with Plant.open(plant) as opened:
        assert opened.about.name == "Works"


def test_it_ends_when_the_system_says_so_though_somebody_listens(plant: Path) -> None:
    with serving(plant) as (process, address):
        host, port = address.removeprefix("http://").rstrip("/").split(":")
        with socket.create_connection((host, int(port))) as idle:
            idle.sendall(b"GET / HTTP/1.1\r\n")  # and never the rest
            begun = monotonic()
            process.send_signal(signal.SIGTERM)
            process.wait(PATIENCE_S)
            assert monotonic() - begun < PATIENCE_S / 2


def flood(sending: socket.socket, most: int) -> int:
    """Send until the other side ends the connection, and return how much it took."""
    block, taken = b"10000\r\n" + b"x" * 0x10000 + b"\r\n", 0
    with suppress(ConnectionError):
        while taken < most:
            sending.sendall(block)
            taken += len(block)
    return taken


def test_too_large_a_body_ends_while_it_is_sent(plant: Path) -> None:
    with serving(plant) as (_, address):
        host, port = address.removeprefix("http://").rstrip("/").split(":")
        with socket.create_connection((host, int(port)), timeout=PATIENCE_S) as sending:
            sending.sendall(
                f"POST /accounts HTTP/1.1\r\nHost: {host}\r\nTransfer-Encoding: chunked\r\n"
                "Content-Type: application/x-www-form-urlencoded\r\n\r\n".encode()
            )
            taken = flood(sending, most=256 << 20)
        assert 2 << 20 <= taken < 64 << 20
        assert httpx2.get(f"{address}api/v1/about").status_code == 200


def test_a_certificate_encrypts_and_makes_cookies_secure(plant: Path, tmp_path: Path) -> None:
    certificate, key = tmp_path / "certificate.pem", tmp_path / "key.pem"
    made = subprocess.run(  # noqa: S603 - made for this test
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "1", "-subj",  # noqa: S607 - as installed
         "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(key),
         "-out", str(certificate)],
        check=False, capture_output=True,
    )  # fmt: skip
    if made.returncode:
        pytest.skip("openssl made no certificate")
    add_ada(plant)
    options = ["--allow-remote", "--certificate", str(certificate), "--key", str(key)]
    with serving(plant, *options) as (_, address):
        assert address.startswith("https://")
        answer = httpx2.get(
            f"{address}login", verify=ssl.create_default_context(cafile=certificate)
        )
        assert "; Secure" in answer.headers["set-cookie"]
    status, _, said = run(
        "serve", "--plant", str(plant), "--certificate", str(key), "--key", str(certificate)
    )
    assert status is ExitStatus.UNREADABLE
    assert "certificate" in said


def add_ada(plant: Path) -> None:
    with Workbench.open(plant) as workbench:
        Accounts(workbench).add("Ada", PASSWORD, Right.ADMIN)


def test_others_are_warned_that_nothing_is_encrypted(plant: Path) -> None:
    add_ada(plant)
    with serving(plant, "--allow-remote") as (process, address):
        assert httpx2.get(f"{address}api/v1/about").status_code == 401
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=PATIENCE_S)
        assert "not encrypted" in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--host", "192.0.2.1"], "--allow-remote"),
        (["--allow-remote"], "cagewise account add"),
        (["--behind-proxy"], "--allow-remote"),
        (["--port", "70000"], "between 0 and 65535"),
        (["--host", "no.such.host.invalid", "--allow-remote"], "cagewise account add"),
        (["--certificate", "x.pem"], "belong together"),
        (["--certificate", "x.pem", "--key", "y.pem"], "no file x.pem"),
    ],
)
def test_what_cannot_be_served_is_said(plant: Path, arguments: Sequence[str], said: str) -> None:
    status, out, err = run("serve", "--plant", str(plant), *arguments)
    assert status is ExitStatus.USAGE
    assert said in err
    assert out == ""


def test_an_address_that_this_machine_has_not_is_said(plant: Path) -> None:
    add_ada(plant)
    status, _, err = run("serve", "--plant", str(plant), "--allow-remote", "--host", "192.0.2.1")
    assert status is ExitStatus.USAGE
    assert "--host" in err


def test_a_folder_that_is_no_plant_is_said(tmp_path: Path) -> None:
    assert run("serve", "--plant", str(tmp_path))[0] is ExitStatus.PLANT
    assert not list(tmp_path.iterdir())


def test_without_its_libraries_the_remedy_is_said(
    plant: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    for command in (["serve"], ["account", "list"]):
        status, _, err = run(*command, "--plant", str(plant))
        assert status is ExitStatus.MISSING_EXTRA
        assert "pip install 'cagewise[web]'" in err


def test_accounts_are_managed_from_the_command_line(
    plant: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = ["--plant", str(plant)]
    assert "no accounts" in run("account", "list", *where)[1]
    typed(monkeypatch, PASSWORD)
    assert run("account", "add", "Ada", "--right", "admin", *where)[1] == "Ada may admin.\n"
    typed(monkeypatch, PASSWORD)
    assert run("account", "add", "Ben", *where)[1] == "Ben may write.\n"
    assert run("account", "list", *where)[1] == "admin  Ada\nwrite  Ben\n"
    typed(monkeypatch, "another good password")
    assert run("account", "password", "ben", *where)[0] is ExitStatus.EXAMINED
    with Workbench.open(plant) as workbench:
        assert Accounts(workbench).check("Ben", "another good password") is not None
    assert run("account", "remove", "Ada", *where)[0] is ExitStatus.UNREADABLE
    assert run("account", "remove", "Ben", *where)[0] is ExitStatus.EXAMINED
    assert run("account", "remove", "Ada", *where)[0] is ExitStatus.EXAMINED
    assert run("account", "remove", "Ada", *where)[0] is ExitStatus.PLANT


def test_a_password_is_never_an_argument(plant: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, "short")
    status, _, err = run("account", "add", "Ada", "--right", "admin", "--plant", str(plant))
    assert status is ExitStatus.UNREADABLE
    assert "fewer than 12" in err
    assert run("account", "add", "Ada", PASSWORD, "--plant", str(plant))[0] is ExitStatus.USAGE


def test_at_a_terminal_the_password_is_asked_for_twice(
    plant: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    answers = iter([PASSWORD, PASSWORD + "x", PASSWORD, PASSWORD])
    monkeypatch.setattr("getpass.getpass", lambda *_: next(answers))
    command = ("account", "add", "Ada", "--right", "admin", "--plant", str(plant))
    assert "not the same" in run(*command)[2]
    assert run(*command)[0] is ExitStatus.EXAMINED


def test_help_needs_no_library_of_the_workbench() -> None:
    code = (
        "import sys; from cagewise.cli.run import main; main(['serve', '--help']);"
        "print([m for m in ('fastapi', 'uvicorn', 'argon2', 'sqlalchemy') if m in sys.modules])"
    )
    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", code],
        check=True,
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.stdout.splitlines()[-1] == "[]"
