"""Stator currents and energy with or without saturation, compiled; see ``machine.saturation``."""

from __future__ import annotations

from numba.extending import register_jitable

from cagewise.quantities import RealArray
from cagewise.simulation.machine import saturation
from cagewise.simulation.machine.saturation import Bends
from cagewise.simulation.stepping.compiling import compiled

# the functions themselves, made known to the compiler
for _function in (
    saturation.is_bent,
    saturation.iron_current,
    saturation.leakage_flux,
    saturation.newton_step,
    saturation.solve_bent,
    saturation.bent_energy,
):
    register_jitable(_function)
_is_bent, _solve_bent = saturation.is_bent, saturation.solve_bent
_bent_energy = saturation.bent_energy


@compiled
def solve_stator(
    bends: Bends,
    matrix: tuple[float, float, float],
    rest: tuple[float, float],
    linked: tuple[float, float],
) -> tuple[float, float, float, float]:
    """Return the currents acting on the gap and drawn from the supply, two axes each."""
    if _is_bent(bends):
        return _solve_bent(bends, matrix, rest, linked)
    aa, ab, bb = matrix
    determinant = aa * bb - ab * ab
    a = (bb * rest[0] - ab * rest[1]) / determinant
    b = (aa * rest[1] - ab * rest[0]) / determinant
    return a, b, a, b


@compiled
def stator_energy(bends: Bends, state: RealArray, current_a: float, current_b: float) -> float:
    """Return the stored energy but for half that of cage currents times cage fluxes."""
    if _is_bent(bends):
        return _bent_energy(bends, (state[2], state[3]), (current_a, current_b))
    energy: float = 0.5 * (state[2] * current_a + state[3] * current_b)
    return energy
