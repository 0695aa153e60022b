"""Which files, and which bytes of them, make up one COMTRADE recording."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from cagewise.errors import RecordingError
from cagewise.readers.files import HEAD_BYTES, sibling, translated

_SECTION = re.compile(
    rb"^[ \t]*-{2,}[ \t]*file[ \t]+type[ \t]*:?[ \t]*(?P<kind>CFG|INF|HDR|DAT)\b[ \t]*"
    rb"(?P<format>[A-Z0-9]*)[ \t]*(?::[ \t]*(?P<length>\d{1,18}))?[ \t]*-{2,}[ \t]*(?:\r?\n|\Z)",
    re.IGNORECASE | re.MULTILINE,
)
"""Heading of a section of a combined file: ``--- file type: DAT BINARY32: 4214 ---``."""

_LONGEST_TEXT_BYTES = 64 << 20
"""Bytes of text sections before the data section of a combined file."""

_CONFIG_BYTES = 16 << 20
"""Largest configuration that is read: 999999 channels at most have 999999 lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The configuration and where the data are."""

    config: Path
    data: Path
    """The same as :attr:`config` for a combined file."""

    @property
    def combined(self) -> bool:
        """Whether configuration and data are in one file."""
        return self.config == self.data

    @property
    def files(self) -> tuple[Path, ...]:
        """The files in the order in which they are hashed."""
        return (self.config,) if self.combined else (self.config, self.data)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """Text of the configuration and position of the data."""

    config: bytes
    data: Path
    offset: int = 0
    """First byte of the data."""
    length: int | None = None
    """Bytes of data that a combined file states, or None."""
    data_type: str = ""
    """Data type that a combined file states in its section heading, or empty."""


def locate(path: Path) -> Parts:
    """Return the files of the recording that ``path`` is one file of.

    Raises
    ------
    RecordingError
        If the configuration or the data file is missing.
    """
    if _is_combined(path):
        return Parts(config=path, data=path)
    suffix = path.suffix.casefold()
    config = sibling(path, ".cfg") if suffix in (".dat", ".hdr", ".inf") else path
    if config is None:
        raise RecordingError(
            f"the configuration {path.stem}.cfg that describes it is missing",
            where=str(path),
            remedy="Copy the .cfg file from the instrument into the same folder.",
        )
    data = path if suffix == ".dat" else sibling(path, ".dat")
    if data is None:
        raise RecordingError(
            f"the data file {path.stem}.dat is missing",
            where=str(path),
            remedy="Copy the .dat file from the instrument into the same folder.",
        )
    return Parts(config=config, data=data)


def sections(parts: Parts) -> Sections:
    """Return the configuration as bytes and the place of the data."""
    with translated(parts.config, "the configuration cannot be read"):
        if not parts.combined:
            with parts.config.open("rb") as stream:
                return Sections(config=stream.read(_CONFIG_BYTES), data=parts.data)
    return _combined_sections(parts.config)


def _is_combined(path: Path) -> bool:
    """Return whether the file begins with a section heading."""
    with translated(path, "the file cannot be read"), path.open("rb") as stream:
        head = stream.read(HEAD_BYTES).removeprefix(b"\xef\xbb\xbf")
    return _SECTION.match(head.lstrip()) is not None


def _combined_sections(path: Path) -> Sections:
    """Return the sections of a combined file."""
    text = b""
    with translated(path, "the file cannot be read"), path.open("rb") as stream:
        while len(text) < _LONGEST_TEXT_BYTES and (block := stream.read(1 << 20)):
            text += block
            found = {m["kind"].upper(): m for m in _SECTION.finditer(text)}
            if b"DAT" in found and found[b"DAT"].end() < len(text):
                break
    found = {}
    for match in _SECTION.finditer(text):
        found.setdefault(match["kind"].upper(), match)
    if b"CFG" not in found or b"DAT" not in found:
        missing = "CFG" if b"CFG" not in found else "DAT"
        raise RecordingError(
            f"the combined file has no {missing} section",
            where=str(path),
            remedy="It may be cut short; copy it again from the instrument.",
        )
    config, data = found[b"CFG"], found[b"DAT"]
    end = min((m.start() for m in found.values() if m.start() > config.start()), default=len(text))
    return Sections(
        config=text[config.end() : end],
        data=path,
        offset=data.end(),
        length=None if data["length"] is None else int(data["length"]),
        data_type=data["format"].decode("ascii").upper(),
    )
