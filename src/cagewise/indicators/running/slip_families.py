"""Families of lines that tell the slip, and what each family reads in one record.

In the frame of the supply every line of a running cage motor has the phase ``a theta + b theta_s``
with theta the phase of the supply and theta_s that of the slip (``d theta_s/dt = 2 pi s f``). It
stands at the order ``a + b s``; negative orders turn backwards. A line found at order o therefore
reads the slip ``(o - a) / b`` (docs/theory/slip.md, table 1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.running.slip_lines import LineTable, find_lines
from cagewise.indicators.running.whitening import (
    cell_offsets_hz,
    hann_power,
    level_floor,
    lowest_power,
    skirt_floor,
)
from cagewise.quantities import ComplexArray, RealArray

POSSIBLE_ROTOR_BARS = range(16, 121)
"""Numbers of bars tried when nobody has counted them; all are held equally likely."""
LEAST_NATS = 6.0
"""Weakest line listed in the narrow families, which have some hundred cells."""
ECCENTRIC_CONTROL_HZ = 6.0
"""Distance from the synchronous shaft line within which strays are counted."""
POLE_PASS_CONTROL_HZ = 12.0
"""Distance from the supply line within which strays are counted."""
LARGEST_SMEAR = 0.25
"""Width of a line over the highest slip searched: more is not one steady slip."""
BLIND_HZ = 0.1
"""Half-width about a harmonic of the supply in which no line is taken for the motor's."""
BLIND_CELLS = 3.0
"""The same in cells: the main lobe of the window and one more. It stands alone for the shaft lines
of two poles, at sf beside zero and beside 2f: in the frame of the supply both are sharp, and large
motors have sf below 0.1 Hz."""
EXPECTED_SHARE = 0.8
"""Share of motors whose slot line stands where the winding rule expects it; the rest are left to
unsymmetrical windings, eccentric gaps and unequal current sensors. A guess without source."""
NYQUIST_SHARE = 0.45
"""Highest usable frequency over the sampling rate."""
TILE_RATE = 1.5
"""Sampling rate of a tile of one order, in orders: its filter ends at 0.625."""


class Family(StrEnum):
    """Lines of one physical origin."""

    SLOT = "rotor slots"
    ECCENTRICITY = "eccentricity"
    POLE_PASS = "pole pass"  # noqa: S105 - a family of lines, not a secret
    HARMONIC_CAGE = "cage lines at the 5th and 7th harmonic"


@dataclass(frozen=True, slots=True)
class Readings:
    """Slip as read from the lines of one family; all arrays share the shape (n_readings,)."""

    family: Family
    lines: LineTable
    """The lines; position, deviation and width in slip."""
    origin: RealArray
    """a of each line."""
    slope: RealArray
    """b of each line."""
    rotor_bars: NDArray[np.intp]
    """Number of bars assumed; 0 where it does not matter."""
    log_prior: RealArray
    """Log of how much more likely than average a line is to stand in its channel."""
    follow_nats: RealArray
    """Log-likelihood ratio that the line follows the torque of this motor; 0 where not asked."""
    span: float
    """Range of slip over which the readings were collected (strays are counted over it)."""

    @property
    def slip(self) -> RealArray:
        """Slip that each line reads."""
        return self.lines.position

    @property
    def deviation(self) -> RealArray:
        """Standard deviation of each slip."""
        return self.lines.deviation

    @property
    def nats(self) -> RealArray:
        """Log-likelihood ratio of each line against noise."""
        return self.lines.nats

    @property
    def width(self) -> RealArray:
        """Smear of each line in slip."""
        return self.lines.width

    @property
    def order(self) -> RealArray:
        """Order at which each line stands."""
        return np.asarray(self.origin + self.slope * self.slip)

    def chosen(self, keep: NDArray[np.bool_]) -> Readings:
        """Return some of the readings."""
        return replace(
            self,
            lines=self.lines.chosen(keep),
            origin=self.origin[keep],
            slope=self.slope[keep],
            rotor_bars=self.rotor_bars[keep],
            log_prior=self.log_prior[keep],
            follow_nats=self.follow_nats[keep],
        )


@dataclass(frozen=True, slots=True)
class Channel:
    """Where a line stands: at the order ``a + b s``."""

    a: float
    b: float
    rotor_bars: int = 0
    log_prior: float = 0.0


def read_families(
    frame: SupplyFrame, pole_pairs: int, rotor_bars: int | None, highest_slip: float
) -> list[Readings]:
    """Return what every voting family reads; families that the record cannot show are empty.

    Parameters
    ----------
    frame
        The record.
    pole_pairs
        p.
    rotor_bars
        n, or None to try all of :data:`POSSIBLE_ROTOR_BARS`.
    highest_slip
        Upper end of the window in which the slip is searched.
    """
    bars = possible_rotor_bars(pole_pairs) if rotor_bars is None else (rotor_bars,)
    reach = 1.25 * highest_slip
    slots = [c for n in bars for c in slot_channels(n, pole_pairs)]
    return [
        _from_tiles(frame, Family.SLOT, slots, reach),
        _eccentricity(frame, pole_pairs, highest_slip),
        _pole_pass(frame, highest_slip),
    ]


