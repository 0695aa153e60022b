"""Text of unknown encoding, and whether bytes are text at all."""

from __future__ import annotations

import codecs
import re

_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)

_CONTROL = frozenset(range(32)) - {0x09, 0x0A, 0x0B, 0x0C, 0x0D, 0x1A}
"""Control characters that text files do not contain (0x1A once marked the end of text)."""

_HIGH_RUN = re.compile(rb"[\x80-\xff]+")
_COMMON_PAIRS = re.compile(rb"(?:[\xa1-\xf7][\xa1-\xfe])+")
"""Characters of GB 2312, the part of GBK that instruments write."""

_PAIRED_SHARE = 0.9
"""Share of runs of high bytes that are pairs of common Chinese characters, from which Chinese text
is assumed: accented Latin letters come in runs of any length."""


def is_text(head: bytes) -> bool:
    """Return whether the bytes look like text in any encoding."""
    if head.startswith(_UTF16_MARKS):
        return True
    return bool(head) and not _CONTROL & set(head)


def decode_text(data: bytes) -> tuple[str, str]:
    """Return the text and the name of the encoding that fits best.

    UTF-8 and UTF-16 are certain. Among the single- and double-byte code pages the choice is a
    judgement: bytes that only Cyrillic text in code page 866 uses are that, pairs of bytes as in
    common Chinese characters are GBK, anything else is Latin-1.
    """
    if data.startswith(_UTF16_MARKS):
        return data.decode("utf-16", errors="replace"), "utf-16"
    try:
        return data.decode("utf-8-sig"), "utf-8"
    except UnicodeDecodeError as error:
        if error.start >= len(data) - 3 and "unexpected end" in error.reason:
            return data[: error.start].decode("utf-8-sig"), "utf-8"  # cut inside a letter
    for encoding, plausible in (("cp866", _looks_cp866), ("gbk", _looks_gbk)):
        if plausible(data):
            try:
                return data.decode(encoding), encoding
            except UnicodeDecodeError:
                continue
    return data.decode("latin-1"), "latin-1"


def _looks_gbk(data: bytes) -> bool:
    """Return whether nearly all runs of high bytes are pairs of common Chinese characters."""
    runs = _HIGH_RUN.findall(data)
    paired = sum(_COMMON_PAIRS.fullmatch(run) is not None for run in runs)
    return paired >= _PAIRED_SHARE * len(runs)


def _looks_cp866(data: bytes) -> bool:
    """Return whether the high bytes are Cyrillic letters of code page 866.

    Its capitals (0x80-0x9F) are control codes in Latin-1.
    """
    high = [byte for byte in data if byte >= 0x80]
    letters = sum(byte < 0xB0 or 0xE0 <= byte < 0xF2 for byte in high)
    capitals = sum(byte < 0xA0 for byte in high)
    return letters == len(high) and capitals > 0
