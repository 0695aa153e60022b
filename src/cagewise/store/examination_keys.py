"""What lists and trends ask of an examination, one column each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationKeys:
    """What lists and trends ask of an examination; the document holds everything."""

    state: str
    ground: str = ""
    probability: float | None = None
    """Of a defect of the cage."""
    open_bars: float | None = None
    """Open-bar equivalent of everything together, with its 95 % interval."""
    open_bars_low: float | None = None
    open_bars_high: float | None = None
    upper_limit_bars: float | None = None
    load_fraction: float | None = None
    """Per unit of rated load, with its 95 % interval."""
    load_fraction_low: float | None = None
    load_fraction_high: float | None = None
    winding_temperature_degc: float | None = None
    action: str = ""
    act_by_earliest: date | None = None
    act_by_latest: date | None = None
    winding: str | None = None
    """State of the winding; empty where it was not tested, None where that is not known."""
    insulation: str | None = None
    """State of the insulation, alike."""
    next_step: str | None = None
    """What to measure next, as the document calls it; empty if nothing, None if not known."""
    methods_agreeing: int | None = None
    """Methods that speak for a defect of the cage."""
    classes_agreeing: int | None = None
    """Independence classes that speak for one."""
