"""The HTML page: self-contained, escaped, reproducible, complete."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import pytest

from cagewise.decision.examination import Examination
from cagewise.evidence.fusion.posterior import Rate
from cagewise.quantities import NotKnown
from cagewise.report import likelihood_text, likelihood_wording, next_text, wording
from cagewise.report.explanation_text import explained
from cagewise.report.html import to_html
from support.examinations import (
    INVENTED_RATES,
    caution,
    damaged,
    examination,
    motor,
    operating_point,
    oscillating,
    record,
    sound,
    study_with,
    unreadable,
)

HOSTILE = '<script>alert(1)</script>"><img src=x onerror=alert(1)>'
VOID = {"meta", "link", "br", "hr", "img", "input"}


class Elements(HTMLParser):
    """Collects elements and attributes, and refuses unbalanced ones."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def parse(page: str) -> Elements:
    elements = Elements()
    elements.feed(page)
    elements.close()
    assert not elements.open
    return elements


@pytest.fixture(scope="module")
def page() -> str:
    return to_html(examination(record(damaged(), quality=(caution(),))))


def test_page_is_balanced_and_has_no_script(page: str) -> None:
    assert "script" not in parse(page).tags


def test_page_makes_no_request(page: str) -> None:
    """Only the namespaces of SVG are named; nothing has an address to fetch."""
    addresses = set(re.findall(r"\w+://[^\s\"'<>)]+", page))

    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    for name, value in parse(page).attributes:
        if name in {"src", "href", "xlink:href", "action", "data", "poster"}:
            assert value.startswith("#"), (name, value)
    assert not re.search(r"url\((?!#)", page)
    assert "@import" not in page


def test_same_examination_gives_the_same_bytes(page: str) -> None:
    assert to_html(examination(record(damaged(), quality=(caution(),)))) == page


def test_figures_of_a_page_do_not_share_element_ids(page: str) -> None:
    ids = [value for name, value in parse(page).attributes if name == "id"]

    assert len(ids) == len(set(ids))


def test_no_colour_is_left_that_ignores_the_theme(page: str) -> None:
    """Every stroke and fill of a figure is a variable of the page, so light and dark both read."""
    figures = "".join(re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL))
    colours = set(re.findall(r"#[0-9a-fA-F]{6}\b", figures))

    assert colours == set()


@pytest.mark.parametrize("place", ["tag", "description", "source", "title", "reason", "warning"])
def test_foreign_text_is_escaped(place: str) -> None:
    assert "<script>" not in to_html(_hostile(place))
    assert "onerror=alert(1)>" not in to_html(_hostile(place))
    parse(to_html(_hostile(place)))


def _hostile(place: str) -> Examination:
    readings = damaged()
    if place == "title":
        readings = tuple(replace(r, title=HOSTILE) for r in readings)
    if place == "reason":
        readings = unreadable(HOSTILE)
    shown = record(readings, source=HOSTILE if place == "source" else "pump.cfg")
    changes: dict[str, object] = {place: HOSTILE} if place in {"tag", "description"} else {}
    visit = examination(shown, of=motor(**changes))
    return replace(visit, warnings=(HOSTILE,)) if place == "warning" else visit


def test_every_section_is_there(page: str) -> None:
    for name in set(wording.SECTION) - {"records", "readings", "motor_file", "start"}:
        assert wording.SECTION[name] in page


def test_probability_causes_and_worth_are_there_as_in_the_text(page: str) -> None:
    visit = examination(record(damaged(), quality=(caution(),)))
    shown = " ".join(
        unescape(re.sub(r"<[^>]+>", " ", page)).replace("\N{NO-BREAK SPACE}", " ").split()
    )

    for name in likelihood_wording.SECTION.values():
        assert name in shown
    for paragraph in likelihood_text.probability_lines(visit):
        assert paragraph in shown
    for text in explained(visit).together:
        assert text in shown
    for row in next_text.next_rows(visit):
        assert row.worth in shown


def test_patterns_are_drawn_with_their_percent(page: str) -> None:
    visit = examination(record(damaged(), quality=(caution(),)))
    figures = re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL)
    rows = likelihood_text.pattern_rows(visit)

    assert len(rows) > 1
    for row in rows:
        assert f">{row.label[0].upper()}{row.label[1:]}<" in figures[0]
        assert f">{row.percent} %<" in figures[0]


def test_the_credible_interval_is_the_last_row_of_the_forest_where_it_may_be_stated() -> None:
    few = study_with(replace(INVENTED_RATES, missed=Rate(events=0, cases=3)))
    not_covered = to_html(examination(record(damaged(), study=few), study=few))

    assert likelihood_wording.WEIGHED_TITLE in to_html(examination(record(damaged())))
    assert likelihood_wording.WEIGHED_TITLE not in not_covered
    assert "Probability of a cage defect" not in not_covered


def test_all_recordings_of_a_visit_are_named() -> None:
    page = to_html(examination(record(damaged()), record(sound(), source="second.cfg")))

    assert wording.SECTION["records"] in page
    assert "second.cfg: sound" in page


@pytest.mark.parametrize(
    "shown",
    [
        examination(record(unreadable())),
        examination(record(oscillating())),
        examination(
            replace(
                record((), point=NotKnown("not looked for"), stopped="empty"),
                spectra=(), trend=None, stretch_s=None, roles=(), start_time=None,
            )
        ),
    ],
    ids=["unreadable", "oscillating", "stopped"],
)  # fmt: skip
def test_page_is_whole_whatever_was_found(shown: Examination) -> None:
    parse(to_html(shown))


def test_a_reason_that_stops_all_readings_is_said_once() -> None:
    reason = "the slip is not known (nothing stands out), so the place of the lines is not"
    missing = NotKnown("nothing stands out")
    point = replace(operating_point(), slip=missing, pole_pass_frequency_hz=missing)
    page = to_html(examination(record(unreadable(reason), point=point)))

    assert page.count("nothing stands out") == 1
    assert wording.NOT_READ_AS_SAID in page
    assert wording.NOT_KNOWN_AS_SAID in page
