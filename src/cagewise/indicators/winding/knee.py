"""Where the current of a stepped direct voltage stops following a smooth law.

A sound insulation answers with leakage that grows with the voltage, perhaps a little faster than
in proportion, and with absorption currents of all steps so far. Three terms hold that:

    I_k = g V_k + b V_k^2 + c sum_{j<=k} (V_j - V_{j-1}) / (k - j + 1)

the last being absorption currents that die away as 1/t, read after steps of equal length. A knee
at V_m adds ``s max(V - V_m, 0)``, s > 0. For every knee and every last point beyond it s is found
by weighted least squares, its error from the stated error of the currents; the strongest ratio of
the two is judged with all tries counted (docs/theory/insulation.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, RealArray

SMOOTH_TERMS = 3
"""Proportional, square, absorption."""
LEAST_STEPS = SMOOTH_TERMS + 2
"""Steps without which a knee cannot be told from the smooth terms and the scatter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Knee:
    """The strongest candidate for a knee; one is always named, however weak."""

    voltage_v: float
    """Where the current begins to leave the smooth law."""
    smooth_conductance_s: float
    """Slope of the smooth law there."""
    added_conductance_s: Estimate
    """Slope that is added beyond it, with its 95 % interval."""
    false_alarm_probability: float
    """Chance that scatter alone makes a knee this strong anywhere, all tries counted."""
    scatter_factor: float
    """Scatter about the smooth law before the knee over the stated error, at least 1."""

    @property
    def growth(self) -> Estimate:
        """Added slope over the slope of the smooth law."""
        return self.added_conductance_s.scaled(1.0 / self.smooth_conductance_s)


@dataclass(frozen=True, slots=True)
class _Hinge:
    """One try: the added slope and its standard deviation (S), and what it stands on."""

    knee: int
    slope: float
    deviation: float
    smooth: float
    scatter: float

    @property
    def strength(self) -> float:
        return self.slope / self.deviation


def find_knee(voltage_v: RealArray, current_a: RealArray, error_a: RealArray) -> Knee | None:
    """Return the strongest knee, or None where the steps are too few or the law is degenerate.

    Parameters
    ----------
    voltage_v
        Ascending, positive, shape (n,), n >= 5.
    current_a
        At the end of each step, shape (n,).
    error_a
        Limit of error of each current (95 %), shape (n,).
    """
    n = voltage_v.size
    if n < LEAST_STEPS:
        return None
    terms = smooth_terms(voltage_v)
    sigma = error_a / NORMAL_COVERAGE_FACTOR
    tries = [
        _hinge(voltage_v[: last + 1], current_a, sigma, terms, knee)
        for last in range(SMOOTH_TERMS, n)
        for knee in range(SMOOTH_TERMS - 1, last)
    ]
    hinges = [hinge for hinge in tries if hinge is not None and hinge.smooth > 0.0]
    if not hinges:
        return None
    best = max(hinges, key=lambda hinge: hinge.strength)
    return Knee(
        voltage_v=float(voltage_v[best.knee]),
        smooth_conductance_s=best.smooth,
        added_conductance_s=Estimate.from_standard_deviation(best.slope, best.deviation),
        false_alarm_probability=min(1.0, len(tries) * _tail(best.strength)),
        scatter_factor=best.scatter,
    )


def smooth_terms(voltage_v: RealArray) -> RealArray:
    """Return the smooth terms at each step, scaled to 1 at the last, shape (n, 3)."""
    steps = np.diff(voltage_v, prepend=0.0)
    absorption = np.convolve(steps, 1.0 / np.arange(1.0, voltage_v.size + 1.0))[: voltage_v.size]
    terms = np.column_stack([voltage_v, voltage_v**2, absorption])
    return np.asarray(terms / terms[-1])


def _hinge(
    voltage_v: RealArray, current_a: RealArray, sigma: RealArray, terms: RealArray, knee: int
) -> _Hinge | None:
    """Fit the smooth terms and one knee to the first steps."""
    n = voltage_v.size
    beyond = np.maximum(voltage_v - voltage_v[knee], 0.0)
    weights = 1.0 / sigma[:n]
    design = np.column_stack([terms[:n], beyond / voltage_v[-1]]) * weights[:, None]
    q, r = np.linalg.qr(design)
    if abs(r[-1, -1]) <= 1e-9 * np.linalg.norm(design[:, -1]):
        return None
    solution = np.linalg.solve(r, q.T @ (current_a[:n] * weights))
    before = terms[: knee + 1] @ solution[:-1] - current_a[: knee + 1]
    freedom = knee + 1 - SMOOTH_TERMS
    chi_square = float(np.sum((before * weights[: knee + 1]) ** 2))
    scatter = math.sqrt(max(1.0, chi_square / freedom)) if freedom > 0 else 1.0
    # the smooth law's slope over the last step before the knee
    low = knee - 1
    smooth = float((terms[knee] - terms[low]) @ solution[:-1]) / (voltage_v[knee] - voltage_v[low])
    scale = 1.0 / voltage_v[-1]
    return _Hinge(
        knee=knee,
        slope=float(solution[-1]) * scale,
        deviation=scatter * scale / abs(float(r[-1, -1])),
        smooth=smooth,
        scatter=scatter,
    )


def _tail(strength: float) -> float:
    """Return the chance that a standard normal variable exceeds ``strength``."""
    return 0.5 * math.erfc(strength / math.sqrt(2.0))
