"""All formats, found by walking the folders beside this file; reading and writing by content."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import cache, partial
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from cagewise.errors import RecordingError
from cagewise.measurement import Recording
from cagewise.readers.files import read_head, sha256_of, translated
from cagewise.readers.finish import finished, require_usable, with_provenance
from cagewise.readers.format import Format, ReadOptions
from cagewise.readers.sidecar import load_sidecar

NOT_RECORDINGS = frozenset({"repair_return", "test_sheet"})
"""Folders beside this file that read something else."""

_SMALL_BYTES = 1 << 18
"""Size of a file that is hashed in the time that it takes to start a thread, about."""


@cache
def formats() -> tuple[Format, ...]:
    """Return the formats of all folders beside this file, by name."""
    here = str(Path(__file__).parent)
    packages = [module.name for module in iter_modules([here]) if module.ispkg]
    found: list[Format] = [
        import_module(f"cagewise.readers.{package}").FORMAT
        for package in packages
        if package not in NOT_RECORDINGS
    ]
    return tuple(sorted(found, key=lambda form: form.name))


def identify(path: Path, head: bytes | None = None) -> Format:
    """Return the format of a file by its content; the name decides only between several.

    Raises
    ------
    RecordingError
        If the file cannot be opened or no format claims it.
    """
    if head is None:
        head = read_head(path)
    suffix = path.suffix.casefold()
    claims = [form for form in formats() if form.sniff(path, head)]
    named = [form for form in claims if suffix in form.suffixes]
    if named or claims:
        return (named or claims)[0]
    expected = [form for form in formats() if suffix in form.suffixes]
    if expected:
        raise RecordingError(
            f"the name says {expected[0].title}, but the content does not",
            where=str(path),
            remedy="Copy it again from the instrument, or give it the name it had there.",
        )
    if suffix == ".toml":
        remedy = "The motor file comes first, and only once; a sidecar is found beside its file."
    else:
        remedy = f"Known formats: {', '.join(form.name for form in formats())}."
    raise RecordingError(
        "this is not a recording in a known format", where=str(path), remedy=remedy
    )


def read_recording(
    path: str | os.PathLike[str],
    *,
    roles: Mapping[str, str] | None = None,
    options: ReadOptions | None = None,
    checksum_of: Callable[[tuple[Path, ...]], str] = sha256_of,
) -> Recording:
    """Read one recording from a file of any known format; samples are not altered.

    Roles come from ``roles``, else the sidecar ``<file name>.toml``, else the file, else names.

    Parameters
    ----------
    path
        The file; for formats of several files any of them.
    roles
        Channel name (or number, where channels have no names) -> ``[-]ROLE[*NUMBER]``.
    options
        What the user states about the file.
    checksum_of
        Returns the SHA-256 of the files one after the other; it is called while they are decoded,
        and may copy what it reads.

    Raises
    ------
    RecordingError
        If the file cannot be used.
    ChannelRoleError
        If ``roles`` or the sidecar name a channel or role that does not exist.
    MissingExtraError
        If the format needs an optional part of the installation.
    """
    path = Path(path)
    form = identify(path)
    sidecar = load_sidecar(files := form.files(path))
    stated = sidecar.merged_into(options or ReadOptions())
    recording, sha256 = _read_and_hashed(form, path, stated, partial(checksum_of, files))
    require_usable(recording, path)
    known = with_provenance(recording, sha256=sha256, notes=_name_notes(path, form))
    return finished(known, sidecar, roles)


def _read_and_hashed(
    form: Format, path: Path, options: ReadOptions, checksum: Callable[[], str]
) -> tuple[Recording, str]:
    """Return the recording in a file and the checksum of its bytes.

    Both are worked out at the same time, unless a thread would take longer than a small file.
    """
    with translated(path, "the file cannot be read"):
        is_small = path.stat().st_size < _SMALL_BYTES
    if is_small:
        recording = form.read(path, options)
        with translated(path, "the file cannot be read"):
            return recording, checksum()
    with ThreadPoolExecutor(max_workers=1) as pool:
        digest = pool.submit(checksum)
        recording = form.read(path, options)
        with translated(path, "the file cannot be read"):
            return recording, digest.result()


def write_recording(
    recording: Recording,
    path: str | os.PathLike[str],
    format_name: str | None = None,
    *,
    overwrite: bool = False,
) -> None:
    """Write a recording; the format follows from the name's ending unless it is stated.

    Nothing is left behind half written, and an existing file is only replaced if ``overwrite``.

    Raises
    ------
    RecordingError
        If the file exists, the folder does not, or the format is not known or cannot be written.
    """
    path = Path(path)
    form = _format_for_writing(path, format_name)
    if form.write is None:
        raise RecordingError(
            f"{form.title} can be read but not written",
            where=str(path),
            remedy=f"Choose one of: {', '.join(f.name for f in formats() if f.can_write)}.",
        )
    if not path.parent.is_dir():
        raise RecordingError(
            "there is no such folder", where=str(path.parent), remedy="Create it first."
        )
    _require_free(path, overwrite=overwrite)
    with (
        translated(path, "the file cannot be written", remedy="Check folder and free space."),
        tempfile.TemporaryDirectory(dir=path.parent, prefix=".writing-") as folder,
    ):
        form.write(recording, Path(folder) / path.name)
        written = sorted(Path(folder).iterdir())
        for new in written:
            _require_free(path.parent / new.name, overwrite=overwrite)
        for new in written:
            new.replace(path.parent / new.name)


def _require_free(target: Path, *, overwrite: bool) -> None:
    """Raise if a file stands where a new one is to be written."""
    if target.exists() and not overwrite:
        raise RecordingError(
            "the file exists already",
            where=str(target),
            remedy="Choose another name, or ask for it to be overwritten.",
        )


def _format_for_writing(path: Path, format_name: str | None) -> Format:
    """Return the format by its name, or by the ending of the path."""
    suffix = path.suffix.casefold()
    for form in formats():
        if form.name == format_name or (format_name is None and suffix in form.suffixes):
            return form
    endings = ", ".join(form.suffixes[0] for form in formats() if form.can_write)
    raise RecordingError(
        f"no format is named {format_name!r}" if format_name else f"no format ends in {suffix!r}",
        where=str(path),
        remedy=f"Endings that can be written: {endings}.",
    )


def _name_notes(path: Path, form: Format) -> tuple[str, ...]:
    """Return a note where the name of the file promises another format than it holds."""
    suffix = path.suffix.casefold()
    others = [f.title for f in formats() if suffix in f.suffixes]
    if others and suffix not in form.suffixes:
        return (f"the name ends in {suffix} ({others[0]}), the content is {form.title}",)
    return ()
