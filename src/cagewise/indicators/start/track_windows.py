"""The backward wave along a track, window by window, beside everything else that a start makes.

In every window the current is fitted with a sum of known courses: the fundamental and its mirror
with slowly varying amplitude, the offset, the flux that switching on trapped in the machine, the
eccentricity line, and the wave of one open bar as the motor's physics gives it. The coefficient of
the last is the reading. Derivation: docs/theory/start-track.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.indicators.start.slip_track import SlipTrack
from cagewise.indicators.start.track_expectation import WaveTemplate
from cagewise.indicators.start.track_signals import StartSignals
from cagewise.indicators.start.track_trapped import TrappedFlux
from cagewise.quantities import ComplexArray, RealArray

FEWEST_CYCLES, MOST_CYCLES = 6.0, 8.0
"""Length of the windows in supply cycles: below six the fundamental, its mirror, the offset and the
wave are no longer told apart; above eight the slip's own error smears the wave."""
WINDOW_PART = 0.3
"""Length of the windows over the length of the start, between those."""
FIRST_CYCLES = 3.0
"""Supply cycles after switching on at which the first window begins."""
AMPLITUDE_TERMS = 4
"""Terms of the power series of the fundamental's amplitude: it falls to a third within the last
windows of a start."""
MIRROR_TERMS = 2
"""The same of its mirror, the offset and the trapped flux."""
OFFSETS = (-4, -3, -2, 2, 3, 4)
"""Detuned tracks, in units of one over the length of the window: beside the main lobe."""
LEAST_KEPT = 0.3
"""Least part of the wave's energy, or of a detuned one's, that the other courses leave."""
SAME = 1e-10
"""Part of the energy below which a course is a sum of others."""
POOLED = 2
"""Windows on either side whose detuned tracks make one floor."""
LEAKAGE = 1e-3
"""What the courses may leave of a fundamental that follows none of them (1, amplitude): 60 dB;
simulated sound motors stay below 70 dB. Part of every floor."""
_SLOPE, _MIRROR, _FIRST_OFFSET = 2, 3, 4
"""Columns that are read in a window: current, wave, its slope, its mirror image, detuned ones."""


@dataclass(frozen=True, kw_only=True)
class TrackWindows:
    """What was read along one track; arrays of shape (n_windows,), None dropped."""

    time_s: RealArray
    """Centres, from switching on."""
    slip: RealArray
    length_s: float
    wave: ComplexArray
    """The wave in units of one open bar of the middle motor; its phase is the bar's place."""
    expected: RealArray
    """|wave| over |fundamental| of one open bar."""
    floor: RealArray
    """Standard deviation of :attr:`wave` with no wave there, same unit."""
    leakage: RealArray
    """Part of :attr:`floor` that is :data:`LEAKAGE`."""
    floor_degrees: float
    """Degrees of freedom of the rest of the floors."""
    offset_hz: RealArray
    """Frequency of the wave less that of the track."""
    mirror: RealArray
    """|mirror image of the wave|, same unit; NaN with a single current."""
    fundamental_a: RealArray
    """|I_1|, A peak."""


