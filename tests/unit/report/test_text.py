"""The terminal report: golden pages at two widths, shapes instead of colour, ASCII, failures."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from cagewise.decision.examination import Examination
from cagewise.quantities import NotKnown
from cagewise.report import wording
from cagewise.report.symbols import ASCII, UNICODE, Symbols
from cagewise.report.text import write_text
from support.examinations import (
    caution,
    damaged,
    examination,
    motor,
    oscillating,
    reading,
    record,
    sound,
    suspicious,
    unreadable,
)

GOLDEN = Path(__file__).resolve().parents[2] / "golden" / "terminal"

PAGES: dict[str, Callable[[], Examination]] = {
    "damaged": lambda: examination(record(damaged())),
    "swinging-load": lambda: examination(record(oscillating(), quality=(caution(),))),
    "unreadable": lambda: examination(record(unreadable())),
    "suspect": lambda: examination(record(suspicious())),
    "conflict": lambda: examination(record(damaged()), record(sound(), source="second.cfg")),
}


def render(shown: Examination, width: int, symbols: Symbols = UNICODE) -> str:
    stream = io.StringIO()
    write_text(shown, Console(file=stream, width=width, highlight=False), symbols)
    return stream.getvalue()


@pytest.mark.parametrize("width", [60, 120])
@pytest.mark.parametrize("page", PAGES)
def test_pages_are_the_golden_ones(page: str, width: int) -> None:
    """After a wanted change: run with CAGEWISE_WRITE_GOLDEN=1 and read the difference."""
    path = GOLDEN / f"{page}-{width}.txt"
    text = render(PAGES[page](), width)
    if os.environ.get("CAGEWISE_WRITE_GOLDEN"):
        path.write_text(text, encoding="utf-8")

    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("width", [40, 60, 79, 80, 96, 120, 200])
@pytest.mark.parametrize("page", PAGES)
def test_no_line_is_wider_than_the_terminal(page: str, width: int) -> None:
    for line in render(PAGES[page](), width).splitlines():
        assert len(line) <= min(width, 120), line


@pytest.mark.parametrize("page", PAGES)
def test_ascii_pages_are_ascii_and_as_long(page: str) -> None:
    plain, fancy = render(PAGES[page](), 80, ASCII), render(PAGES[page](), 80)

    assert plain.isascii()
    assert plain.count("\n") == fancy.count("\n")


def test_without_a_terminal_there_is_no_colour() -> None:
    assert "\x1b" not in render(PAGES["damaged"](), 80)


def test_meaning_is_in_words_and_shapes() -> None:
    text = render(PAGES["swinging-load"](), 120)

    for word in ("against", "cannot tell"):
        assert f" {word}\n" in text
    for shape in (UNICODE.speaks_for, UNICODE.speaks_against, UNICODE.cannot_tell):
        assert shape in text


def test_sections_come_in_the_order_a_manager_reads() -> None:
    text = render(PAGES["damaged"](), 80)
    places = [
        text.index(wording.SECTION[name])
        for name in (
            "action", "forest", "not_excluded", "operating_point", "quality", "next", "cautions",
            "provenance",
        )
    ]  # fmt: skip

    assert places == sorted(places)
    assert text.index(wording.PART.upper()) < places[0]


def test_sound_says_no_more_than_with_its_confidence() -> None:
    text = render(examination(record(sound())), 80)

    assert "ROTOR CAGE: SOUND" in text
    assert "no more than 0.11 open bars, 95 %" in text


def test_what_was_lost_is_said_when_nothing_could_be_read() -> None:
    stopped = record((), point=NotKnown("not looked for"), stopped="no channel is a current")
    text = render(examination(stopped), 80)

    assert "ROTOR CAGE: NOT DECIDABLE" in text
    assert "The cage cannot be judged on this recording: no channel is a current." in text


def test_the_shape_of_a_rotor_is_said_with_what_would_part_it() -> None:
    """Not with a longer record, and not as if no method could be used."""
    ducts = (
        reading("direct_component", (1.8, 2.2, 2.8)),
        reading("harmonic_lines", (0.026, 0.039, 2.2)),
    )
    text = " ".join(render(examination(record(ducts)), 120).split())

    assert "A sound rotor with axial ducts, arms or flats, as many as poles" in text
    assert "What would do instead: a record at a clearly different load." in text
    assert wording.COUNT_UNUSABLE not in text


def test_one_reason_for_many_readings_is_said_once() -> None:
    text = render(PAGES["unreadable"](), 80)
    reason = "the load is 6 % of rated, and 25 % are needed"

    assert " ".join(text.split()).count(reason) == 1
    assert text.count("not read, for the reason in the verdict") == 2  # once per class


def test_a_tag_cannot_write_markup_or_control_the_terminal() -> None:
    hostile = motor(tag="[bold]X[/bold]\x1b[31m", description="a\nb\tc\x07")
    text = render(examination(record(sound()), of=hostile), 80)

    assert "[bold]X[/bold]" in text
    assert "\x1b" not in text
    assert "\x07" not in text


def test_an_interval_beyond_the_axis_ends_in_an_arrow() -> None:
    wild = reading("lower_side_line", (0.4, 0.6, 90.0))

    assert UNICODE.beyond in render(examination(record((wild,))), 80)
