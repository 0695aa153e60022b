"""What an agreement of lines must still survive before it is called the slip.

Lines that the supply imposes on the motor are set aside: the measured voltage at the line's place,
times the motor's admittance there, explains them. And the lines must stand in every quarter of the
record, at the same slip in every family, or move together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.running.slip_families import Family, Readings
from cagewise.indicators.running.slip_follow import follow_nats, torque_course
from cagewise.indicators.running.slip_search import (
    SAME_DEVIATIONS,
    VISIBLE,
    Candidate,
    Search,
    SlipPrior,
    Support,
    log_weights,
    search_slip,
)
from cagewise.indicators.running.slip_track import (
    REACH_CELLS,
    REACH_WIDTHS,
    TAPER_EDGE,
    Track,
    line_band,
    line_energy,
    members,
    voltage_line_band,
)
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import Estimate

SUPPLY_SHARE = 0.25
"""Part of a line's energy that the measured voltage may explain before it is taken for a line of
the supply: half the amplitude. A motor's own line explains (Z_supply/Z_motor)^2, under 0.1."""
LARGEST_ROUNDS = 12
"""Rounds of holding lines against voltage and torque; what needs more of them is given up."""
FOLLOW_REACH = 0.15
"""Part by which the b s of two readings of one line may differ when one of them follows."""
LARGEST_RIVALS = 4
"""Candidates whose lines are held against the voltage."""
RIVAL_NATS = 10.0
"""A candidate this much worse than the best rivals nobody."""
LARGEST_COURSE = 0.3
"""Range of the quarter means over the slip beyond which the load did not stand still."""
LEAST_SHARE = 0.2
"""Energy of a line in a quarter over the mean of the quarters, three deviations of the noise added,
below which it is not there: no steady load lets it fade to half of its amplitude."""
STANDS_STILL = -2.0
"""Evidence of following at which a line is taken to stand still."""
QUARTER_DEVIATIONS = 5.0
"""Disagreement of two families in a quarter beyond which they are not one slip: the chance of it
is 1e-6 a quarter."""
SETTLED_SHARE = 0.999
"""Probability from which one slot line among those that fit is the right one."""
JOINING_SMEAR = 0.03
"""Standard deviation of a smeared line's mean beyond noise, in units of its width: amplitude that
follows the load weighs the times differently in each family."""
QUARTERS_FACTOR = 1.62
"""95 % point of Student's distribution with three degrees of freedom over that of the normal."""
QUARTER_SMEAR = 0.3
"""Standard deviation credited to a quarter mean in units of the wander: its line is ragged."""


@dataclass(frozen=True, slots=True)
class Where:
    """Where the slip is searched."""

    window: tuple[float, float]
    least_distance: float
    """Slips closer than this are not rivals."""
    prior: SlipPrior | None


def search_own_lines(
    frame: SupplyFrame, circuit: EquivalentCircuit, families: list[Readings], where: Where
) -> tuple[Search, list[Readings]]:
    """Return the search after the lines have been held against voltage and torque.

    Lines of the supply are set aside, lines that follow the torque of this motor count for more,
    lines that stand still for less. The readings left are returned too.
    """
    search = search_slip(families, where.window, where.least_distance, where.prior)
    if frame.voltage is None:
        return search, families
    course = torque_course(frame, _middle(where))
    asked: set[tuple[Family, float]] = set()
    for _ in range(LARGEST_ROUNDS):
        if not search.candidates:
            break
        suspects = [s for c in _contenders(search) for s in c.supports]
        imposed = [s for s in suspects if supply_share(frame, circuit, s) > SUPPLY_SHARE]
        if imposed:
            families = [r.chosen(_others(r, imposed)) for r in families]
        else:
            unasked = [s for s in suspects if _line(s) not in asked]
            if not unasked:
                break
            for support in {_line(s): s for s in unasked}.values():
                asked.add(_line(support))
                nats = follow_nats(frame, course, support)
                families = [_told(r, support, nats) for r in families]
        search = search_slip(families, where.window, where.least_distance, where.prior)
    else:
        search = Search((), -math.inf, where.window)
    return search, families


def _middle(where: Where) -> float:
    """Return about where the slip is."""
    if where.prior is not None:
        return where.prior.middle
    return 0.5 * (where.window[0] + where.window[1])


