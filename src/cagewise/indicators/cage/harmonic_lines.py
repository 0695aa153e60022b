"""The cage lines beside the 5th and 7th harmonic: (5-4s)f, (5-6s)f, (7-6s)f, (7-8s)f.

A rotor field of order h, made by rotor currents of frequency +-sf, turns in the stator at
``h (1 - s) +- s`` times the supply. The 5th order is of negative sequence, so its lines stand at
-(5-4s)f and -(5-6s)f of the current space vector: +2 and +3 pole-pass frequencies from -5f. Those
of the 7th stand at -3 and -4 from +7f. They hardly depend on inertia and load, see other patterns
of bars than the side lines do (kernels K4, K6, K8), and a search at 5f +- f_pp looks in the wrong
place. Derivation: docs/theory/harmonic-lines.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.frame import OrderBand
from cagewise.indicators.cage.context import CageContext, Head, load_refusal
from cagewise.indicators.cage.harmonic_bars import MeasuredLine, count_bars
from cagewise.indicators.cage.open_bars import safely
from cagewise.indicators.lines.fitting import Baseband, fit_pair, flat_weights, taper_weights
from cagewise.indicators.lines.pair import FittedBand, SideLine
from cagewise.indicators.lines.tapers import TIME_HALF_BANDWIDTH
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    FIFTH_SIX,
    SEVENTH_EIGHT,
    SEVENTH_SIX,
    Line,
)
from cagewise.quantities import Estimate

HEAD = Head(
    name="harmonic_lines",
    title="cage lines at the 5th and 7th harmonic",
    independence_class=IndependenceClass.RUNNING_HARMONIC,
    method=Method.FIFTH_SIDE_LINES,
)
LABELS: dict[Line, str] = {
    FIFTH_FOUR: "5_minus_4s",
    FIFTH_SIX: "5_minus_6s",
    SEVENTH_SIX: "7_minus_6s",
    SEVENTH_EIGHT: "7_minus_8s",
}
"""Part of the keys of the details."""
PLACES: dict[Line, tuple[int, int]] = {
    FIFTH_FOUR: (-5, 2),
    FIFTH_SIX: (-5, 3),
    SEVENTH_SIX: (7, -3),
    SEVENTH_EIGHT: (7, -4),
}
"""Signed harmonic of the supply, and pole-pass frequencies from it."""
HIGHEST_OFFSET = 4
RATE_PER_HALF_WIDTH = 2.6
"""Slow rate over the half-width of an order band (its transition ends at 1.25)."""
LARGEST_HALF_WIDTH = 0.9
"""Half-width of an order band in units of the supply frequency: the next harmonic stays out."""
RING_ROOM_WIDTHS = 9.0
"""Room for the noise ring outside the outermost line, in half-widths of a line."""
OPEN_COUNT = (
    "does not grow steadily with the number of bars: kernels K4, K6 and K8 vanish for some patterns"
)
WEAK_WINDING = (
    "absence proves little: chorded windings and skew can suppress these lines, high-resistance "
    "bars give 15 dB less than open ones"
)

NO_FLOOR = (
    "the slip is too unsure: the places where these lines may stand reach each other, and no noise "
    "is left between them to compare with"
)


@dataclass(frozen=True, kw_only=True)
class HarmonicLine:
    """One of the four lines."""

    line: Line
    measured: SideLine
    height_db: float
    """Energy in the line's band over what the floor puts there."""
    voltage_share: float
    """Part of the amplitude that the measured voltage explains through the machine, per unit."""

    def stands(self, context: CageContext) -> bool:
        """Return whether the line passes every gate by itself."""
        limits = context.limits
        return (
            self.height_db >= limits.harmonic_margin_db
            and self.measured.false_alarm_probability <= limits.false_alarm_probability
            and self.voltage_share <= limits.largest_voltage_share
        )


def read_harmonic_lines(context: CageContext) -> Reading:
    """Read the four lines at the places the slip gives them."""
    reason = _refusal(context)
    if reason:
        return HEAD.refused(reason)
    bands = _bands(context)
    lines = tuple(bands[order].line(line) for line, (order, _) in PLACES.items())
    if not all(math.isfinite(line.measured.energy.floor) for line in lines):
        return HEAD.refused(NO_FLOOR)
    standing = [line for line in lines if line.stands(context)]
    enough = len(standing) >= context.limits.least_harmonic_lines
    strongest = max(standing or lines, key=lambda line: line.measured.energy.power)
    return Reading(
        name=HEAD.name,
        title=HEAD.title,
        independence_class=HEAD.independence_class,
        method=HEAD.method,
        value=context.level(strongest.measured),
        unit="dBc",
        valid=True,
        false_alarm_probability=_chance(context, standing) if enough else 1.0,
        open_bar_equivalent=_bars(context, lines) if enough else None,
        detection_limit_bars=_limit_bars(context, lines),
        caveats=(OPEN_COUNT, WEAK_WINDING, *_caveats(context)),
        details={
            "lines_standing_count": float(len(standing)),
            **_details(context, lines),
            **bands[-5].images(),
            **bands[7].images(),
        },
    )


