"""Least squares of the readings of one pair at orders 0, 2 and 4 of the electrical angle.

Beside them stand a linear drift in time and, where the positions tell them apart, the orders of
slot ripple and those of a shaft that runs out. Ripple that is not told apart is not fitted, and its
leakage into orders 2 and 4 is computed from the positions as they are. Derivation:
``docs/theory/position-pattern.md``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.standstill.series import PairReadings, Quantity, turns
from cagewise.machine.positions import DAMAGE_ORDERS
from cagewise.quantities import RealArray

N_BASE = 2
"""Mean and drift stand before the waves."""
N_WAVES = 2 * len(DAMAGE_ORDERS)
"""Cosine and sine of orders 2 and 4."""
LEAST_FREEDOM = 4
"""Degrees of freedom that must be left: with fewer the scatter is not known within a factor 3."""
_APART = 0.3
"""Part of a wave's energy that must lie outside all other columns for it to be fitted: one wave per
revolution keeps 0.39 beside a drift over that revolution (1 - 6 / pi^2)."""
_RETURN_FACTOR = 3.0
"""Standard deviations that a return may miss by chance: up to six series are looked at."""
_ROUNDING = 1e-7
"""Relative scatter assumed at least: numbers written with seven digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """What the positions of one pair can tell; computed without the readings."""

    design: RealArray
    """Columns mean, drift, cos 2, sin 2, cos 4, sin 4, slot orders, shaft orders;
    shape (n, n_columns)."""
    slot_orders: tuple[float, ...]
    """Slot orders that are fitted."""
    shaft_orders: tuple[float, ...]
    """Orders of an eccentric rotor that are fitted: one and two waves per revolution."""
    leakage: dict[float, float]
    """Slot order that is not fitted to the amplitude of order 2 or 4 that a unit ripple makes at
    its most unlucky phase."""
    variance_factor: float
    """Largest variance of an amplitude over that of as many equally spaced positions."""

    @property
    def freedom(self) -> int:
        """Readings less unknowns."""
        rows, columns = self.design.shape
        return int(rows - columns)

    def share_of(self, angle_rad: RealArray, slot_order: float) -> float:
        """Return the amplitude of order 2 or 4 that a unit ripple of an order makes, not fitted."""
        return _leakage(self.design, turns(angle_rad, (slot_order,)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PairFit:
    """The pattern of one quantity of one pair, relative to its mean."""

    readings: PairReadings
    quantity: Quantity
    sampling: Sampling
    mean: float
    """In ohm or henry."""
    coefficients: RealArray
    """Of all columns, over the mean, shape (n_columns,)."""
    residual: RealArray
    """Over the mean, shape (n,)."""

    @property
    def pattern(self) -> RealArray:
        """Cosine and sine of order 2, then of order 4, over the mean, shape (4,)."""
        return self.coefficients[N_BASE : N_BASE + N_WAVES]

    @property
    def spread(self) -> RealArray:
        """Covariance of :attr:`pattern` for unit variance of a reading, shape (4, 4)."""
        inverse = np.linalg.inv(self.sampling.design.T @ self.sampling.design)
        return np.asarray(inverse[N_BASE : N_BASE + N_WAVES, N_BASE : N_BASE + N_WAVES])

    @property
    def sum_of_squares(self) -> float:
        """Of the residual, and at least that of rounding."""
        rounding = self.sampling.freedom * _ROUNDING**2
        return max(float(self.residual @ self.residual), rounding)

    @property
    def mean_sd(self) -> float:
        """Standard deviation of the mean, over the mean."""
        inverse = np.linalg.inv(self.sampling.design.T @ self.sampling.design)
        return self.scatter * math.sqrt(float(inverse[0, 0]))

    @property
    def scatter(self) -> float:
        """Standard deviation of a reading about the fit, over the mean."""
        return math.sqrt(self.sum_of_squares / self.sampling.freedom)

    @property
    def excess_return_error(self) -> float:
        """Part of the return error that the scatter of two readings does not explain."""
        allowed = _RETURN_FACTOR * math.sqrt(2.0) * self.scatter
        return max(abs(self.return_error or 0.0) - allowed, 0.0)

    @property
    def return_error(self) -> float | None:
        """Last less first reading over the mean; None when the shaft was not turned back."""
        if not self.readings.returned:
            return None
        values = self.readings.values[self.quantity]
        return float(values[-1] - values[0]) / self.mean

    def curve(self, angle_rad: RealArray) -> RealArray:
        """Return orders 2 and 4 and the fitted slot ripple over the mean at electrical angles."""
        orders = (*DAMAGE_ORDERS, *self.sampling.slot_orders)
        used = self.coefficients[N_BASE : N_BASE + 2 * len(orders)]
        return np.asarray(turns(angle_rad, orders) @ used)

    @property
    def aside(self) -> RealArray:
        """Drift and the shaft's own waves at the readings, over the mean, shape (n,)."""
        first = N_BASE + N_WAVES + 2 * len(self.sampling.slot_orders)
        waves = self.sampling.design[:, first:] @ self.coefficients[first:]
        return np.asarray(self.sampling.design[:, 1] * self.coefficients[1] + waves)


def sampling_of(
    readings: PairReadings, slot_orders: Sequence[float], shaft_orders: Sequence[float] = ()
) -> Sampling:
    """Return what these positions can tell on a rotor with these slot and shaft orders."""
    angle = readings.electrical_angle_rad
    ones = np.ones(angle.size)
    design = np.column_stack([ones, readings.time, turns(angle, DAMAGE_ORDERS)])
    design, slots = _with_orders(design, angle, slot_orders)
    design, shaft = _with_orders(design, angle, shaft_orders)
    left = [order for order in slot_orders if order not in slots]
    return Sampling(
        design=design,
        slot_orders=slots,
        shaft_orders=shaft,
        leakage={order: _leakage(design, turns(angle, (order,))) for order in left},
        variance_factor=_variance_factor(design),
    )


def fit_pair(readings: PairReadings, quantity: Quantity, sampling: Sampling) -> PairFit:
    """Return the least-squares fit of one quantity."""
    values = readings.values[quantity]
    coefficients = np.linalg.lstsq(sampling.design, values, rcond=None)[0]
    mean = float(coefficients[0])
    return PairFit(
        readings=readings,
        quantity=quantity,
        sampling=sampling,
        mean=mean,
        coefficients=np.asarray(coefficients / mean, dtype=np.float64),
        residual=(values - sampling.design @ coefficients) / mean,
    )


def _with_orders(
    design: RealArray, angle_rad: RealArray, orders: Sequence[float]
) -> tuple[RealArray, tuple[float, ...]]:
    """Return the columns with those orders added that the positions tell apart, and which."""
    fitted: list[float] = []
    for order in orders:
        columns = turns(angle_rad, (order,))
        wider = np.column_stack([design, columns])
        if wider.shape[0] - wider.shape[1] >= LEAST_FREEDOM and _apart(design, columns):
            design = wider
            fitted.append(order)
    return design, tuple(fitted)


def _apart(design: RealArray, columns: RealArray) -> bool:
    """Return whether a ripple is told from what is already fitted, at every phase."""
    outside = columns - design @ np.linalg.lstsq(design, columns, rcond=None)[0]
    smallest = np.linalg.svd(outside, compute_uv=False)[-1]
    return bool(smallest**2 > _APART * 0.5 * columns.shape[0])


def _leakage(design: RealArray, columns: RealArray) -> float:
    """Return the largest amplitude of order 2 or 4 that a unit ripple leaves."""
    taken = np.linalg.lstsq(design, columns, rcond=None)[0][N_BASE : N_BASE + N_WAVES]
    return max(float(np.linalg.norm(taken[k : k + 2], ord=2)) for k in range(0, N_WAVES, 2))


def _variance_factor(design: RealArray) -> float:
    """Return the largest variance of orders 2 and 4 over 2 / N; infinity when undetermined."""
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return math.inf
    inverse = np.linalg.inv(design.T @ design)
    largest = float(np.diag(inverse)[N_BASE : N_BASE + N_WAVES].max())
    return float(largest * design.shape[0] / 2.0)
