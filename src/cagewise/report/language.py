"""The language of papers and pages; see :mod:`cagewise.language`, which figures speak, too."""

from __future__ import annotations

from cagewise.language import (
    ENGLISH,
    Catalogue,
    catalogue,
    current,
    decimal,
    languages,
    retell,
    say,
    say_each,
    speaking,
)

__all__ = [
    "ENGLISH",
    "Catalogue",
    "catalogue",
    "current",
    "decimal",
    "languages",
    "retell",
    "say",
    "say_each",
    "speaking",
]
