"""One pass over a recording: the fundamental, mean and rms of every channel, block by block.

A block is a whole number of supply cycles. All that is asked of a recording before it is
transformed (roles, steadiness, drift, missing phases) is asked of these few thousand numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import fft

from cagewise.conditioning.samples import Inspection, inspect
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Recording,
    Role,
)
from cagewise.quantities import ComplexArray, NotKnown, RealArray

LOWEST_FREQUENCY_HZ = 4.0
"""Lowest supply frequency that is looked for."""
HIGHEST_FREQUENCY_HZ = 420.0
"""Highest supply frequency that is looked for."""
COARSE_RATE_HZ = 2000.0
"""The line is searched on block means at about this rate (enough for the highest frequency)."""
LINE_HALF_WIDTH_HZ = 1.0
"""Half width in which the power of the line is collected (wander, starts)."""
LEAST_LINE_SHARE = 0.2
"""Least part of a channel's alternating power in the line; a converter's voltage has about half."""
CLEAR_LINE_SHARE = 0.5
"""A channel with this share is taken at once as the one to read the frequency from."""
LARGEST_VALUE = 1e15
"""Volts or amperes; larger values are no measurements and are treated as no numbers."""
LEAST_CYCLES = 3.0
"""Least number of cycles that make a line."""
BLOCK_ROUNDING = 0.01
"""Largest difference, in cycles, between a block and a whole number of cycles."""
MOST_CYCLES_PER_BLOCK = 5
"""Longest block; longer ones would blur starts and steps."""
LEAST_BLOCK_SAMPLES = 8
"""Three unknowns are fitted per block; fewer samples would leave no redundancy."""

_SEARCH_ORDER = {
    **dict.fromkeys((*LINE_VOLTAGE_ROLES, *PHASE_VOLTAGE_ROLES), 0),
    **dict.fromkeys(CURRENT_ROLES, 1),
}


@dataclass(frozen=True)
class Survey:
    """Block values of every channel of a recording, in the order of its channels.

    Arrays have shape (n_channels, n_blocks); rows of channels that are known to be something else
    (:attr:`Role.OTHER`) are NaN, and so is every block that holds a sample that is not a number.
    """

    recording: Recording
    frequency_hz: float | NotKnown
    """Mean supply frequency over the record; a reason when there is no line-frequency sine."""
    line_share: RealArray
    """Part of the alternating energy of each channel in the fundamental, shape (n_channels,)."""
    block_samples: int
    """Samples per block; 0 when the frequency is not known."""
    phasor: ComplexArray
    """Peak phasor of the fundamental against ``exp(j 2 pi f t)``, in engineering units."""
    mean: RealArray
    """Direct component."""
    rms: RealArray
    """Root mean square with the direct component removed."""

    @property
    def n_blocks(self) -> int:
        """Number of whole blocks."""
        return int(self.phasor.shape[1])

    @property
    def block_s(self) -> float:
        """Length of a block."""
        return self.block_samples / self.recording.sampling_rate_hz

    def rows(self, roles: tuple[Role, ...]) -> list[int]:
        """Return the indices of the channels that have one of ``roles``, in the order of roles."""
        held = {c.role: k for k, c in enumerate(self.recording.channels)}
        return [held[role] for role in roles if role in held]

    @cached_property
    def inspections(self) -> tuple[Inspection | None, ...]:
        """What the samples of every channel look like; None for channels of other things."""
        channels = self.recording.channels
        return tuple(None if c.role is Role.OTHER else inspect(c) for c in channels)

    def current_level(self) -> RealArray:
        """Return the rms fundamental current, quadratic mean of the phases, shape (n_blocks,).

        Unlike the positive sequence it does not depend on phase order and clamp direction, and it
        equals the positive sequence of a balanced current.
        """
        rows = self.rows(CURRENT_ROLES)
        if not rows:
            return np.full(self.n_blocks, np.nan)
        return np.asarray(np.sqrt(np.mean(np.abs(self.phasor[rows]) ** 2, axis=0) / 2.0))


def survey_recording(recording: Recording) -> Survey:
    """Return the block values of a recording; never raises on what the samples hold."""
    rate_hz = recording.sampling_rate_hz
    channels = recording.channels
    frequency_hz = _find_line(recording)
    share = np.zeros(len(channels))
    if isinstance(frequency_hz, NotKnown):
        nothing = np.empty((len(channels), 0))
        return Survey(
            recording, frequency_hz, share, 0, nothing.astype(np.complex128), nothing, nothing
        )
    block = _block_samples(rate_hz / frequency_hz)
    shape = (len(channels), recording.n_samples // block)
    phasor = np.full(shape, np.nan, dtype=np.complex128)
    mean, rms = np.full(shape, np.nan), np.full(shape, np.nan)
    for row, channel in enumerate(channels):
        if channel.role is Role.OTHER:
            continue
        values = _fit_blocks(channel, block, frequency_hz / rate_hz)
        phasor[row], mean[row], rms[row] = values
        share[row] = _line_share(phasor[row], rms[row])
    return Survey(recording, frequency_hz, share, block, phasor, mean, rms)


def _numbers(channel: Channel) -> RealArray:
    """Return the stored samples as float64, without a copy where they are that already."""
    return np.asarray(channel.raw.astype(np.float64, copy=False))


def _line_share(phasor: ComplexArray, rms: RealArray) -> float:
    """Return the part of the alternating energy that is in the fundamental."""
    known = np.isfinite(rms)
    total = float(np.sum(rms[known] ** 2))
    line = float(np.sum(np.abs(phasor[known]) ** 2)) / 2.0
    return min(line / total, 1.0) if total > 0.0 else 0.0


def _find_line(recording: Recording) -> float | NotKnown:
    """Return the line frequency: that of the first channel that is mostly a sine, or of the best.

    Voltages come first, since they are there before the motor runs.
    """
    rate_hz = recording.sampling_rate_hz
    thinning = max(1, math.floor(rate_hz / COARSE_RATE_HZ))
    best_share, best_hz = 0.0, 0.0
    for channel in sorted(recording.channels, key=lambda c: _SEARCH_ORDER.get(c.role, 2)):
        power = None if channel.role is Role.OTHER else _coarse_spectrum(channel, thinning)
        if power is None:
            continue
        resolution_hz = rate_hz / thinning / (channel.raw.size // thinning)
        share, line_hz = _strongest_line(power, resolution_hz)
        if share > best_share:
            best_share, best_hz = share, line_hz
        if share >= CLEAR_LINE_SHARE:
            break
    if best_share < LEAST_LINE_SHARE:
        return NotKnown("no channel holds three cycles of a line-frequency sine")
    return best_hz


def _strongest_line(power: RealArray, resolution_hz: float) -> tuple[float, float]:
    """Return the share of power in the strongest line of a spectrum, and its frequency."""
    first = max(math.ceil(LOWEST_FREQUENCY_HZ / resolution_hz), math.ceil(LEAST_CYCLES))
    last = min(math.floor(HIGHEST_FREQUENCY_HZ / resolution_hz), power.size - 2)
    if last <= first:
        return 0.0, 0.0
    inner = power[first : last + 1]
    tops = (inner > power[first - 1 : last]) & (inner >= power[first + 1 : last + 2])
    if not tops.any():
        return 0.0, 0.0
    peak = first + int(np.argmax(np.where(tops, inner, 0.0)))
    half = max(3, round(LINE_HALF_WIDTH_HZ / resolution_hz))
    share = float(power[max(first, peak - half) : peak + half + 1].sum())
    return share, (peak + _vertex(power[peak - 1 : peak + 2])) * resolution_hz


def _coarse_spectrum(channel: Channel, thinning: int) -> RealArray | None:
    """Return the normalised Hann power spectrum of block means, None for a dead channel."""
    samples = _numbers(channel)
    n = samples.size // thinning
    if n < LEAST_BLOCK_SAMPLES:
        return None
    with np.errstate(all="ignore"):
        coarse = samples[: n * thinning].reshape(n, thinning).mean(axis=1)
        finite = np.abs(coarse) < LARGEST_VALUE
    if not finite.any():
        return None
    coarse = np.where(finite, coarse - coarse[finite].mean(), 0.0)
    largest = float(np.abs(coarse).max())
    if largest == 0.0:
        return None
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(n) + 0.5) / n)
    power = np.abs(np.asarray(fft.rfft(coarse / largest * window))) ** 2
    return np.asarray(power / power.sum())


def _vertex(power: RealArray) -> float:
    """Return where between three bins of a Hann spectrum its line lies, in bins from the middle.

    The main lobe of the Hann window gives ``d = (2 r - 1) / (r + 1)`` from the amplitude ratio r of
    the larger neighbour to the peak (Rife and Vincent 1970, from memory).
    """
    left, middle, right = np.sqrt(power)
    if middle <= 0.0:
        return 0.0
    ratio = max(left, right) / middle
    offset = float(np.clip((2.0 * ratio - 1.0) / (ratio + 1.0), 0.0, 0.5))
    return offset if right >= left else -offset


def _block_samples(samples_per_cycle: float) -> int:
    """Return the shortest block that is nearly a whole number of cycles and long enough to fit."""
    least = max(1, math.ceil(LEAST_BLOCK_SAMPLES / samples_per_cycle))
    counts = range(least, least + MOST_CYCLES_PER_BLOCK)
    errors = [abs(round(k * samples_per_cycle) / samples_per_cycle - k) for k in counts]
    best = next((k for k, e in zip(counts, errors, strict=True) if e < BLOCK_ROUNDING), None)
    return round((best or counts[int(np.argmin(errors))]) * samples_per_cycle)


def _fit_blocks(
    channel: Channel, block: int, cycles_per_sample: float
) -> tuple[ComplexArray, RealArray, RealArray]:
    """Return phasor, mean and alternating rms of every block, each of shape (n_blocks,).

    A least-squares fit of cosine, sine and constant: exact for a sine with direct offset even
    when the block is not quite a whole number of cycles. Blocks that hold what is no number, or
    none of this world, are NaN.
    """
    samples = _numbers(channel)
    n_blocks = samples.size // block
    rows = samples[: n_blocks * block].reshape(n_blocks, block)
    angle = 2.0 * np.pi * cycles_per_sample * np.arange(block)
    basis = np.column_stack([np.cos(angle), np.sin(angle), np.ones(block)])
    projection = np.vstack([np.linalg.pinv(basis), np.full(block, 1.0 / block)])
    with np.errstate(all="ignore"):
        # one pass of plain loops: threads of a matrix library cost more than they bring here
        fitted = np.einsum("ij,kj->ik", rows, projection)
        power = np.einsum("ij,ij->i", rows, rows) / block - fitted[:, 3] ** 2
        turn = np.exp(-2j * np.pi * cycles_per_sample * block * np.arange(n_blocks))
        phasor = (fitted[:, 0] - 1j * fitted[:, 1]) * turn * channel.scale
        mean = fitted[:, 2] * channel.scale + channel.offset
        rms = np.sqrt(np.maximum(power, 0.0)) * abs(channel.scale)
        bad = ~((np.abs(mean) < LARGEST_VALUE) & (rms < LARGEST_VALUE))
    phasor[bad], mean[bad], rms[bad] = np.nan, np.nan, np.nan
    return phasor, mean, rms
