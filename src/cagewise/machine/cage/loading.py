"""The slip at which a damaged machine carries a load."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cagewise.machine.cage.balance import Balance, OperatingCondition
from cagewise.machine.cage.clocks import QUICK, Resolution
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.model import CageModel
from cagewise.quantities import RealArray

_PASSES = 10
"""Secant passes; below half the breakdown slip three are enough."""
_SETTLED = 1e-4
"""Relative change of the slip at which the passes end: what is left is its square."""
_CARRIED = 1e-4
"""Relative torque that may be missing where the load is carried."""
_FIRST_STEP = 0.9
"""The second slip tried, relative to the first."""


def slip_at_torque(
    model: CageModel,
    damage: Damage,
    torque_nm: RealArray | float,
    condition: OperatingCondition,
    resolution: Resolution = QUICK,
) -> RealArray:
    """Return the slip at which the mean air-gap torque is ``torque_nm``, shape (n_draws,).

    Speed ripple is left out: it moves the slip by less than 0.1 %.

    Parameters
    ----------
    model, damage
        The machine.
    torque_nm
        Scalar or (n_draws,).
    condition
        Its slip is where the search begins: the slip of the sound machine, say.
    resolution
        Terms kept.

    Returns
    -------
    RealArray
        NaN where the machine cannot carry the load (beyond breakdown no slip is found).
    """

    def surplus(slip: RealArray) -> RealArray:
        balance = Balance(model, damage, replace(condition, slip=slip), resolution)
        torque = balance.imbalance(balance.at_constant_speed()).torque.mean(axis=-1)
        return np.asarray(torque - torque_nm)

    first = np.atleast_1d(np.asarray(condition.slip, dtype=np.float64))
    first, _ = np.broadcast_arrays(first, np.atleast_1d(model.stator_resistance_ohm))
    before, after = _FIRST_STEP * first, first
    missing_before, missing = surplus(before), surplus(after)
    for _ in range(_PASSES):
        rise = missing - missing_before
        step = np.divide(
            -missing * (after - before), rise, out=np.zeros_like(rise), where=rise != 0.0
        )
        before, missing_before = after, missing
        # never to the other side of zero slip, never more than twice as far
        after = np.clip(after + step, 0.5 * after, 2.0 * after)
        missing = surplus(after)
        if np.all(np.abs(after - before) <= _SETTLED * np.abs(after)):
            break
    carried = np.abs(missing) <= _CARRIED * np.abs(np.asarray(torque_nm))
    return np.where(carried, after, np.nan)
