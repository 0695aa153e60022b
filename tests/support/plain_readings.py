"""Ordinary readings for the filter."""

from __future__ import annotations

import math

import numpy as np

from cagewise.quantities import RealArray


class PlainReadings:
    """Values with variances, and their log densities in the forecasts."""

    def __init__(self, values: RealArray, variances: RealArray) -> None:
        self.values = values
        self.variances = variances
        self.log_density = np.zeros_like(variances)
        self.forecast_variance = np.zeros_like(variances)

    def read(self, t: int, seen: RealArray, variance: RealArray) -> tuple[RealArray, RealArray]:
        total = variance + self.variances[t]
        error = self.values[t] - seen
        self.forecast_variance[t] = variance
        self.log_density[t] = -0.5 * (error**2 / total + np.log(2.0 * math.pi * total))
        return error / total, 1.0 / total
