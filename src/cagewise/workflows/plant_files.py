"""Files and folders that the user names, as things to import: one recording or sheet each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from cagewise.errors import CagewiseError, MissingExtraError, RecordingError, SheetError
from cagewise.readers import formats, identify
from cagewise.readers.test_sheet import SHEET_ENDINGS, is_test_sheet, waveforms_beside
from cagewise.workflows.plant_folder import is_plant

SIDECAR_ENDING = ".toml"
"""A file ``x.cfg.toml`` beside ``x.cfg`` says what ``x.cfg`` does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFile:
    """One recording or test sheet on the disk."""

    path: Path
    """As it is shown."""
    files: tuple[Path, ...]
    """Everything that belongs to it, in the order in which it is hashed, sidecars last."""
    sidecars: tuple[Path, ...] = ()
    """Those of the files that speak of the others."""
    is_sheet: bool
    fault: CagewiseError | None = None
    """Why it is neither; None if it is one."""
    named: bool = True
    """Whether the user named it, rather than a folder above it."""

    @property
    def own_files(self) -> tuple[Path, ...]:
        """Its files without the sidecars."""
        return self.files[: len(self.files) - len(self.sidecars)]

    @property
    def is_foreign(self) -> bool:
        """Whether it lies in a folder by chance: its ending is not even that of a recording."""
        endings = {ending for form in formats() for ending in form.suffixes}
        foreign = self.path.suffix.casefold() not in endings
        return self.fault is not None and not self.named and foreign


def found_files(paths: Sequence[Path]) -> Iterator[FoundFile]:
    """Yield what is in files and folders, every recording and sheet once, in the order of names.

    Hidden files and folders, and folders that are plants themselves, are passed by; so is a
    file that a test sheet beside it names, as it comes with the sheet.
    """
    taken = _beside_sheets(paths)
    for named in paths:
        for path in _below(named):
            if path.resolve() not in taken and not (path != named and is_sidecar(path)):
                found = found_file(path, named=path == named)
                taken.update(each.resolve() for each in (path, *found.files))
                yield found


def _below(path: Path) -> Iterator[Path]:
    """Yield a file, or the files in a folder and in its folders."""
    if not path.is_dir():
        yield path
        return
    if is_plant(path):
        return
    entries = list(_entries(path))
    beside = _beside_sheets(entries)
    for entry in entries:
        if not entry.name.startswith(".") and entry.resolve() not in beside:
            yield from _below(entry)


def _entries(folder: Path) -> Iterable[Path]:
    """Return what is in a folder, by name, files before folders.

    Raises
    ------
    RecordingError
        If it cannot be looked into.
    """
    try:
        return sorted(folder.iterdir(), key=lambda entry: (entry.is_dir(), entry.name))
    except OSError as error:
        raise RecordingError(
            f"the folder cannot be read ({error.strerror or error})",
            where=str(folder),
            remedy="Check its permissions.",
        ) from error


def _beside_sheets(paths: Iterable[Path]) -> set[Path]:
    """Return the files that the test sheets among files name."""
    sheets = (_found_sheet(path, named=False) for path in paths if _is_sheet(path))
    return {beside.resolve() for sheet in sheets for beside in sheet.files[1:]}


def _is_sheet(path: Path) -> bool:
    """Return whether a file is a test sheet, without opening those that cannot be one."""
    return path.suffix.casefold() in SHEET_ENDINGS and is_test_sheet(path)


def found_file(path: Path, *, named: bool) -> FoundFile:
    """Return what a file is."""
    if _is_sheet(path):
        return _found_sheet(path, named=named)
    try:
        files = identify(path).files(path)
    except (RecordingError, MissingExtraError) as error:
        return FoundFile(path=path, files=(path,), is_sheet=False, fault=error, named=named)
    sidecars = (each.with_name(each.name + SIDECAR_ENDING) for each in files)
    beside = tuple(each for each in sidecars if each.is_file())
    return FoundFile(
        path=path, files=(*files, *beside), sidecars=beside, is_sheet=False, named=named
    )


def _found_sheet(path: Path, *, named: bool) -> FoundFile:
    """Return a test sheet with the file of waveforms that it names."""
    try:
        beside = waveforms_beside(path)
    except (SheetError, MissingExtraError) as error:
        return FoundFile(path=path, files=(path,), is_sheet=True, fault=error, named=named)
    files = (path,) if beside is None else (path, beside)
    return FoundFile(path=path, files=files, is_sheet=True, named=named)


def is_sidecar(path: Path) -> bool:
    """Return whether a file speaks of the one beside it."""
    return path.name.endswith(SIDECAR_ENDING) and path.with_suffix("").is_file()
