"""The HTTP interface against what it says of itself, with values nobody would send on purpose.

Every operation of the OpenAPI gets values that its schema allows, values that it does not, and a
list of texts and numbers that break programs. Whatever comes: never a server error, and always an
answer of the shape that is described.
"""

from __future__ import annotations

import copy
import json
import re
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx2
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from cagewise.store import KeptExamination, Plant
from cagewise.web.app import create_app
from cagewise.web.settings import WebSettings
from support.pictured import CAGE

schemathesis = pytest.importorskip("schemathesis", reason="no schemathesis")
uvicorn = pytest.importorskip("uvicorn", reason="the workbench is not installed")

from schemathesis import checks  # noqa: E402 - after it is known to be there
from schemathesis.generation import GenerationMode  # noqa: E402
from schemathesis.specs.openapi import checks as described  # noqa: E402

pytestmark = pytest.mark.slow

LEFT_OUT = {
    ("POST", "/api/v1/accounts"),  # the first account closes the door to everybody else
    ("GET", "/api/v1/jobs/events"),  # never ends
}
CHECKS = [
    checks.not_a_server_error,
    described.status_code_conformance,
    described.content_type_conformance,
    described.response_schema_conformance,
]
EXAMPLES = 6
"""Of each kind for each operation: the run has to stay under a minute."""
FOUND = {"number", "motor_id", "case_id", "job_id", "upload_id", "event_number"}
"""Parameters that name something: half the time, what there is."""


def description() -> dict[str, Any]:
    """Return the description of the interface; no plant is needed for it."""
    return create_app(WebSettings(plant=Path("no plant"))).openapi()


