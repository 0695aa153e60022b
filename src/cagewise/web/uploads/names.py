"""File names from outside, as they may be used on the disk of any machine."""

from __future__ import annotations

import re
import unicodedata
from pathlib import PurePosixPath

from cagewise.errors import InputError

LONGEST_BYTES = 200
"""Of a name in UTF-8: file systems take 255, and endings are added to some."""
_FORBIDDEN = re.compile(r'[<>:"|?*]')
"""What some systems do not take in a name."""
_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Categories of characters that nobody sees, or that turn what follows around."""
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\.|$)", re.IGNORECASE)
_ARCHIVES = {".zip", ".7z", ".rar", ".gz", ".tgz", ".bz2", ".xz", ".zst", ".tar"}


def safe_name(stated: str) -> str:
    """Return the name under which a file is kept.

    Folders before it, characters that cannot be seen and those that some systems do not take are
    left out; the ending stays, for a format may be recognised by it.

    Raises
    ------
    InputError
        If nothing is left of it, or it is that of an archive: nothing is unpacked here.
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", stated))[-1]
    seen = "".join(c for c in last if unicodedata.category(c) not in _UNSEEN)
    name = _FORBIDDEN.sub("_", seen).strip().lstrip(".").rstrip(". ").strip()
    if not name:
        raise InputError(
            "a file needs a name", where="name", remedy="Give it the one it has on the instrument."
        )
    if _DEVICES.match(name):
        name = f"_{name}"
    name = _shortened(name)
    if PurePosixPath(name).suffix.casefold() in _ARCHIVES:
        raise InputError(
            "archives are not unpacked here", where=name, remedy="Unpack it, and send the files."
        )
    return name


def _shortened(name: str) -> str:
    """Return a name of at most so many bytes with its ending."""
    ending = PurePosixPath(name).suffix
    if len(ending.encode()) > LONGEST_BYTES // 4:
        ending = ""
    stem = name[: len(name) - len(ending)]
    room = LONGEST_BYTES - len(ending.encode())
    return stem.encode()[:room].decode(errors="ignore") + ending