def possible_rotor_bars(pole_pairs: int) -> list[int]:
    """Return the numbers of bars that are tried when nobody has counted them.

    Left out are those whose slot lines are the cage lines of the 5th and 7th harmonic: nobody could
    tell them apart.
    """
    own = {abs(c.b) for c in harmonic_channels()}
    return [n for n in POSSIBLE_ROTOR_BARS if n / pole_pairs not in own]


def read_harmonic_cage(frame: SupplyFrame, highest_slip: float) -> Readings:
    """Return what the cage lines beside the 5th and 7th harmonic read.

    They vote beside eccentricity only. A damaged cage makes a comb of lines at all multiples of the
    slip frequency beside every harmonic and every slot line; read with the wrong b they agree with
    each other on simple fractions of the slip (docs/theory/slip.md, section 4).
    """
    reach = 1.25 * highest_slip
    return _from_tiles(frame, Family.HARMONIC_CAGE, harmonic_channels(), reach)


def slot_channels(rotor_bars: int, pole_pairs: int) -> list[Channel]:
    """Return the principal slot lines ``+-(n (1-s)/p +- 1)`` in both sequences."""
    ratio = rotor_bars / pole_pairs
    places = [(sign, nu) for sign in (1, -1) for nu in (1, -1)]
    expected = [_expected(rotor_bars, pole_pairs, sign, nu) for sign, nu in places]
    priors = _channel_priors(expected)
    return [
        Channel(sign * (ratio + nu), -sign * ratio, rotor_bars, prior)
        for (sign, nu), prior in zip(places, priors, strict=True)
    ]


