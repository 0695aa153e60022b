"""What speaks for and against the two causes that look like a cage defect.

Both are asked as explanations: "could this, and not the cage, make the lines at the pole-pass
distance?" (docs/theory/evidence.md, section 3).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cagewise.evidence.cage import SEPARATING_READING
from cagewise.evidence.findings import Finding, Ground, Hypothesis, Support
from cagewise.evidence.limits import EvidenceLimits
from cagewise.indicators.reading import IndependenceClass, Reading

ACTIVE_POWER_READING = "active_power_line"
REACTIVE_POWER_READING = "reactive_power_line"
SUPPLY_SHARE = "supply_share_1"
"""Detail of the direct component: part of the lines that came with the voltage, amplitude."""
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
    direct = by_name[SEPARATING_READING]
    case = _Case(
        separating=separating,
        line_stands=any(
            f.detected and f.independence_class is IndependenceClass.RUNNING_FUNDAMENTAL
            for f in cage
            if f.reading != SEPARATING_READING
        ),
        supply_share=direct.details.get(SUPPLY_SHARE) if voltages_measured else None,
        voltages_measured=voltages_measured,
    )
    return (
        _load_from_direct(case, limits),
        *_load_from_power(by_name, limits),
        _supply(case, limits),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """What both causes are judged on."""

    separating: Finding
    """The direct component on the cage."""
    line_stands: bool
    """Whether any other reading of its class found a line."""
    supply_share: float | None
    """Part of the lines that came with the voltage, amplitude; None when not known."""
    voltages_measured: bool

    @property
    def nothing_stands(self) -> bool:
        """Whether the lines were looked for and none was found."""
        return not self.line_stands and self.separating.ground is not Ground.NOT_READ

    @property
    def rest_remains(self) -> bool:
        """Whether lines are left without load and supply that need not be the cage's."""
        return self.separating.ground is Ground.SHAPE_OF_ROTOR

    def finding(self, hypothesis: Hypothesis, support: Support, ground: Ground) -> Finding:
        """Return a finding that the direct component makes on a competing cause."""
        numbers = dict(self.separating.numbers)
        if self.supply_share is not None:
            numbers["supply_percent"] = 100.0 * self.supply_share
        return Finding(
            hypothesis=hypothesis,
            reading=self.separating.reading,
            title=self.separating.title,
            independence_class=self.separating.independence_class,
            support=support,
            ground=ground,
            numbers=numbers,
            note=self.separating.note,
        )


def _load_from_direct(case: _Case, limits: EvidenceLimits) -> Finding:
    """Ask the direct component whether the load explains the lines."""
    cage, share = case.separating.support, case.supply_share
    if cage is Support.FOR:
        support, ground = Support.AGAINST, Ground.CAGE_REMAINS
    elif case.rest_remains:
        support, ground = Support.AGAINST, Ground.REST_REMAINS
    elif case.nothing_stands:
        support, ground = Support.AGAINST, Ground.NOTHING_TO_EXPLAIN
    elif cage is not Support.AGAINST:
        support, ground = Support.CANNOT_TELL, Ground.NO_SEPARATION
    elif share is not None and share >= limits.supply_share_min:
        support, ground = Support.CANNOT_TELL, Ground.SUPPLY_MAKES_THEM
    else:
        support, ground = Support.FOR, Ground.LINES_WITHOUT_CAGE
    return case.finding(Hypothesis.LOAD_OSCILLATION, support, ground)


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


def _supply(case: _Case, limits: EvidenceLimits) -> Finding:
    """Ask whether the supply explains the lines."""
    share = case.supply_share
    if not case.voltages_measured:
        support, ground = Support.CANNOT_TELL, Ground.VOLTAGE_NOT_MEASURED
    elif case.separating.support is Support.FOR:
        support, ground = Support.AGAINST, Ground.VOLTAGE_REMOVED
    elif case.rest_remains:
        support, ground = Support.AGAINST, Ground.REST_REMAINS
    elif case.nothing_stands:
        support, ground = Support.AGAINST, Ground.NOTHING_TO_EXPLAIN
    elif share is not None and share >= limits.supply_share_min:
        support, ground = Support.FOR, Ground.VOLTAGE_EXPLAINS
    elif share is not None and share <= limits.supply_share_max:
        support, ground = Support.AGAINST, Ground.VOLTAGE_CLEAN
    else:
        support, ground = Support.CANNOT_TELL, Ground.NO_SEPARATION
    return case.finding(Hypothesis.SUPPLY_MODULATION, support, ground)
