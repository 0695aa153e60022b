"""Points between two steps of something that must survive being killed."""

from __future__ import annotations

from collections.abc import Callable

Step = Callable[[str], None]
"""Called with the name of each step after it was done. Programs pass nothing; tests pass a function
that kills the process at a chosen point."""


def no_step(name: str) -> None:
    """Do nothing."""
