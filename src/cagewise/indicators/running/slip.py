"""Slip from the current: what was found, how sure, or why not.

The steps: a window from the nameplate (``slip_window``), the lines of every family
(``slip_families``), the slip they agree on and the odds of an accident (``slip_search``), lines of
the supply set aside and the course through the record proven (``slip_checks``, ``slip_track``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.running.slip_checks import (
    Where,
    absent,
    mean_slip,
    moving,
    search_own_lines,
    settled_supports,
    unsteady,
)
from cagewise.indicators.running.slip_families import (
    Family,
    Readings,
    read_families,
    read_harmonic_cage,
)
from cagewise.indicators.running.slip_reasons import why_not
from cagewise.indicators.running.slip_search import (
    SAME_DEVIATIONS,
    VISIBLE,
    Candidate,
    Search,
    Support,
    with_partners,
)
from cagewise.indicators.running.slip_track import Track, follow
from cagewise.indicators.running.slip_window import slip_prior, slip_window
from cagewise.indicators.running.supply import Supply
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate, NotKnown

LEAST_LOG_ODDS = 7.0
"""Log odds of the slip against accident, every rival and no line at all: 1 in 1100. In 2800 random
records full of strays none of 1246 agreements above 6 was an accident, 3 of 124 between 5 and 6
were (docs/theory/slip.md, section 6)."""
LEAST_LOG_ODDS_WITHOUT_SLOTS = 8.5
"""The same where no slot line agrees. A driven machine can make lines near f_r and near 2 s f
together (its own shafts, belts), so strays in these two families are not quite independent."""
SURELY_FOLLOWS = 3.5
"""Evidence of following the torque from which one decisive family is enough, at the higher odds."""
ABSENT_NATS = math.log(1.0 - VISIBLE)
"""Evidence of a family that shows no line."""
SAME_SPEED_RPM = 0.1
"""Slips closer than this are not rivals."""
SHORTEST_S = 3.0
"""Shortest record that is tried: the filters take a second of it."""
DECISIVE = (Family.SLOT, Family.ECCENTRICITY)
"""One of these must agree: lines beside the fundamental alone may come from a pulsating load."""
GIVEN_MARGIN = 4.0
"""Half-width of the window about a measured speed, in its standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipFinding:
    """Slip and what it rests on."""

    slip: Estimate | NotKnown
    wander: float | None
    """Standard deviation of the slip within the record over the slip; None when not known."""
    families: tuple[str, ...] = ()
    """Families that agree."""
    rotor_bars: int | None
    rotor_bars_candidates: tuple[int, ...] = ()
    log_odds: float = -math.inf
    """Log odds against accident (nats); minus infinity without any line."""
    window: tuple[float, float] = (0.0, 1.0)
    """Slips that were searched."""


def find_slip(
    frame: SupplyFrame,
    motor: Motor,
    circuit: EquivalentCircuit,
    supply: Supply,
    given: Estimate | None = None,
) -> SlipFinding:
    """Return the slip from the lines of the current.

    Parameters
    ----------
    frame
        The record.
    motor
        Poles, rated slip, number of bars.
    circuit
        One or an ensemble; used for the window and for the admittance only.
    supply
        The fundamental.
    given
        Slip from a speed that somebody measured; the lines then only refine it.
    """
    refusal = _not_examinable(frame, supply, given)
    if refusal:
        bars = motor.cage.rotor_bars
        return SlipFinding(slip=NotKnown(refusal), wander=None, rotor_bars=bars)
    window = _window(supply, motor, circuit, given)
    pole_pairs = motor.nameplate.pole_pairs
    families = read_families(frame, pole_pairs, motor.cage.rotor_bars, window[1])
    per_rpm = pole_pairs / (60.0 * supply.frequency_hz.value)
    prior = slip_prior(supply, motor.nameplate, circuit) if given is None else None
    where = Where(window, SAME_SPEED_RPM * per_rpm, prior)
    search, families = search_own_lines(frame, circuit, families, where)
    rule = _refused(search, with_given=given is not None)
    if rule and frame.voltage is not None:
        harmonic = with_partners(read_harmonic_cage(frame, window[1]))
        again, more = search_own_lines(frame, circuit, [*families, harmonic], where)
        if not _refused(again, with_given=given is not None):
            search, families, rule = again, more, ""
    if rule:
        slip = given or NotKnown(why_not(frame, motor, search, families, rule))
        return _finding(slip, motor, search)
    return _measured(frame, motor, search, families, given)


