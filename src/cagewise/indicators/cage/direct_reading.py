"""The direct component as a reading: per cent of the rotor current, and open bars."""

from __future__ import annotations

import cmath
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
from cagewise.indicators.cage.direct_component import DirectComponent
from cagewise.indicators.cage.open_bars import interval, safely
from cagewise.indicators.reading import Method, Reading

HEAD = Head(
    name="direct_component",
    title="direct component",
    method=Method.SUPPLY_SIDE_LINES,
)
LINEAR = (
    "rests on one linear cage: deep bars, an outer cage, saturation and currents between the bars "
    "are not in it"
)


def read_direct_component(context: CageContext) -> Reading:
    """Read the direct component."""
    reason = load_refusal(context, context.limits.least_load_direct)
    if reason:
        return HEAD.refused(reason)
    direct, scale = context.direct, context.scale
    value = float(np.median(direct.amplitude_a / scale.rotor_current_a))
    bars = float(np.median(scale.bars(direct.amplitude_a)))
    return Reading(
        name=HEAD.name,
        title=HEAD.title,
        independence_class=HEAD.independence_class,
        method=HEAD.method,
        value=interval(
            value, direct.draws_a / scale.rotor_current_a, includes_zero=direct.includes_zero
        ).scaled(100.0),
        unit="% of the rotor current",
        valid=True,
        false_alarm_probability=direct.false_alarm_probability,
        open_bar_equivalent=interval(
            bars, scale.draws(direct.draws_a), includes_zero=direct.includes_zero
        ),
        detection_limit_bars=safely(scale.bars(direct.detection_limit_a)),
        caveats=(LINEAR, MASKED, ANISOTROPY, *common_caveats(context)),
        details=_details(context),
    )


def _details(context: CageContext) -> dict[str, float]:
    """Return what the reading is made of."""
    direct, calibration = context.direct, context.direct.calibration
    rotor_a = float(np.median(context.scale.rotor_current_a))
    details = {
        "direct_level_dbc": context.level_of(direct.amplitude_a),
        "rotor_current_over_fundamental_1": rotor_a / context.pair.fundamental_a,
        "ripple_ratio_1": abs(direct.ratio),
        "ripple_ratio_angle_deg": math.degrees(cmath.phase(direct.ratio)),
        "ripple_leakage_dbc": context.level_of(direct.leakage_a),
        "background_coherence_1": calibration.coherence,
        "background_used_count": float(calibration.used),
    }
    if context.supply is not None:
        details["supply_share_1"] = _supply_share(direct)
    bars = context.point.rotor_bars or context.motor.cage.rotor_bars
    if bars is not None:
        details["times_bars_over_rotor_current_1"] = bars * direct.amplitude_a / rotor_a
    if calibration.used:
        details["background_ratio_over_circuit_1"] = abs(calibration.factor)
        details["background_ratio_over_circuit_deg"] = math.degrees(cmath.phase(calibration.factor))
    return details


def _supply_share(direct: DirectComponent) -> float:
    """Return what the supply put into the pair over the pair itself, amplitude."""
    raw = np.stack([direct.bins.lower, direct.bins.upper])
    corrected = np.stack([direct.lower, direct.upper])
    whole = float(np.linalg.norm(raw))
    return float(np.linalg.norm(raw - corrected)) / whole if whole > 0.0 else 0.0
