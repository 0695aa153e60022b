"""Languages: what is said in which, what has no words, and that a catalogue is sound."""

from __future__ import annotations

import re

import pytest

from cagewise.errors import UsageError
from cagewise.language import (
    ENGLISH,
    HEAD,
    catalogue,
    current,
    decimal,
    files,
    languages,
    places,
    retell,
    say,
    speaking,
)

OTHERS = [code for code in languages() if code != ENGLISH]


def test_english_is_what_is_written() -> None:
    assert current() == ENGLISH == languages()[0]
    assert say("{low} to {high}", low="0.9", high=1.3) == "0.9 to 1.3"
    assert retell("the slip is not known") == "the slip is not known"
    assert say("{untouched}") == "{untouched}"


def test_a_language_holds_inside_of_its_block_only() -> None:
    with speaking("de"):
        assert say("sound") == "in Ordnung"
        with speaking(ENGLISH):
            assert say("sound") == "sound"
        assert current() == "de"
    assert say("sound") == "sound"


def test_an_unknown_language_is_refused_with_those_there_are() -> None:
    with pytest.raises(UsageError, match="no language 'xx'") as refused, speaking("xx"):
        pass  # pragma: no cover - refused before
    assert "de" in str(refused.value.remedy)
    for asked in (catalogue, files):
        with pytest.raises(UsageError):
            asked("../de")


def test_numbers_get_the_decimal_sign_of_the_language_and_names_do_not() -> None:
    with speaking("de"):
        assert say("{low} to {high}", low="0.9", high="-1.3") == "0,9 bis -1,3"
        assert decimal("20+") == "20+"
        assert decimal("0.1.0") == "0.1.0"
        assert decimal("pump.cfg") == "pump.cfg"
        assert decimal("2031-03-04") == "2031-03-04"


def test_what_the_layers_below_said_is_said_again_with_its_values() -> None:
    reason = "the load is 12.5 % of rated and at least 25 % is needed: record at a higher load"
    with speaking("de") as missing:
        said = retell(f"the slip is not known ({reason}), so the place of the lines is not")
    assert "12,5 % der Bemessungslast" in said
    assert said.startswith("der Schlupf ist nicht bekannt (")
    assert not missing


def test_several_texts_in_one_are_said_one_by_one() -> None:
    with speaking("de") as missing:
        assert retell("rotor slots; pole pass") == "Läufernuten; doppelte Schlupffrequenz"
        two = retell("They are used as named. Check the direction of the clamps.")
    assert two == "Sie werden wie benannt verwendet. Die Richtung der Stromzangen prüfen."
    assert not missing


def test_what_has_no_words_stays_english_and_is_gathered() -> None:
    with speaking("de") as missing:
        assert say("nobody says {what}", what="1.5") == "nobody says 1,5"
        assert retell("the moon stood too low") == "the moon stood too low"
        inside = retell(
            "the slip is not known (the moon stood too low), so the place of the lines is not"
        )
        assert say("{value} GΩ", value="1.5") == "1,5 GΩ"
        assert retell("i_a.dat") == "i_a.dat"
    assert "the moon stood too low" in inside
    assert missing == {"nobody says {what}", "the moon stood too low"}


def test_what_was_said_can_be_said_again() -> None:
    with speaking("de") as missing:
        once = retell("offset from -5 times the supply frequency")
        assert say(once) == once
    assert not missing


def test_words_of_a_user_are_no_template() -> None:
    with speaking("de"):
        assert retell("pump {0} of the {plant") == "pump {0} of the {plant"


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_has_the_places_of_its_template(code: str) -> None:
    for english, said in catalogue(code).templates.items():
        assert places(said) == places(english), english


@pytest.mark.parametrize("code", OTHERS)
def test_no_template_is_translated_in_two_ways(code: str) -> None:
    """Several files may have the same entry: a paper brings its own."""
    said: dict[str, set[object]] = {}
    for name, each in files(code).items():
        for english, translation in each.items() if name != HEAD else ():
            said.setdefault(english, set()).add(translation)

    assert [english for english, ways in said.items() if len(ways) > 1] == []


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_begins_and_ends_as_its_template(code: str) -> None:
    """Blanks at its ends, a full stop, and a capital that begins a sentence."""
    for english, said in catalogue(code).templates.items():
        assert said.strip(), english
        assert english.endswith(_STOPS) or english.endswith(".") == said.endswith("."), english
        ends = (english[-1:] == " ", said[-1:] == " ")
        assert ends[0] == ends[1], english
        assert re.search(r"[\t\n]", said) is None, english


_STOPS = ("no.", "d.c.", "5th", "7th", "fifth", "seventh")
"""Abbreviations."""
