"""What the lines beside the 5th and 7th harmonic say of a reading beside the supply frequency.

Damage that shows at the fundamental shows there too; the shape of a sound rotor, a modulated supply
and a swinging load do not (docs/theory/evidence.md, section 3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cagewise.evidence.classes import START_LINE_READING, proof_rank
from cagewise.evidence.findings import Finding, Ground, Support
from cagewise.evidence.limits import EvidenceLimits
from cagewise.indicators.reading import IndependenceClass

_FUNDAMENTAL = IndependenceClass.RUNNING_FUNDAMENTAL
_HARMONIC = IndependenceClass.RUNNING_HARMONIC
_DOUBTED = {Ground.SHAPE_OF_ROTOR, Ground.SUPPLY_NOT_EXCLUDED}


def heard_beside_harmonics(
    findings: Sequence[Finding], limits: EvidenceLimits, *, voltages_measured: bool
) -> tuple[Finding, ...]:
    """Hear the findings of one record on the cage with both running classes side by side.

    Parameters
    ----------
    findings
        Weighed within their classes.
    limits
        Opinions.
    voltages_measured
        Whether voltages were recorded with the currents.
    """
    harmonic = next((f for f in findings if f.independence_class is _HARMONIC), None)
    warning = _leading(findings, Support.FOR)
    if warning is not None:
        ground = _doubt(warning, harmonic, limits, voltages_measured=voltages_measured)
        return tuple(findings) if ground is None else _doubted(findings, ground)
    silent = _leading(findings, Support.AGAINST)
    if harmonic is None or silent is None or not _beyond(harmonic, silent, limits):
        return tuple(findings)
    more = replace(harmonic, ground=Ground.MORE_THAN_SIDE_LINES)
    return tuple(more if f is harmonic else f for f in findings)


def confirmed_by_start(
    findings: Sequence[Finding], others: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Return findings of a record, heard beside those of all sources of the visit.

    Neither ducts nor the supply make the side line of a start: where it speaks for damage, what was
    put down to them is the cage's.
    """
    confirmed = any(f.reading == START_LINE_READING and f.support is Support.FOR for f in others)
    if not confirmed:
        return tuple(findings)
    found = {"support": Support.FOR, "ground": Ground.DAMAGE_ESTABLISHED}
    return tuple(
        replace(f, **found) if f.ground in _DOUBTED else f  # type: ignore[arg-type]
        for f in findings
    )


def least_in_harmonics(bars: float) -> float:
    """Return the least that adjacent damage of so many bars reads beside the 5th and 7th.

    More than one bar is held against one, because bars do not add up there: of two to seven
    adjacent ones the median line was at least 0.8 of that of one (cages of 20 to 52 bars,
    computed).
    """
    return min(bars, 1.0)


def _leading(findings: Sequence[Finding], support: Support) -> Finding | None:
    """Return the most proof finding of the fundamental class with this support."""
    members = [f for f in findings if f.independence_class is _FUNDAMENTAL]
    told = [f for f in members if f.support is support and f.bars is not None]
    return min(told, key=lambda f: proof_rank(f.reading), default=None)


def _doubt(
    warning: Finding, harmonic: Finding | None, limits: EvidenceLimits, *, voltages_measured: bool
) -> Ground | None:
    """Return what else than the cage explains a warning that the harmonic lines do not share."""
    assert warning.bars is not None  # noqa: S101  # chosen so
    needed = limits.harmonic_shown_min * least_in_harmonics(warning.bars.value)
    if harmonic is not None and harmonic.support is Support.FOR:
        return None
    shown = None if harmonic is None else _shown(harmonic)
    if shown is not None and shown < needed:
        return Ground.SHAPE_OF_ROTOR
    stands = shown is not None and harmonic is not None and harmonic.detected
    return None if voltages_measured or stands else Ground.SUPPLY_NOT_EXCLUDED


def _shown(harmonic: Finding) -> float | None:
    """Return what stands beside the harmonics, or could stand unseen, open bars."""
    if harmonic.ground is Ground.NOT_READ:
        return None
    if harmonic.detected:
        return None if harmonic.bars is None else harmonic.bars.value
    return harmonic.numbers.get("limit_bars")


def _doubted(findings: Sequence[Finding], ground: Ground) -> tuple[Finding, ...]:
    """Return findings in which no warning of the fundamental class is left, and no silence."""
    heard = {Support.FOR: ground, Support.AGAINST: Ground.OUTRANKED}
    return tuple(
        replace(f, support=Support.CANNOT_TELL, ground=heard[f.support])
        if f.independence_class is _FUNDAMENTAL and f.support in heard
        else f
        for f in findings
    )


def _beyond(harmonic: Finding, silent: Finding, limits: EvidenceLimits) -> bool:
    """Return whether more stands beside the harmonics than adjacent bars, or chance, would put."""
    if harmonic.support is not Support.CANNOT_TELL or not harmonic.detected:
        return False
    if harmonic.bars is None or silent.bound_bars is None:
        return False
    allowed = max(limits.uneven_bars_max, silent.bound_bars)
    return harmonic.bars.low > allowed
