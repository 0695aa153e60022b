"""The inverse gap as a Fourier series in the position on the rotor and the rotor's angle.

``P(chi, theta) = g_e / g = sum over m, k of c_mk exp(j (m chi + k theta))``, ``chi`` counted on
the rotor, so that the place in the stator is ``chi + theta``.
Derivation: ``docs/theory/simulation.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.machine.damage import Eccentricity

_NEGLIGIBLE = 1e-7
"""Terms below this part of the mean are left out; what remains is the gap of the simulation."""

_NARROWEST = 0.05
"""Least permeance relative to the mean that is still a machine."""

_HARMONICS_OF_A_WAVE = 8
"""Multiples of the highest order that the grid resolves without folding above _NEGLIGIBLE."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PermeanceWave:
    """A wave ``amplitude * cos(order * angle - phase)`` of the permeance, relative to its mean."""

    order: int
    """Waves round the circumference: axial ducts make as many as there are ducts."""
    amplitude: float
    phase_rad: float = 0.0

    def __post_init__(self) -> None:
        if self.order < 1:
            raise InputError(f"order must be at least 1, got {self.order}", where="permeance wave")


@dataclass(frozen=True, slots=True, kw_only=True)
class GapShape:
    """Asks for the modified winding function: the eccentric gap in full, and further waves."""

    rotor: tuple[PermeanceWave, ...] = ()
    """Fixed to the rotor: axial ducts, spider arms, flats, an oval rotor."""
    stator: tuple[PermeanceWave, ...] = ()
    """Fixed to the stator: an oval bore."""
    reach: int = 1
    """Couplings from a field of the winding to the farthest one that is followed."""

    def __post_init__(self) -> None:
        if not 1 <= self.reach <= 3:
            raise InputError("reach must lie between 1 and 3", where="gap shape")
        if sum(abs(wave.amplitude) for wave in (*self.rotor, *self.stator)) > 1.0 - _NARROWEST:
            raise InputError("the amplitudes leave no gap", where="gap shape")

    def orders(self, eccentricity: Eccentricity) -> tuple[int, ...]:
        """Return the orders of the permeance that couple fields to first order."""
        eccentric = {1} if eccentricity.static or eccentricity.dynamic else set[int]()
        return tuple(sorted(eccentric | {wave.order for wave in (*self.rotor, *self.stator)}))

    def series(self, eccentricity: Eccentricity) -> tuple[float, ComplexArray]:
        """Return the mean of ``P`` and ``c_mk`` relative to it.

        The array has the shape (m_max + 1, 2 k_max + 1), k from -k_max; for negative m
        ``c_-m,-k = conj(c_mk)``.
        """
        highest = max((1, *self.orders(eccentricity)))
        n = 1 << (2 * _HARMONICS_OF_A_WAVE * highest + 64).bit_length()
        turn = 2.0 * np.pi * np.arange(n) / n
        values = self._permeance(eccentricity, turn[:, None], turn[None, :])
        whole = np.fft.fft2(values) / n**2
        mean = float(whole[0, 0].real)
        centred = np.fft.fftshift(whole, axes=1)[: n // 2] / mean
        strong = np.abs(centred) > _NEGLIGIBLE
        m_max = int(np.flatnonzero(strong.any(axis=1)).max())
        k_max = int(np.abs(np.flatnonzero(strong.any(axis=0)) - n // 2).max())
        kept = np.where(strong, centred, 0.0)
        return mean, np.ascontiguousarray(
            kept[: m_max + 1, n // 2 - k_max : n // 2 + k_max + 1], dtype=np.complex128
        )

    def _permeance(
        self, eccentricity: Eccentricity, on_rotor: RealArray, angle: RealArray
    ) -> RealArray:
        """Return ``P`` at places on the rotor and rotor angles."""
        on_stator = on_rotor + angle
        gap = (
            1.0 - eccentricity.static * np.cos(on_stator) - eccentricity.dynamic * np.cos(on_rotor)
        )
        shape = np.ones(np.broadcast(on_rotor, angle).shape)
        for waves, place in ((self.rotor, on_rotor), (self.stator, on_stator)):
            for wave in waves:
                shape = shape + wave.amplitude * np.cos(wave.order * place - wave.phase_rad)
        return np.asarray(shape / gap)


def wave_numbers(
    winding: tuple[int, ...], couplings: tuple[int, ...], reach: int
) -> tuple[int, ...]:
    """Return the numbers of wave pairs that are followed: those of the winding and beside them.

    The first of ``winding`` comes first; the field without poles is left out, since the flux
    through the gap has no net sum.
    """
    found = dict.fromkeys(winding)
    edge = list(winding)
    for _ in range(reach):
        edge = [abs(wave + sign * step) for wave in edge for step in couplings for sign in (-1, 1)]
        found.update(dict.fromkeys(edge))
    found.pop(0, None)
    return tuple(found)
