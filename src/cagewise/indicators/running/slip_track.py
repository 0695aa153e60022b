"""The slip read from one line: its mean over the record, its wander, its course by quarters.

The mean frequency of a line that wanders is the centroid of its spectrum, weighted in time by the
square of the window. Several sine tapers together (Riedel and Sidorenko, IEEE Trans. Signal
Process. 43(1), 1995; from memory) weigh the record evenly, so that their centroid is the plain
mean; and what the second moment exceeds that of the tapers is the wander. A line that does not
wander is read better by its phase: the maximum of the periodogram under the first sine taper
(docs/theory/slip.md, section 5).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from cagewise.conditioning.frame import OrderBand, SupplyFrame
from cagewise.indicators.running.slip_families import Family, without_fundamental
from cagewise.indicators.running.slip_lines import HANN_SPREAD_SQUARED, POWER_CORRELATION
from cagewise.indicators.running.slip_search import Support
from cagewise.indicators.running.whitening import cell_offsets_hz, hann_power
from cagewise.quantities import ComplexArray, RealArray

N_TAPERS = 8
"""Sine tapers for the mean: their weight is even to the first and last sixteenth. More would be
more even and let more of the neighbouring lines in."""
TAPER_EDGE = 0.5 / N_TAPERS
"""Part of the record at either end that the tapers together weigh less."""
SHARP_CELLS = 0.3
"""Wander below which a line is read by its phase, standard deviation in cells of one over the
record: its phase then strays by a few tenths of a radian from a straight line."""
PHASE_WEIGHT_ERROR = 0.4
"""Error of a phase reading against the plain mean in units of a slow wander: the slope of a phase
weighs the middle of the record (standard deviation of the difference for a random walk is 0.45 of
that of the mean itself)."""
LOBE_CELLS = 1.5
"""Half-width of the main lobe of the sine taper."""
UNRESOLVED = 0.01
"""Wander of the slip, over the slip, that a weak line is allowed to hide: loads do not stand still
better than that for certain (common practice, no source)."""
SINE_LOSS = 1.224
"""Standard deviation of the sine-tapered periodogram maximum over the Cramer-Rao bound:
``sqrt(int w^2 t^2 / 12) / int w t^2`` with ``w = cos(pi t)`` over unit length."""
WANDER_DEVIATIONS = 3.0
"""Excess of a line's second moment over its standard deviation from which it is called wander."""
PHASE_FLOOR_CELLS = 0.004
"""Smallest standard deviation credited to a phase reading: side lobes of other lines."""
REACH_WIDTHS = 6.0
"""Half-width of the band about a line in units of its smear."""
REACH_CELLS = 3.0
"""The same for a sharp line under a Hann window, in cells."""
TAPERS_REACH_CELLS = 6.0
"""The same under the sine tapers, which together are 9 cells wide."""
PULLED_DEVIATIONS = 4.0
"""Distance from the reading of the search, in its standard deviations, at which a neighbouring line
has pulled the course away; the reading of the search then stands..."""
PULLED_WANDER = 1.5
"""...unless the wander explains it: the search weighs the middle of the record."""
RING = 3.0
"""The floor is the median over a ring reaching this many half-widths on either side."""
BAND_HZ = 12.0
"""Half-width of the band that is cut out about a line; the ends lost are 8 / 12 s."""
QUARTERS = 4
QUARTER_REACH_CELLS = 4.0
"""Half-width of the band about a sharp line in a quarter, in its cells."""
PRESENT_DEVIATIONS = 6.0
"""Energy of a line over the standard deviation of the noise energy from which it is there."""
SHARE_DEVIATIONS = 3.0
"""Standard deviations of the noise that are added to the energy of a quarter."""
NOISE_CORRELATION = 1.0 + 2.0 * sum(POWER_CORRELATION)
"""Variance of the summed power of many cells over that of independent ones."""
PAIRED = (Family.ECCENTRICITY, Family.POLE_PASS)
"""Families whose lines stand in pairs about the fundamental."""


@dataclass(frozen=True, slots=True)
class Track:
    """One line followed through the record, in slip."""

    support: Support
    slip: float
    """Mean over the record."""
    deviation: float
    """Standard deviation of the mean from noise."""
    wander: float
    """Standard deviation of the slip itself within the record; 0 where the line is too sharp."""
    quarter_slip: RealArray
    """Mean of each quarter, shape (4,)."""
    quarter_deviation: RealArray
    """Standard deviation of each from noise, infinite where the line is not there."""
    quarter_share: RealArray
    """Energy of each quarter over the mean of the four, three deviations of the noise added."""
    quarters_readable: bool
    """False where a quarter is too short to tell the line from the fundamental."""
    used: float
    """Part of the record that was used, the ends of the tapers not counted."""