def _measured(
    frame: SupplyFrame,
    motor: Motor,
    search: Search,
    families: list[Readings],
    given: Estimate | None,
) -> SlipFinding:
    """Return the slip of the best candidate if its lines stand through the record."""
    best, bars = search.candidates[0], motor.cage.rotor_bars
    supports, possible = settled_supports(best, families, bars_known=bars is not None)
    tracks = follow(frame, supports)
    reason = _not_all_the_time(tracks, search)
    present = [track for track in tracks if not absent(track)]
    reason = reason or unsteady(present)
    if reason:
        return _finding(given or NotKnown(reason), motor, search)
    slip, wander = mean_slip(moving(present))
    agreeing = tuple(s.family.value for s in best.supports)
    harmonic = Family.HARMONIC_CAGE
    if harmonic not in best.families and _seen(read_harmonic_cage(frame, search.window[1]), best):
        agreeing = (*agreeing, harmonic.value)
    finding = replace(_finding(slip, motor, search), wander=wander, families=agreeing)
    if bars is not None:
        return finding
    settled = len(possible) == 1 and any(s.rotor_bars == possible[0] for s in supports)
    named = possible[0] if settled else None
    return replace(finding, rotor_bars=named, rotor_bars_candidates=possible)


def _not_examinable(frame: SupplyFrame, supply: Supply, given: Estimate | None) -> str:
    """Return why a record cannot be searched at all, or nothing."""
    if given is not None and given.high <= 0.0:
        return "the speed given is not below the synchronous speed of this record"
    if frame.duration_s < SHORTEST_S:
        return f"less than {SHORTEST_S:g} s of steady running; record 60 s"
    power = supply.complex_power_va
    if power is not None and power.real <= 0.0:
        return (
            "no power flows into the motor: it is being driven, or a current clamp or voltage "
            "lead is reversed"
        )
    return ""


def _window(
    supply: Supply, motor: Motor, circuit: EquivalentCircuit, given: Estimate | None
) -> tuple[float, float]:
    """Return the slips to be searched."""
    if given is None:
        return slip_window(supply, motor.nameplate, circuit)
    margin = GIVEN_MARGIN / 2.0 * (given.high - given.low) / 2.0
    return max(given.value - margin, 0.0), given.value + margin


def _refused(search: Search, *, with_given: bool) -> str:
    """Return which rule of acceptance the best candidate breaks, or nothing."""
    if not search.candidates:
        return "no line"
    return _broken(search.candidates[0].supports, search.log_odds, with_given=with_given)


def _broken(supports: tuple[Support, ...], log_odds: float, *, with_given: bool) -> str:
    """Return which rule of acceptance an agreement breaks, or nothing."""
    families = {support.family for support in supports}
    follows = any(s.family in DECISIVE and s.follow_nats >= SURELY_FOLLOWS for s in supports)
    if len(supports) < 2 and not with_given and not follows:
        return "one family"
    if not families & set(DECISIVE) and not _cage_alone(supports):
        return "not decisive"
    if families == {Family.SLOT, Family.HARMONIC_CAGE}:
        return "not decisive"
    slots = Family.SLOT in families and len(supports) > 1
    if log_odds < (LEAST_LOG_ODDS if slots else LEAST_LOG_ODDS_WITHOUT_SLOTS):
        return "odds"
    return ""


def _cage_alone(supports: tuple[Support, ...]) -> bool:
    """Return whether the pole pass and a line beside a harmonic that follows the torque agree."""
    harmonic = [s for s in supports if s.family is Family.HARMONIC_CAGE]
    follows = any(s.follow_nats >= SURELY_FOLLOWS for s in harmonic)
    return follows and any(s.family is Family.POLE_PASS for s in supports)


def _not_all_the_time(tracks: list[Track], search: Search) -> str:
    """Return that a line comes and goes on which the slip would rest, or nothing.

    What the other lines say must be enough without it.
    """
    missing = [track.support for track in tracks if absent(track)]
    if not missing:
        return ""
    rest = tuple(s for s in search.candidates[0].supports if s.family not in _families(missing))
    odds = search.log_odds - sum(s.evidence_nats - ABSENT_NATS for s in missing)
    if len(missing) < len(tracks) and not _broken(rest, odds, with_given=False):
        return ""
    return f"the line of the family {missing[0].family.value!r} is not there all the time"


def _families(supports: list[Support]) -> set[Family]:
    """Return the families of supports."""
    return {support.family for support in supports}


def _seen(readings: Readings, candidate: Candidate) -> bool:
    """Return whether a family that does not vote shows a line at the slip found."""
    both = np.hypot(readings.deviation, candidate.deviation)
    return bool(np.any(np.abs(readings.slip - candidate.slip) <= SAME_DEVIATIONS * both))


def _finding(slip: Estimate | NotKnown, motor: Motor, search: Search) -> SlipFinding:
    """Return a finding that does not rest on lines."""
    bars = motor.cage.rotor_bars
    implied = {c.rotor_bars for c in search.candidates if c.rotor_bars}
    return SlipFinding(
        slip=slip,
        wander=None,
        rotor_bars=bars,
        rotor_bars_candidates=tuple(sorted(implied)) if bars is None else (bars,),
        log_odds=search.log_odds,
        window=search.window,
    )
