"""German proves that all wording is in one catalogue: nothing in a paper is left in English."""

from __future__ import annotations

import importlib
import io
import pkgutil
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass

import pytest
from rich.console import Console

from cagewise import report
from cagewise.decision.examination import Examination
from cagewise.decision.plan import Plan
from cagewise.language import HEAD, catalogue, files, retell, say, speaking
from cagewise.report import numbers, papers
from cagewise.report.plan_text import write_plan
from cagewise.report.symbols import UNICODE
from cagewise.report.text import write_text
from cagewise.workflows.demo import find_case, run
from support import plans, said_below
from support.examinations import (
    caution,
    damaged,
    examination,
    oscillating,
    record,
    sound,
    suspicious,
    unreadable,
)

PREFIX = "cagewise.report."
NOT_IN_PAPERS = {
    "demo_wording",
    "expect_wording",
    "missing_wording",
    "motor_file_wording",
    "reexamination_wording",
    "sheet_page_wording",
    "visit_page_wording",
}
"""Pages and answers that nobody prints; what papers use of them is named below."""
NOT_SAID = {"FORMATS_HEADS", "FORMATS_EXTRA", "PART_NAMES"}
"""Constants of the command line, and names that are looked up."""


def _wording() -> Iterator[str]:
    """Yield the modules whose templates papers say."""
    for package in (report, papers):
        for module in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
            name = module.name.rpartition(".")[2]
            if name.endswith("wording") and name not in NOT_IN_PAPERS:
                yield module.name


MODULES = tuple(_wording())


