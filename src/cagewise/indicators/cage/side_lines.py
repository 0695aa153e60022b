"""The side lines of the supply frequency, (1 - 2s) f and (1 + 2s) f.

In the supply frame they are the complex pair L and U at -f_pp and +f_pp. Neither is a fault
measure by itself: the lower one is reduced by the speed ripple it causes, both are raised by an
oscillating load. Their sum hardly depends on inertia (docs/theory/side-lines.md).
"""

from __future__ import annotations

import math

import numpy as np

from cagewise.indicators.cage.context import (
    ANISOTROPY,
    MASKED,
    CageContext,
    Head,
    common_caveats,
    load_refusal,
)
from cagewise.indicators.cage.open_bars import (
    SUM_OVER_DIRECT,
    amplitude_draws,
    interval,
    ranged,
    safely,
)
from cagewise.indicators.lines.pair import SideLine
from cagewise.indicators.reading import Method, Reading
from cagewise.machine.classic import (
    bars_from_line_sum,
    bars_from_lower_line,
    bars_from_mean_level,
)
from cagewise.quantities import Estimate, wrap_angle

SUM = Head(
    name="side_line_sum",
    title="sum of both side lines",
    method=Method.SUPPLY_SIDE_LINES,
)
LOWER = Head(
    name="lower_side_line", title="lower side line (1 - 2s)f", method=Method.SUPPLY_SIDE_LINES
)
UPPER = Head(name="upper_side_line", title="upper side line (1 + 2s)f")
HEADS = (SUM, LOWER, UPPER)

OSCILLATION = "a load or supply that swings at the pole-pass frequency makes the same lines"


def read_side_lines(context: CageContext) -> tuple[Reading, ...]:
    """Read the sum of both side lines and each of them."""
    reason = load_refusal(context, context.limits.least_load_lines)
    if reason:
        return tuple(head.refused(reason) for head in HEADS)
    return _sum(context), _lower(context), _upper(context)


def _sum(context: CageContext) -> Reading:
    """Read |L| + |U|."""
    pair, scale = context.pair, context.scale
    n = scale.n_draws
    lower, upper = pair.lower.amplitude, pair.upper.amplitude
    total = lower.value + upper.value
    spread = math.hypot(lower.high - lower.value, upper.high - upper.value)
    amplitudes = amplitude_draws(pair.lower, n) + amplitude_draws(pair.upper, n)[::-1]
    factors = 1.0 / ranged(SUM_OVER_DIRECT, n)
    levels = (context.level_of(a) for a in (total, max(total - spread, 0.0), total + spread))
    limit_a = math.hypot(pair.lower.detection_limit, pair.upper.detection_limit)
    return Reading(
        name=SUM.name,
        title=SUM.title,
        independence_class=SUM.independence_class,
        method=SUM.method,
        value=Estimate(*levels),
        unit="dBc",
        valid=True,
        false_alarm_probability=pair.false_alarm_probability,
        open_bar_equivalent=scale.through(total, amplitudes, factors),
        detection_limit_bars=safely(scale.bars(limit_a * factors)),
        caveats=(OSCILLATION, MASKED, ANISOTROPY, *common_caveats(context)),
        details=_classic(context),
    )


def _lower(context: CageContext) -> Reading:
    """Read L."""
    pair, scale = context.pair, context.scale
    n = scale.n_draws
    fundamental_a = pair.fundamental_a
    bars = float(
        np.median(scale.lower_line_bars(np.full(n, pair.lower.amplitude.value / fundamental_a)))
    )
    counts = scale.lower_line_bars(amplitude_draws(pair.lower, n) / fundamental_a)
    limits = scale.lower_line_bars(np.full(n, pair.lower.detection_limit / fundamental_a))
    return Reading(
        name=LOWER.name,
        title=LOWER.title,
        independence_class=LOWER.independence_class,
        method=LOWER.method,
        value=context.level(pair.lower),
        unit="dBc",
        valid=True,
        false_alarm_probability=_chance(context, pair.lower),
        open_bar_equivalent=interval(bars, scale.with_error(counts)),
        detection_limit_bars=safely(limits),
        caveats=(
            "speed ripple takes up to two thirds of this line away, more with low inertia",
            OSCILLATION,
            MASKED,
            ANISOTROPY,
            *common_caveats(context),
        ),
        details=_details(context, pair.lower, -1),
    )


def _upper(context: CageContext) -> Reading:
    """Read U, which speed ripple alone makes."""
    pair = context.pair
    return Reading(
        name=UPPER.name,
        title=UPPER.title,
        independence_class=UPPER.independence_class,
        value=context.level(pair.upper),
        unit="dBc",
        valid=True,
        false_alarm_probability=_chance(context, pair.upper),
        caveats=(
            "made by speed ripple alone: absent at high inertia even with broken bars",
            *common_caveats(context),
        ),
        details=_details(context, pair.upper, 1),
    )


def _chance(context: CageContext, line: SideLine) -> float:
    """Return the false-alarm probability of one line in all that was searched."""
    return min(1.0, context.pair.cells * line.false_alarm_probability)


def _details(context: CageContext, line: SideLine, sign: int) -> dict[str, float]:
    """Return further numbers of one line."""
    pair = context.pair
    # the floor as the amplitude of a line whose power it equals in the line's band
    floor_a = math.sqrt(max(line.energy.noise_power, 0.0))
    relative = line.coherent / pair.fundamental
    sd_rad = math.sqrt(0.5 * line.energy.floor * pair.band.fit.variance_gain)
    return {
        "frequency_hz": context.frame.supply_frequency_hz + sign * pair.frequency_hz,
        "frequency_sd_hz": min(pair.band.fit.frequency_sd_hz(line.energy.floor), 1e3),
        "coherent_level_dbc": context.level_of(abs(line.coherent)),
        "phase_to_fundamental_rad": wrap_angle(math.atan2(relative.imag, relative.real)),
        "phase_sd_rad": min(sd_rad / max(abs(line.coherent), 1e-300), math.pi),
        "floor_dbc": context.level_of(floor_a),
        "detection_limit_dbc": context.level_of(line.detection_limit),
        "line_test_f_ratio": min(line.test_ratio, 1e12),
        "band_half_width_hz": pair.band.half_width_hz,
        "searched_cells_count": pair.cells,
    }


def _classic(context: CageContext) -> dict[str, float]:
    """Return the classic counts, for comparison only (their limits: machine/classic.py)."""
    bars = context.point.rotor_bars or context.motor.cage.rotor_bars
    pair = context.pair
    levels = context.level(pair.lower).value, context.level(pair.upper).value
    details = {"lower_level_dbc": levels[0], "upper_level_dbc": levels[1]}
    if bars is None:
        return details
    p = context.motor.nameplate.pole_pairs
    lower, upper = pair.lower.amplitude.value, pair.upper.amplitude.value
    details["classic_a_bars"] = bars_from_mean_level(levels, bars, p)
    by_lower = bars_from_lower_line(levels[0], bars, p)
    if by_lower is not None:
        details["classic_b_bars"] = by_lower
    details["classic_c_bars"] = bars_from_line_sum(
        lower / pair.fundamental_a, upper / pair.fundamental_a, bars
    )
    return details
