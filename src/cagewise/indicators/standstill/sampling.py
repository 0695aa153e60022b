"""Whether the positions of a test can be read on this motor at all, and what they leave open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cagewise.indicators.standstill.fit import LEAST_FREEDOM, Sampling, sampling_of
from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.series import PairReadings
from cagewise.machine.cage.plausible import bar_candidates
from cagewise.machine.motor import Motor
from cagewise.machine.positions import (
    DAMAGE_ORDERS,
    USUAL_SPAN,
    Alias,
    false_orders,
    position_counts,
    possible_slot_orders,
    slot_orders,
)

_ROUNDING = 0.02
"""Pole pairs by which rounded angles may fall short."""
_NAMED_COUNTS = 6
"""Safe counts that are named in a refusal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingCheck:
    """What was found about the positions of one pair."""

    sampling: Sampling
    reason: str
    """Why they cannot be read, in one clause; empty when they can."""
    open_bars_counts: tuple[int, ...] = ()
    """Numbers of bars that an unknown cage may have, whose ripple these positions would show as
    damage."""
    caveats: tuple[str, ...] = ()


def check_sampling(readings: PairReadings, motor: Motor, limits: PositionLimits) -> SamplingCheck:
    """Return what the positions of one pair can tell on this motor."""
    p, n = motor.nameplate.pole_pairs, motor.cage.rotor_bars
    slots = possible_slot_orders(n, p) if n is not None else ()
    sampling = sampling_of(readings, slots, _shaft_orders(p))
    reason = next(_refusals(readings, sampling, motor, limits), "")
    if reason:
        return SamplingCheck(sampling=sampling, reason=reason)
    unlucky = () if n is not None else _unlucky_counts(readings, motor, limits)
    return SamplingCheck(
        sampling=sampling,
        reason="",
        open_bars_counts=unlucky,
        caveats=tuple(_caveats(readings, sampling, motor, limits)),
    )


def _shaft_orders(pole_pairs: int) -> tuple[float, ...]:
    """Return one and two waves per revolution, per electrical turn, where they are not order 2."""
    return tuple(k / pole_pairs for k in (1, 2) if k / pole_pairs not in DAMAGE_ORDERS)


def _refusals(
    readings: PairReadings, sampling: Sampling, motor: Motor, limits: PositionLimits
) -> Iterator[str]:
    positions, covered = readings.coverage
    if positions < 2:
        yield "read at a single position of the rotor: nothing shows how it changes with position"
        return
    if covered < limits.least_pole_pairs - _ROUNDING:
        yield (
            f"the positions cover {covered:.2g} pole pairs of the shaft's turn, "
            f"{limits.least_pole_pairs:g} at least are needed"
        )
        return
    if positions / covered < limits.least_positions_per_pole_pair - _ROUNDING:
        yield (
            f"{positions / covered:.3g} positions per pole pair are too few for orders 2 and 4: "
            f"{limits.least_positions_per_pole_pair:g} at least are needed"
        )
    if sampling.freedom < LEAST_FREEDOM:
        yield f"{positions} positions leave nothing to judge the fit by"
    if sampling.variance_factor > limits.largest_variance_factor:
        yield "the positions lie in heaps: the gaps leave orders 2 and 4 undetermined"
    yield from _aliases(readings, sampling, motor, limits)


def _aliases(
    readings: PairReadings, sampling: Sampling, motor: Motor, limits: PositionLimits
) -> Iterator[str]:
    """Yield the ripple that these positions would show as damage."""
    n, p = motor.cage.rotor_bars, motor.nameplate.pole_pairs
    if n is None:
        return
    for order in map(float, slot_orders(n, p)):
        if sampling.leakage.get(order, 0.0) > limits.largest_slot_share:
            yield f"{_alias_words(readings, order, n, p)}; {_safe_words(motor)}"


def _alias_words(readings: PairReadings, order: float, rotor_bars: int, pole_pairs: int) -> str:
    """Return what is invented: by the rule of equal spacing, or by these uneven positions."""
    positions, covered = readings.coverage
    count = round(positions / covered)
    known: list[Alias] = [
        a for a in false_orders(count, rotor_bars, pole_pairs) if a.slot_order == order
    ]
    if known:
        return known[0].sentence
    return (
        f"at these positions slot ripple of order {order:g} ({rotor_bars} bars) cannot be told "
        "from orders 2 and 4"
    )


def _safe_words(motor: Motor) -> str:
    """Return the counts that are safe on this motor, near the recommended one."""
    advice = position_counts(motor)
    near = sorted(advice.safe, key=lambda c: abs(c - advice.positions_per_pole_pair))
    named = ", ".join(str(count) for count in sorted(near[:_NAMED_COUNTS]))
    return f"safe counts per pole pair are {named}"


def _unlucky_counts(
    readings: PairReadings, motor: Motor, limits: PositionLimits
) -> tuple[int, ...]:
    """Return the numbers of bars, of those considered, whose ripple would look like damage."""
    p = motor.nameplate.pole_pairs
    return tuple(
        bars
        for bars in bar_candidates(motor)
        if _worst_share(readings, slot_orders(bars, p)) > limits.largest_slot_share
    )


def _worst_share(readings: PairReadings, orders: Sequence[float]) -> float:
    """Return the largest part of a ripple of these orders that passes when it is not fitted."""
    plain = sampling_of(readings, ())
    return max(plain.share_of(readings.electrical_angle_rad, order) for order in orders)


def _caveats(
    readings: PairReadings, sampling: Sampling, motor: Motor, limits: PositionLimits
) -> Iterator[str]:
    p, n = motor.nameplate.pole_pairs, motor.cage.rotor_bars
    _, covered = readings.coverage
    wanted = min(p, USUAL_SPAN)
    if covered < wanted - _ROUNDING:
        yield (
            f"{covered:.2g} pole pairs were covered, {wanted} are better: what comes from the "
            "shaft, not from the cage, differs between pole pairs"
        )
    if not readings.returned:
        yield "no last reading at the first angle: drift is fitted but was not checked"
    if n is None:
        return
    always = set(map(float, slot_orders(n, p)))
    for order, share in sampling.leakage.items():
        if order not in always and share > limits.largest_slot_share:
            yield (
                f"should rotor or stator be eccentric or unlike from pole to pole, slot ripple of "
                f"order {order:g} would show as order 2 or 4 at these positions"
            )
