"""The opinions of the evidence layer; their values, units and sources are in ``limits.toml``."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceLimits:
    """Where a number begins to speak for or against a hypothesis."""

    false_alarm_probability_max: float
    """A line counts as found when noise alone would show it no more often than this."""
    harmonic_shown_min: float
    """Part of what damage would read beside the 5th and 7th harmonic below which it is not there:
    then something that does not show there makes the lines beside the supply frequency."""
    uneven_bars_max: float
    """Reading beside the 5th and 7th harmonic up to which the unevenness of a sound cage makes
    it."""
    damage_from_bars: float
    """A reading speaks for a defect when its whole interval lies at or above this."""
    sound_below_bars: float
    """A reading speaks against a defect when its upper limit lies below this."""
    oscillation_power_margin: float
    """Part of the least active-over-reactive ratio that the motor model gives an oscillating load,
    from which the load is the likelier origin."""
    supply_share_min: float
    """Part of the lines from which the supply is their likelier origin, amplitude."""
    supply_share_max: float
    """Part of the lines up to which the supply is not their origin, amplitude."""
    cage_power_ratio_max: float
    """Active over reactive power line up to which the load is not the origin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplanationLimits:
    """How the findings tilt the weight of a cause; before them all causes are alike."""

    weight_cannot_tell: float = 0.3
    """Weight of a cause of which nothing at hand tells over one that findings speak for (1), 0.1 to
    1: our judgement, no source."""
    weight_against: float = 0.03
    """The same of a cause that findings speak against (1), 0.001 to 0.1: our judgement; a finding
    is wrong about once in thirty."""
    weight_wrong_reading: float = 0.1
    """The same of a reading that is wrong for a reason nobody listed (1), 0.01 to 0.5: our
    judgement, rarer than any cause on the list and never excluded by the same reading."""
