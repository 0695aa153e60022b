"""Every threshold is used, documented and within its own range; names match the classes."""

from __future__ import annotations

from dataclasses import MISSING, fields

import pytest

from cagewise.decision.limits import SECTIONS, LimitEntry, limit_entries, load_limits

ENTRIES = limit_entries()


def name_of(entry: LimitEntry) -> str:
    return f"{entry.section}.{entry.name}"


def test_sections_and_keys_are_those_of_the_classes() -> None:
    in_file = {(e.section, e.name) for e in ENTRIES}
    in_code = {(section, f.name) for section, kind in SECTIONS.items() for f in fields(kind)}

    assert in_file == in_code


@pytest.mark.parametrize("entry", ENTRIES, ids=name_of)
def test_every_limit_is_documented_and_within_its_range(entry: LimitEntry) -> None:
    values = entry.value if isinstance(entry.value, tuple) else (entry.value,)
    low, high = entry.valid

    assert entry.unit
    assert len(entry.source) >= len("our judgement")
    assert low < high
    assert all(low <= value <= high for value in values)
    assert list(values) == sorted(values)


@pytest.mark.parametrize("section", SECTIONS)
def test_defaults_in_code_are_the_numbers_of_the_file(section: str) -> None:
    """A library user who calls a layer directly gets the limits that the report cites."""
    loaded = getattr(load_limits(), section)
    for item in fields(SECTIONS[section]):
        if item.default is not MISSING:
            assert getattr(loaded, item.name) == item.default, item.name


def test_the_chance_of_a_false_line_is_one_opinion() -> None:
    limits = load_limits()

    assert limits.evidence.false_alarm_probability_max == limits.cage.false_alarm_probability
