"""The compiler of the time steps; imported only where numba is installed."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

_P = ParamSpec("_P")
_R = TypeVar("_R")


def compiled(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Compile ``function`` and keep the machine code between runs."""
    options = {"contract", "reassoc", "nsz"}  # sums may be reordered; NaN keeps its meaning
    return cast("Callable[_P, _R]", numba.njit(cache=True, fastmath=options)(function))
