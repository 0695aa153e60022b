"""The harmonic solution of a damaged cage: complex phasors in steady state, no time stepping.

Derivation: ``docs/theory/cage-harmonic-solution.md``. At constant speed the machine is linear and
solved at once. With a finite inertia the speed ripples at ``2 s w``; Newton's method on the few
phasors of the rotor angle, with the electrical equations eliminated, finds it in a few passes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from cagewise.machine.cage.balance import Balance, Imbalance, Motion, OperatingCondition
from cagewise.machine.cage.clocks import FULL, Resolution
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.model import CageModel
from cagewise.quantities import ComplexArray, RealArray

__all__ = [
    "FIFTH_FOUR",
    "FIFTH_SIX",
    "LOWER",
    "SEVENTH_EIGHT",
    "SEVENTH_SIX",
    "SUPPLY",
    "UPPER",
    "CageSolution",
    "Damage",
    "Line",
    "OperatingCondition",
    "solve_cage",
]

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

MOST_PASSES = 16
"""Newton passes; one open bar takes four, four adjacent ones of 32 on a light rotor seven."""
_SLOW = 0.3
"""Slopes are computed anew when a pass leaves more than this part of the last change."""
_LARGEST_STEP_RAD = 0.1
"""Longest step of a ripple: beyond, a machine whose cage is almost gone would overshoot."""
_LARGEST_RIPPLE_RAD = 0.7
"""Largest ripple believed: beyond, the rotor slips poles within a pole-pass period."""
_LARGEST_GROWTH = 3.0
"""Largest line believed, relative to the largest at constant speed."""
_STEP_RAD = 1e-6
"""Step of the numerical slopes."""


@dataclass(frozen=True, slots=True)
class CageSolution:
    """Steady state of the damaged machine, supply voltage phasor real; shapes (n_draws,)."""

    stator: dict[Line, ComplexArray]
    """Stator current space-vector phasors by line, A peak."""
    torque_nm: RealArray
    """Mean air-gap torque."""
    angle_ripple: ComplexArray
    """E: the electrical rotor angle carries ``2 Re(E exp(j 2 s w t))``, rad."""
    direct: ComplexArray
    """d = L - rho conj(U), A peak: what the cage puts into the lower line by itself, rho from the
    sound machine's equivalent circuit."""
    rotor_current_a: RealArray
    """|I_r| of the equivalent circuit at this stator current, referred, A peak."""
    last_change: RealArray
    """Change of the lines in the last pass, relative to the supply current; 0 where linear, ``inf``
    where no steady ripple was found and the values are those of constant speed."""

    def relative(self, line: Line) -> ComplexArray:
        """Return a line over the fundamental current."""
        return np.asarray(self.stator[line] / self.stator[SUPPLY])

    @property
    def direct_ratio(self) -> RealArray:
        """|d| / |I_r|."""
        return np.asarray(np.abs(self.direct) / self.rotor_current_a)


def solve_cage(
    model: CageModel,
    damage: Damage,
    condition: OperatingCondition,
    resolution: Resolution = FULL,
) -> CageSolution:
    """Return the steady state of the machine with this damage.

    Raises
    ------
    InputError
        If the damage does not fit the cage.
    """
    balance = Balance(model, damage, condition, resolution)
    motion = balance.at_constant_speed()
    change = np.zeros(balance.n_draws)
    rigid = damage.is_sound or bool(np.all(np.isinf(condition.inertia_kg_m2)))
    if not rigid:
        motion, change = _with_ripple(balance, motion, resolution)
    return _solution(balance, motion, condition, change)


@dataclass(frozen=True, slots=True)
class _Slopes:
    """How lines and acceleration follow the ripple, the electrical equations kept in balance."""

    lines: ComplexArray
    """Per real and then imaginary part of every E_q, shape (2 Q, n_draws, 2 H, N)."""
    inverse: RealArray
    """From acceleration (real parts, then imaginary ones) to ripple, (n_draws, 2 Q, 2 Q)."""


