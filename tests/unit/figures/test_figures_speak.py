"""Figures in the language of the moment: labels, legends, decimal signs."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from cagewise.figures.picture import draw, file_bytes
from cagewise.figures.svg import svg_text
from cagewise.figures.trend import current_trend
from cagewise.language import speaking
from cagewise.pictures.picture import Axis, Curve, Marker, Part, Picture
from cagewise.report import wording

X = np.linspace(0.0, 1.0, 41)
PICTURE = Picture(
    name="insulation",
    title="Insulation resistance against time",
    x=Axis(quantity="offset from the supply frequency", unit="Hz"),
    y=Axis(quantity="level over the fundamental", unit="dB"),
    curves=(Curve(label="current", part=Part.MEASURED, x=X, y=0.1 * X),),
    markers=(
        Marker(label="1 open bar: (1-2s)f", part=Part.EXPECTED, x=0.4, y=0.05, open_bars=1.0),
        Marker(label="(1-2s)f as read", part=Part.MEASURED, x=0.5, y=0.04),
    ),
)


def texts(svg: str) -> set[str]:
    """Return the texts of a drawing whose letters are text."""
    return {re.sub("<[^>]*>", "", each).strip() for each in re.findall("<text.*?</text>", svg)}


def test_a_picture_is_drawn_in_german() -> None:
    with speaking("de") as missing:
        shown = texts(svg_text(draw(PICTURE), "german"))

    assert {"Abstand von der Netzfrequenz, Hz", "Strom", "1 offener Stab", "ausgewertet"} <= shown
    assert "0,4" in shown
    assert not [text for text in shown if re.search(r"\d\.\d", text)]
    assert missing == set()


def test_english_is_drawn_as_before() -> None:
    shown = texts(svg_text(draw(PICTURE), "english"))

    assert {"offset from the supply frequency, Hz", "current", "1 open bar", "as read"} <= shown
    assert "0.4" in shown


def test_the_reason_of_an_empty_picture_is_told() -> None:
    with speaking("de") as missing:
        drawn = svg_text(draw(replace(PICTURE, reason="the slip is not known")), "reason")

    assert "der Schlupf ist nicht bekannt" in drawn
    assert missing == set()


def test_labels_of_the_wording_are_said() -> None:
    with speaking("de") as missing:
        shown = texts(svg_text(current_trend(X, 100.0 + 0.1 * X, wording.TREND_LABELS), "trend"))

    assert "s ab Beginn der Aufzeichnung" in shown
    assert any(text.startswith("100,") for text in shown)
    assert missing == set()


@pytest.mark.parametrize("code", ["en", "de"])
def test_the_same_picture_has_the_same_bytes(code: str) -> None:
    with speaking(code):
        assert file_bytes(PICTURE, "svg", 150) == file_bytes(PICTURE, "svg", 150)
