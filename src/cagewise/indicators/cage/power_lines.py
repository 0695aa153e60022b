"""Lines of active and reactive power at the pole-pass frequency.

In the frame of the voltage, active power swings with ``U + conj(L)`` and reactive power with
``U - conj(L)``. A load that swings fills mostly the active one, ``|1 + rho| / |1 - rho|`` times
as much; an asymmetric cage fills both (docs/theory/power-lines.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.cage.context import (
    CageContext,
    Head,
    common_caveats,
    load_refusal,
)
from cagewise.indicators.lines.fitting import local_floor
from cagewise.indicators.lines.pair import LinePair
from cagewise.indicators.lines.pair_bins import bins_of_ring
from cagewise.indicators.reading import Reading
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, ComplexArray, Estimate, RealArray

ACTIVE = Head(name="active_power_line", title="active power at the pole-pass frequency")
REACTIVE = Head(name="reactive_power_line", title="reactive power at the pole-pass frequency")
HEADS = (ACTIVE, REACTIVE)

LARGEST_RATIO = 1e3
"""Ratios of the two powers are cut here."""
WEAK = "parts load from cage less well at full load and large slip, where oscillation fills both"


@dataclass(frozen=True, kw_only=True)
class PowerLines:
    """Peak ripple of active and reactive power over the apparent power, per unit."""

    active: Estimate
    reactive: Estimate
    oscillation_ratio: Estimate
    """Active over reactive that a load oscillation alone would give on this motor."""


def read_power_lines(context: CageContext) -> tuple[Reading, ...]:
    """Read the power lines, the supply's own modulation removed from the current."""
    reason = load_refusal(context, context.limits.least_load_lines)
    if context.supply is None:
        reason = "no voltage was measured with the current: record two line voltages as well"
    chance = context.pair.false_alarm_probability
    if not reason and chance > context.limits.false_alarm_probability:
        reason = "no line stands out at the pole-pass frequency, so there is nothing to attribute"
    if reason:
        return tuple(head.refused(reason) for head in HEADS)
    lines = power_lines(context)
    if lines.active.value <= 0.0 and lines.reactive.value <= 0.0:
        reason = "the line is in neither of the powers, so there is nothing to attribute"
        return tuple(head.refused(reason) for head in HEADS)
    ratio = lines.active.value / max(lines.reactive.value, lines.active.value / LARGEST_RATIO)
    expected = lines.oscillation_ratio
    details = {
        "active_over_reactive_1": ratio,
        "active_over_reactive_of_oscillation_1": expected.value,
        "active_over_reactive_of_oscillation_low_1": expected.low,
        "active_over_reactive_of_oscillation_high_1": expected.high,
    }
    return tuple(
        Reading(
            name=head.name,
            title=head.title,
            independence_class=head.independence_class,
            value=value.scaled(100.0),
            unit="% of apparent power, peak",
            valid=True,
            false_alarm_probability=chance,
            caveats=(WEAK, *common_caveats(context)),
            details=details,
        )
        for head, value in ((ACTIVE, lines.active), (REACTIVE, lines.reactive))
    )


def power_lines(context: CageContext) -> PowerLines:
    """Return the ripple of the powers from the corrected pair.

    ``v = V0``, ``i = I0 + L exp(-j g t) + U exp(j g t)``: ``p - j q = 3/2 conj(v) i`` has a line of
    peak ``3/2 V0 |U + conj(L)|`` in p and ``3/2 V0 |U - conj(L)|`` in q. Load noise fills the two
    unequally, so each has its own floor.
    """
    pair, direct = context.pair, context.direct
    ring = bins_of_ring(pair.band, context.supply)
    below, above = ring.corrected(context.draws.middle, pair.fundamental)
    ripple = context.draws.state.ripple_ratio(2.0 * math.pi * pair.frequency_hz, pair.fundamental)
    amplitudes = []
    for sign in (1.0, -1.0):
        beside = np.abs(above + sign * below.conj())[..., 0] ** 2
        power = np.asarray(beside.mean(axis=0))
        floor = local_floor(power, ring.ripple_hz, pair.frequency_hz)
        line = direct.upper + sign * direct.lower.conj()
        amplitudes.append(_amplitude(pair, line, direct.bins.energy_scale, floor))
    return PowerLines(
        active=amplitudes[0].scaled(1.0 / pair.fundamental_a),
        reactive=amplitudes[1].scaled(1.0 / pair.fundamental_a),
        oscillation_ratio=Estimate.from_draws(oscillation_ratio(ripple)),
    )


def oscillation_ratio(ripple_ratio: ComplexArray) -> RealArray:
    """Return active over reactive of a pure speed oscillation: ``|1 + rho| / |1 - rho|``."""
    return np.asarray(np.abs(1.0 + ripple_ratio) / np.abs(1.0 - ripple_ratio))


def _amplitude(pair: LinePair, line: ComplexArray, scale: float, floor: float) -> Estimate:
    """Return the amplitude behind some bins, noise removed, with its 95 % interval."""
    n_bins = line.shape[-1]
    if pair.band.windowed:
        noise, degrees = floor * line.size * scale, n_bins * pair.band.lines.degrees_per_bin
    else:
        noise, degrees = floor * pair.band.fit.variance_gain, 1.0
    power = float(np.sum(np.abs(line) ** 2)) * scale - noise
    cross = 2.0 * floor / pair.band.base.samples.size
    sd = math.sqrt(noise**2 / degrees + cross * max(power, 0.0))
    reach = NORMAL_COVERAGE_FACTOR * sd
    return Estimate(*(math.sqrt(max(power + k * reach, 0.0)) for k in (0.0, -1.0, 1.0)))
