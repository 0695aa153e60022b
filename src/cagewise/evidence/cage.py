"""What each reading says about a cage defect (docs/theory/evidence.md, sections 2 and 3)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cagewise.evidence.beside_harmonics import heard_beside_harmonics
from cagewise.evidence.classes import (
    START_LINE_READING,
    WEAK_CLASSES,
    WHOLE_CAGE_CLASSES,
    proof_rank,
)
from cagewise.evidence.findings import Finding, Ground, Hypothesis, Support
from cagewise.evidence.limits import EvidenceLimits
from cagewise.indicators.reading import IndependenceClass, Part, Reading
from cagewise.indicators.standstill.position_pattern import FROM_ORDER_4, PAIR_OVER_LIMIT

SEPARATING_READING = "direct_component"
"""The reading from which speed ripple and supply modulation are removed by construction.

It alone of its class tells an asymmetric cage from an oscillating load at the same frequency, so
the other readings of the class are heard only as far as it does not contradict them.
"""


def weigh_for_cage(
    readings: Iterable[Reading], limits: EvidenceLimits, *, voltages_measured: bool = True
) -> tuple[Finding, ...]:
    """Return one finding per reading of the cage on the hypothesis of a cage defect.

    Parameters
    ----------
    readings
        Everything that was read on one record, start or sheet.
    limits
        Opinions.
    voltages_measured
        Whether voltages were recorded with the currents of a running motor.
    """
    alone = _heard_within_classes(readings, limits)
    findings = tuple(replace(finding, with_voltages=voltages_measured) for finding in alone)
    return heard_beside_harmonics(findings, limits, voltages_measured=voltages_measured)


def _heard_within_classes(
    readings: Iterable[Reading], limits: EvidenceLimits
) -> tuple[Finding, ...]:
    """Return one finding per reading, heard beside the others of its class."""
    alone = [_weigh_alone(reading, limits) for reading in readings if reading.part is Part.CAGE]
    line = next((f for f in alone if f.reading == START_LINE_READING), None)
    if line is not None and line.support is Support.AGAINST:
        alone = [_heard_beside_line(finding, line) for finding in alone]
    separating = next((f for f in alone if f.reading == SEPARATING_READING), None)
    if separating is not None and separating.support is not Support.CANNOT_TELL:
        return tuple(_heard_beside(finding, separating) for finding in alone)
    if separating is not None and separating.ground in _LEAVES_ROOM:
        alone = [_heard_as_speed(finding, separating) for finding in alone]
    return tuple(_heard_below(finding, alone) for finding in alone)


def is_detected(reading: Reading, limits: EvidenceLimits) -> bool:
    """Return whether a valid reading stands out of the noise.

    Weak evidence carries no verdict anyway, so its interval decides and not the strict gate.
    """
    probability = reading.false_alarm_probability
    weak = reading.independence_class in WEAK_CLASSES
    if probability is not None and not weak:
        return probability <= limits.false_alarm_probability_max
    bars = reading.open_bar_equivalent
    return bars is not None and bars.low >= limits.damage_from_bars


def bound_bars(reading: Reading, *, detected: bool) -> float | None:
    """Return the upper 95 % limit of the damage in open bars, None when nothing bounds it.

    A reading that found nothing cannot bound the damage below its own detection limit.
    """
    bars, limit = reading.open_bar_equivalent, reading.detection_limit_bars
    if detected:
        return None if bars is None else bars.high
    if limit is None:
        return None
    return limit if bars is None else max(bars.high, limit)


def _weigh_alone(reading: Reading, limits: EvidenceLimits) -> Finding:
    """Weigh a reading as if it were the only one."""
    detected = reading.valid and is_detected(reading, limits)
    bound = bound_bars(reading, detected=detected) if reading.valid else None
    support, ground = _support(reading, limits, detected=detected, bound=bound)
    return Finding(
        hypothesis=Hypothesis.CAGE_DEFECT,
        reading=reading.name,
        title=reading.title,
        independence_class=reading.independence_class,
        method=reading.method,
        support=support,
        ground=ground,
        bars=reading.open_bar_equivalent if reading.valid else None,
        bound_bars=bound,
        detected=detected,
        numbers=_numbers(reading, bound),
        note=reading.reason,
        caveats=reading.caveats,
        pair_hidden=reading.details.get(PAIR_OVER_LIMIT, 1.0) < 1.0,
        order_2_stands=reading.details.get(FROM_ORDER_4) == 0.0,
    )


def _support(
    reading: Reading, limits: EvidenceLimits, *, detected: bool, bound: float | None
) -> tuple[Support, Ground]:
    """Return support and ground of a reading weighed alone."""
    if not reading.valid:
        return Support.CANNOT_TELL, Ground.NOT_READ
    bars = reading.open_bar_equivalent
    if detected and bars is None:
        return _support_without_bars(reading)
    if detected and bars is not None and bars.low >= limits.damage_from_bars:
        return Support.FOR, Ground.DAMAGE_ESTABLISHED
    if bound is None:
        return Support.CANNOT_TELL, Ground.NOT_IN_BARS
    bounds = reading.independence_class in WHOLE_CAGE_CLASSES or not detected
    if bound < limits.sound_below_bars:
        against = (Support.AGAINST, Ground.NO_MORE_THAN)
        return against if bounds else (Support.CANNOT_TELL, Ground.PATTERN_MAY_HIDE)
    return Support.CANNOT_TELL, Ground.STRADDLES if detected else Ground.BLIND_BELOW


def _support_without_bars(reading: Reading) -> tuple[Support, Ground]:
    """Return what a line that stands, but cannot be put into open bars, says.

    Beside the harmonics an asymmetric cage is the only known cause once the line is at its
    place, absent from the voltage and not an image (methods of the class check that before they
    call the reading valid). At the fundamental a line alone says nothing about its cause.
    """
    if reading.independence_class is IndependenceClass.RUNNING_HARMONIC:
        return Support.FOR, Ground.LINE_FOUND
    return Support.CANNOT_TELL, Ground.NOT_IN_BARS


def _heard_beside(finding: Finding, separating: Finding) -> Finding:
    """Hear a reading of the fundamental class beside the direct component."""
    same_class = finding.independence_class is separating.independence_class
    if not same_class or finding.reading == SEPARATING_READING:
        return finding
    if finding.support is Support.FOR and separating.support is Support.AGAINST:
        return replace(finding, support=Support.CANNOT_TELL, ground=Ground.EXPLAINED_BY_SPEED)
    if finding.support is Support.AGAINST and separating.support is Support.FOR:
        return replace(finding, support=Support.CANNOT_TELL, ground=Ground.CAN_BE_CANCELLED)
    return finding


def _heard_beside_line(finding: Finding, line: Finding) -> Finding:
    """Hear a change against earlier starts beside a side line that bounds the damage."""
    same_class = finding.independence_class is line.independence_class
    if same_class and finding.support is Support.FOR:
        return replace(finding, support=Support.CANNOT_TELL, ground=Ground.TREND_NOT_THE_CAGE)
    return finding


def _heard_as_speed(finding: Finding, separating: Finding) -> Finding:
    """Hear a warning beside a direct component that was read and does not establish damage.

    Any speed ripple makes the pair that the other readings are functions of; what no ripple makes
    is the direct component. As long as that may be harmless, so may they be.
    """
    same_class = finding.independence_class is separating.independence_class
    if same_class and finding.support is Support.FOR:
        return replace(finding, support=Support.CANNOT_TELL, ground=Ground.SPEED_NOT_EXCLUDED)
    return finding


def _heard_below(finding: Finding, all_alone: Iterable[Finding]) -> Finding:
    """Hear the silence of a reading below more proof readings of the same class.

    Readings of a class are functions of the same data. If a more proof one was read and leaves room
    for an open bar, a smaller limit of a lesser one is chance or cancellation: the smallest of
    several 95 % limits does not hold with 95 %.
    """
    if finding.support is not Support.AGAINST:
        return finding
    open_above = any(
        other.independence_class is finding.independence_class
        and proof_rank(other.reading) < proof_rank(finding.reading)
        and other.ground in _LEAVES_ROOM
        for other in all_alone
    )
    if open_above:
        return replace(finding, support=Support.CANNOT_TELL, ground=Ground.OUTRANKED)
    return finding


_LEAVES_ROOM = {Ground.DAMAGE_ESTABLISHED, Ground.STRADDLES, Ground.BLIND_BELOW}
"""A reading that was read in bars and does not exclude an open one."""


def _numbers(reading: Reading, bound: float | None) -> dict[str, float]:
    """Return the numbers a sentence about the finding may quote."""
    numbers: dict[str, float] = {}
    if reading.open_bar_equivalent is not None:
        numbers["value_bars"] = reading.open_bar_equivalent.value
        numbers["low_bars"] = reading.open_bar_equivalent.low
        numbers["high_bars"] = reading.open_bar_equivalent.high
    if reading.detection_limit_bars is not None:
        numbers["limit_bars"] = reading.detection_limit_bars
    if bound is not None:
        numbers["bound_bars"] = bound
    return numbers
