"""The compiler of the time steps; imported only where numba is installed.

Machine code is kept between runs. The compiler looks at one file only to see whether what it kept
is still true: that of the kernel; but a kernel contains the functions and constants of many. So
only the outermost function is kept, and it holds the fingerprint of all sources in its closure,
whose values are part of the name under which it is kept.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import ParamSpec, TypeVar, cast

import numba

_P = ParamSpec("_P")
_R = TypeVar("_R")

_OPTIONS = {"contract", "reassoc", "nsz"}
"""Sums may be reordered; NaN keeps its meaning."""


def compiled(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Compile ``function`` as part of a kernel; it is not kept by itself."""
    return cast("Callable[_P, _R]", numba.njit(fastmath=_OPTIONS)(function))


def kept(kernel: Callable[_P, _R]) -> Callable[_P, _R]:
    """Compile ``kernel`` and keep the machine code between runs.

    It must use a variable of an enclosing function that holds the :func:`fingerprint` of the
    sources of everything it calls.
    """
    return cast("Callable[_P, _R]", numba.njit(cache=True, fastmath=_OPTIONS)(kernel))


def fingerprint(folder: Path) -> int:
    """Return a number of 63 bits that changes with every edit of a source below ``folder``."""
    digest = hashlib.sha256()
    for source in sorted(folder.rglob("*.py")):
        digest.update(source.relative_to(folder).as_posix().encode() + b"\0")
        digest.update(hashlib.sha256(source.read_bytes()).digest())
    return int.from_bytes(digest.digest()[:8], "big") >> 1