def follow(frame: SupplyFrame, supports: tuple[Support, ...]) -> list[Track]:
    """Return the course of every supporting line; of a pair, of its clearer member.

    All lines are read in the same way, by phase or by centroid, so that they weigh the time alike:
    the slip that one line shows to wander wanders in the others too.
    """
    courses = [
        min((_course(frame, line) for line in members(support)), key=lambda c: c.deviation_hz)
        for support in supports
    ]
    smeared = any(c.wander_hz > SHARP_CELLS * c.band.sampling_rate_hz / c.n for c in courses)
    return [_track(frame, course, smeared=smeared) for course in courses]


def members(support: Support) -> list[Support]:
    """Return the lines a support rests on: both of a pair that was searched together."""
    if support.family not in PAIRED:
        return [support]
    return [support, replace(support, origin=2.0 - support.origin, slope=-support.slope)]


@dataclass(frozen=True, slots=True)
class _Course:
    """Spectral moments of one line in its band, in Hz about the slip of the support."""

    line: Support
    band: OrderBand
    smear_hz: float
    reach_hz: float
    shift_hz: float
    deviation_hz: float
    wander_hz: float

    @property
    def n(self) -> int:
        """Number of samples of the band."""
        return self.band.samples.size


def _course(frame: SupplyFrame, line: Support) -> _Course:
    """Return the moments of one line."""
    band = line_band(frame, line)
    cell = band.sampling_rate_hz / band.samples.size
    smear = line.width * abs(line.slope) * frame.supply_frequency_hz
    reach = max(REACH_WIDTHS * smear, REACH_CELLS * cell)
    shift, deviation, spread, its_deviation = _moments(band.samples, band.sampling_rate_hz, reach)
    excess = spread - HANN_SPREAD_SQUARED * cell**2
    wander = math.sqrt(excess) if excess > WANDER_DEVIATIONS * its_deviation else 0.0
    return _Course(line, band, smear, reach, shift, deviation, wander)


def _track(frame: SupplyFrame, course: _Course, *, smeared: bool) -> Track:
    """Return a course as slip."""
    line, band = course.line, course.band
    unit = 1.0 / (line.slope * frame.supply_frequency_hz)
    readable = _quarters_readable(frame, course)
    quarters = [_quarter(band, q, course.shift_hz, course.smear_hz) for q in range(QUARTERS)]
    columns = (np.array(c) for c in zip(*quarters, strict=True))
    quarter_hz, quarter_deviation_hz, energy, noise_energy = columns
    if not readable:
        quarter_deviation_hz = np.full(QUARTERS, np.inf)
    slow_hz = _scatter_beyond(quarter_hz, quarter_deviation_hz)
    if smeared:
        shift, deviation = _evenly(course)
        wander_hz = max(course.wander_hz, slow_hz)
    else:
        shift, noise = _by_phase(course)
        hidden_hz = min(_mean_deviation(quarter_deviation_hz), UNRESOLVED * line.slip / abs(unit))
        weighing = PHASE_WEIGHT_ERROR * max(slow_hz, hidden_hz)
        deviation, wander_hz = math.hypot(noise, weighing), slow_hz
    allowed_hz = PULLED_DEVIATIONS * line.deviation / abs(unit) + PULLED_WANDER * wander_hz
    if abs(shift) > allowed_hz:
        shift, deviation = 0.0, line.deviation / abs(unit)
    return Track(
        support=line,
        slip=line.slip + unit * shift,
        deviation=abs(unit) * deviation,
        wander=abs(unit) * wander_hz,
        quarter_slip=line.slip + unit * quarter_hz,
        quarter_deviation=abs(unit) * quarter_deviation_hz,
        quarter_share=_shares(energy, noise_energy),
        quarters_readable=readable,
        used=course.n / band.sampling_rate_hz / frame.signals.duration_s,
    )


def _quarters_readable(frame: SupplyFrame, course: _Course) -> bool:
    """Return whether a quarter of the record separates a line from the fundamental."""
    _, offset_hz = _place(frame, course.line)
    cells = abs(offset_hz) * course.n / QUARTERS / course.band.sampling_rate_hz
    return cells >= QUARTER_REACH_CELLS * (1.0 + RING)


def _mean_deviation(deviations: RealArray) -> float:
    """Return the root mean square of deviations, infinite ones left infinite."""
    return math.sqrt(float(np.mean(deviations**2)))


