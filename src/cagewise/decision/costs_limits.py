"""Limits of the weighing of costs: judgements, each with unit, range and source.

The values in force stand in the one data file of the decision layer, under the same names; the
defaults here are the same numbers for use of this package alone.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLimits:
    """What is assumed where costs are weighed; none of it is measured on this motor."""

    miss_ratio_low: float = 3.0
    """Cost of a failure in service over that of pulling a sound motor where little depends on the
    motor and no costs are given (1), 1 to 10: our judgement."""
    miss_ratio_normal: float = 10.0
    """The same for a motor of normal criticality (1), 3 to 50: our judgement; ten is the figure
    that texts on decisions reckon with."""
    miss_ratio_high: float = 50.0
    """The same where much depends on the motor (1), 10 to 500: our judgement."""
    spare_part: float = 0.5
    """Part of the consequence of a failure that is left with a spare on the shelf (1), 0.1 to 1;
    only where no costs are given: our judgement, the damage stays, most of the waiting goes."""
    outage_part: float = 0.5
    """Cost of pulling a motor in an outage that takes place anyway over that in a stop made for it
    (1), 0.1 to 1: our judgement, the lost production is saved, the work is not."""
    stop_factor: float = 3.0
    """Cost of stopping at once over that of a stop planned for it (1), 1.5 to 10: our judgement, no
    crew, crane or workshop stands ready."""

    hazard_per_month: float = 0.02
    """Failures in service per month and per open bar, at the usual number of starts (1/month),
    0.001 to 0.2: our judgement; no rates are published for a random population of motors, and
    motors have run for years with an open bar and failed within weeks."""
    hazard_low_per_month: float = 0.004
    """Low end of what is plausible (1/month), 0.0005 to 0.02: our judgement, a fifth."""
    hazard_high_per_month: float = 0.1
    """High end of what is plausible (1/month), 0.02 to 0.5: our judgement, five times."""
    hazard_doubling_months: float = 12.0
    """Time in which that rate doubles because the neighbours of an open bar carry its current and
    crack in turn (months), 3 to 60: our judgement."""
    starts_share: float = 0.5
    """Part of the ageing of a cracked cage that goes with the starts, the rest with running hours
    (1), 0 to 1: our judgement; a direct start loads the cage hardest."""
    usual_starts_per_month: float = 20.0
    """Starts per month at which the rates above hold (1/month), 1 to 300: our judgement, one each
    working day."""
    least_bars: float = 0.25
    """Open-bar equivalent below which the rate does not fall further (open bars), 0.1 to 1: a
    defect begins there (docs/theory/evidence.md, section 2)."""
    most_bars: float = 8.0
    """Open-bar equivalent above which it does not rise further (open bars), 4 to 20: our judgement,
    beyond it the equivalent is not a count."""

    visit_detection: float = 0.7
    """Chance that one more ordinary record shows a defect that is there (1), 0.3 to 0.99: our
    judgement; lower than the rate of a first record, because what hid the defect once may again."""
    visit_false_calls: float = 0.005
    """Chance that such a record calls a sound motor defective (1), 0.0001 to 0.05: our
    judgement."""
    visit_part: float = 0.01
    """Cost of such a record over that of pulling a sound motor (1), 0.001 to 0.1: our judgement,
    an hour against days of a crew and a workshop."""
    better_detection: float = 0.9
    """Chance that a better measurement (start, motor at rest, another load) shows a defect that is
    there (1), 0.5 to 0.999: our judgement, hypothetical."""
    better_false_calls: float = 0.01
    """Chance that it calls a sound motor defective (1), 0.0001 to 0.1: our judgement."""
    better_part: float = 0.1
    """Cost of it over that of pulling a sound motor (1), 0.005 to 0.5: our judgement, it takes
    access to the motor and often a short stop."""

    watch_part: float = 0.33
    """Interval of a motor under watch over the routine interval (1), 0.05 to 0.6: our judgement,
    three records where routine makes one."""
    watch_visits: int = 4
    """Quiet records after which a motor under watch returns to routine (1), 2 to 12: our
    judgement."""
    stop_bars_min: float = 4.0
    """Open bars from which taking a motor of high criticality out at once is weighed at all (open
    bars), 3 to 20: our judgement, loose parts of bars can strike the winding."""
