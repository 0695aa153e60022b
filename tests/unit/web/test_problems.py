"""How errors are told: to people, to programs, to others than the people at this machine."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from cagewise import errors
from cagewise.errors import (
    AlreadyKeptError,
    CagewiseError,
    ChannelRoleError,
    DamagedFileError,
    InputError,
    MissingExtraError,
    MotorFileError,
    NewerSchemaError,
    NotKeptError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    UsageError,
)
from cagewise.web import problems
from cagewise.web.app import create_app
from cagewise.web.problems import STATUS, told, without_folders
from cagewise.web.security.access import MayRead
from cagewise.web.settings import WebSettings
from support.workbench import HERE, HTML, Bench


def failing(error: Exception) -> Any:
    def route(_: MayRead) -> None:
        raise error

    return route


@pytest.fixture
def app(plant_folder: Path) -> FastAPI:
    made = create_app(WebSettings(plant=plant_folder))
    for name, error in (
        ("fault", ZeroDivisionError("a secret in /home/somebody/plant")),
        (
            "lost",
            NotKeptError("there is no motor 'X'", where="plant", remedy="Is it P-101?"),
        ),
        ("locked", StoreLockedError("somebody writes")),
        ("full", StoreFullError("no space is left", where="/srv/plant/history.sqlite")),
    ):
        for prefix in ("/api/v1", ""):
            made.get(f"{prefix}/{name}")(failing(error))
    return made


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    with TestClient(app, base_url=HERE) as made:
        yield made


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (UsageError, 400),
        (InputError, 422),
        (MotorFileError, 422),
        (ChannelRoleError, 422),
        (NotKeptError, 404),
        (AlreadyKeptError, 409),
        (StoreLockedError, 423),
        (StoreFullError, 507),
        (StoreReadOnlyError, 403),
        (NewerSchemaError, 503),
        (MissingExtraError, 501),
        (DamagedFileError, 500),
        (CagewiseError, 500),
    ],
)
def test_every_error_has_the_status_that_fits(error: type[CagewiseError], status: int) -> None:
    problem = told(error("it is so", where="there", remedy="Do this."), hide_paths=True).problem
    assert problem.status == status
    assert (problem.detail, problem.where, problem.remedy) == ("It is so.", "there", "Do this.")
    assert problem.type.startswith("urn:cagewise:problem:")


def test_the_table_of_statuses_is_the_one_that_is_written_down() -> None:
    text = problems.__doc__ or ""
    for kind, status in STATUS:
        row = next(line for line in text.splitlines() if line.startswith(f"``{kind.__name__}``"))
        assert f" {int(status)} " in row
    for name in dir(errors):
        if name.endswith("Error"):
            told(getattr(errors, name)("x"), hide_paths=False)


def test_a_program_gets_a_problem(client: TestClient) -> None:
    answer = client.get("/api/v1/lost")
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json() == {
        "type": "urn:cagewise:problem:not-kept",
        "title": "Not here",
        "status": 404,
        "detail": "There is no motor 'X'.",
        "where": "plant",
        "remedy": "Is it P-101?",
    }
    assert client.get("/api/v1/locked").headers["retry-after"] == "5"


def test_a_person_gets_a_page(client: TestClient) -> None:
    answer = client.get("/lost", headers=HTML)
    assert answer.status_code == 404
    assert "<h1>Not here</h1>" in answer.text
    assert "Is it P-101?" in answer.text
    assert "/srv/plant/history.sqlite" in client.get("/full", headers=HTML).text


@pytest.mark.parametrize("path", ["/api/v1/fault", "/fault"])
def test_a_fault_shows_a_number_and_the_log_tells_the_rest(
    client: TestClient, caplog: pytest.LogCaptureFixture, path: str
) -> None:
    with caplog.at_level(logging.ERROR, "cagewise.web"):
        answer = client.get(path)
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    entry = caplog.records[-1]
    reference = entry.getMessage().split()[1].rstrip(":")
    assert reference in answer.text
    assert entry.exc_info is not None
    assert entry.exc_info[0] is ZeroDivisionError
    assert "content-security-policy" in answer.headers


def test_values_that_cannot_be_used_are_named_and_not_repeated(bench: Bench) -> None:
    answer = bench.client.get(f"/find?tag={'x' * 300}", headers={"accept": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["where"] == "query.tag"
    assert "xxx" not in answer.text


def test_nothing_here_and_nothing_done_here(bench: Bench) -> None:
    assert bench.client.get("/nothing").status_code == 404
    assert bench.client.get("/api/v1/nothing").json()["status"] == 404
    answer = bench.client.delete("/api/v1/about")
    assert answer.status_code == 405
    assert "GET" in answer.headers["allow"]


def test_others_see_no_folders() -> None:
    error = StoreFullError(
        "'/srv/plant/x.tmp' cannot be written",
        where="/home/ada/plant/history.sqlite",
        remedy="See C:\\plants\\works\\plant.toml and docs/history.md.",
    )
    there = told(error, hide_paths=True).problem
    assert there.where == "history.sqlite"
    assert there.detail == "'x.tmp' cannot be written."
    assert there.remedy == "See plant.toml and docs/history.md."
    assert told(error, hide_paths=False).problem.where == "/home/ada/plant/history.sqlite"
    assert without_folders("3/4 of 1/s, see https://plant.example/a/b") == (
        "3/4 of 1/s, see https://plant.example/a/b"
    )


def test_the_description_of_the_interface_tells_errors_as_they_are(bench: Bench) -> None:
    described = bench.client.get("/api/v1/openapi.json").json()
    schemas = described["components"]["schemas"]
    assert "HTTPValidationError" not in schemas
    assert set(schemas["Problem"]["properties"]) >= {"type", "title", "detail", "where", "remedy"}
    assert "/api/v1/about" in described["paths"]
    for path, operations in described["paths"].items():
        assert path.startswith("/api/v1/")
        for operation in operations.values():
            content = operation["responses"]["default"]["content"]
            assert list(content) == ["application/problem+json"]