def _refusal(context: CageContext) -> str:
    """Return why the lines cannot be read."""
    rate, least = context.frame.signals.sampling_rate_hz, context.limits.least_rate_harmonics_hz
    needed = max(least, 2.5 * 7.0 * context.frame.supply_frequency_hz)
    if rate < needed:
        return f"sampled at {rate:.0f} Hz and the 7th harmonic needs {needed:.0f} Hz or more"
    if not context.pair.band.windowed:
        periods = context.limits.least_periods_windowed
        return (
            "the record is too short to separate the lines from the harmonics: record "
            f"{periods / context.pair.frequency_hz:.0f} s or longer at this load"
        )
    return load_refusal(context, context.limits.least_load_harmonics)


@dataclass(frozen=True, kw_only=True)
class _Band:
    """Current and voltage about one harmonic of the supply."""

    context: CageContext
    order: int
    current: OrderBand
    voltage: OrderBand | None
    half_width_hz: float

    @classmethod
    def of(cls, context: CageContext, order: int) -> _Band:
        """Return the bands about a signed order of the supply.

        With one current (or one voltage) negative frequencies fold onto the positive ones.
        """
        frame = context.frame
        record_s = frame.duration_s
        room_hz = RING_ROOM_WIDTHS * TIME_HALF_BANDWIDTH / record_s
        half_hz = min(
            HIGHEST_OFFSET * context.pair.frequency_hz + room_hz + 2.0,
            LARGEST_HALF_WIDTH * frame.supply_frequency_hz,
        )
        rate_hz = RATE_PER_HALF_WIDTH * half_hz
        signals = frame.signals
        current = order if signals.three_phase else abs(order)
        voltage = order if signals.voltages_measured >= 2 else abs(order)
        return cls(
            context=context,
            order=order,
            current=frame.order_band(current, half_hz, rate_hz),
            voltage=frame.voltage_order_band(voltage, half_hz, rate_hz),
            half_width_hz=half_hz,
        )

    def fitted(self, band: OrderBand, offset: int) -> tuple[FittedBand, int]:
        """Fit carrier and a pair ``offset`` pole-pass frequencies away; also the line's sign."""
        folded = band.order * self.order < 0.0
        sign = int(math.copysign(1, offset)) * (-1 if folded else 1)
        pair = self.context.pair
        base = Baseband(band.samples, band.sampling_rate_hz, self.half_width_hz)
        n = base.samples.size
        times = abs(offset)
        spread_hz = times * max(
            pair.band.half_width_hz - pair.band.lines.half_width_hz, self._uncertainty_hz()
        )
        resolution_hz = TIME_HALF_BANDWIDTH / base.duration_s
        at_hz = times * pair.frequency_hz
        weights = taper_weights(n) if pair.band.windowed else flat_weights(n)
        others = tuple(
            s * k * pair.frequency_hz
            for k in range(1, HIGHEST_OFFSET + 1)
            for s in (-1, 1)
            if k != times
        )
        fitted = FittedBand(
            base=base,
            fit=fit_pair(base, at_hz, at_hz, weights),
            windowed=True,
            half_width_hz=max(resolution_hz, spread_hz),
            others_hz=others,
        )
        return fitted, sign

    def _uncertainty_hz(self) -> float:
        """Return how far the pole-pass frequency may be off, where its line was not found."""
        known = self.context.point.pole_pass_frequency_hz
        if self.context.pair.located or not isinstance(known, Estimate):
            return 0.0
        return 0.5 * (known.high - known.low)

    def line(self, line: Line) -> HarmonicLine:
        """Measure one line in the current and what the voltage says of it."""
        context = self.context
        chance = context.limits.false_alarm_probability
        fitted, sign = self.fitted(self.current, PLACES[line][1])
        measured = fitted.side_line(sign, chance)
        energy = measured.energy
        height = max((energy.power + energy.noise_power) / energy.noise_power, 1e-3)
        return HarmonicLine(
            line=line,
            measured=measured,
            height_db=10.0 * math.log10(height),
            voltage_share=self._voltage_share(line, energy.amplitude),
        )

    def _voltage_share(self, line: Line, amplitude_a: float) -> float:
        """Return the part of a current line that its voltage drives through the machine."""
        if self.voltage is None or amplitude_a == 0.0:
            return 0.0
        fitted, sign = self.fitted(self.voltage, PLACES[line][1])
        volts = fitted.side_line(sign, 0.5).energy.amplitude
        context = self.context
        f, f_pp = context.frame.supply_frequency_hz, context.pair.frequency_hz
        from_supply_hz = (self.order - 1) * f + PLACES[line][1] * f_pp
        admittance = context.draws.middle.voltage_response(2j * math.pi * from_supply_hz)
        return float(abs(admittance)) * volts / amplitude_a

    def images(self) -> dict[str, float]:
        """Return the levels one pole-pass frequency away, where a harmonic of the supply shows."""
        fitted, _ = self.fitted(self.current, 1)
        levels = {}
        for sign, word in ((-1, "minus"), (1, "plus")):
            # seen from the harmonic's magnitude, 5f - f_pp lies on the positive side of -5f
            side = sign if self.current.order > 0.0 else -sign
            level = self.context.level(fitted.side_line(side, 0.5)).value
            levels[f"image_{abs(self.order)}_{word}_2s_dbc"] = level
        return levels


