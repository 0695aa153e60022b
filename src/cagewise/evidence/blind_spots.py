"""What stays possible after everything was heard (docs/theory/evidence.md, section 6)."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.evidence.findings import (
    BlindSpot,
    ClassVerdict,
    Finding,
    Ground,
    Hypothesis,
    Support,
)
from cagewise.indicators.reading import IndependenceClass


def blind_spots(
    findings: Sequence[Finding], classes: Sequence[ClassVerdict]
) -> tuple[BlindSpot, ...]:
    """Return what is not excluded: first what could hide damage, then what could mimic it."""
    return (*_hiding(findings, classes), *_mimicking(findings, classes))


def _hiding(findings: Sequence[Finding], classes: Sequence[ClassVerdict]) -> list[BlindSpot]:
    """Return the damage that these classes cannot see."""
    seen_by = _classes_that_can_tell(classes)
    spots = []
    if not (seen_by & _SEES_MASKED_PAIR - _blind_to_pairs(findings) or _bounds_pairs(findings)):
        spots.append(BlindSpot.MASKED_PAIR)
    if IndependenceClass.STANDSTILL_MEAN not in seen_by:
        spots.append(BlindSpot.SYMMETRIC_DAMAGE)
    if not seen_by & _SEES_OUTER_CAGE:
        spots.append(BlindSpot.OUTER_CAGE)
        spots.append(BlindSpot.INTER_BAR_CURRENT)
    if seen_by and not seen_by & _SEES_CRACKS:
        spots.append(BlindSpot.CRACKED_BAR)
    return spots


def _blind_to_pairs(findings: Sequence[Finding]) -> set[IndependenceClass]:
    """Return the classes all of whose readings that can tell would miss such a pair."""
    telling = [f for f in findings if f.support is not Support.CANNOT_TELL]
    seeing = {f.independence_class for f in telling if not f.pair_hidden}
    return {f.independence_class for f in telling if f.pair_hidden} - seeing


def _bounds_pairs(findings: Sequence[Finding]) -> bool:
    """Return whether harmonic lines stand that are too weak for two bars 90 degrees apart.

    Four adjacent bars may show as little, but such a pair adds up in kernels K4 and K8.
    """
    return any(f.ground is Ground.PATTERN_MAY_HIDE for f in findings)


def _mimicking(findings: Sequence[Finding], classes: Sequence[ClassVerdict]) -> list[BlindSpot]:
    """Return what could produce the findings that speak for a defect, or would without it."""
    warning = {c.independence_class for c in classes if c.support is Support.FOR}
    if not warning:
        grounds = {c.ground for c in classes}
        return [spot for ground, spot in _DOUBTS.items() if ground in grounds]
    spots = [BlindSpot.RING_OR_BARS]
    if warning <= _MOVED_BY_ROTOR_SHAPE:
        spots.insert(0, BlindSpot.ANISOTROPIC_ROTOR)
    if warning == {IndependenceClass.RUNNING_FUNDAMENTAL}:
        spots += [spot for cause, spot in _CAUSES.items() if not _ruled_out(cause, findings)]
    return spots


def _classes_that_can_tell(classes: Sequence[ClassVerdict]) -> set[IndependenceClass]:
    """Return the classes that speak for or against."""
    return {c.independence_class for c in classes if c.support is not Support.CANNOT_TELL}


def _ruled_out(cause: Hypothesis, findings: Sequence[Finding]) -> bool:
    """Return whether something speaks against a competing cause and nothing for it."""
    supports = {f.support for f in findings if f.hypothesis is cause}
    return Support.AGAINST in supports and Support.FOR not in supports


_SEES_MASKED_PAIR = {
    IndependenceClass.RUNNING_HARMONIC,
    IndependenceClass.STANDSTILL_PATTERN,
    IndependenceClass.STANDSTILL_MEAN,
}
_MOVED_BY_ROTOR_SHAPE = {
    IndependenceClass.RUNNING_FUNDAMENTAL,
    IndependenceClass.STANDSTILL_PATTERN,
    IndependenceClass.STANDSTILL_MEAN,
}
_SEES_OUTER_CAGE = {IndependenceClass.START, IndependenceClass.STANDSTILL_PATTERN}
_SEES_CRACKS = {IndependenceClass.RUNNING_FUNDAMENTAL, IndependenceClass.RUNNING_HARMONIC}
"""At the slip of the running motor the resistance of a bar is all there is."""
_DOUBTS = {
    Ground.SHAPE_OF_ROTOR: BlindSpot.ANISOTROPIC_ROTOR,
    Ground.SUPPLY_NOT_EXCLUDED: BlindSpot.SUPPLY_MODULATION,
}
_CAUSES = {
    Hypothesis.LOAD_OSCILLATION: BlindSpot.LOAD_OSCILLATION,
    Hypothesis.SUPPLY_MODULATION: BlindSpot.SUPPLY_MODULATION,
}