def _line(support: Support) -> tuple[Family, float]:
    """Return what names a line, however it is read."""
    return support.family, round(support.order, 6)


def _told(readings: Readings, support: Support, nats: float) -> Readings:
    """Return readings with what is known of the line of a support.

    The phase of a line that follows strays by b s: what reads another b s of the same line is not
    spoken for.
    """
    if support.family is not readings.family:
        return readings
    same = np.abs(readings.order - support.order) <= abs(support.slope) * support.deviation
    stray = readings.slope * readings.slip
    its = support.slope * support.slip
    same &= np.abs(stray - its) <= FOLLOW_REACH * abs(its)
    return replace(readings, follow_nats=np.where(same, nats, readings.follow_nats))


def _contenders(search: Search) -> list[Candidate]:
    """Return the candidates whose lines decide: the best and its strongest rivals."""
    best = search.candidates[0].log_mass
    return [c for c in search.candidates[:LARGEST_RIVALS] if c.log_mass > best - RIVAL_NATS]


def _others(readings: Readings, imposed: list[Support]) -> NDArray[np.bool_]:
    """Return which readings rest on other lines than the imposed ones."""
    keep = np.ones(readings.slip.size, dtype=np.bool_)
    for support in imposed:
        if support.family is readings.family:
            keep &= np.abs(readings.order - support.order) > abs(support.slope) * support.deviation
    return keep


def supply_share(frame: SupplyFrame, circuit: EquivalentCircuit, support: Support) -> float:
    """Return the part of a line's energy that the voltage at its place explains.

    Of a pair the stronger member answers: the other may lie in noise, at two poles even beside zero
    frequency, where a millivolt drives amperes.
    """
    return max(_member_share(frame, circuit, line) for line in members(support))[1]


def _member_share(
    frame: SupplyFrame, circuit: EquivalentCircuit, line: Support
) -> tuple[float, float]:
    """Return the energy of one line and the part of it that the voltage explains."""
    omega = 2.0 * math.pi * frame.supply_frequency_hz
    current, voltage = line_band(frame, line), voltage_line_band(frame, line)
    cell = current.sampling_rate_hz / current.samples.size
    smear = line.width * abs(line.slope) * frame.supply_frequency_hz
    reach = max(REACH_WIDTHS * smear, REACH_CELLS * cell)
    energy = line_energy(current, reach)
    if voltage is None or energy <= 0.0:
        return energy, 0.0
    state = circuit.median().at(line.slip, omega)
    response = complex(state.voltage_response(1j * (current.order - 1.0) * omega))
    return energy, abs(response) ** 2 * line_energy(voltage, reach) / energy


def absent(track: Track) -> bool:
    """Return whether a line is certainly missing in a part of the record."""
    return bool(np.any(track.quarter_share < LEAST_SHARE)) and track.quarters_readable


def moving(tracks: list[Track]) -> list[Track]:
    """Return the tracks less those whose line stands still while the torque moves.

    A load that oscillates near twice the slip frequency agrees with a slip that it does not follow.
    """
    kept = [track for track in tracks if track.support.follow_nats > STANDS_STILL]
    return kept or tracks


def unsteady(tracks: list[Track]) -> str:
    """Return why the lines do not belong to one steady slip, or nothing."""
    first = min(tracks, key=lambda track: track.deviation)
    for track in tracks:
        allowance = QUARTER_SMEAR * max(first.wander, track.wander, track.support.width)
        spread = np.sqrt(first.quarter_deviation**2 + track.quarter_deviation**2 + allowance**2)
        if np.any(np.abs(track.quarter_slip - first.quarter_slip) > QUARTER_DEVIATIONS * spread):
            return (
                f"the families {first.support.family.value!r} and {track.support.family.value!r} "
                "move apart within the record"
            )
    seen = first.quarter_slip[np.isfinite(first.quarter_deviation)]
    if seen.size and float(np.ptp(seen)) > LARGEST_COURSE * first.slip:
        return (
            f"the slip moves from {100.0 * seen[0]:.2f} % to {100.0 * seen[-1]:.2f} % within the "
            "record; choose a stretch of steady load"
        )
    return ""


