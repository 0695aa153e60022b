"""The harmonic solution of a damaged cage: complex phasors in steady state, no time stepping.

Derivation: ``docs/theory/cage-harmonic-solution.md``. In short: at constant mean speed a stator
current at ``sigma`` meets the rotor through winding order ``nu`` at ``sigma - nu w_r``, so the
whole machine lives on two discrete sets of frequencies. The healthy cage is diagonal in the
patterns ``exp(j m a_r k)``; a damaged bar adds one unknown, its voltage drop; the speed ripple adds
one more, the phasor E of the rotor angle at ``2 s w``. What remains is a linear system of about
thirty unknowns, solved for all draws of an ensemble at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from cagewise.machine.cage.model import CageModel
from cagewise.quantities import ComplexArray, RealArray

Line: TypeAlias = tuple[int, int]
"""The frequency ``a s w + b w_r`` as ``(a, b)``; ``w_r = (1 - s) w`` is the electrical speed."""

SUPPLY: Line = (1, 1)
LOWER: Line = (-1, 1)
"""(1 - 2s) f."""
UPPER: Line = (3, 1)
"""(1 + 2s) f."""
FIFTH_FOUR: Line = (-1, -5)
"""(5 - 4s) f, negative sequence."""
FIFTH_SIX: Line = (1, -5)
"""(5 - 6s) f, negative sequence."""
SEVENTH_SIX: Line = (1, 7)
"""(7 - 6s) f, positive sequence."""
SEVENTH_EIGHT: Line = (-1, 7)
"""(7 - 8s) f, positive sequence."""

_ROTOR: tuple[Line, ...] = ((1, 0), (1, 6), (1, -6), (3, 0))
"""Rotor frequencies kept, one of each pair +-gamma (mesh currents are real)."""
_MAIN, _RIPPLE = 0, 3
_PASSES = 4
"""Solutions with the base currents of the ripple terms renewed; the last changes < 1e-4."""


@dataclass(frozen=True, slots=True)
class Damage:
    """Which bars are damaged and by how much."""

    bars: tuple[int, ...]
    """Bar numbers, counted along the rotor."""
    extra_resistance: tuple[float, ...]
    """Added resistance of each, in units of a sound bar's; ``math.inf`` for an open bar."""

    @classmethod
    def adjacent_open(cls, count: int) -> Damage:
        """Return ``count`` adjacent open bars."""
        return cls(tuple(range(count)), (math.inf,) * count)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingCondition:
    """Supply, slip and inertia; arrays of shape () or (n_draws,)."""

    slip: RealArray
    frequency_rad_s: float
    """w = 2 pi f of the supply."""
    voltage_v: float
    """Peak phase-to-neutral voltage."""
    inertia_kg_m2: RealArray
    """Total inertia at the shaft; ``inf`` for constant speed."""


@dataclass(frozen=True, slots=True)
class CageSolution:
    """Steady state of the damaged machine, supply voltage phasor real; shapes (n_draws,)."""

    stator: dict[Line, ComplexArray]
    """Stator current space-vector phasors by line, A peak."""
    torque_nm: RealArray
    """Mean air-gap torque of the fundamental field."""
    angle_ripple: ComplexArray
    """E: the electrical rotor angle carries ``2 Re(E exp(j 2 s w t))``, rad."""

    def relative(self, line: Line) -> ComplexArray:
        """Return a line over the fundamental current."""
        return np.asarray(self.stator[line] / self.stator[SUPPLY])


def solve_cage(model: CageModel, damage: Damage, condition: OperatingCondition) -> CageSolution:
    """Return the steady state of the machine with this damage."""
    system = _System(model, damage, condition)
    matrix = system.electrical()
    unknowns = system.solve(matrix)
    steady_speed = not damage.bars or bool(np.all(np.isinf(condition.inertia_kg_m2)))
    for _ in range(0 if steady_speed else _PASSES):
        unknowns = system.solve(system.with_ripple(matrix, unknowns))
    return system.solution(unknowns)


@dataclass(frozen=True, slots=True)
class _Drive:
    """A mesh voltage ``x[column] * coefficient * exp(j order p alpha_k)`` at one frequency."""

    column: int
    order: int
    coefficient: ComplexArray


