"""What speaks for and against the two causes that look like a cage defect.

Both are asked as explanations: "could this, and not the cage, make the lines at the pole-pass
distance?" (docs/theory/evidence.md, section 3).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from cagewise.evidence.cage import SEPARATING_READING
from cagewise.evidence.findings import Finding, Ground, Hypothesis, Support
from cagewise.evidence.limits import EvidenceLimits
from cagewise.indicators.reading import IndependenceClass, Reading

ACTIVE_POWER_READING = "active_power_line"
REACTIVE_POWER_READING = "reactive_power_line"
EXPECTED_RATIO = "active_over_reactive_of_oscillation_low_1"
"""Detail of the active power line: least ratio that the motor model gives an oscillating load."""


def weigh_competing(
    readings: Sequence[Reading],
    cage: Sequence[Finding],
    limits: EvidenceLimits,
    *,
    voltages_measured: bool,
) -> tuple[Finding, ...]:
    """Return the findings on load oscillation and supply modulation.

    Parameters
    ----------
    readings
        Everything that was read on the record.
    cage
        The findings on the cage from the same readings.
    voltages_measured
        Whether the voltages were measured with the currents, so that the part of the lines that
        comes with the supply was removed from the direct component.
    """
    by_name = {reading.name: reading for reading in readings}
    separating = next((f for f in cage if f.reading == SEPARATING_READING), None)
    if separating is None:
        return ()
    line_stands = any(
        f.detected and f.independence_class is IndependenceClass.RUNNING_FUNDAMENTAL
        for f in cage
        if f.reading != SEPARATING_READING
    )
    findings = [_load_from_direct(separating, line_stands=line_stands)]
    findings += _load_from_power(by_name, limits)
    findings.append(
        _supply(separating, line_stands=line_stands, voltages_measured=voltages_measured)
    )
    return tuple(findings)


def _load_from_direct(separating: Finding, *, line_stands: bool) -> Finding:
    """Ask the direct component whether the load explains the lines."""
    if separating.support is Support.FOR:
        support, ground = Support.AGAINST, Ground.CAGE_REMAINS
    elif line_stands and separating.support is Support.AGAINST:
        support, ground = Support.FOR, Ground.LINES_WITHOUT_CAGE
    elif not line_stands and separating.ground is not Ground.NOT_READ:
        support, ground = Support.AGAINST, Ground.NOTHING_TO_EXPLAIN
    else:
        support, ground = Support.CANNOT_TELL, Ground.NO_SEPARATION
    return _finding(Hypothesis.LOAD_OSCILLATION, separating, support, ground)


def _load_from_power(by_name: Mapping[str, Reading], limits: EvidenceLimits) -> list[Finding]:
    """Ask the lines of active and reactive power, which a load fills unequally."""
    active, reactive = by_name.get(ACTIVE_POWER_READING), by_name.get(REACTIVE_POWER_READING)
    if active is None or reactive is None or active.value is None or reactive.value is None:
        return []
    if not (active.valid and reactive.valid and reactive.value.value > 0.0):
        return []
    ratio = active.value.value / reactive.value.value
    expected = active.details.get(EXPECTED_RATIO, math.inf)
    if ratio >= limits.oscillation_power_margin * expected:
        support, ground = Support.FOR, Ground.POWER_ACTIVE
    elif ratio <= limits.cage_power_ratio_max:
        support, ground = Support.AGAINST, Ground.POWER_REACTIVE
    else:
        support, ground = Support.CANNOT_TELL, Ground.POWER_BETWEEN
    return [
        Finding(
            hypothesis=Hypothesis.LOAD_OSCILLATION,
            reading=active.name,
            title=active.title,
            independence_class=active.independence_class,
            support=support,
            ground=ground,
            numbers={"power_ratio": ratio},
        )
    ]


def _supply(separating: Finding, *, line_stands: bool, voltages_measured: bool) -> Finding:
    """Ask whether the supply explains the lines."""
    if not voltages_measured:
        support, ground = Support.CANNOT_TELL, Ground.VOLTAGE_NOT_MEASURED
    elif separating.support is Support.FOR:
        support, ground = Support.AGAINST, Ground.VOLTAGE_REMOVED
    elif not line_stands and separating.ground is not Ground.NOT_READ:
        support, ground = Support.AGAINST, Ground.NOTHING_TO_EXPLAIN
    else:
        support, ground = Support.CANNOT_TELL, Ground.NO_SEPARATION
    return _finding(Hypothesis.SUPPLY_MODULATION, separating, support, ground)


def _finding(
    hypothesis: Hypothesis, separating: Finding, support: Support, ground: Ground
) -> Finding:
    """Return a finding that the direct component makes on a competing cause."""
    return Finding(
        hypothesis=hypothesis,
        reading=separating.reading,
        title=separating.title,
        independence_class=separating.independence_class,
        support=support,
        ground=ground,
        numbers=separating.numbers,
        note=separating.note,
    )
