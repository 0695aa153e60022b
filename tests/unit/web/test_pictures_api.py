"""Pictures over the interface: packed numbers, windows, files, and what is not sent twice."""

from __future__ import annotations

import base64
import csv
import io
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from cagewise.pictures.parts import Drawn
from cagewise.pictures.picture import Axis, Curve, Marker, Part, Picture, Raster
from cagewise.store import KeptExamination, Plant
from cagewise.web.api import pictures as api
from cagewise.web.api.packed import packed
from cagewise.workflows import pictures
from support.pictured import CAGE, LOAD
from support.workbench import served

Pictured = tuple[Plant, dict[str, KeptExamination]]
NUMBERS = {"f4": "<f4", "f8": "<f8", "u1": "u1"}


@pytest.fixture(scope="module")
def client(pictured: Pictured) -> Iterator[TestClient]:
    """The served plant."""
    with served(pictured[0].folder) as bench:
        yield bench.client


def place(pictured: Pictured, case: str, name: str = "") -> str:
    return f"/api/v1/examinations/{pictured[1][case].id}/pictures" + (name and f"/{name}")


def numbers(packed: dict[str, Any]) -> np.ndarray:
    flat = np.frombuffer(base64.b64decode(packed["data"]), dtype=NUMBERS[packed["dtype"]])
    return flat.reshape(packed["shape"])


def test_the_list_leads_to_every_picture(client: TestClient, pictured: Pictured) -> None:
    offered = client.get(place(pictured, LOAD)).json()

    assert [each["name"] for each in offered][:2] == ["supply_frame", "direct"]
    for each in offered:
        answer = client.get(each["href"])
        assert answer.status_code == 200
        assert answer.json()["title"] == each["title"]


def test_the_numbers_are_those_of_the_picture(client: TestClient, pictured: Pictured) -> None:
    sent = client.get(place(pictured, LOAD, "supply_frame")).json()
    picture = pictures.picture(pictured[0], pictured[1][LOAD], "supply_frame")

    assert numbers(sent["curves"][0]["x"]) == pytest.approx(picture.curves[0].x, rel=1e-15)
    assert numbers(sent["curves"][0]["y"]) == pytest.approx(picture.curves[0].y, rel=1e-6)
    assert sent["curves"][0]["long"] is True
    assert [m["label"] for m in sent["markers"]] == [m.label for m in picture.markers]
    assert sent["frequency"]["slip"] == pytest.approx(0.00803, rel=0.05)  # of the demo's motor


def test_what_the_reader_has_is_not_sent_again(client: TestClient, pictured: Pictured) -> None:
    first = client.get(place(pictured, LOAD, "envelope"))
    again = client.get(
        place(pictured, LOAD, "envelope"), headers={"If-None-Match": first.headers["etag"]}
    )

    assert "max-age" in first.headers["cache-control"]
    assert (again.status_code, again.content) == (304, b"")
    other = client.get(place(pictured, LOAD, "direct"))
    assert other.headers["etag"] != first.headers["etag"]


def test_a_window_gives_every_bin_between_two_places(
    client: TestClient, pictured: Pictured
) -> None:
    query = {"low": 45.0, "high": 55.0, "columns": 4000}
    sent = client.get(place(pictured, LOAD, "spectrum/window"), params=query).json()

    (curve,) = sent["curves"]
    x = numbers(curve["x"])
    assert curve["exact"] is True
    assert x[0] >= 45.0
    assert x[-1] <= 55.0
    assert np.diff(x) == pytest.approx(x[1] - x[0], rel=1e-6)


@pytest.mark.parametrize(
    "query",
    [
        {"columns": 0},
        {"columns": 10**9},
        {"low": "nan", "high": 1, "columns": 10},
        {"low": "-inf", "high": 1, "columns": 10},
        {"low": "x", "high": 1, "columns": 10},
    ],
)
def test_a_senseless_window_is_refused(
    client: TestClient, pictured: Pictured, query: dict[str, Any]
) -> None:
    answer = client.get(place(pictured, LOAD, "spectrum/window"), params=query)

    assert answer.status_code == 422


def test_ends_in_the_wrong_order_and_far_away_are_understood(
    client: TestClient, pictured: Pictured
) -> None:
    for low, high in ((55.0, 45.0), (1e300, -1e300), (1e9, 2e9)):
        query = {"low": low, "high": high, "columns": 50}
        answer = client.get(place(pictured, LOAD, "spectrum/window"), params=query)
        assert answer.status_code == 200
        assert numbers(answer.json()["curves"][0]["y"]).size > 0


