"""Whether an archive is what its manifest says, and harmless."""

from __future__ import annotations

from pathlib import Path
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from cagewise.store.archive.format import (
    DATABASE_ENTRY,
    MANIFEST,
    Manifest,
    damaged,
    is_name,
    manifest_from,
)

_LARGEST_MANIFEST = 2**28
"""Bytes: a million files have a manifest of 200 MB."""


def read_manifest(zipped: ZipFile, where: str) -> Manifest:
    """Return the manifest."""
    infos = [info for info in zipped.infolist() if info.filename == MANIFEST]
    if len(infos) != 1 or infos[0].file_size > _LARGEST_MANIFEST:
        raise damaged("it has no manifest: it is no archive of a plant, or not whole", where)
    with zipped.open(infos[0]) as stream:
        content = stream.read(_LARGEST_MANIFEST + 1)
    if len(content) > _LARGEST_MANIFEST:
        raise damaged("its manifest is larger than it says", where)
    return manifest_from(content.decode("utf-8"), where)


def checked_infos(zipped: ZipFile, manifest: Manifest, where: str) -> dict[str, ZipInfo]:
    """Return the entries by name, if they are exactly those of the manifest and harmless."""
    infos = [info for info in zipped.infolist() if info.filename != MANIFEST]
    by_name = {info.filename: info for info in infos}
    stated = {entry.name: entry for entry in manifest.entries}
    if len(by_name) != len(infos) or len(stated) != len(manifest.entries):
        raise damaged("a name stands in it twice", where)
    strange = sorted(name for name in (*by_name, *stated) if not is_name(name))
    if strange:
        raise damaged(f"no plant has a file of the name {strange[0]!r}", where)
    unequal = sorted(by_name.keys() ^ stated.keys())
    if unequal:
        raise damaged(f"manifest and content do not agree on {unequal[0]}", where)
    if DATABASE_ENTRY not in stated:
        raise damaged("it has no database", where)
    for name, info in by_name.items():
        _require_plain(info, stated[name].size_bytes, where)
    if sum(info.compress_size for info in infos) > Path(where).stat().st_size:
        raise damaged("its entries lie over each other", where)
    return by_name


def _require_plain(info: ZipInfo, size_bytes: int, where: str) -> None:
    """Raise if an entry has another size than stated, is encrypted, or packed strangely."""
    if info.file_size != size_bytes or info.flag_bits & 1:
        raise damaged(f"{info.filename} is not as the manifest says", where)
    if info.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
        raise damaged(f"{info.filename} is packed in a way that plants do not use", where)