def mean_slip(tracks: list[Track]) -> tuple[Estimate, float | None]:
    """Return the mean slip with its interval and the wander over the slip.

    Families are joined by inverse variance; if they disagree more than their deviations allow, the
    interval grows by the ratio (Birge 1932; from memory). To that comes what the wander may have
    added in the parts of the record that were not seen, and by weighing: the mean of a line is
    weighted by its power, and lines that carry load grow with the slip. With an amplitude
    proportional to the slip and a relative wander w that lifts the mean by ``2 w^2``, with a
    constant one by nothing; half of it is taken as the standard deviation.
    """
    slip = np.array([track.slip for track in tracks])
    variance = np.array([_joining_deviation(track) for track in tracks]) ** 2
    usable = np.isfinite(variance)
    if not np.any(usable):
        slip = np.array([track.support.slip for track in tracks])
        variance, usable = np.array([t.support.deviation for t in tracks]) ** 2, usable | True
    weight = 1.0 / variance[usable]
    mean = float(np.sum(weight * slip[usable]) / np.sum(weight))
    disagreement = float(np.sum(weight * (slip[usable] - mean) ** 2))
    freedom = max(int(np.count_nonzero(usable)) - 1, 1)
    scatter = max(disagreement / freedom, 1.0) / float(np.sum(weight))
    first = min(tracks, key=lambda track: track.deviation)
    wander = max(track.wander for track in tracks)
    deviation = math.hypot(math.sqrt(scatter), _unseen_deviation(first), wander**2 / mean)
    return Estimate.from_standard_deviation(mean, deviation), wander / mean


def _unseen_deviation(track: Track) -> float:
    """Return the standard deviation of the mean from the unseen ends of the record.

    With a wander that is short against a quarter, the means of quarters scatter by
    ``sigma sqrt(2 tau / (T/4))`` and a missing part phi moves the mean by
    ``sigma sqrt(2 tau phi / T)``: half the square root of phi times the scatter. A slower wander
    moves it by less. Four quarters know their scatter badly: Student's factor widens it.
    """
    unseen = 1.0 - track.used + TAPER_EDGE
    if not np.all(np.isfinite(track.quarter_deviation)):
        return unseen * track.wander
    scatter = float(np.std(track.quarter_slip, ddof=1))
    return QUARTERS_FACTOR * 0.5 * math.sqrt(unseen) * min(scatter, max(track.wander, 0.0))


def _joining_deviation(track: Track) -> float:
    """Return the standard deviation with which a family joins the others."""
    return math.hypot(track.deviation, JOINING_SMEAR * track.support.width)


def settled_supports(
    candidate: Candidate, families: list[Readings], *, bars_known: bool
) -> tuple[tuple[Support, ...], tuple[int, ...]]:
    """Return the supports to be read, and the numbers of bars that remain possible.

    Several slot lines may fit the slip of the other families, above all when every number of bars
    is tried. Then the slot line is not read, and no number of bars is named: which line it is
    would be a guess. With a known number of bars only other slot lines compete; else the
    possibility that no line of this motor's slots is seen at all competes too.
    """
    slot = next((s for s in candidate.supports if s.family is Family.SLOT), None)
    readings = next(r for r in families if r.family is Family.SLOT)
    rest = tuple(s for s in candidate.supports if s is not slot)
    if not rest or readings.slip.size == 0:
        return candidate.supports, (candidate.rotor_bars,) if slot else ()
    weight = np.array([s.deviation**-2 for s in rest])
    mean = float(np.sum(weight * [s.slip for s in rest]) / np.sum(weight))
    variance = readings.deviation**2 + 1.0 / float(np.sum(weight))
    score = log_weights(readings) - 0.5 * (readings.slip - mean) ** 2 / variance
    score -= 0.5 * np.log(2.0 * np.pi * variance)
    unseen = -np.inf if bars_known else math.log(1.0 - VISIBLE)
    share = np.exp(score - logsumexp([*score, unseen]))
    bars = tuple(sorted({int(n) for n in readings.rotor_bars[share > 1.0 - SETTLED_SHARE]}))
    if slot is None:
        return candidate.supports, bars
    its_own = np.abs(readings.slip - slot.slip) <= SAME_DEVIATIONS * slot.deviation
    its_own &= readings.rotor_bars == slot.rotor_bars
    if float(np.sum(share[its_own])) >= SETTLED_SHARE:
        return candidate.supports, (slot.rotor_bars,)
    return rest, tuple(sorted({*bars, slot.rotor_bars}))