def _scatter_beyond(values: RealArray, deviations: RealArray) -> float:
    """Return the standard deviation of values beyond their own; 0 when they are not all there."""
    if not np.all(np.isfinite(deviations)):
        return 0.0
    return math.sqrt(max(float(np.var(values, ddof=1)) - float(np.mean(deviations**2)), 0.0))


def line_band(frame: SupplyFrame, support: Support) -> OrderBand:
    """Return the current about a line, the line at zero frequency.

    Near the fundamental the frame itself is read, the fundamental taken out as a constant and a
    ramp: a band narrow enough to leave it out would lose seconds at either end of the record.
    """
    order, offset_hz = _place(frame, support)
    if abs(offset_hz) > BAND_HZ:
        half_width = min(BAND_HZ, 0.7 * abs(offset_hz))
        return frame.order_band(order, half_width, 3.0 * BAND_HZ)
    return _beside_fundamental(frame, frame.current, order)


def voltage_line_band(frame: SupplyFrame, support: Support) -> OrderBand | None:
    """Return the voltage about a line in the same way, or None without voltages."""
    order, offset_hz = _place(frame, support)
    if frame.voltage is None:
        return None
    if abs(offset_hz) > BAND_HZ:
        half_width = min(BAND_HZ, 0.7 * abs(offset_hz))
        return frame.voltage_order_band(order, half_width, 3.0 * BAND_HZ)
    return _beside_fundamental(frame, frame.voltage, order)


def _place(frame: SupplyFrame, support: Support) -> tuple[float, float]:
    """Return the order of a line and its distance from the fundamental in Hz."""
    order = support.origin + support.slope * support.slip
    return order, (order - 1.0) * frame.supply_frequency_hz


def _beside_fundamental(frame: SupplyFrame, phasor: ComplexArray, order: float) -> OrderBand:
    """Return what is left of a phasor without the fundamental, turned to ``order``."""
    offset_hz = (order - 1.0) * frame.supply_frequency_hz
    turn = np.exp(-2j * np.pi * offset_hz * (frame.time_s - frame.time_s[0]))
    samples = without_fundamental(phasor) * turn
    return OrderBand(samples, frame.time_s, frame.sampling_rate_hz, order)


def line_energy(band: OrderBand, reach_hz: float) -> float:
    """Return the squared amplitude of the line at the centre of a band, floor subtracted."""
    n = band.samples.size
    power = hann_power(band.samples)
    offset = cell_offsets_hz(n, band.sampling_rate_hz)
    inside, floor = _line_and_floor(power, offset, reach_hz)
    return max(float(np.sum(power[inside] - floor)), 0.0) / n


def _by_phase(course: _Course) -> tuple[float, float]:
    """Return the frequency of the sharp line at zero and its standard deviation, in Hz.

    Newton steps to the maximum of the tapered periodogram; the deviation is the Cramer-Rao bound
    of a complex tone (Rife and Boorstyn, IEEE Trans. Inf. Theory 20(5), 1974; from memory) times
    the loss of the taper.
    """
    band, n, rate = course.band, course.n, course.band.sampling_rate_hz
    time = (np.arange(n) - (n - 1) / 2.0) / rate
    tapered = band.samples * np.cos(np.pi * time * rate / n)
    frequency = 0.0
    for _ in range(4):
        turned = tapered * np.exp(-2j * np.pi * frequency * time)
        sums = [complex(np.sum(turned * time**k)) for k in range(3)]
        slope = (sums[0].conjugate() * sums[1]).imag
        bend = abs(sums[1]) ** 2 - (sums[0].conjugate() * sums[2]).real
        if bend >= 0.0:
            return 0.0, math.inf
        frequency -= slope / bend / (2.0 * np.pi)
    if abs(frequency) > LOBE_CELLS * rate / n:
        return 0.0, math.inf
    amplitude_squared = (abs(sums[0]) * np.pi / 2.0 / n) ** 2
    offset = cell_offsets_hz(n, rate)
    _, noise = _line_and_floor(hann_power(band.samples), offset - frequency, course.reach_hz)
    bound = math.sqrt(6.0 * noise / (amplitude_squared * n)) / (2.0 * np.pi * n / rate)
    return frequency, math.hypot(SINE_LOSS * bound, PHASE_FLOOR_CELLS * rate / n)


