"""Pictures drawn for reports: all is there, told apart without colour, the same each time."""

from __future__ import annotations

import io

import numpy as np
import pytest

from cagewise.figures.picture import DASHES, LOOKS, SHAPES, draw, file_bytes
from cagewise.figures.svg import svg_text
from cagewise.pictures.picture import Axis, Curve, Marker, Part, Picture, Raster

X = np.linspace(0.0, 10.0, 21)


def picture(**more: object) -> Picture:
    """Return a picture with a curve and markers of every number of open bars."""
    measured = Curve(label="current", part=Part.MEASURED, x=X, y=np.sin(X))
    marks = tuple(
        Marker(
            label=f"{bars} open bars: (1-2s)f",
            part=Part.EXPECTED,
            x=5.0,
            y=bars,
            low=bars - 0.3,
            high=bars + 0.4,
            open_bars=bars,
        )
        for bars in (0.0, 1.0, 2.0, 3.0)
    )
    given = {
        "name": "p",
        "title": "A picture",
        "x": Axis(quantity="offset", unit="Hz"),
        "y": Axis(quantity="level", unit="dB"),
        "curves": (measured,),
        "markers": (*marks, Marker(label="2sf", part=Part.FITTED, x=2.0)),
    }
    return Picture(**(given | more))  # type: ignore[arg-type]  # fields by name


def words_of(drawn: Picture) -> str:
    return svg_text(draw(drawn), "test")


def test_axes_labels_and_every_kind_of_mark_are_named() -> None:
    text = words_of(picture())

    for word in (
        "offset, Hz",
        "level, dB",
        "current",
        "2sf",
        *(f"{n}.0 open bars" for n in range(4)),
    ):
        assert word in text


def test_the_numbers_of_open_bars_differ_without_colour() -> None:
    assert len(set(SHAPES.values())) == 4
    assert len({str(dash) for dash in DASHES.values()}) == 4
    lines = {(str(look.line), look.marker) for look in LOOKS.values()}
    assert len(lines) == len(LOOKS)  # every part of a picture by dash or marker alone


def test_a_picture_without_data_holds_its_reason() -> None:
    text = words_of(picture(curves=(), markers=(), reason="the slip is not known"))

    assert "the slip is not known" in text


def test_panels_share_their_axes_and_have_their_names() -> None:
    pairs = tuple(
        Curve(label="readings", part=Part.MEASURED, x=X, y=X, group=group, joined=False)
        for group in ("a-b", "b-c", "c-a")
    )

    figure = draw(picture(curves=pairs, markers=()))

    assert [axes.get_title() for axes in figure.axes] == ["a-b", "b-c", "c-a"]
    assert len({axes.get_ylim() for axes in figure.axes}) == 1


@pytest.mark.parametrize(("falling", "order"), [(False, (0.0, 10.0)), (True, (10.0, 0.0))])
def test_an_axis_runs_as_it_says(falling: bool, order: tuple[float, float]) -> None:  # noqa: FBT001 - a case
    axis = Axis(quantity="slip", falling=falling)

    assert draw(picture(x=axis)).axes[0].get_xlim() == order


def test_a_part_that_is_looked_at_fills_the_axis() -> None:
    axis = Axis(quantity="offset", span=(2.0, float("inf")))

    assert draw(picture(x=axis)).axes[0].get_xlim() == (2.0, 10.0)


def test_named_places_stand_on_the_axis() -> None:
    axis = Axis(quantity="time", unit="s", logarithmic=True, ticks=((1.0, "1 s"), (10.0, "10 s")))
    curve = Curve(label="r", part=Part.MEASURED, x=np.array([1.0, 10.0]), y=np.array([1.0, 3.0]))

    axes = draw(picture(x=axis, curves=(curve,), markers=())).axes[0]

    assert axes.get_xscale() == "log"
    assert [label.get_text() for label in axes.get_xticklabels()] == ["1 s", "10 s"]


def test_a_plane_keeps_lengths_and_angles() -> None:
    circle = Curve(label="1 open bar", part=Part.EXPECTED, x=np.cos(X), y=np.sin(X), open_bars=1.0)
    arrow = Curve(label="line", part=Part.MEASURED, x=np.array([0.0, 1.0]), y=np.array([0.0, 1.0]))

    axes = draw(picture(curves=(circle, arrow), plane=True, markers=())).axes[0]

    assert axes.get_aspect() == 1.0


def test_an_image_has_its_scale() -> None:
    raster = Raster(
        x=np.arange(4.0),
        y=np.arange(3.0),
        level=np.zeros((3, 4)),
        unit="dB",
        lowest=-75.0,
        highest=0.0,
    )

    figure = draw(picture(raster=raster, curves=(), markers=()))

    assert len(figure.axes) == 2
    assert "dB" in figure.axes[1].get_ylabel()


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_files_are_the_same_bytes_each_time(kind: str) -> None:
    assert file_bytes(picture(), kind, 60) == file_bytes(picture(), kind, 60)


def test_a_picture_in_dots_is_as_large_as_asked() -> None:
    from PIL import Image

    small, large = (
        Image.open(io.BytesIO(file_bytes(picture(), "png", dots))).size for dots in (50, 100)
    )

    assert large == (2 * small[0], 2 * small[1])
