"""Numbers of things in words."""

from __future__ import annotations


def counted(*things: tuple[int, str]) -> str:
    """Return what there is of several things, those of which there is none left out.

    >>> counted((3, "recording"), (1, "test sheet"), (0, "start"))
    '3 recordings, 1 test sheet'
    """
    there = [f"{n} {name}" if n == 1 else f"{n} {name}s" for n, name in things if n]
    return ", ".join(there)
