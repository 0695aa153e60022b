"""Pictures of a kept examination: what the document read, on curves of the kept recording."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cagewise.errors import NotKeptError
from cagewise.pictures.picture import Curve, Marker, Part, Picture
from cagewise.store import ExaminationDocument, KeptExamination, Plant
from cagewise.workflows import pictures
from cagewise.workflows.kept_document import KeptDocument, operating_point_in, readings_in
from cagewise.workflows.pictures import Material, Prepared, View
from support.pictured import CAGE, LOAD

Pictured = tuple[Plant, dict[str, KeptExamination]]


@pytest.fixture(scope="module")
def prepared(pictured: Pictured) -> pictures.Preparer:
    """Materials, each made once."""
    by_id = {kept.id: kept for kept in pictured[1].values()}

    @cache
    def once(number: int, material: Material) -> Prepared:
        return pictures.prepare(pictured[0], by_id[number], material)

    return lambda _, kept, material: once(kept.id, material)


def shown(pictured: Pictured, case: str, name: str, prepared: pictures.Preparer) -> Picture:
    return pictures.picture(pictured[0], pictured[1][case], name, prepared)


def said(pictured: Pictured, case: str) -> KeptDocument:
    return KeptDocument.of(pictured[0].examinations.document(pictured[1][case]).text)


def markers(picture: Picture, part: Part) -> list[Marker]:
    """Return the markers of the lower side line."""
    return [m for m in picture.markers if m.part is part and m.x < 0.0]


def curve(picture: Picture, label: str) -> Curve:
    return next(c for c in picture.curves if c.label == label)


def test_a_visit_with_everything_has_every_picture(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    offered = pictures.picture_names(pictured[0], pictured[1][CAGE], prepared)

    names = [each.name for each in offered]
    assert names[:9] == [
        "supply_frame",
        "direct",
        "envelope",
        "envelope_spectrum",
        "harmonics",
        "harmonics_7",
        "spectrum",
        "start",
        "start_track",
    ]
    assert {"position", "resistance", "insulation", "leakage", "expected"} <= set(names)
    for each in offered:
        picture = shown(pictured, CAGE, each.name, prepared)
        assert (picture.name, picture.title, picture.reason) == (each.name, each.title, "")
        assert picture.curves
        for drawn in picture.curves:
            assert picture.plane or np.all(np.diff(drawn.x) >= 0.0), (each.name, drawn.label)


def test_a_visit_of_the_running_motor_offers_nothing_else(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    offered = pictures.picture_names(pictured[0], pictured[1][LOAD], prepared)

    assert {each.material for each in offered} == {Material.RUNNING, Material.MOTOR}


def test_lines_are_marked_where_and_as_the_document_has_them(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    picture = shown(pictured, CAGE, "supply_frame", prepared)
    running = said(pictured, CAGE).running
    assert running is not None
    lower = next(r for r in readings_in(running) if r.name == "lower_side_line")
    assert lower.value is not None

    (read,) = markers(picture, Part.MEASURED)
    (limit,) = markers(picture, Part.LIMIT)

    assert (read.y, read.low, read.high) == (lower.value.value, lower.value.low, lower.value.high)
    assert limit.y == lower.details["detection_limit_dbc"]
    assert read.order == pytest.approx(1.0 + read.x / 49.9956, abs=2e-4)  # truth of the demo


def test_expected_lines_grow_with_open_bars_and_hold_what_was_read(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    picture = shown(pictured, CAGE, "supply_frame", prepared)
    expected = markers(picture, Part.EXPECTED)

    levels = [m.y for m in expected if m.y is not None]
    (read,) = markers(picture, Part.MEASURED)

    assert [m.open_bars for m in expected] == [0.0, 1.0, 2.0, 3.0]
    assert levels == sorted(levels)
    assert read.y is not None
    assert levels[1] < read.y < levels[2]  # one bar open and one cracked, says the truth
    assert all(m.low is not None and m.high is not None for m in expected)


def test_the_line_stands_in_the_spectrum_at_its_marker(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    picture = shown(pictured, CAGE, "supply_frame", prepared)
    spectrum, (read,) = picture.curves[0], markers(picture, Part.MEASURED)

    near = np.abs(spectrum.x - read.x) < 0.05

    assert read.y is not None
    assert spectrum.y[near].max() == pytest.approx(read.y, abs=2.0)  # one taper against all
    assert spectrum.y.max() == pytest.approx(0.0, abs=0.1)  # the fundamental


@pytest.mark.parametrize(("case", "least", "most"), [(CAGE, 1.0, 2.3), (LOAD, 0.0, 0.3)])
def test_a_swinging_load_explains_its_line_and_a_cage_is_left_over(
    pictured: Pictured, prepared: pictures.Preparer, case: str, least: float, most: float
) -> None:
    picture = shown(pictured, case, "direct", prepared)
    swing, line, rest = (complex(c.x[1], c.y[1]) for c in picture.curves[:3])
    one_bar = curve(picture, "1 open bar")
    radius = 0.5 * float(np.ptp(one_bar.x))

    assert rest == line  # the difference ends where the line ends
    assert swing.imag == 0.0
    assert abs(line) > 0.5 * radius  # both motors show a strong lower side line
    assert least * radius < abs(line - swing) < most * radius


def test_the_direct_component_is_as_long_as_it_was_read(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    picture = shown(pictured, CAGE, "direct", prepared)
    tail, head = (complex(picture.curves[2].x[k], picture.curves[2].y[k]) for k in (0, 1))
    running = said(pictured, CAGE).running
    reading = next(r for r in readings_in(running) if r.name == "direct_component")
    assert reading.open_bar_equivalent is not None
    one, two = (
        0.5 * float(np.ptp(curve(picture, label).x)) for label in ("1 open bar", "2 open bars")
    )

    bars = 1.0 + (abs(head - tail) - one) / (two - one)

    assert bars == pytest.approx(reading.open_bar_equivalent.value, abs=0.1)


def test_a_window_gives_every_bin_and_the_overview_its_extremes(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    plant, kept = pictured[0], pictured[1][CAGE]
    full = pictures.drawn(plant, kept, "spectrum", prepared)
    series = full.series[0]

    (near,) = pictures.window(
        plant, kept, "spectrum", View(low=45.0, high=55.0, columns=1000), prepared
    )
    (wide,) = pictures.window(
        plant, kept, "spectrum", View(low=-math.inf, high=math.inf, columns=300), prepared
    )

    assert near.exact
    assert np.diff(near.x) == pytest.approx(series.step, rel=1e-6)
    assert near.y.max() == wide.y.max()
    # the current drifts by a few per cent, and the window weighs the middle of the record more
    assert near.y.max() == pytest.approx(0.0, abs=0.5)
    assert wide.y.size <= 600
    assert float(wide.x[np.argmax(wide.y)]) == pytest.approx(49.9956, abs=0.02)


def test_the_start_shows_its_line_along_the_track(
    pictured: Pictured, prepared: pictures.Preparer
) -> None:
    picture = shown(pictured, CAGE, "start", prepared)
    raster, track = picture.raster, picture.curves[0]
    assert raster is not None

    inside = (track.y > -35.0) & (track.y < 35.0) & (np.abs(track.y) > 12.0)
    columns = np.searchsorted(raster.x, track.x[inside]).clip(0, raster.x.size - 1)
    rows = np.searchsorted(raster.y, track.y[inside]).clip(0, raster.y.size - 1)
    beside = np.searchsorted(raster.y, track.y[inside] - 15.0).clip(0, raster.y.size - 1)

    on_track = raster.level[rows, columns]
    assert np.median(on_track) > np.median(raster.level[beside, columns]) + 15.0
    assert track.y[0] == pytest.approx(-50.0, abs=1.0)  # the rotor stands


def test_what_is_not_kept_any_more_is_said(pictured: Pictured) -> None:
    plant, kept = pictured[0], pictured[1][LOAD]

    class Lost:
        """A plant whose waveforms are gone."""

        motors, examinations = plant.motors, plant.examinations

        class measurements:  # noqa: N801 - stands for an attribute
            recording = plant.measurements.recording

            @staticmethod
            def load(_: object) -> object:
                raise NotKeptError("the waveform is gone")

    picture = pictures.picture(Lost, kept, "supply_frame")  # type: ignore[arg-type]

    assert picture.reason == "the waveform is gone"
    assert picture.title == "Current in the frame of the supply"
    assert not picture.curves


def test_an_unknown_picture_is_refused(pictured: Pictured, prepared: pictures.Preparer) -> None:
    with pytest.raises(NotKeptError, match="no picture 'gauge'"):
        shown(pictured, LOAD, "gauge", prepared)


def test_a_document_of_an_earlier_version_has_its_pictures(
    pictured: Pictured, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, kept = pictured[0], pictured[1][LOAD]
    document = plant.examinations.document(kept)
    old = json.loads(document.text)
    for record in old["recordings"]:
        del record["quality_findings"], record["role_statements"]
        del record["operating_point"]["slip_families"]
        record["indicators"] = [
            {**indicator, "class": "no class of today"} if k == 0 else indicator
            for k, indicator in enumerate(record["indicators"])
        ]
    aged: ExaminationDocument = replace(document, text=json.dumps(old), schema_version="1.0")
    monkeypatch.setattr(type(plant.examinations), "document", lambda *_: aged)

    picture = pictures.picture(plant, kept, "supply_frame")

    assert not picture.reason
    assert markers(picture, Part.EXPECTED)


def test_a_document_that_says_nothing_gives_reasons_not_errors() -> None:
    empty = KeptDocument.of("{}")

    assert (empty.running, empty.start, empty.sheet) == (None, None, None)
    assert readings_in(None) == ()
    assert "does not say" in operating_point_in({}).reason  # type: ignore[union-attr]