def _expected(rotor_bars: int, pole_pairs: int, sign: int, nu: int) -> bool:
    """Return whether a symmetrical winding shows the slot line ``sign * (n (1-s)/p + nu)``.

    The bars turn the fundamental field into fields of ``1 + k n/p`` pole pairs (in units of p), k =
    +-1, of phase ``theta + k n/p theta_r``. A three-phase winding sees them in positive sequence
    when that number is 1 modulo 6, in negative sequence (phase reversed) when it is 5, else not at
    all. k = +1 is nu = +1; k = -1, its phase reversed, is nu = -1.
    """
    if rotor_bars % pole_pairs:
        return False
    field = (1 + nu * (rotor_bars // pole_pairs)) % 6
    return field in (1, 5) and sign == (nu if field == 1 else -nu)


def _channel_priors(expected: list[bool]) -> list[float]:
    """Return the log prior of each channel, relative to equal shares."""
    n, seen = len(expected), sum(expected)
    if seen in (0, n):
        return [0.0] * n
    right, wrong = EXPECTED_SHARE / seen, (1.0 - EXPECTED_SHARE) / (n - seen)
    return [math.log(n * (right if e else wrong)) for e in expected]


def harmonic_channels() -> list[Channel]:
    """Return (5-4s), (5-6s) in negative and (7-6s), (7-8s) in positive sequence."""
    return [Channel(-5.0, 4.0), Channel(-5.0, 6.0), Channel(7.0, -6.0), Channel(7.0, -8.0)]


def _from_tiles(
    frame: SupplyFrame, family: Family, channels: list[Channel], reach: float
) -> Readings:
    """Return the readings of lines at high orders, searched in tiles of one order."""
    if not frame.signals.three_phase:
        channels = _one_sided(channels)
    highest = NYQUIST_SHARE * frame.signals.sampling_rate_hz / frame.supply_frequency_hz - 0.5
    tiles = sorted({t for c in channels for t in _tiles(c, reach) if abs(t) <= highest})
    lines = LineTable.joined([tile_lines(frame, t) for t in tiles])
    return _through_channels(family, lines, channels, reach)


def _one_sided(channels: list[Channel]) -> list[Channel]:
    """Return the channels as a single current shows them: all at positive frequency."""
    folded: dict[tuple[float, float, int], float] = {}
    for c in channels:
        key = (abs(c.a), c.b if c.a >= 0.0 else -c.b, c.rotor_bars)
        folded[key] = float(np.logaddexp(folded.get(key, -np.inf), c.log_prior - math.log(2.0)))
    return [Channel(*key, prior) for key, prior in folded.items()]


def _tiles(channel: Channel, reach: float) -> range:
    """Return the whole orders whose tiles cover ``|slip| <= reach`` of a channel."""
    half = abs(channel.b) * reach
    return range(round(channel.a - half), round(channel.a + half) + 1)


def tile_lines(frame: SupplyFrame, order: int) -> LineTable:
    """Return the lines within half an order of a whole order; positions in orders."""
    frequency = frame.supply_frequency_hz
    band = frame.order_band(float(order), frequency / 2.0, TILE_RATE * frequency)
    n, rate = band.samples.size, band.sampling_rate_hz
    offset_hz = cell_offsets_hz(n, rate)
    inside = np.flatnonzero(np.abs(offset_hz) <= 0.55 * frequency)
    resolution_hz = rate / n
    power = hann_power(band.samples)[inside]
    floor = level_floor(power, resolution_hz, _lowest(frame, n))
    found = find_lines(power[np.newaxis], floor[np.newaxis], math.log(inside.size))
    lines = found.mapped(order + offset_hz[inside[0]] / frequency, resolution_hz / frequency)
    blind = max(BLIND_HZ, BLIND_CELLS * resolution_hz) / frequency
    off = np.abs(lines.position - order)
    return lines.chosen((off <= 0.5) & (off > blind))


def _through_channels(
    family: Family, lines: LineTable, channels: list[Channel], reach: float
) -> Readings:
    """Return the lines as every channel reads them, within ``|slip| <= reach``."""
    tables, owners = [LineTable.empty()], [np.empty(0, dtype=np.intp)]
    for i, channel in enumerate(channels):
        table = lines.mapped(-channel.a / channel.b, 1.0 / channel.b)
        near = np.flatnonzero(np.abs(table.position) <= reach)
        tables.append(table.chosen(near))
        owners.append(np.full(near.size, i))
    owner = np.concatenate(owners)
    return Readings(
        family=family,
        lines=LineTable.joined(tables),
        origin=np.array([c.a for c in channels])[owner],
        slope=np.array([c.b for c in channels])[owner],
        rotor_bars=np.array([c.rotor_bars for c in channels], dtype=np.intp)[owner],
        log_prior=np.array([c.log_prior for c in channels])[owner],
        follow_nats=np.zeros(owner.size),
        span=2.0 * reach,
    )


def _eccentricity(frame: SupplyFrame, pole_pairs: int, highest_slip: float) -> Readings:
    """Return the readings of the pair f -+ f_r, both lines searched together."""
    frequency, ratio = frame.supply_frequency_hz, 1.0 / pole_pairs
    half_width = min(2.0 * ECCENTRIC_CONTROL_HZ, 0.6 * frequency * ratio)
    sides = []
    for order in (1.0 - ratio, 1.0 + ratio):
        band = frame.order_band(order, half_width, 3.0 * half_width)
        n = band.samples.size
        resolution_hz = band.sampling_rate_hz / n
        cells = min(n // 2 - 1, round(min(half_width, ECCENTRIC_CONTROL_HZ) / resolution_hz))
        power = hann_power(band.samples)
        floor = level_floor(power, resolution_hz, _lowest(frame, n))
        sides.append(np.array([power, floor])[:, n // 2 - cells : n // 2 + cells + 1])
    power, floor = (np.array([sides[0][k], sides[1][k][::-1]]) for k in (0, 1))
    if pole_pairs == 1 and not frame.signals.three_phase:
        power, floor = power[1:], floor[1:]
    step = resolution_hz / (frequency * ratio)
    widest = LARGEST_SMEAR * highest_slip / step
    lines = find_lines(power, floor, LEAST_NATS, widest).mapped(-cells * step, step)
    if pole_pairs == 1:
        blind = BLIND_CELLS * resolution_hz / frequency
        lines = lines.chosen(np.abs(lines.position) > blind)
    return _pair(Family.ECCENTRICITY, lines, (1.0 - ratio, ratio), 2.0 * cells * step)


def _pole_pass(frame: SupplyFrame, highest_slip: float) -> Readings:
    """Return the readings of the pair f -+ 2 s f, both lines searched together."""
    n = frame.current.size
    resolution_hz = frame.sampling_rate_hz / n
    power = hann_power(without_fundamental(frame.current))
    cells = min(n // 2, round(POLE_PASS_CONTROL_HZ / resolution_hz))
    lowest = _lowest(frame, n)
    sides = np.array([power[n // 2 : n // 2 - cells : -1], power[n // 2 : n // 2 + cells]])
    floor = np.array([skirt_floor(side, resolution_hz, lowest) for side in sides])
    step = resolution_hz / (2.0 * frame.supply_frequency_hz)
    widest = LARGEST_SMEAR * highest_slip / step
    found = find_lines(sides, floor, LEAST_NATS, widest)
    lines = found.chosen(found.position > BLIND_CELLS).mapped(0.0, step)
    return _pair(Family.POLE_PASS, lines, (1.0, -2.0), cells * step)


def without_fundamental(phasor: ComplexArray) -> ComplexArray:
    """Return a phasor in the supply frame less its mean and its straight trend."""
    ramp = np.linspace(-1.0, 1.0, phasor.size)
    trend = np.dot(ramp, phasor) / np.dot(ramp, ramp)
    return np.asarray(phasor - np.mean(phasor) - trend * ramp)


def _lowest(frame: SupplyFrame, n_cells: int) -> float:
    """Return the least floor that is believed, in power per cell."""
    return lowest_power(abs(complex(np.mean(frame.current))), n_cells)


def _pair(family: Family, lines: LineTable, lower: tuple[float, float], span: float) -> Readings:
    """Return lines of a folded pair, named by their lower member; positions are slips."""
    n = lines.position.size
    return Readings(
        family=family,
        lines=lines,
        origin=np.full(n, lower[0]),
        slope=np.full(n, lower[1]),
        rotor_bars=np.zeros(n, dtype=np.intp),
        log_prior=np.zeros(n),
        follow_nats=np.zeros(n),
        span=span,
    )
