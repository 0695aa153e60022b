"""The options of the pages of a plant's history, and of what is noted in a case."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from cagewise.cli.options import STANDARD_OUTPUT


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryOptions:
    """For which day a page holds, and whether it is written as JSON."""

    on: date | None = None
    """Day for which it holds, as in 2031-05-17; today if left out."""
    json: Annotated[Path | None, Parameter(allow_leading_hyphen=True)] = None
    """Write the numbers as JSON too (docs/history.md); a single - writes them to the screen."""
    force: bool = False
    """Replace an existing file."""

    @property
    def on_screen(self) -> bool:
        """Whether the numbers go to the screen instead of the page."""
        return self.json == STANDARD_OUTPUT


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class EventOptions:
    """What goes with everything that is noted in a case."""

    text: str = ""
    """In words."""
    author: str = ""
    """Who says so."""
    on: date | None = None
    """Day on which it happened, as in 2031-05-17; today if left out."""
    attach: list[Path] = field(default_factory=list)
    """A photograph or paper, kept with it. Repeatable."""
    corrects: int | None = None
    """Number of an entry of this case that this one puts right (JSON holds the numbers)."""
