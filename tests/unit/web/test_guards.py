"""What stands before the routes: names, headers, sizes, rates, paths; and that every route asks."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from fastapi import APIRouter, FastAPI, Request
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from starlette.types import Message

from cagewise.web.app import guards
from cagewise.web.desk import open_desk
from cagewise.web.routers import routers
from cagewise.web.security.access import GUARDS, MayRead, MayWrite
from cagewise.web.security.headers import EMPTY_STYLE, POLICY
from cagewise.web.security.origins import host_of, is_loopback
from cagewise.web.security.rates import REQUESTS, Rate
from cagewise.web.security.rights import Right
from cagewise.web.settings import MEBIBYTE, WebSettings
from cagewise.web.static_files import FOLDER, version_of
from support.workbench import HERE, PASSWORD, Bench, in_own_loop, served

ROOT = Path(__file__).parents[3]


def routes() -> list[APIRoute]:
    settings = WebSettings(plant=Path(), show_style=True)
    found = [route for _, router in routers(settings) for route in router.routes]
    return [route for route in found if isinstance(route, APIRoute)]


def test_every_route_asks_for_a_right() -> None:
    assert len(routes()) > 10
    for route in routes():
        asked = [each.call for each in route.dependant.dependencies if each.call in GUARDS]
        assert len(asked) == 1, route.path


def test_every_module_of_pages_and_interfaces_is_served() -> None:
    for package in ("pages", "api"):
        folder = Path(str(import_module(f"cagewise.web.{package}").__file__)).parent
        modules = {path.stem for path in folder.glob("*.py")} - {"__init__"}
        with_router = {
            name
            for name in modules
            if isinstance(
                getattr(import_module(f"cagewise.web.{package}.{name}"), "router", None), APIRouter
            )
        }
        listed = import_module("cagewise.web.routers")
        named = set(listed.PAGES if package == "pages" else listed.INTERFACES)
        assert with_router - {"style"} == named


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "localhost:8730", "LOCALHOST", "[::1]:8730", "127.9.9.9"]
)
def test_this_machine_is_reached_under_its_own_names(bench: Bench, host: str) -> None:
    assert bench.client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "127.0.0.1.evil.example",
        "192.0.2.1",
        "a@127.0.0.1",
        "",
        "127.0.0.1/x",
        "[::1",
    ],
)
def test_a_name_that_somebody_made_point_here_is_not_served(bench: Bench, host: str) -> None:
    answer = bench.client.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "Works" not in answer.text
    assert answer.headers["content-security-policy"] == POLICY
    assert bench.client.get("/static/style.css", headers={"host": host}).status_code == 421


def test_two_names_at_once_are_none(bench: Bench) -> None:
    headers = [("host", "127.0.0.1"), ("host", "evil.example")]
    assert bench.client.get("/", headers=headers).status_code == 421


def test_others_reach_it_under_a_stated_name_or_by_its_address(remote: Bench) -> None:
    for host, status in (
        ("motors.plant.example", 200),
        ("192.0.2.1:8730", 200),
        ("x.example", 421),
    ):
        assert remote.client.get("/login", headers={"host": host}).status_code == status


def test_which_addresses_are_this_machine() -> None:
    assert all(is_loopback(host) for host in ("127.0.0.1", "127.1.2.3", "::1", "localhost"))
    assert not any(is_loopback(host) for host in ("::", "192.0.2.1", "localhost.example"))
    assert host_of("[::1]:80") == "::1"
    assert host_of("Name.example.:1") == "name.example"
    assert host_of("name:port") == ""


@pytest.mark.parametrize("path", ["/", "/login", "/nothing", "/api/v1/about", "/static/style.css"])
def test_every_answer_says_what_a_browser_may_do(bench: Bench, path: str) -> None:
    headers = bench.client.get(path, follow_redirects=False).headers
    assert headers["content-security-policy"] == POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "camera=()" in headers["permissions-policy"]
    assert headers["cache-control"] == ("no-cache" if "static" in path else "no-store")
    assert "server" not in headers


def test_the_policy_lets_nothing_in_from_elsewhere_and_nothing_inline() -> None:
    said = dict(each.split(" ", 1) for each in POLICY.split("; "))
    assert said["default-src"] == said["script-src"] == said["form-action"] == "'self'"
    assert said["style-src"] == f"'self' {EMPTY_STYLE}"
    assert said["img-src"] == "'self' data: blob:"
    assert said["object-src"] == said["base-uri"] == said["frame-ancestors"] == "'none'"
    assert "unsafe" not in POLICY


def test_no_template_holds_anything_that_the_policy_refuses() -> None:
    templates = FOLDER.parent / "templates"
    for path in templates.glob("*.html"):
        text = path.read_text("utf-8")
        assert " style=" not in text, path.name
        assert "<style" not in text, path.name
        assert " onclick" not in text, path.name
        assert "http:" not in text.replace("http://www.w3.org", ""), path.name
        assert "https:" not in text, path.name
        for script in text.split("<script")[1:]:
            assert " src=" in script.split(">")[0], path.name


def test_a_static_file_is_kept_for_as_long_as_its_address_names_it(bench: Bench) -> None:
    address = f"/static/style.css?v={version_of('style.css')}"
    assert address in bench.client.get("/").text
    answer = bench.client.get(address)
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert answer.headers["content-encoding"] == "gzip"
    stale = bench.client.get("/static/style.css?v=000000000000")
    assert stale.headers["cache-control"] == "no-cache"
    again = bench.client.get("/static/style.css", headers={"if-none-match": stale.headers["etag"]})
    assert again.status_code == 304


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2ferrors.py",
        "/static//etc/passwd",
        "/static/..\\app.py",
        "/static/%00",
        "/static/",
    ],
)
def test_no_path_leads_out_of_the_static_files(bench: Bench, path: str) -> None:
    answer = bench.client.get(path)
    assert answer.status_code in (404, 405), answer.text
    assert "import" not in answer.text


def test_text_is_compressed_and_pictures_are_not(bench: Bench) -> None:
    assert bench.client.get("/").headers["content-encoding"] == "gzip"
    plain = bench.client.get("/", headers={"accept-encoding": "identity"})
    assert "content-encoding" not in plain.headers


@pytest.fixture
def reading(plant_folder: Path) -> Iterator[TestClient]:
    """Serve routes that read what they are sent, behind the same guards."""
    settings = WebSettings(
        plant=plant_folder, largest_form_bytes=MEBIBYTE, largest_upload_bytes=3 * MEBIBYTE
    )
    app = FastAPI(middleware=guards(settings))

    @app.post("/streamed")
    @app.post("/api/v1/motors/7/files")
    async def streamed(request: Request, _: MayRead) -> int:
        return sum([len(part) async for part in request.stream()])

    @app.post("/parsed")
    def parsed(_: MayWrite, value: dict[str, str]) -> int:
        return len(value)

    with open_desk(settings) as desk:
        app.state.desk = desk
        with TestClient(app, base_url=HERE) as client:
            yield client


def parts(count: int) -> Iterator[bytes]:
    """Give parts of a body whose length nobody announced."""
    for _ in range(count):
        yield b"x" * (MEBIBYTE // 4)


def test_a_body_ends_where_its_limit_is(reading: TestClient) -> None:
    assert reading.post("/streamed", content=parts(4)).json() == MEBIBYTE
    assert reading.post("/streamed", content=parts(5)).status_code == 413
    assert reading.post("/streamed", content=b"x" * (MEBIBYTE + 1)).status_code == 413
    uploaded = reading.post("/api/v1/motors/7/files", content=parts(12))
    assert uploaded.json() == 3 * MEBIBYTE
    assert reading.post("/api/v1/motors/7/files", content=parts(13)).status_code == 413


def test_a_body_that_the_framework_reads_ends_there_too(reading: TestClient) -> None:
    headers = {"content-type": "application/json"}
    assert reading.post("/parsed", content=parts(5), headers=headers).status_code == 413


def test_what_is_sent_is_never_unpacked(reading: TestClient) -> None:
    bomb = gzip.compress(bytes(8 * MEBIBYTE))
    assert len(bomb) < 10_000
    for encoding in ("gzip", "deflate", "br", "identity, gzip"):
        headers = {"content-encoding": encoding}
        assert reading.post("/streamed", content=bomb, headers=headers).status_code == 415
    assert reading.post("/streamed", content=bomb).json() == len(bomb)


def test_of_somebody_who_is_not_logged_in_nothing_is_read(remote: Bench) -> None:
    sent: list[Message] = []

    async def receive() -> Message:
        message = "the body was read"
        raise AssertionError(message)

    async def send(message: Message) -> None:
        sent.append(message)

    async def asked() -> None:
        await remote.app(scope, receive, send)

    headers = [(b"host", b"motors.plant.example"), (b"content-type", b"application/json")]
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/api/v1/motors/7/files",
        "query_string": b"",
        "headers": headers,
        "scheme": "https",
    }
    in_own_loop(asked())
    assert sent[0]["status"] == 401


def test_one_address_may_not_ask_without_end(
    plant_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cagewise.web.security.rates.REQUESTS", Rate(at_once=5, per_s=1e-3))
    accounts = (("Ada", Right.ADMIN),)
    with served(plant_folder, accounts=accounts, allow_remote=True) as bench:
        answers = [bench.client.get("/static/icon.svg") for _ in range(7)]
    assert [answer.status_code for answer in answers] == [200] * 5 + [429] * 2
    assert int(answers[-1].headers["retry-after"]) > 900


def test_at_this_machine_one_may(bench: Bench) -> None:
    count = REQUESTS.at_once + 50
    assert {bench.client.get("/static/icon.svg").status_code for _ in range(count)} == {200}


def test_markup_in_names_is_text(plant_folder: Path) -> None:
    attack = "<script>alert(1)</script>"
    with served(plant_folder) as bench:
        bench.desk.plant.motors.add(
            f"[motor]\ntag = \"<b>'x\"\ndescription = '{attack}'\nrated_power_kw = 315\n"
            "rated_voltage_v = 690\nrated_frequency_hz = 50\nrated_speed_rpm = 1485\n"
            "rated_current_a = 320\npoles = 4\n"
        )
        bench.post("/accounts", page="/accounts", name=attack, password=PASSWORD, right="admin")
        bench.log_in(attack)
        pages = [
            bench.client.get(path).text
            for path in ("/find?tag=alert", f"/find?tag={attack}", "/accounts", "/account", "/")
        ]
        pages.append(bench.client.get(f"/{attack}").text)
        pages.append(bench.client.get(f"/accounts?done={attack}").text)
    for text in pages:
        assert attack not in text
        assert "<b>'x" not in text
    assert "&lt;script&gt;" in pages[0]
