"""How the words of a text may be broken at the end of a line.

Words of the language are hyphenated by the press. A tag, a file name or a part number is not: a
hyphen that is not its own would be read as one. It is broken, without a hyphen, only where it is
wider than its column.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import TypeAlias

Pieces: TypeAlias = list["str | list[str]"]
"""Text in parts: a string is running text, a list is one word that is never hyphenated, and that
may be broken between its members. All joined are the text."""

LETTERS_TIMES_LONGER = 2
"""Words of letters alone may be so many times longer than a column: they are hyphenated first."""

_PIECE = 4
"""Characters between two places where a long word may end a line."""

_SPACES = re.compile(r"(\s+)")
_NAME = re.compile(r"[^\W\d_]{4}")
"""Letters in a row that a hyphenation could part."""
_AFTER = frozenset("_./\\:;,=|@+&?#~")
"""Characters after which a long word ends best."""
_STUCK_CATEGORIES = frozenset({"Mn", "Mc", "Me", "Cf", "Sk"})
"""A mark belongs to the character before it, and what joins joins both sides."""


def in_pieces(text: str, longest: int) -> str | Pieces:
    """Return text, in pieces if a word of it is a name or longer than ``longest`` characters."""
    if text.isalpha() and len(text) <= longest:
        return text
    pieces: Pieces = []
    for part in _SPACES.split(text):
        word = _word(part, longest)
        if isinstance(word, str) and pieces and isinstance(pieces[-1], str):
            pieces[-1] += word
        elif word:
            pieces.append(word)
    return text if all(isinstance(each, str) for each in pieces) else pieces


def _word(word: str, longest: int) -> str | list[str]:
    """Return a word of the language as it is, another one as a list of its pieces."""
    core = word.strip("()[]\"'.,;:!?")
    letters = core.replace("-", "").isalpha()
    if len(core) <= longest * (LETTERS_TIMES_LONGER if letters else 1):
        is_name = not letters and _NAME.search(core) is not None
        return [word] if is_name else word
    return list(_broken(word))


def _broken(word: str) -> Iterator[str]:
    """Yield the pieces of a word."""
    piece = ""
    for each in word:
        full = len(piece) >= _PIECE or piece[-1:] in _AFTER
        if piece and full and not _stuck(piece[-1], each):
            yield piece
            piece = ""
        piece += each
    yield piece


def _stuck(before: str, after: str) -> bool:
    """Tell whether two characters stay together."""
    return (
        unicodedata.category(after) in _STUCK_CATEGORIES
        or unicodedata.category(before) == "Cf"
        or unicodedata.bidirectional(after) in {"R", "AL"}
    )
