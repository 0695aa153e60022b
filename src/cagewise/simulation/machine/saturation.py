"""Approximate saturation: of the main flux path, and of the leakage at large currents.

The stator's leakage ``psi(i)`` and an iron branch ``i_iron(l_m)`` across the gap's flux linkage
``l_m`` bend; cage and gap stay linear. With the gap's ``l_m = A i_g + b``::

    l_s = psi(i_s) + l_m,    i_s = i_g + i_iron(l_m)

Two unknowns, solved by Newton's method. All currents derive from one stored energy, so the torque
stays its slope. The functions work on plain numbers, so that the compiled steps can use them too.
Derivation and limits: ``docs/theory/simulation.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple, Self

from cagewise.errors import InputError

KNEE_WIDTH = 0.1
"""Width of the leakage's knee over its current: below it 0.25 % of the bend is felt at no current,
and the transition is smooth for the steps."""

_SOLVED = 1e-13
"""Newton's method ends when the flux linkage agrees to this part: rounding."""

_MOST_ITERATIONS = 60
"""The power law needs about 12 from far above the knee; what does not end is a diverged run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MainSaturation:
    """Iron takes a share of the magnetising force that grows with a power of the flux.

    At the rated flux the machine is that of its geometry, whose effective gap contains the factor.
    """

    factor: float
    """Magnetising force of gap and iron over that of the gap, at the rated flux."""
    rated_flux_vs: float
    """Peak flux linkage of a phase at which the factor holds."""
    exponent: float = 7.0
    """Power of the flux in the iron's force: 7 is common practice, no source."""

    def __post_init__(self) -> None:
        if not (self.factor >= 1.0 and self.rated_flux_vs > 0.0 and self.exponent >= 1.0):
            raise InputError(
                "factor and exponent must be at least 1 and the rated flux positive",
                where="main saturation",
            )

    @classmethod
    def at_voltage(cls, factor: float, *, line_voltage_rms_v: float, frequency_hz: float) -> Self:
        """Return the saturation whose factor holds at this supply, unloaded."""
        peak_v = line_voltage_rms_v * math.sqrt(2.0 / 3.0)
        return cls(factor=factor, rated_flux_vs=peak_v / (2.0 * math.pi * frequency_hz))

    def iron_coefficient(self, gap_inductance_h: float) -> float:
        """Return c of ``i = c l^n`` (power-invariant) beside this saturated inductance."""
        flux = math.sqrt(1.5) * self.rated_flux_vs
        share = 1.0 - 1.0 / self.factor
        return share / (gap_inductance_h * math.pow(flux, self.exponent - 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakageSaturation:
    """Above its knee the leakage inductance falls: tooth tips close for more flux.

    All of it is put on the stator's side, the rotor's share included.
    """

    knee_rms_a: float
    """Phase current where it begins, star equivalent: about 2 to 3 times rated."""
    lost_h: float
    """Part of the stator's leakage inductance that further current does not meet."""

    def __post_init__(self) -> None:
        if not (self.knee_rms_a > 0.0 and self.lost_h >= 0.0):
            raise InputError(
                "the knee must be positive and the lost inductance not negative",
                where="leakage saturation",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Saturation:
    """Both approximations, either of which may be left out."""

    main: MainSaturation | None = None
    leakage: LeakageSaturation | None = None


class Bends(NamedTuple):
    """Constants of the bent characteristics, power-invariant."""

    leakage_h: float
    """L of the leakage at small currents."""
    lost_h: float
    knee_a: float
    iron: float
    """c of ``i_iron = c l^n``."""
    exponent: float
    """n."""


STRAIGHT = Bends(0.0, 0.0, 1.0, 0.0, 1.0)
"""No saturation."""


def is_bent(bends: Bends) -> bool:
    """Return whether anything saturates."""
    return bends.lost_h > 0.0 or bends.iron > 0.0


def leakage_flux(bends: Bends, current: float) -> tuple[float, float, float]:
    """Return ``psi``, ``d psi / d i`` and the stored energy at the magnitude ``current``.

    ``psi = L i - L_lost s(i)``, ``s`` a ramp from the knee on, rounded hyperbolically.
    """
    width = KNEE_WIDTH * bends.knee_a
    beyond = current - bends.knee_a
    root = math.sqrt(beyond * beyond + width * width)
    root_0 = math.sqrt(bends.knee_a * bends.knee_a + width * width)
    ramp = 0.5 * (beyond + root) - 0.5 * (root_0 - bends.knee_a)
    slope = 0.5 * (1.0 + beyond / root)
    # integral of s from zero
    area = 0.25 * (beyond * (beyond + root) - bends.knee_a * (bends.knee_a - root_0))
    area += 0.25 * width * width * math.log((beyond + root) / (root_0 - bends.knee_a))
    area -= 0.5 * (root_0 - bends.knee_a) * current
    flux = bends.leakage_h * current - bends.lost_h * ramp
    energy = 0.5 * bends.leakage_h * current * current - bends.lost_h * (current * ramp - area)
    return flux, bends.leakage_h - bends.lost_h * slope, energy


def iron_current(bends: Bends, flux: float) -> tuple[float, float]:
    """Return the ratio ``i_iron / l`` and its slope ``d (i / l) / d l`` over ``l``, at ``flux``."""
    if bends.iron == 0.0 or flux == 0.0:
        return 0.0, 0.0
    ratio = bends.iron * flux ** (bends.exponent - 1.0)
    return ratio, ratio * (bends.exponent - 1.0) / (flux * flux)


def solve_bent(
    bends: Bends,
    matrix: tuple[float, float, float],
    rest: tuple[float, float],
    linked: tuple[float, float],
) -> tuple[float, float, float, float]:
    """Return ``i_g`` and ``i_s``, two axes each.

    Parameters
    ----------
    bends
        The characteristics.
    matrix
        A with the unbent leakage on its diagonal: aa, ab, bb.
    rest
        ``l_s - b``.
    linked
        ``l_s``.
    """
    aa, ab, bb = matrix
    determinant = aa * bb - ab * ab
    g_a = (bb * rest[0] - ab * rest[1]) / determinant
    g_b = (aa * rest[1] - ab * rest[0]) / determinant
    aa, bb = aa - bends.leakage_h, bb - bends.leakage_h
    small = _SOLVED * (abs(linked[0]) + abs(linked[1]))
    s_a, s_b = g_a, g_b
    for _ in range(_MOST_ITERATIONS):
        m_a = aa * g_a + ab * g_b + linked[0] - rest[0]
        m_b = ab * g_a + bb * g_b + linked[1] - rest[1]
        ratio, _bend = iron_current(bends, math.sqrt(m_a * m_a + m_b * m_b))
        s_a, s_b = g_a + ratio * m_a, g_b + ratio * m_b
        size = math.sqrt(s_a * s_a + s_b * s_b)
        if size == 0.0:
            break
        flux, _slope, _energy = leakage_flux(bends, size)
        miss = flux / size * s_a + m_a - linked[0], flux / size * s_b + m_b - linked[1]
        if abs(miss[0]) + abs(miss[1]) <= small:
            break
        change = newton_step(bends, (aa, ab, bb), (m_a, m_b), (s_a, s_b), miss)
        g_a, g_b = g_a - change[0], g_b - change[1]
    return g_a, g_b, s_a, s_b


def newton_step(
    bends: Bends,
    gap: tuple[float, float, float],
    flux: tuple[float, float],
    drawn: tuple[float, float],
    miss: tuple[float, float],
) -> tuple[float, float]:
    """Return ``J^-1 miss`` with ``J = J_psi (1 + J_iron A) + A`` at ``l_m = flux``, ``i_s``."""
    aa, ab, bb = gap
    ratio, bend = iron_current(bends, math.sqrt(flux[0] * flux[0] + flux[1] * flux[1]))
    i_aa, i_bb = ratio + bend * flux[0] * flux[0], ratio + bend * flux[1] * flux[1]
    i_ab = bend * flux[0] * flux[1]
    size = math.sqrt(drawn[0] * drawn[0] + drawn[1] * drawn[1])
    psi, slope, _energy = leakage_flux(bends, size)
    secant, turn = psi / size, (slope - psi / size) / (size * size)
    p_aa, p_bb = secant + turn * drawn[0] * drawn[0], secant + turn * drawn[1] * drawn[1]
    p_ab = turn * drawn[0] * drawn[1]
    k_aa, k_ab = 1.0 + i_aa * aa + i_ab * ab, i_aa * ab + i_ab * bb
    k_ba, k_bb = i_ab * aa + i_bb * ab, 1.0 + i_ab * ab + i_bb * bb
    j_aa, j_ab = p_aa * k_aa + p_ab * k_ba + aa, p_aa * k_ab + p_ab * k_bb + ab
    j_ba, j_bb = p_ab * k_aa + p_bb * k_ba + ab, p_ab * k_ab + p_bb * k_bb + bb
    determinant = j_aa * j_bb - j_ab * j_ba
    return (
        (j_bb * miss[0] - j_ab * miss[1]) / determinant,
        (j_aa * miss[1] - j_ba * miss[0]) / determinant,
    )


def bent_energy(bends: Bends, linked: tuple[float, float], current: tuple[float, float]) -> float:
    """Return the energy of leakage and iron, and half ``i_g l_m`` of the gap.

    ``linked`` and ``current`` are ``l_s`` and ``i_s``.
    """
    size = math.sqrt(current[0] * current[0] + current[1] * current[1])
    if size == 0.0:
        return 0.0
    flux, _slope, energy = leakage_flux(bends, size)
    m_a, m_b = linked[0] - flux / size * current[0], linked[1] - flux / size * current[1]
    squared = m_a * m_a + m_b * m_b
    ratio, _bend = iron_current(bends, math.sqrt(squared))
    energy += ratio * squared / (bends.exponent + 1.0)
    gap = (current[0] - ratio * m_a) * m_a + (current[1] - ratio * m_b) * m_b
    return energy + 0.5 * gap
