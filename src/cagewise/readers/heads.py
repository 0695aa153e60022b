"""What the first bytes of a file tell where two text formats could be confused."""

from __future__ import annotations

import re
from pathlib import Path

from cagewise.readers.files import sibling
from cagewise.readers.text import is_text

_COUNTS = re.compile(rb"^[^\r\n]*[\r\n]+\s*\d+\s*,\s*\d+\s*[aA]\s*,\s*\d+\s*[dD]\s*[\r\n]")
"""Second line of a configuration: total, analogue and digital channels ("8,4A,4D")."""

_SECTION = re.compile(rb"^\s*-{2,}\s*file\s+type\b", re.IGNORECASE)
"""First line of a combined file."""

_COUNTING = re.compile(rb"^\s*(\d+)\s*,[^\r\n]*,[^\r\n]*[\r\n]+\s*(\d+)\s*,")
"""First two lines of an ASCII data file: sample numbers."""

COMTRADE_TEXTS = (".cfg", ".cff", ".hdr", ".inf")
"""Endings of COMTRADE text files: without their marks they are damaged and not tables."""

_COMPANIONS = (".dat", ".hdr", ".inf")


def looks_like_comtrade(path: Path, head: bytes) -> bool:
    """Return whether a file is part of a COMTRADE recording, by its content and its company."""
    text = head.removeprefix(b"\xef\xbb\xbf")
    if _SECTION.match(text) or _COUNTS.match(text):
        return True
    suffix = path.suffix.casefold()
    if suffix not in _COMPANIONS:
        return False
    if sibling(path, ".cfg") is not None:
        return True
    return suffix == ".dat" and (not is_text(head) or _counts_samples(head))


def _counts_samples(head: bytes) -> bool:
    """Return whether the first two lines begin with consecutive sample numbers."""
    match = _COUNTING.match(head)
    return match is not None and int(match[2]) == int(match[1]) + 1
