"""Simulated visits kept on disk: the examination can change without a new simulation.

A simulation takes ten times as long as an examination. ``run.py --keep FOLDER`` writes what the
instruments of each scene delivered to ``FOLDER`` and takes it from there the next time; the files
are of this program's own making and are read by nothing else.
"""

from __future__ import annotations

import copyreg
import os
import pickle
from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from truth.population import DESIGN

Kept = TypeVar("Kept")


def _view(of: dict[str, object]) -> MappingProxyType[str, object]:
    """Return a read-only view, which pickles by this function because its class has no name."""
    return MappingProxyType(of)


copyreg.pickle(MappingProxyType, lambda view: (_view, (dict(view),)))


def kept(folder: Path | None, number: int, make: Callable[[], Kept]) -> Kept:
    """Return what ``make`` returns for a scene, from the folder if it is there."""
    if folder is None:
        return make()
    path = folder / f"{DESIGN}-{number:06}.pickle"
    if path.exists():
        made: Kept = pickle.loads(path.read_bytes())  # noqa: S301  # our own file
        return made
    made = make()
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(f".{os.getpid()}")
    partial.write_bytes(pickle.dumps(made, protocol=5))
    partial.replace(path)  # whole or not at all
    return made