def _bands(context: CageContext) -> dict[int, _Band]:
    """Return the bands about both harmonics, by signed order."""
    return {order: _Band.of(context, order) for order in (-5, 7)}


def _chance(context: CageContext, standing: list[HarmonicLine]) -> float:
    """Return the chance that noise alone makes as many lines stand at their places.

    The weakest of the m standing lines has chance c: m of four do with C(4, m) c^m at most.
    """
    weakest = max(line.measured.false_alarm_probability for line in standing)
    count = len(standing)
    return min(1.0, context.pair.cells * math.comb(len(PLACES), count) * weakest**count)


def _bars(context: CageContext, lines: tuple[HarmonicLine, ...]) -> Estimate:
    """Return open bars from all lines that the supply does not explain, the missing ones too."""
    largest = context.limits.largest_voltage_share
    carrier = context.pair.fundamental_a**2
    own = tuple(
        MeasuredLine(
            line=line.line,
            power=line.measured.energy.power / carrier,
            noise_power=line.measured.energy.noise_power / carrier,
            power_sd=line.measured.energy.power_sd / carrier,
        )
        for line in lines
        if line.voltage_share <= largest or line.measured.energy.power == 0.0
    )
    return count_bars(own, context.scale.expectation)


def _limit_bars(context: CageContext, lines: tuple[HarmonicLine, ...]) -> float:
    """Return the open bars that make the required number of lines stand."""
    margin = 10.0 ** (context.limits.harmonic_margin_db / 10.0)
    scale = context.scale
    needed = []
    for line in lines:
        by_height = math.sqrt(line.measured.energy.noise_power * max(margin - 1.0, 0.0))
        ratio = max(line.measured.detection_limit, by_height) / context.pair.fundamental_a
        ratios = np.full(scale.n_draws, ratio)
        bars = scale.harmonic_bars(line.line, ratios)
        needed.append(safely(bars))
    return sorted(needed)[context.limits.least_harmonic_lines - 1]


def _caveats(context: CageContext) -> tuple[str, ...]:
    """Return what limits the reading on this record."""
    caveats = []
    if context.frame.signals.voltages_measured == 0:
        caveats.append("no voltage was measured: lines that the supply carries are not excluded")
    if not context.frame.signals.three_phase:
        caveats.append("one current alone: the sequence of the lines was not checked")
    return tuple(caveats)


def _details(context: CageContext, lines: tuple[HarmonicLine, ...]) -> dict[str, float]:
    """Return the numbers of every line."""
    details = {}
    f, f_pp = context.frame.supply_frequency_hz, context.pair.frequency_hz
    for line in lines:
        label = LABELS[line.line]
        order, offset = PLACES[line.line]
        details[f"line_{label}_hz"] = abs(order * f + offset * f_pp)
        details[f"line_{label}_dbc"] = context.level(line.measured).value
        details[f"line_{label}_height_db"] = line.height_db
        details[f"line_{label}_voltage_share_1"] = min(line.voltage_share, 1e3)
    return details
