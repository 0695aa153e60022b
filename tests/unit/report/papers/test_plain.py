"""Text as it can be set, and where its words may be broken."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.report.papers.breaks import Pieces, in_pieces
from cagewise.report.papers.plain import UNSHOWABLE, plain, plain_line, tied

TIE = "\N{NO-BREAK SPACE}"


def joined(pieces: str | Pieces) -> str:
    if isinstance(pieces, str):
        return pieces
    return "".join(each if isinstance(each, str) else "".join(each) for each in pieces)


def pieces_of(word: str) -> list[str]:
    """Return the pieces of one long word."""
    (found,) = list(in_pieces(word, 10))
    assert isinstance(found, list)
    return found


def test_ordinary_text_stays_as_it_is() -> None:
    text = "Läufer P-101: 2.3 % ≥ 1 (Ω, µ) «ok» 漢字 e\u0301"
    assert plain(text) == text


def test_lines_stay_lines_and_tabs_become_spaces() -> None:
    assert plain("a\r\nb\rc\td") == "a\nb\nc d"
    assert plain_line("a\nb") == "a b"


@pytest.mark.parametrize("each", ["\x00", "\x1b", "\x7f", "\x85", "\ud800", "\ue000", "\ufffe"])
def test_what_has_no_glyph_is_shown_as_such(each: str) -> None:
    assert plain(f"a{each}b") == f"a{UNSHOWABLE}b"


@pytest.mark.parametrize("each", ["\u202e", "\u2066", "\u200f", "\u061c", "\ufeff"])
def test_marks_of_direction_are_left_out(each: str) -> None:
    assert plain(f"a{each}b") == "ab"


@given(st.text())
def test_it_is_as_it_can_be_set_once_and_for_all(text: str) -> None:
    once = plain(text)
    assert plain(once) == once
    once.encode("utf-8")  # no halves of pairs


@pytest.mark.parametrize(
    ("loose", "kept"),
    [
        ("31 000 EUR", f"31{TIE}000{TIE}EUR"),
        ("0.4 %, 10 kHz", f"0.4{TIE}%, 10{TIE}kHz"),
        ("at 40 °C for 1 min", f"at 40{TIE}°C for 1{TIE}min"),
        ("12 bars of 58", "12 bars of 58"),
        ("side line (1 - 2s)f", f"side line (1{TIE}-{TIE}2s)f"),
        ("2 motors", "2 motors"),
        ("in 2031 1200 hours", "in 2031 1200 hours"),
    ],
)
def test_numbers_stay_with_groups_and_units(loose: str, kept: str) -> None:
    assert tied(loose) == kept


@given(st.text(max_size=80), st.integers(3, 40))
def test_pieces_joined_are_the_text(text: str, longest: int) -> None:
    assert joined(in_pieces(text, longest)) == text


def test_short_words_are_running_text() -> None:
    assert in_pieces("side lines of the supply", 12) == "side lines of the supply"


def test_a_name_is_one_word() -> None:
    assert in_pieces("see P-101-PUMP here", 20) == ["see ", ["P-101-PUMP"], " here"]


def test_a_long_name_ends_lines_after_its_separators() -> None:
    word = pieces_of("2031-03/north_plant/P101")
    assert "".join(word) == "2031-03/north_plant/P101"
    assert {"nort", "h_", "plan", "t/"} <= set(word)


def test_marks_stay_on_their_letters() -> None:
    word = pieces_of("e\u0301" * 40)
    assert all(not piece.startswith("\u0301") for piece in word)
