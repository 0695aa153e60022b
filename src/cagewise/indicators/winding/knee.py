"""Where the current of a stepped direct voltage stops following a smooth law.

A sound insulation answers with leakage that grows with the voltage, perhaps a little faster than
in proportion, and with absorption currents of all steps so far. Three terms hold that:

    I_k = g V_k + b V_k^2 + c sum_{j<=k} (V_j - V_{j-1}) / (k - j + 1)

the last being absorption currents that die away as 1/t, read after steps of equal length. A knee
at V_m adds ``s max(V - V_m, 0)``, s > 0. For every knee and every last point beyond it s is found
by weighted least squares, its error from the stated error of the currents, or from their scatter
where that is larger; the strongest ratio of the two that lasts when more steps are added is judged
with all tries counted (docs/theory/insulation.md).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

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
    """Scatter about the best law with a knee over the stated error, at least 1; it widens the
    interval and the chance."""

    @property
    def growth(self) -> Estimate:
        """Added slope over the slope of the smooth law."""
        return self.added_conductance_s.scaled(1.0 / self.smooth_conductance_s)


@dataclass(frozen=True, slots=True)
class _Hinge:
    """One try: the added slope and its standard deviation (S), and what it stands on."""

    knee: int
    slope: float
    stated_deviation: float
    smooth: float
    chi_square: float
    scatter: float = 1.0

    @property
    def deviation(self) -> float:
        return self.scatter * self.stated_deviation

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
    windows = [
        _window(voltage_v[: last + 1], current_a[: last + 1], sigma[: last + 1], terms[: last + 1])
        for last in range(SMOOTH_TERMS, n)
    ]
    lasting = [
        _lasting(hinge, windows[first + 1 :])
        for first, window in enumerate(windows)
        for hinge in window
        if hinge.smooth > 0.0
    ]
    if not lasting:
        return None
    best = max(lasting, key=lambda hinge: hinge.strength)
    tries = sum(len(window) for window in windows)
    return Knee(
        voltage_v=float(voltage_v[best.knee]),
        smooth_conductance_s=best.smooth,
        added_conductance_s=Estimate.from_standard_deviation(best.slope, best.deviation),
        false_alarm_probability=min(1.0, tries * _tail(best.strength)),
        scatter_factor=best.scatter,
    )


def _window(
    voltage_v: RealArray, current_a: RealArray, sigma: RealArray, terms: RealArray
) -> list[_Hinge]:
    """Try every knee on the first steps; the best of them tells the scatter of all.

    Steps beyond the window do not count: a current that runs away is no law with a knee any more,
    and its misfit would pass for scatter.
    """
    n = voltage_v.size
    tries = [
        _hinge(voltage_v, current_a, sigma, terms, knee) for knee in range(SMOOTH_TERMS - 1, n - 1)
    ]
    hinges = [hinge for hinge in tries if hinge is not None]
    freedom = n - SMOOTH_TERMS - 2
    if freedom < 1 or not hinges:
        return hinges
    scatter = math.sqrt(max(1.0, min(hinge.chi_square for hinge in hinges) / freedom))
    return [replace(hinge, scatter=scatter) for hinge in hinges]


def _lasting(hinge: _Hinge, longer: Sequence[Sequence[_Hinge]]) -> _Hinge:
    """Return the weakest of a try and the same knee on more steps.

    A knee stays when steps are added, and a current that runs away only strengthens it; an outlier
    does not. The scatter of the try itself is kept.
    """
    same = [other for window in longer for other in window if other.knee == hinge.knee]
    weakest = min((hinge, *same), key=lambda other: other.slope / other.stated_deviation)
    return replace(weakest, scatter=hinge.scatter)


def smooth_terms(voltage_v: RealArray) -> RealArray:
    """Return the smooth terms at each step, scaled to 1 at the last, shape (n, 3)."""
    steps = np.diff(voltage_v, prepend=0.0)
    absorption = np.convolve(steps, 1.0 / np.arange(1.0, voltage_v.size + 1.0))[: voltage_v.size]
    terms = np.column_stack([voltage_v, voltage_v**2, absorption])
    return np.asarray(terms / terms[-1])


def _hinge(
    voltage_v: RealArray, current_a: RealArray, sigma: RealArray, terms: RealArray, knee: int
) -> _Hinge | None:
    """Fit the smooth terms and one knee."""
    beyond = np.maximum(voltage_v - voltage_v[knee], 0.0)
    weights = 1.0 / sigma
    design = np.column_stack([terms, beyond / voltage_v[-1]]) * weights[:, None]
    q, r = np.linalg.qr(design)
    if abs(r[-1, -1]) <= 1e-9 * np.linalg.norm(design[:, -1]):
        return None
    solution = np.linalg.solve(r, q.T @ (current_a * weights))
    left = design @ solution - current_a * weights
    # the smooth law's slope over the last step before the knee
    low = knee - 1
    rise = float((terms[knee] - terms[low]) @ solution[:-1])
    smooth = rise / float(voltage_v[knee] - voltage_v[low])
    scale = 1.0 / float(voltage_v[-1])
    return _Hinge(
        knee=knee,
        slope=float(solution[-1]) * scale,
        stated_deviation=scale / abs(float(r[-1, -1])),
        smooth=smooth,
        chi_square=float(left @ left),
    )


def _tail(strength: float) -> float:
    """Return the chance that a standard normal variable exceeds ``strength``."""
    return 0.5 * math.erfc(strength / math.sqrt(2.0))