def _strings(value: object) -> Iterator[str]:
    """Yield the texts of a constant."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from _strings(each)
    elif isinstance(value, tuple | list | frozenset):
        for each in value:
            yield from _strings(each)
    elif is_dataclass(value) and not isinstance(value, type):
        for each in fields(value):
            yield from _strings(getattr(value, each.name))


def _templates(module: str) -> set[str]:
    """Return the templates of a module."""
    return {
        text
        for name, value in vars(importlib.import_module(module)).items()
        if name.isupper() and name not in NOT_SAID
        for text in _strings(value)
    }


def _keys(module: str) -> set[str]:
    """Return the texts by which a module looks others up: those of a glossary are said, too."""
    constants = vars(importlib.import_module(module)).values()
    tables = (each for each in constants if isinstance(each, Mapping))
    return {key for table in tables for key in table if isinstance(key, str)}


def _says_something(template: str) -> bool:
    """Return whether there are words beside the places."""
    return re.search(r"[A-Za-z]{2}", re.sub(r"\{\w*\}", "", template)) is not None


@pytest.mark.parametrize("module", MODULES)
def test_every_template_has_its_german(module: str) -> None:
    german = catalogue("de").templates

    assert sorted(filter(_says_something, _templates(module) - set(german))) == []


def test_no_entry_of_a_wording_module_is_stale() -> None:
    said = set().union(*(_templates(module) | _keys(module) for module in MODULES))
    stale = {
        (name, english)
        for name, entries in files("de").items()
        if any(module.endswith(f".{name.removesuffix('.toml')}") for module in MODULES)
        for english in entries
        if english not in said
    }

    assert stale == set()


FRAGMENTS = (
    "measurement/cautions.py: any test of a motor at rest",
    "measurement/test_sheet.py: a position series needs readings, as many as angles",
    "conditioning/quality_time.py:  and the ",
    'conditioning/role_magnitudes.py: --role "{}*{}"',
    "conditioning/role_magnitudes.py: , or a motor that stood still",
    "conditioning/role_proposal.py: ; candidates",
    "conditioning/role_proposal.py: roles of ",
    "conditioning/role_wording.py: It would fit in several ways: ",
    "conditioning/roles.py:  where this motor should lag by {} to {}",
    "conditioning/roles.py:  The rated power factor in the motor file may settle it.",
    "conditioning/roles.py:  What would fit as well: {}.",
    'conditioning/roles.py: --role "{}={}"',
    "decision/costs_result.py: a probability lies between 0 and 1, not at {}",
    (
        "evidence/fusion/patterns.py: a prior needs a prevalence between 0 and 1 and weights of "
        "damage patterns"
    ),
    "evidence/fusion/posterior.py: , converter-fed",
    "indicators/running/slip_reasons.py: lie above",
    "indicators/standstill/entry.py: : check unit and decimal point",
    (
        "indicators/standstill/mean_inductance.py: {} comparable earlier test{}, {} are wanted: "
        "the scatter of this motor is assumed, not known"
    ),
    "indicators/start/comparison.py: {} earlier {}",
    "indicators/winding/polarization.py: if it is thermoplastic, ",
    "decision/test_levels.py: , secondary (reproduced in a trade paper)",
    "pictures/level_series.py: a series needs a positive step and at least one value",
)
"""Parts of texts that are told whole, and errors that no paper shows."""


def test_what_the_layers_below_say_has_its_german() -> None:
    lacking = set()
    for file, text in said_below.templates():
        with speaking("de") as missing:
            retell(text.replace("{}", "7.5"))
        if missing and not re.fullmatch(r"\[motor\] [\w{}]+", text):
            lacking.add(f"{file}: {text}")

    assert sorted(lacking - set(FRAGMENTS)) == []


def test_no_entry_of_the_layers_below_is_stale() -> None:
    said = {text for _, text in said_below.templates()}
    stale = {
        english
        for name, entries in files("de").items()
        if name.startswith("below_") and name != "below_words.toml"
        for english in entries
        if said_below.without_names(english) not in said
    }

    assert stale == set()


PAGES: Mapping[str, Callable[[], Examination]] = {
    "damaged": lambda: examination(record(damaged())),
    "swinging-load": lambda: examination(record(oscillating(), quality=(caution(),))),
    "unreadable": lambda: examination(record(unreadable())),
    "suspect": lambda: examination(record(suspicious())),
    "conflict": lambda: examination(record(damaged()), record(sound(), source="second.cfg")),
}
INVENTED = {
    "25 % are needed",
    "7th harmonic",
    "Record while the load is steady.",
    "above 1 kV the motor is designed for its load; ask the maker",
    "binary data, 16 bit",
    "cage lines at 5th",
    "the current drifts by 3.1 % rms within the stretch",
    "the data sheet states it",
    "the inertia of the load is not in the motor file",
    "the load is 6 % of rated,",
    "the speed is unusual for this size",
}
"""Texts that the invented examinations have in place of those of the layers below."""


def _page(width: int = 100) -> tuple[io.StringIO, Console]:
    stream = io.StringIO()
    return stream, Console(file=stream, width=width, highlight=False)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_says_everything_in_german(name: str) -> None:
    shown = PAGES[name]()
    stream, console = _page()
    with speaking("de") as missing:
        write_text(shown, console, UNICODE)

    assert missing - INVENTED == set()
    assert "Was zu tun ist" in stream.getvalue()


@pytest.mark.parametrize("plan", [plans.known, plans.little_known, plans.softly_started])
def test_a_plan_says_everything_in_german(plan: Callable[[], Plan]) -> None:
    stream, console = _page()
    with speaking("de") as missing:
        write_plan(plan(), console, UNICODE)

    assert missing - INVENTED == set()
    assert "Im Lauf: was aufzuzeichnen ist" in stream.getvalue()


ENGLISH_WORDS = re.compile(r"\b(the|of|is|are|and|to|with|not|no|at|by|for|or|it)\b")


TOLD = ("whole-visit", "damp-motor", "oscillating-load", "idle")
"""Visits with everything that can be measured, parts in doubt, a load that swings, nothing read."""


def test_examinations_of_the_demo_say_everything_in_german() -> None:
    for case, made in run(tuple(find_case(name) for name in TOLD)):
        stream, console = _page(width=120)
        with speaking("de") as missing:
            write_text(made, console, UNICODE)

        assert missing == set(), case.truth.name
        text = stream.getvalue().replace(made.motor.description, "")
        assert ENGLISH_WORDS.findall(text) == [], case.truth.name


def test_numbers_have_commas_and_dates_stay() -> None:
    stream, console = _page(width=120)
    with speaking("de"):
        write_text(PAGES["damaged"](), console, UNICODE)
    text = stream.getvalue()

    assert "1,1 (0,91 bis 1,3)" in text
    assert "2026-11-17" in text
    measured = text.partition("Woher dies stammt")[0]
    assert re.findall(r"\d\.\d", measured) == []


def test_a_sentence_of_several_clauses_is_german() -> None:
    with speaking("de"):
        assert numbers.listed(["1", "2", "3"]) == "1, 2 und 3"
        assert numbers.power(5500.0) == "5,5 kW"
        assert numbers.continues("Nach Ihren Kosten") == "Nach Ihren Kosten"
        assert say("{share} %", share="0.4") == "0,4 %"
    assert numbers.continues("By your costs") == "by your costs"


def test_the_head_names_language_and_decimal_sign() -> None:
    assert set(files("de")[HEAD]) == {"name", "decimal_sign"}
    assert catalogue("de").name == "Deutsch"
