"""A spectrum for the eye: what the figures draw; no indicator is read from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cagewise.quantities import RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """One spectrum, thinned for drawing (largest value of each group of bins is kept)."""

    name: str
    """Stable identifier, snake_case ("supply_frame")."""
    title: str
    """The same in words for a person."""
    offset_label: str
    """What the frequency axis counts from ("from the supply frequency")."""
    frequency_hz: RealArray
    """Offset frequency, increasing, shape (n,); two-sided where negative values occur."""
    level_dbc: RealArray
    """Line level relative to the fundamental current, shape (n,)."""
    floor_dbc: RealArray
    """Local noise floor (median, bias removed) at the same frequencies, shape (n,)."""
    markers_hz: Mapping[str, float] = field(default_factory=dict)
    """Where the cage lines are expected: label to offset frequency; empty without slip."""
