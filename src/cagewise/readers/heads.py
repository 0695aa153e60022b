"""What the first bytes of a file tell where two text formats could be confused."""

from __future__ import annotations

import re
from pathlib import Path

from cagewise.readers.files import sibling
from cagewise.readers.text import is_text

_COUNTS = re.compile(rb"\d+,\d+[aA],\d+[dD]")
"""Second line of a configuration: total, analogue and digital channels ("8,4A,4D")."""

_SECTION = re.compile(rb"-{2,}[ \t]*file[ \t]+type\b", re.IGNORECASE)
"""First line of a combined file."""

_SAMPLE_NUMBER = re.compile(rb"(\d{1,10}),.*")
"""Line of an ASCII data file."""

_LINE_ENDS = re.compile(rb"[\r\n]+")

COMTRADE_TEXTS = (".cfg", ".cff", ".hdr", ".inf")
"""Endings of COMTRADE text files: without their marks they are damaged and not tables."""

_COMPANIONS = (".dat", ".hdr", ".inf")


def looks_like_comtrade(path: Path, head: bytes) -> bool:
    """Return whether a file is part of a COMTRADE recording, by its content and its company."""
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if _SECTION.match(text) or _COUNTS.fullmatch(_line(text, 1)):
        return True
    suffix = path.suffix.casefold()
    if suffix not in _COMPANIONS:
        return False
    if sibling(path, ".cfg") is not None:
        return True
    return suffix == ".dat" and (not is_text(head) or _counts_samples(head))


def _counts_samples(head: bytes) -> bool:
    """Return whether the first two lines begin with consecutive sample numbers."""
    first, second = (_SAMPLE_NUMBER.fullmatch(_line(head.lstrip(), k)) for k in (0, 1))
    return first is not None and second is not None and int(second[1]) == int(first[1]) + 1


def _line(text: bytes, number: int) -> bytes:
    """Return a line among the first ones, without blanks; empty if there is none."""
    lines = _LINE_ENDS.split(text, maxsplit=2)
    return b"".join(lines[number].split()) if number < len(lines) else b""
