"""The demodulated current: what the pair of side lines does to amplitude and phase.

To first order in the lines the modulus of the current carries a line of peak amplitude
``|conj(I1) U + I1 conj(L)| / |I1|`` at f_pp, and its phase one of
``|conj(I1) U - I1 conj(L)| / |I1|^2`` radian. Both are functions of the same L and U, so this is
not an independent method. Either can vanish while the other stands, so both are always read
(docs/theory/envelope.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

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
    SUM_OVER_ROOT,
    amplitude_draws,
    ranged,
    safely,
)
from cagewise.indicators.lines.fitting import Baseband, fit_pair, flat_weights, taper_weights
from cagewise.indicators.lines.pair import FittedBand, SideLine
from cagewise.indicators.reading import Method, Reading
from cagewise.quantities import Estimate, RealArray, decibel

AMPLITUDE = Head(
    name="envelope_amplitude",
    title="demodulated current, amplitude",
    method=Method.DEMODULATED_CURRENT,
)
PHASE = Head(name="envelope_phase", title="demodulated current, phase")
HEADS = (AMPLITUDE, PHASE)

DEPENDENT = "a function of the same two side lines: it confirms the reading, not the cause"
CANCELS = "the amplitude can vanish at intermediate inertia while both side lines stand"


def read_envelope(context: CageContext) -> tuple[Reading, ...]:
    """Read the amplitude and the phase of the demodulated current."""
    reason = load_refusal(context, context.limits.least_load_lines)
    if reason:
        return tuple(head.refused(reason) for head in HEADS)
    lines = demodulated(context)
    return _amplitude(context, lines), _phase(context, lines)


@dataclass(frozen=True, kw_only=True)
class Demodulated:
    """Lines of the demodulated current at f_pp."""

    amplitude: SideLine
    """Upper line of modulus over fundamental: half the modulation depth (peak, per unit)."""
    phase: SideLine
    """Upper line of the phase: half its peak swing (rad)."""

    @property
    def depth(self) -> Estimate:
        """Amplitude ripple, peak over mean, per unit."""
        return self.amplitude.amplitude.scaled(2.0)

    @property
    def swing_rad(self) -> Estimate:
        """Phase ripple, peak."""
        return self.phase.amplitude.scaled(2.0)


def demodulated(context: CageContext) -> Demodulated:
    """Demodulate the current and measure its lines at the place of the pair."""
    current = context.pair.band.base.samples
    modulus, phase = np.abs(current), np.unwrap(np.angle(current))
    chance = context.limits.false_alarm_probability / context.pair.cells
    return Demodulated(
        amplitude=_line(context, np.asarray(modulus / modulus.mean() - 1.0), chance),
        phase=_line(context, np.asarray(phase - phase.mean()), chance),
    )


def _line(context: CageContext, series: RealArray, chance: float) -> SideLine:
    """Measure the line of a real series at f_pp, mean and trend removed with it."""
    band = context.pair.band
    base = Baseband(
        series.astype(np.complex128), band.base.sampling_rate_hz, band.base.half_width_hz
    )
    weights = taper_weights(series.size) if band.windowed else flat_weights(series.size)
    at_hz = context.pair.frequency_hz
    fitted = FittedBand(
        base=base,
        fit=fit_pair(base, at_hz, at_hz, weights),
        windowed=band.windowed,
        half_width_hz=band.half_width_hz,
    )
    return fitted.side_line(1, chance)


def ripple_db(depth: float) -> float:
    """Return amplitude ripple as the trade prints it: highest amplitude over the mean, in dB."""
    return 20.0 * math.log10(1.0 + depth)


def peak_to_peak_db(depth: float) -> float:
    """Return highest over lowest amplitude in dB."""
    return decibel((1.0 + depth) / max(1.0 - depth, 1e-6))


def _amplitude(context: CageContext, lines: Demodulated) -> Reading:
    """Read the amplitude ripple; the bars come from both quadratures together."""
    depth, scale = lines.depth, context.scale
    n, fundamental_a = scale.n_draws, context.pair.fundamental_a
    # |L|^2 + |U|^2 is half the sum of the squared peak ripples, here of twice the upper lines
    root_a = (
        fundamental_a
        * math.sqrt(2.0)
        * math.hypot(lines.amplitude.amplitude.value, lines.phase.amplitude.value)
    )
    roots_a = (
        fundamental_a
        * math.sqrt(2.0)
        * np.hypot(amplitude_draws(lines.amplitude, n), amplitude_draws(lines.phase, n)[::-1])
    )
    factors = _sum_over_root(context) / ranged(SUM_OVER_DIRECT, n)[::-1]
    limit_a = (
        fundamental_a
        * math.sqrt(2.0)
        * math.hypot(lines.amplitude.detection_limit, lines.phase.detection_limit)
    )
    return Reading(
        name=AMPLITUDE.name,
        title=AMPLITUDE.title,
        independence_class=AMPLITUDE.independence_class,
        method=AMPLITUDE.method,
        value=Estimate(*(ripple_db(d) for d in (depth.value, depth.low, depth.high))),
        unit="dB ripple",
        valid=True,
        false_alarm_probability=_chance(context, lines),
        open_bar_equivalent=scale.through(root_a, np.asarray(roots_a), factors),
        detection_limit_bars=safely(scale.bars(limit_a * factors)),
        caveats=(DEPENDENT, CANCELS, MASKED, ANISOTROPY, *common_caveats(context)),
        details={
            "amplitude_ripple_peak_percent": 100.0 * depth.value,
            "amplitude_ripple_peak_to_peak_db": peak_to_peak_db(depth.value),
            "phase_ripple_peak_mrad": 1e3 * lines.swing_rad.value,
            "amplitude_false_alarm_probability": min(
                1.0, context.pair.cells * lines.amplitude.false_alarm_probability
            ),
        },
    )


def _sum_over_root(context: CageContext) -> RealArray:
    """Return draws of (|L| + |U|) over the root of |L|^2 + |U|^2, as the pair itself has it.

    Between 1, with one line alone, and the square root of two; even over that range where neither
    line stands.
    """
    pair, n = context.pair, context.scale.n_draws
    lower = amplitude_draws(pair.lower, n)
    upper = amplitude_draws(pair.upper, n)[::-1]
    root = np.hypot(lower, upper)
    share = np.divide(lower + upper, root, out=ranged(SUM_OVER_ROOT, n), where=root > 0.0)
    return np.asarray(share)


def _phase(context: CageContext, lines: Demodulated) -> Reading:
    """Read the phase ripple."""
    return Reading(
        name=PHASE.name,
        title=PHASE.title,
        independence_class=PHASE.independence_class,
        value=lines.swing_rad.scaled(1e3),
        unit="mrad",
        valid=True,
        false_alarm_probability=min(1.0, context.pair.cells * lines.phase.false_alarm_probability),
        caveats=(DEPENDENT, *common_caveats(context)),
    )


def _chance(context: CageContext, lines: Demodulated) -> float:
    """Return the false-alarm probability of the stronger quadrature, both tried."""
    single = min(lines.amplitude.false_alarm_probability, lines.phase.false_alarm_probability)
    return min(1.0, 2.0 * context.pair.cells * single)