def _quarter(
    band: OrderBand, quarter: int, shift_hz: float, smear_hz: float
) -> tuple[float, float, float, float]:
    """Return the line in one quarter: offset and its deviation in Hz, energy and its deviation."""
    n = band.samples.size // QUARTERS
    part = band.samples[quarter * n : (quarter + 1) * n]
    rate = band.sampling_rate_hz
    reach = max(REACH_WIDTHS * smear_hz, QUARTER_REACH_CELLS * rate / n)
    turn = np.exp(-2j * np.pi * shift_hz / rate * np.arange(n))
    offset, deviation, _, _ = _moments(part * turn, rate, reach)
    inside, floor = _line_and_floor(hann_power(part * turn), cell_offsets_hz(n, rate), reach)
    energy = float(np.sum(hann_power(part * turn)[inside] - floor))
    noise = floor * math.sqrt(float(np.count_nonzero(inside)) * NOISE_CORRELATION)
    return shift_hz + offset, deviation, energy, noise


def _shares(energy: RealArray, deviation: RealArray) -> RealArray:
    """Return the highest share that each quarter can have of the mean energy of a line."""
    mean = float(np.mean(energy))
    if mean <= 0.0:
        return np.ones(energy.size)
    return np.asarray((energy + SHARE_DEVIATIONS * deviation) / mean)


def _evenly(course: _Course) -> tuple[float, float]:
    """Return the centroid with all the record weighing alike and its standard deviation, in Hz."""
    rate = course.band.sampling_rate_hz
    power = _sine_power(course.band.samples)
    reach = max(course.reach_hz, TAPERS_REACH_CELLS * rate / course.n)
    offset = cell_offsets_hz(power.size, rate)
    centre = course.shift_hz
    for _ in range(2):
        inside, floor = _line_and_floor(power, offset - centre, reach)
        excess = power[inside] - floor
        if float(np.sum(excess)) <= 0.0:
            return course.shift_hz, math.inf
        centre = float(np.sum(offset[inside] * excess) / np.sum(excess))
    return centre, course.deviation_hz


def _sine_power(samples: ComplexArray) -> RealArray:
    """Return the mean power of the first sine tapers, zero frequency in the middle."""
    n = samples.size
    position = np.pi * np.arange(1, n + 1) / (n + 1)
    tapers = math.sqrt(2.0 / (n + 1)) * np.sin(np.outer(np.arange(1, N_TAPERS + 1), position))
    spectra = np.asarray(fft.fftshift(fft.fft(samples * tapers, axis=-1), axes=-1))
    return np.asarray(np.mean(spectra.real**2 + spectra.imag**2, axis=0))


def _line_and_floor(
    power: RealArray, offset_hz: RealArray, reach_hz: float
) -> tuple[NDArray[np.bool_], float]:
    """Return the cells of the line and the mean noise power in the ring about it."""
    distance = np.abs(offset_hz)
    ring = (distance > reach_hz) & (distance <= RING * reach_hz)
    floor = float(np.median(power[ring])) / math.log(2.0) if np.any(ring) else 0.0
    return distance <= reach_hz, floor


def _moments(
    samples: ComplexArray, rate_hz: float, reach_hz: float
) -> tuple[float, float, float, float]:
    """Return the moments of the line near zero under a Hann window.

    Centroid and its standard deviation in Hz, second moment about it and the standard deviation of
    that in Hz squared. The centroid is found again about itself, so that the floor does not pull
    it to zero; the deviation is infinite where no line stands out.
    """
    power = hann_power(samples)
    offset = cell_offsets_hz(power.size, rate_hz)
    centre = 0.0
    for _ in range(3):
        inside, floor = _line_and_floor(power, offset - centre, reach_hz)
        excess = power[inside] - floor
        whole = float(np.sum(excess))
        if whole <= 0.0:
            return 0.0, math.inf, 0.0, 0.0
        centre = float(np.clip(np.sum(offset[inside] * excess) / whole, -reach_hz, reach_hz))
    arm = (offset[inside] - centre) ** 2
    noise = floor**2 + 2.0 * floor * np.maximum(excess, 0.0)
    correlation = 1.0 + 2.0 * sum(POWER_CORRELATION)
    variance = float(np.sum(arm * noise)) / whole**2 * correlation
    spread = float(np.sum(arm * excess)) / whole
    spread_variance = float(np.sum((arm - spread) ** 2 * noise)) / whole**2 * correlation
    enough = whole > PRESENT_DEVIATIONS * floor * math.sqrt(float(np.count_nonzero(inside)))
    deviation = math.sqrt(variance) if enough else math.inf
    return centre, deviation, spread, math.sqrt(spread_variance)