def _with_ripple(
    balance: Balance, motion: Motion, resolution: Resolution
) -> tuple[Motion, RealArray]:
    """Return the state in balance and the change of its lines in the last pass."""
    rigid, missing = motion, balance.imbalance(motion)
    slopes = _slopes(balance, motion, missing)
    change = np.full(balance.n_draws, np.inf)
    lost = np.zeros(balance.n_draws, dtype=np.bool_)
    for _ in range(MOST_PASSES):
        motion, latest = _newton(balance, motion, missing, slopes)
        if resolution.fast_ripple:
            motion = replace(motion, fast_angle=balance.fast_angle(missing.torque))
        lost |= _is_lost(motion, rigid)
        motion, latest = motion.replaced(rigid, lost), np.where(lost, 0.0, latest)
        if np.all(latest < resolution.largest_change):
            break
        missing = balance.imbalance(motion)
        if np.any(latest > np.maximum(_SLOW * change, resolution.largest_change)):
            slopes = _slopes(balance, motion, missing)
        change = latest
    return motion, np.where(lost, np.inf, latest)


def _is_lost(motion: Motion, rigid: Motion) -> NDArray[np.bool_]:
    """Return which draws have left every steady state, (n_draws,); NaN is lost too."""
    ripple = np.abs(motion.ripple).max(axis=-1)
    growth = np.abs(motion.lines).max(axis=(-1, -2)) / np.abs(rigid.lines).max(axis=(-1, -2))
    return np.asarray(~((ripple < _LARGEST_RIPPLE_RAD) & (growth < _LARGEST_GROWTH)))


def _newton(
    balance: Balance, motion: Motion, missing: Imbalance, slopes: _Slopes
) -> tuple[Motion, RealArray]:
    """Return the state after one pass and the relative change of its lines."""
    step = -(slopes.inverse @ _parts(missing.acceleration)[..., np.newaxis])[..., 0]
    step = np.clip(step, -_LARGEST_STEP_RAD, _LARGEST_STEP_RAD)
    correction = np.einsum("rdkm,dr->dkm", slopes.lines, step)
    correction -= balance.response(missing.voltage)
    count = motion.ripple.shape[-1]
    moved = motion.moved(correction, step[:, :count] + 1j * step[:, count:])
    largest = np.abs(moved.lines).max(axis=(-1, -2))
    return moved, np.asarray(np.abs(correction).max(axis=(-1, -2)) / largest)


def _slopes(balance: Balance, motion: Motion, missing: Imbalance) -> _Slopes:
    """Return the slopes at a state, by small steps of every part of the ripple."""
    count = motion.ripple.shape[-1]
    unit: ComplexArray = np.eye(count, dtype=np.complex128)
    directions = np.concatenate([_STEP_RAD * unit, 1j * _STEP_RAD * unit])[:, np.newaxis, :]
    turned = balance.imbalance(motion.moved(np.zeros_like(motion.lines), directions))
    lines = -balance.response(turned.voltage - missing.voltage)
    both = balance.imbalance(motion.moved(lines, directions))
    rise = _parts(both.acceleration - missing.acceleration) / _STEP_RAD
    inverse = np.linalg.inv(np.moveaxis(rise, 0, -1))
    return _Slopes(lines / _STEP_RAD, np.asarray(inverse, dtype=np.float64))


def _parts(values: ComplexArray) -> RealArray:
    """Return real parts, then imaginary parts, along the last axis."""
    return np.concatenate([values.real, values.imag], axis=-1)


def _solution(
    balance: Balance, motion: Motion, condition: OperatingCondition, change: RealArray
) -> CageSolution:
    """Return what a state shows."""
    slow, fast = balance.clocks.slow, balance.clocks.fast
    stator = {
        (1 + 2 * int(k), 1 + 6 * int(m)): motion.lines[:, row, column]
        for row, k in enumerate(slow)
        for column, m in enumerate(fast)
    }
    supply, lower, upper = (stator.get(line, 0.0) for line in (SUPPLY, LOWER, UPPER))
    state = balance.model.circuit().at(condition.slip, condition.frequency_rad_s)
    ripple = 2.0 * np.asarray(condition.slip) * condition.frequency_rad_s
    ratio = state.ripple_ratio(ripple, supply)
    return CageSolution(
        stator=stator,
        torque_nm=balance.imbalance(motion).torque.mean(axis=-1),
        angle_ripple=motion.ripple[:, 0],
        direct=np.asarray(lower - ratio * np.conj(upper)),
        rotor_current_a=np.abs(state.rotor_current(supply)),
        last_change=change,
    )