class _System:
    """The linear system ``A x = b``, batched over draws.

    Unknowns: stator lines J (conjugated where ``a < 0``), bar voltage drops V per rotor frequency,
    and E. Mesh currents are eliminated: ``I = Z^-1 (drive - B V)`` is diagonal in patterns.
    """

    def __init__(self, model: CageModel, damage: Damage, condition: OperatingCondition) -> None:
        self.model, self.damage, self.condition = model, damage, condition
        self.slip = np.atleast_1d(np.asarray(condition.slip, dtype=np.float64))
        self.inertia = np.atleast_1d(np.asarray(condition.inertia_kg_m2, dtype=np.float64))
        sizes = (self.slip, self.inertia, np.atleast_1d(model.stator_resistance_ohm))
        self.n_draws = int(np.broadcast_shapes(*(array.shape for array in sizes))[0])
        self.mutual = {v: model.mutual_h[..., k] for k, v in enumerate(model.orders)}
        orders = model.orders
        self.lines = (*((1, v) for v in orders), *((-1, v) for v in orders), UPPER, (-3, 1))
        self.column = {line: k for k, line in enumerate(self.lines)}
        n_damaged = len(damage.bars)
        starts = [len(self.lines) + g * n_damaged for g in range(len(_ROTOR))]
        self.bars = [slice(start, start + n_damaged) for start in starts]
        self.angle = len(self.lines) + len(_ROTOR) * n_damaged
        self.admittance = [self._pattern_admittance(self.frequency(line)) for line in _ROTOR]

    def frequency(self, line: Line) -> RealArray:
        """Return ``a s w + b w_r`` in rad/s."""
        w = self.condition.frequency_rad_s
        return np.asarray(line[0] * self.slip * w + line[1] * (1.0 - self.slip) * w)

    def solve(self, matrix: ComplexArray) -> ComplexArray:
        """Return x, shape (n_draws, size), for the supply voltage as the only source."""
        source = np.zeros((self.n_draws, self.angle + 1, 1), dtype=np.complex128)
        source[:, self.column[SUPPLY], 0] = self.condition.voltage_v
        return np.asarray(np.linalg.solve(matrix, source)[..., 0])

    def solution(self, x: ComplexArray) -> CageSolution:
        """Return the phasors of a solved system."""
        stator = {
            line: np.conj(x[:, k]) if line[0] < 0 else x[:, k] for line, k in self.column.items()
        }
        flux = self._main_flux(x)
        torque = 1.5 * self.model.pole_pairs * np.imag(np.conj(flux) * stator[SUPPLY])
        return CageSolution(stator, np.asarray(torque), x[:, self.angle])

    # -- healthy cage ----------------------------------------------------------------------------

    def _pattern_admittance(self, gamma: RealArray) -> ComplexArray:
        """Return 1 / z_m(gamma) for m = 0 .. n-1, shape (n_draws, rotor_bars)."""
        m = self.model
        chord = 2.0 * (1.0 - np.cos(np.arange(m.rotor_bars) * m.bar_angle_rad))
        g = gamma[:, np.newaxis]
        ring = _column(m.ring_resistance_ohm) + 1j * g * _column(m.ring_inductance_h)
        bar = _column(m.bar_resistance_ohm) + 1j * g * _column(m.bar_inductance_h)
        impedance = 2.0 * ring + chord * bar + 1j * g * _column(m.gap_inductance_h)
        # the uniform pattern circulates in the rings alone: no bar current, no air-gap flux
        impedance[:, :1] = ring
        return np.asarray(1.0 / np.broadcast_to(impedance, (self.n_draws, m.rotor_bars)))

    def _across(self, order: int) -> ComplexArray:
        """Return ``B^T exp(j order p alpha)`` at the damaged bars (mesh k less mesh k - 1)."""
        step = order * self.model.pole_pairs * self.model.bar_angle_rad
        bars = np.array(self.damage.bars, dtype=np.float64)
        return np.asarray(np.exp(1j * step * (bars + 0.5)) - np.exp(1j * step * (bars - 0.5)))

    def _admittance_of(self, g: int, order: int) -> ComplexArray:
        """Return 1 / z of the pattern ``exp(j order p alpha_k)``."""
        return self.admittance[g][:, order * self.model.pole_pairs % self.model.rotor_bars]

    def _projection(self, g: int, seen: int, drive: int) -> ComplexArray | None:
        """Return ``sum_k exp(j seen p alpha_k) [Z^-1 exp(j drive p alpha)]_k``; None if zero."""
        n, p = self.model.rotor_bars, self.model.pole_pairs
        turns, rest = divmod((seen + drive) * p, n)
        if rest:
            return None
        # alpha_k = (k + 1/2) a_r: patterns that differ by n orders differ in sign
        return np.asarray((-1.0) ** turns * n * self._admittance_of(g, drive))

    # -- electrical rows -------------------------------------------------------------------------

    def electrical(self) -> ComplexArray:
        """Return A at constant speed (E = 0), shape (n_draws, size, size)."""
        size, m = self.angle + 1, self.model
        matrix = np.zeros((self.n_draws, size, size), dtype=np.complex128)
        matrix[:, self.angle, self.angle] = 1.0
        for line, k in self.column.items():
            reactance = self._sign(line) * self.frequency(line) * m.stator_inductance_h
            matrix[:, k, k] = m.stator_resistance_ohm + reactance
        for g in range(len(_ROTOR)):
            for drive in self._stator_drives(g):
                self._add_drive(matrix, g, drive)
            self._add_bars(matrix, g)
        return matrix

    @staticmethod
    def _sign(line: Line) -> complex:
        """Return j, or -j for a row that is written conjugated."""
        return -1j if line[0] < 0 else 1j

    def _stator_drives(self, g: int) -> list[_Drive]:
        """Return what the stator lines induce in the meshes at rotor frequency g."""
        a, b = _ROTOR[g]
        gamma = self.frequency((a, b))
        drives = []
        for v, mutual in self.mutual.items():
            for line, order in (((a, b + v), -v), ((-a, -b + v), v)):
                if line in self.column:
                    volts_per_ampere = np.asarray(-1.5j * gamma * mutual)
                    drives.append(_Drive(self.column[line], order, volts_per_ampere))
        return drives

    def _views(self, g: int) -> list[tuple[int, int, ComplexArray]]:
        """Return (row, order, factor): each stator row takes ``factor * pattern(order)`` of I."""
        a, b = _ROTOR[g]
        views = []
        for v, mutual in self.mutual.items():
            for line, order in (((a, b + v), v), ((-a, -b + v), -v)):
                if line in self.column:
                    factor = self._sign(line) * self.frequency(line) * 0.5 * mutual
                    views.append((self.column[line], order, np.asarray(factor)))
        return views

    def _add_drive(self, matrix: ComplexArray, g: int, drive: _Drive) -> None:
        """Let a mesh voltage act on the stator rows and on the damaged bars."""
        for row, order, factor in self._views(g):
            projection = self._projection(g, order, drive.order)
            if projection is not None:
                matrix[:, row, drive.column] += factor * drive.coefficient * projection
        current = drive.coefficient * self._admittance_of(g, drive.order)
        matrix[:, self.bars[g], drive.column] += _column(current) * self._across(drive.order)

    def _add_bars(self, matrix: ComplexArray, g: int) -> None:
        """Let the voltage drops of the damaged bars act on stator rows and on each other."""
        m, bars = self.model, self.bars[g]
        for row, order, factor in self._views(g):
            current = factor * self._admittance_of(g, order)
            matrix[:, row, bars] -= _column(current) * self._across(order)
        modes = np.arange(m.rotor_bars)
        chord = 2.0 * (1.0 - np.cos(modes * m.bar_angle_rad))
        apart = np.subtract.outer(np.array(self.damage.bars), np.array(self.damage.bars))
        weights = chord * np.cos(modes * apart[..., np.newaxis] * m.bar_angle_rad) / m.rotor_bars
        matrix[:, bars, bars] -= np.einsum("klm,dm->dkl", weights, self.admittance[g])
        conductance = np.diag(1.0 / np.array(self.damage.extra_resistance))
        matrix[:, bars, bars] -= conductance / _column(m.bar_resistance_ohm)[..., np.newaxis]

    # -- speed ripple ----------------------------------------------------------------------------

    def with_ripple(self, electrical: ComplexArray, x: ComplexArray) -> ComplexArray:
        """Return A with the terms linear in E, taking the currents of ``x`` as their base."""
        matrix = electrical.copy()
        for line, row in self.column.items():
            matrix[:, row, self.angle] += self._stator_ripple(line, x)
        faster, slower = self._ripple_drives(x)
        self._add_drive(matrix, _RIPPLE, faster)
        self._add_drive(matrix, _MAIN, slower)
        matrix[:, self.angle, :] = self._torque_row(x)
        return matrix

    def _ripple_drives(self, x: ComplexArray) -> tuple[_Drive, _Drive]:
        """Return what the swinging rotor sees of the supply field, at 3 s w and at s w."""
        supply, mutual = x[:, self.column[SUPPLY]], self.mutual[1]
        faster = np.asarray(-1.5 * self.frequency(_ROTOR[_RIPPLE]) * mutual * supply)
        slower = np.asarray(1.5 * self.frequency(_ROTOR[_MAIN]) * mutual * np.conj(supply))
        return (
            _Drive(self.angle, -1, faster.astype(np.complex128)),
            _Drive(self.angle, 1, slower.astype(np.complex128)),
        )

    def _stator_ripple(self, line: Line, x: ComplexArray) -> ComplexArray | float:
        """Return ``j sigma * j nu`` times the flux of the main rotor current, seen by one row."""
        a, v = line
        if abs(a) == 1:
            pattern = np.conj(self._pattern(x, _MAIN, -a * v))
        else:
            pattern = self._pattern(x, _MAIN, v if a > 0 else -v)
        return np.asarray(-self.frequency(line) * v * 0.5 * self.mutual[v] * pattern)

    def _pattern_row(self, g: int, order: int, ripple: _Drive | None = None) -> ComplexArray:
        """Return r with ``r . x = sum_k exp(j order p alpha_k) I_k`` at rotor frequency g."""
        row = np.zeros((self.n_draws, self.angle + 1), dtype=np.complex128)
        for drive in (*self._stator_drives(g), *((ripple,) if ripple else ())):
            projection = self._projection(g, order, drive.order)
            if projection is not None:
                row[:, drive.column] += drive.coefficient * projection
        row[:, self.bars[g]] -= _column(self._admittance_of(g, order)) * self._across(order)
        return row

    def _pattern(self, x: ComplexArray, g: int, order: int) -> ComplexArray:
        """Return ``sum_k exp(j order p alpha_k) I_k`` of a solution."""
        return np.asarray(np.einsum("dk,dk->d", self._pattern_row(g, order), x))

    def _main_flux(self, x: ComplexArray) -> ComplexArray:
        """Return the flux of the main rotor current in the stator fundamental winding, V s."""
        return np.asarray(0.5 * self.mutual[1] * self._pattern(x, _MAIN, 1))

    def _torque_row(self, x: ComplexArray) -> ComplexArray:
        """Return the row of ``g^2 E + (p / J) T(2sw) = 0`` for g = 2sw.

        ``T = 3/2 p Re(j conj(i_s) Lambda_1)``, its phasor at g linear in the small quantities.
        """
        p, mutual = self.model.pole_pairs, self.mutual[1]
        supply, flux = x[:, self.column[SUPPLY]], self._main_flux(x)
        faster, slower = self._ripple_drives(x)
        half = _column(0.5 * mutual * np.ones(1))
        above = half * self._pattern_row(_RIPPLE, 1, faster)
        above[:, self.angle] += 1j * flux
        below = half * self._pattern_row(_MAIN, -1, slower)
        below[:, self.angle] -= 1j * np.conj(flux)
        torque = _column(np.conj(supply)) * above - _column(supply) * below
        torque[:, self.column[LOWER]] += flux
        torque[:, self.column[UPPER]] -= np.conj(flux)
        row = 0.75j * p**2 * torque / _column(self.inertia)
        row[:, self.angle] += (2.0 * self.slip * self.condition.frequency_rad_s) ** 2
        return np.asarray(row)


def _column(values: RealArray | ComplexArray) -> ComplexArray:
    """Return per-draw values as a column that broadcasts over a second axis."""
    return np.atleast_1d(np.asarray(values, dtype=np.complex128))[:, np.newaxis]