@dataclass(frozen=True, kw_only=True)
class Courses:
    """What does not depend on which track is read."""

    signals: StartSignals
    slip: RealArray
    """Of the track, at every sample."""
    slip_angle_rad: RealArray
    """Integral of s w."""
    reference: ComplexArray
    """Wave of one open bar along the track, A."""
    fundamental_a: RealArray
    """|I_1| at every sample."""
    trapped: ComplexArray
    """Logarithm of the trapped flux's course."""
    pole_pairs: int

    @classmethod
    def along(
        cls,
        signals: StartSignals,
        slip: RealArray,
        track: SlipTrack,
        template: WaveTemplate,
        pole_pairs: int,
    ) -> Courses:
        """Return the courses along a slip, shape of ``track.time_s``."""
        times, w = signals.time_s, signals.angular_frequency
        fine = np.interp(times, track.time_s, slip)
        angle = np.cumsum(fine) * w / signals.sampling_rate_hz
        slow = signals.current_envelope
        main = np.interp(times, track.time_s, slow.real) + 1j * np.interp(
            times, track.time_s, slow.imag
        )
        middle = track.circuit.at_slip(np.zeros(track.circuit.n_draws)).median()
        trapped = TrappedFlux.of(middle, fine, w).slow
        return cls(
            signals=signals,
            slip=fine,
            slip_angle_rad=angle,
            reference=template.at(fine) * main * np.exp(1j * (w * times - 2.0 * angle)),
            fundamental_a=np.abs(main),
            trapped=np.cumsum(trapped) / signals.sampling_rate_hz,
            pole_pairs=pole_pairs,
        )

    def beside(self, at: slice, place: RealArray) -> ComplexArray:
        """Return what else there is in a window, (n_samples, n_columns); ``place`` -1 to 1."""
        phase = self.signals.angular_frequency * self.signals.time_s[at]
        main = np.exp(1j * phase)
        middle = (at.start + at.stop) // 2
        trapped = np.exp(self.trapped[at] - self.trapped[middle])
        eccentric = np.exp(1j * (phase - (phase - self.slip_angle_rad[at]) / self.pole_pairs))
        single = self.signals.currents_measured == 1
        mirrors = AMPLITUDE_TERMS if single else MIRROR_TERMS
        columns = [main * place**k for k in range(AMPLITUDE_TERMS)]
        columns += [np.conj(main) * place**k for k in range(mirrors)]
        columns += [place**k + 0j for k in range(MIRROR_TERMS)]
        columns += [trapped * place**k for k in range(MIRROR_TERMS)]
        columns.append(eccentric)
        if single:
            columns += [np.conj(column) for column in columns[-(MIRROR_TERMS + 1) :]]
            columns.append(np.conj(self.reference[at]))
        return np.stack(columns, axis=1)


