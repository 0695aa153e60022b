"""Limits of what is said of a history: judgements, each with unit, range and source.

The values in force stand in the one data file of the decision layer, under the same names.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendLimits:
    """What a trend takes for granted, and when it says something."""

    least_points: int = 4
    """Points below which there is no trend (1), 3 to 12: our judgement; level, slope and scatter
    are asked of them."""
    least_span_days: float = 60.0
    """Time from the first to the last point below which there is no trend (days), 14 to 365: our
    judgement, the damage of a cage moves in months."""
    floor_bars: float = 0.1
    """Open-bar equivalent below which the scale is linear (open bars), 0.02 to 0.3: our judgement,
    where sound cages and good records lie."""
    visit_scatter_db: float = 1.5
    """Standard deviation of one motor's readings from visit to visit beyond what their intervals
    tell (dB), 0.3 to 4: common practice, no source."""
    common_share: float = 0.75
    """Part of the variance of an interval that is alike at all visits of one nameplate and one set
    of sensors (1), 0 to 0.98: our judgement; the circuit is most of it."""
    load_residual_db: float = 3.0
    """What the reading may still change per unit of the load, standard deviation (dB), 0 to 15: our
    judgement; without normalisation 16 dB on the simulated 3 kW motor from full to a tenth."""
    load_spread: float = 0.2
    """Standard deviation of a load that was not measured (1), 0.05 to 0.4: our judgement."""
    temperature_residual_db_per_k: float = 0.05
    """What the reading may still change with the temperature of the winding, standard deviation
    (dB/K), 0 to 0.2: our judgement; resistances rise by 0.4 % or 0.034 dB per kelvin."""
    temperature_spread_k: float = 20.0
    """Standard deviation of a temperature that was not measured (K), 5 to 40: our judgement."""
    start_level_db: float = -10.0
    """Level expected at the first visit (dB over one open bar), -20 to 0: our judgement, a fifth of
    a bar, between sound and defective."""
    start_spread_db: float = 8.0
    """Its standard deviation (dB), 5 to 40: our judgement; two of them reach from zero to two
    bars."""
    slope_spread_db_per_year: float = 6.0
    """Standard deviation of slopes before anything is measured (dB/year), 1 to 30: our judgement;
    6 dB double the damage."""
    growing_from_db_per_year: float = 1.0
    """Slope from which a cage counts as growing (dB/year), 0 to 6: our judgement, doubles in six
    years."""
    steady_below_db_per_year: float = 3.0
    """Slope below which it may be called steady (dB/year), 1 to 12: our judgement, doubles in two
    years."""
    call_probability: float = 0.95
    """Probability from which either is said (1), 0.8 to 0.999: our judgement."""
    quick_reference_sigma: float = 0.5
    """Reference value k of the quicker cumulative sum (standard deviations), 0.1 to 1.5: half of
    the shift to be found, common practice (Montgomery)."""
    quick_decision_sigma: float = 5.0
    """Its decision interval h (standard deviations), 2 to 10: common practice (Montgomery)."""
    slow_reference_sigma: float = 0.25
    """Reference value of the sum for slow growth (standard deviations), 0.1 to 1: Hawkins 1993."""
    slow_decision_sigma: float = 8.01
    """Its decision interval (standard deviations), 4 to 15: 370 visits between false alarms
    (Hawkins 1993)."""
    growth_fast_db_per_year: float = 6.0
    """Growth whose delay is stated (dB/year), 2 to 20: doubles in a year."""
    growth_slow_db_per_year: float = 2.0
    """Slower growth whose delay is stated (dB/year), 0.5 to 6: doubles in three years."""
    limit_bars: float = 3.0
    """Damage whose time is forecast (open bars), 1 to 8: our judgement; a bar whose neighbours on
    both sides have gone with it is not left in service knowingly."""
    horizon_years: float = 5.0
    """How far ahead (years), 1 to 10: our judgement; no trend holds longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairLimits:
    """When a repair counts as having helped."""

    accepted_bars_max: float = 0.5
    """Largest open-bar equivalent after a repair, the whole interval (open bars), 0.25 to 1: our
    judgement; a bar of doubled resistance reads 0.5 (computed)."""
    unchanged_ratio: float = 1.25
    """Factor between before and after within which a reading without a published limit counts as
    unchanged (1), 1.05 to 2: our judgement."""
    least_load_fraction: float = 0.4
    """Load below which a running record does not accept a cage (1), 0.1 to 0.8: literature
    consensus: do not judge below about 40 to 50 % load (from memory)."""
    largest_age_days: float = 60.0
    """Time from the repair to the baseline beyond which it is no baseline (days), 7 to 365: our
    judgement; what has happened since would be taken for sound."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantLimits:
    """What is assumed of motors between examinations, and when calls can be checked."""

    new_defects_per_year: float = 0.005
    """New cage defects per sound motor and year (1/year), 0.0005 to 0.05: our judgement; a
    prevalence of 2 % (surveys, from memory) if a defect stays for four years."""
    least_outcomes: int = 10
    """Motors opened below which no share is stated (1), 5 to 50: our judgement; none wrong of ten
    bounds a rate at 28 % (Wilson)."""