SCHEMA = schemathesis.openapi.from_dict(description())
DEMO = Path(str(files("cagewise.workflows") / "demo_data"))
OPERATIONS = {
    f"{each.ok().method.upper()} {each.ok().path}": each.ok()
    for each in SCHEMA.get_all_operations()
    if (each.ok().method.upper(), each.ok().path) not in LEFT_OUT
}
SETTINGS = settings(
    max_examples=EXAMPLES,
    deadline=None,
    database=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def address(
    pictured: tuple[Plant, dict[str, KeptExamination]], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """Address of a server of a plant in which there is something, which nobody else uses."""
    plant, kept = pictured
    assert kept[CAGE].id >= 1
    folder = tmp_path_factory.mktemp("asked") / "plant"
    shutil.copytree(plant.folder, folder)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    app = create_app(WebSettings(plant=folder, port=port))
    server = uvicorn.Server(uvicorn.Config(app, port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(20)


def ask(case: Any, address: str) -> None:
    """Send a request and hold the answer against the description."""
    answer = case.call(base_url=address, timeout=60)
    case.validate_response(answer, checks=CHECKS)


def name_what_there_is(case: Any) -> None:
    """Ask for something that is kept, where a number is asked for."""
    for name in FOUND & set(case.path_parameters or {}):
        case.path_parameters[name] = 1


def takes_values(operation: Any) -> bool:
    """Return whether anything about a request can be wrong."""
    return bool(
        operation.definition.raw.get("parameters") or operation.definition.raw.get("requestBody")
    )


def asks(operation: Any) -> list[str]:
    """Return the names of what can be asked after the question mark."""
    parameters = operation.definition.raw.get("parameters", [])
    return [each["name"] for each in parameters if each["in"] == "query"]


MOTOR = (DEMO / "kiln-fan.toml").read_text()
EVENT: dict[str, Any] = {"text": "x", "author": "I. Varga", "on": "2031-05-01", "corrects_id": 1}
BAR = {"bar": 3, "damage": "open", "place": "not stated"}
TABLE = {
    "name": "conditions",
    "fields": {"winding_temperature_degc": 20},
    "columns": {"time_s": [1, 2]},
}
BODIES: list[tuple[str, Any]] = [
    ("POST /api/v1/motors", {"toml": MOTOR, "site": "", "valid_from": "2031-01-01"}),
    ("PUT /api/v1/motors/1/file", {"toml": MOTOR, "valid_from": "2031-01-01", "note": "x"}),
    ("POST /api/v1/motors/1/notes", {"text": "x", "author": "I. Varga"}),
    (
        "POST /api/v1/motors/1/sensors",
        {"name": "clamp", "role": "i_a", "serial": "1", "ratio": 100, "note": "x"}
        | dict.fromkeys(("mounted_on", "calibrated_on", "removed_on"), "2031-01-01"),
    ),
    (
        "POST /api/v1/motors/1/decisions",
        {"examination_id": 1, "action": "x", "due_on": "2031-05-01", "text": "x"}
        | {"author": "I. Varga", "title": "x"},
    ),
    ("POST /api/v1/cases", {"motor_id": 2, "title": "x", "on": "2031-05-01"}),
    ("POST /api/v1/cases/1/events", EVENT | {"kind": "note"}),
    (
        "POST /api/v1/cases/1/events",
        EVENT | {"kind": "decision", "action": "x", "due_on": "2031-05-01"},
    ),
    (
        "POST /api/v1/cases/1/events",
        EVENT | {"kind": "repair", "repair_kind": "cage", "action": "x", "facts": {"bars": "44"}},
    ),
    (
        "POST /api/v1/cases/1/events",
        EVENT | {"kind": "outcome", "found": "damaged", "open_bars": 1, "bars": [BAR]},
    ),
    ("POST /api/v1/cases/1/close", {"why": "x", "on": "2031-05-20"}),
    (
        "POST /api/v1/examinations/1/advice",
        {"level": "high", "spare": True, "false_pull_cost": 1, "miss_cost": 2}
        | {"next_outage": "2031-05-12"},
    ),
    ("POST /api/v1/jobs", {"kind": "examine", "motor_id": 1, "day": "2031-03-01"}),
    ("POST /api/v1/jobs", {"kind": "reexamine", "motor_id": 1}),
    (
        "POST /api/v1/motors/1/imports",
        {"batch": "x", "folder": "x", "day": "2031-03-01", "examine": False},
    ),
    ("POST /api/v1/motors/1/visits", {"day": "2031-03-01", "note": "x"}),
    (
        "PUT /api/v1/recordings/1/roles",
        {"roles": {"i_a": "i_a"}, "examine": False, "roles_confirmed": False},
    ),
    ("POST /api/v1/visits/1/sheets", {"tables": [TABLE], "corrects": 1}),
    ("POST /api/v1/visits/1/sheets", {"toml": "[sheet]"}),
]
"""Something that each place takes, or nearly; each value is then replaced by each hard one."""


def test_nothing_is_left_out_by_accident() -> None:
    assert len(OPERATIONS) > 45


@pytest.mark.parametrize("name", OPERATIONS)
def test_what_the_schema_allows_is_answered_as_described(name: str, address: str) -> None:
    @SETTINGS
    @given(case=OPERATIONS[name].as_strategy(), there=st.booleans())
    def asked(case: Any, there: bool) -> None:  # noqa: FBT001 - drawn
        if there:
            name_what_there_is(case)
        ask(case, address)

    asked()


@pytest.mark.parametrize("name", [name for name, each in OPERATIONS.items() if takes_values(each)])
def test_what_the_schema_forbids_is_refused_as_described(name: str, address: str) -> None:
    @SETTINGS
    @given(case=OPERATIONS[name].as_strategy(generation_mode=GenerationMode.NEGATIVE))
    def asked(case: Any) -> None:
        ask(case, address)

    asked()


HARD_TEXTS = ("\0", "a\0b", "\ud800", "\u202e", "", " ", "x" * 100_000, "../../etc/passwd", "%00")
MORE_TEXTS = ("<script>alert(1)</script>", "9999-12-31", "0001-01-01", "=1+1", "\N{PILE OF POO}")
HARD_NUMBERS = (0, -1, 2**31, 2**63 - 1, 2**63, -(2**63) - 1, 10**400, 1e308, -1e308, 5e-324)
NEITHER: tuple[Any, ...] = (None, True, [], {}, float("nan"), float("inf"))
HARD: tuple[Any, ...] = (*HARD_TEXTS, *MORE_TEXTS, *HARD_NUMBERS, *NEITHER)
"""Values that break programs: they end texts, databases, calendars, and tables of numbers."""


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield where the values of a body are."""
    if isinstance(value, dict) and value:
        for key, inside in value.items():
            yield from leaves(inside, (*path, key))
    elif isinstance(value, list) and value:
        yield from leaves(value[0], (*path, 0))
    else:
        yield path


def put(body: Any, path: tuple[Any, ...], value: Any) -> Any:
    """Return a body with another value at a place."""
    if not path:
        return value
    made = copy.deepcopy(body)
    inside = made
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = value
    return made


@pytest.mark.parametrize(("name", "body"), BODIES)
def test_a_body_with_a_hard_value_is_no_fault_of_the_program(
    name: str, body: Any, address: str
) -> None:
    method, place = name.split(" ")
    json_as_it_is = {"content-type": "application/json"}  # surrogates and NaN too
    faults = []
    with httpx2.Client(base_url=address, timeout=60) as client:
        for where in leaves(body):
            for value in HARD:
                sent = json.dumps(put(body, where, value))
                answer = client.request(method, place, content=sent, headers=json_as_it_is)
                if answer.status_code >= 500:
                    faults.append((where, repr(value)[:40], answer.text))
    assert faults == []


@pytest.mark.parametrize("name", [name for name, each in OPERATIONS.items() if asks(each)])
def test_a_query_with_a_hard_value_is_no_fault_of_the_program(name: str, address: str) -> None:
    method, path = name.split(" ")
    place = re.sub(r"\{[^}]*\}", "1", path.replace("{subject}", "examinations"))
    place = place.replace("/pictures/1", "/pictures/supply_frame").replace("file.1", "file.csv")
    with httpx2.Client(base_url=address, timeout=60) as client:
        for each in asks(OPERATIONS[name]):
            for value in HARD:
                if value is None or isinstance(value, list | dict):
                    continue
                text = str(value)[:5000].encode("utf-8", "surrogatepass")
                query = f"{quote(each)}={quote(text)}"
                answer = client.request(method, f"{place}?{query}")
                assert answer.status_code < 500, (each, str(value)[:40], answer.text)


@pytest.mark.parametrize("name", [n for n in OPERATIONS if "{" in n and n[:3] == "GET"])
def test_an_address_with_a_hard_value_is_no_fault_of_the_program(name: str, address: str) -> None:
    path = name.removeprefix("GET ")
    with httpx2.Client(base_url=address, timeout=60) as client:
        for value in (*HARD_TEXTS, *MORE_TEXTS, *HARD_NUMBERS):
            text = quote(str(value)[:2000].encode("utf-8", "surrogatepass"), safe="")
            answer = client.get(re.sub(r"\{[^}]*\}", text or "0", path))
            assert answer.status_code < 500, (str(value)[:40], answer.text)