def read_windows(courses: Courses, lowest_slip: float, highest_slip: float) -> TrackWindows | None:
    """Return the wave along a track between two slips; None where no window stands clear."""
    signals = courses.signals
    cycle = 1.0 / signals.frequency_hz
    length = float(
        np.clip(WINDOW_PART * signals.settled_s, FEWEST_CYCLES * cycle, MOST_CYCLES * cycle)
    )
    half = round(0.5 * length * signals.sampling_rate_hz)
    first = round(FIRST_CYCLES * cycle * signals.sampling_rate_hz) + half
    last = min(round(signals.settled_s * signals.sampling_rate_hz), signals.current.size - half)
    highest = min(highest_slip, 0.5) if signals.currents_measured == 1 else highest_slip
    rows = [
        _read(courses, centre, half)
        for centre in range(first, last, max(1, half // 2))
        if lowest_slip <= courses.slip[centre] <= highest
    ]
    used = [row for row in rows if row is not None]
    return _joined(used, length) if used else None


@dataclass(frozen=True, kw_only=True)
class _Window:
    time_s: float
    slip: float
    wave: complex
    expected: float
    gain: float
    """Variance of :attr:`wave` per unit of noise variance."""
    beside: RealArray
    """Noise variance as detuned tracks show it."""
    offset_hz: float
    mirror: float
    fundamental_a: float


def _read(courses: Courses, centre: int, half: int) -> _Window | None:
    """Return one window, or None where other courses hide the wave."""
    signals = courses.signals
    at = slice(centre - half, centre + half)
    place = (np.arange(-half, half) + 0.5) / half
    weight = np.sqrt(0.5 * (1.0 + np.cos(np.pi * place)))
    wave = courses.reference[at]
    asked = [signals.current[at], wave, wave * place, np.conj(wave)]
    asked += [wave * np.exp(1j * np.pi * offset * place) for offset in OFFSETS]
    columns = np.stack(asked, axis=1) * weight[:, np.newaxis]
    whole = _energies(columns)
    columns = _cleared(columns, courses.beside(at, place) * weight[:, np.newaxis])
    clear = columns[:, 1].copy()
    energy = float(_energies(clear))
    if energy < LEAST_KEPT * whole[1]:
        return None
    amplitude, columns = _taken_out(columns, clear)
    slope, columns = _taken_out(columns, columns[:, _SLOPE].copy())
    left = _energies(columns)
    stands = left >= LEAST_KEPT * whole
    rest = np.einsum("nc,n->c", columns.conj(), columns[:, 0])
    beside = np.abs(rest[_FIRST_OFFSET:]) ** 2 / np.where(stands, left, np.inf)[_FIRST_OFFSET:]
    has_mirror = stands[_MIRROR] and signals.currents_measured > 1
    return _Window(
        time_s=centre / signals.sampling_rate_hz,
        slip=float(courses.slip[centre]),
        wave=amplitude,
        expected=float(np.abs(wave[half]) / courses.fundamental_a[centre]),
        gain=1.0 / energy,
        beside=np.asarray(beside[stands[_FIRST_OFFSET:]]),
        offset_hz=(slope / (amplitude or 1.0)).imag
        * signals.sampling_rate_hz
        / (2.0 * np.pi * half),
        mirror=float(np.abs(rest[_MIRROR]) / left[_MIRROR]) if has_mirror else np.nan,
        fundamental_a=float(courses.fundamental_a[centre]),
    )


def _taken_out(columns: ComplexArray, course: ComplexArray) -> tuple[complex, ComplexArray]:
    """Return the coefficient of a course in the first column, and the columns less that course."""
    along = np.einsum("n,nc->c", course.conj(), columns) / _energies(course)
    return complex(along[0]), np.asarray(columns - course[:, np.newaxis] * along)


def _cleared(columns: ComplexArray, others: ComplexArray) -> ComplexArray:
    """Return columns less what the other courses can make of them.

    Gram and Schmidt, twice for rounding; not by the linear algebra library, where sharing so little
    among threads costs more than it gives.
    """
    basis = np.empty((0, others.shape[0]), dtype=np.complex128)
    for course in others.T:
        left = course
        for _ in range(2):
            parts = np.einsum("bn,n->b", basis.conj(), left)
            left = left - np.einsum("b,bn->n", parts, basis)
        energy = _energies(left)
        if energy > SAME * _energies(course):
            basis = np.vstack([basis, left / np.sqrt(energy)])
    parts = np.einsum("bn,nc->bc", basis.conj(), columns)
    return np.asarray(columns - np.einsum("bc,bn->nc", parts, basis))


def _energies(columns: ComplexArray) -> RealArray:
    """Return the energy of every column."""
    return np.asarray(np.sum(columns.real**2 + columns.imag**2, axis=0))


def _joined(rows: list[_Window], length_s: float) -> TrackWindows:
    """Return the windows with their floors."""
    every = np.concatenate([row.beside for row in rows])
    typical = float(np.mean(every)) if every.size else 0.0
    variances = []
    for k, row in enumerate(rows):
        near = np.concatenate([r.beside for r in rows[max(0, k - POOLED) : k + POOLED + 1]])
        noise = float(np.mean(near)) if near.size else typical
        variances.append(noise * row.gain)
    expected = np.array([row.expected for row in rows])
    return TrackWindows(
        time_s=np.array([row.time_s for row in rows]),
        slip=np.array([row.slip for row in rows]),
        length_s=length_s,
        wave=np.array([row.wave for row in rows]),
        expected=expected,
        floor=np.sqrt(np.array(variances) + (LEAKAGE / expected) ** 2),
        leakage=LEAKAGE / expected,
        floor_degrees=max(2.0, float(every.size)),
        offset_hz=np.array([row.offset_hz for row in rows]),
        mirror=np.array([row.mirror for row in rows]),
        fundamental_a=np.array([row.fundamental_a for row in rows]),
    )