@pytest.mark.parametrize("name", ["Supply", "a/b", "..%2f..%2fetc", "a" * 65])
def test_names_that_are_no_names_are_refused(
    client: TestClient, pictured: Pictured, name: str
) -> None:
    assert client.get(place(pictured, LOAD, name)).status_code in {404, 422}


def test_the_table_has_every_bin_and_units(client: TestClient, pictured: Pictured) -> None:
    query = {"low": 49.0, "high": 51.0}
    answer = client.get(place(pictured, LOAD, "spectrum/file.csv"), params=query)

    rows = list(csv.reader(io.StringIO(answer.text)))
    assert rows[0][4:6] == [
        "frequency of the current space vector (Hz)",
        "level over the fundamental (dB)",
    ]
    bins = [row for row in rows if row[1] == "measured"]
    window = client.get(
        place(pictured, LOAD, "spectrum/window"), params=query | {"columns": 4000}
    ).json()
    assert len(bins) == numbers(window["curves"][0]["x"]).size
    assert "attachment" in answer.headers["content-disposition"]


def test_a_label_is_never_a_formula() -> None:
    rows = [("marker", "=1+1", "@x", "-cmd", 1.0, -2.5, None, math.nan, None, None, None)]

    text = "".join(api._lines(iter(rows)))

    assert text == "marker,'=1+1,'@x,'-cmd,1,-2.5,,,,,\r\n"  # a number may be negative


@pytest.mark.parametrize(("kind", "begin"), [("svg", b"<?xml"), ("png", b"\x89PNG")])
def test_a_picture_is_drawn_as_a_file(
    client: TestClient, pictured: Pictured, kind: str, begin: bytes
) -> None:
    answer = client.get(place(pictured, LOAD, f"supply_frame/file.{kind}"), params={"low": -1.5})
    again = client.get(place(pictured, LOAD, f"supply_frame/file.{kind}"), params={"low": -1.5})

    assert answer.content.startswith(begin)
    assert answer.content == again.content  # the same bytes for the same numbers


def test_a_motor_has_pictures_before_anything_is_measured(
    client: TestClient, pictured: Pictured
) -> None:
    offered = client.get(f"/api/v1/motors/{pictured[1][CAGE].motor_id}/pictures").json()

    assert offered[0]["name"] == "expected"
    assert client.get(offered[0]["href"]).json()["curves"][1]["open_bars"] == 1.0


def test_an_image_is_sent_in_steps_finer_than_a_screen_shows() -> None:
    level = np.array([[-80.0, -40.3], [-75.0, 3.0]])
    raster = Raster(
        x=np.arange(2.0), y=np.arange(2.0), level=level, unit="dB", lowest=-75.0, highest=0.0
    )
    blank = Axis(quantity="")
    picture = Picture(name="p", title="p", x=blank, y=blank, raster=raster)

    sent = packed(Drawn(picture=picture)).raster

    assert sent is not None
    back = sent.level.offset + sent.level.scale * numbers(sent.level.model_dump())
    assert back == pytest.approx(np.clip(level, -75.0, 0.0), abs=0.15)


def test_what_is_not_a_number_is_null_and_never_breaks_json() -> None:
    mark = Marker(label="m", part=Part.MEASURED, x=1.0, y=2.0, low=-math.inf, high=math.nan)
    line = Curve(label="c", part=Part.FLOOR, x=np.arange(2.0), y=np.array([math.nan, 1.0]))
    blank = Axis(quantity="")
    picture = Picture(name="p", title="p", x=blank, y=blank, curves=(line,), markers=(mark,))

    sent = packed(Drawn(picture=picture))

    assert (sent.markers[0].low, sent.markers[0].high) == (None, None)
    assert "NaN" not in sent.model_dump_json()
    assert np.isnan(numbers(sent.curves[0].y.model_dump())[0])


def test_the_plotting_library_comes_from_its_package_and_is_kept_for_ever(
    client: TestClient,
) -> None:
    answer = client.get("/scripts/plotly.js")

    assert answer.history[0].headers["cache-control"] == "no-cache"
    assert "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-encoding"] == "gzip"
    assert "plotly" in str(answer.url)
    assert answer.text.lstrip().startswith("/**")
    assert client.get("/scripts/plotly-0.0.1.min.js").status_code == 404
    assert client.get("/scripts/..%2fapp.py").status_code == 404
