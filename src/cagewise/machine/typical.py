"""What motors of a given size usually are: the yardstick for odd nameplates and unknown values.

None of this decides anything about a motor. The fits serve two purposes: to notice a nameplate on
which two numbers were mixed up, and to draw quantities the nameplate does not state, with a spread
as wide as the population. Fits and sources are in ``docs/theory/equivalent-circuit.md``.
"""

from __future__ import annotations

import math

LOSS_RATIO_AT_1_KW = 0.24
"""Losses over output at full load of a 1 kW motor: between efficiency classes IE1 and IE3 of
IEC 60034-30-1 for four poles (class tables from memory)."""
LOSS_RATIO_EXPONENT = -0.295
"""Fall of that ratio with size; same source."""
LOSS_RATIO_LOG_SPREAD = 0.22
"""Standard deviation of its logarithm: IE1 and IE3 lie about 1.1 standard deviations off."""

SLIP_AT_1_KW = 0.060
"""Rated slip of a 1 kW motor; common practice, no source."""
SLIP_EXPONENT = -0.33
"""Fall of the rated slip with size: 1.3 % at 100 kW, 0.6 % at 1 MW; common practice, no source."""


def loss_ratio(power_w: float) -> float:
    """Return the usual losses over output at full load."""
    return LOSS_RATIO_AT_1_KW * float((power_w / 1e3) ** LOSS_RATIO_EXPONENT)


def efficiency(power_w: float) -> float:
    """Return the usual full-load efficiency, per unit."""
    return 1.0 / (1.0 + loss_ratio(power_w))


def power_factor(power_w: float, poles: int) -> float:
    """Return the usual full-load power factor (common practice, no source)."""
    four_pole = 0.76 + 0.045 * math.log10(max(power_w, 100.0) / 750.0)
    return max(0.5, min(0.92, four_pole - 0.018 * (poles - 4)))


def slip(power_w: float) -> float:
    """Return the usual rated slip, per unit of synchronous speed."""
    return SLIP_AT_1_KW * float((power_w / 1e3) ** SLIP_EXPONENT)
