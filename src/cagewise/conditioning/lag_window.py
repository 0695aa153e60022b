"""By how much the current of this motor should lag its voltage, from the nameplate alone.

Circle diagram: at constant voltage the stator current moves on a circle. In units of the rated
current, with active part ``p`` and reactive part ``q``, it runs through the no-load point
``(0, q0)`` and has the diameter ``D`` along the reactive axis::

    (q - q0)(q0 + D - q) = p^2,    so at current m:    q = (m^2 + q0^2 + q0 D) / (2 q0 + D)

The rated point fixes one of the two unknowns, the far end ``q0 + D`` (the locked-rotor current of
the linear motor) is bracketed. Derivation and limits: docs/theory/channel-roles.md.
"""

from __future__ import annotations

import itertools
import math

from cagewise.machine.nameplate import Nameplate

MOTOR_LAG_DEG = (-20.0, 95.0)
"""Any motor, capacitors at its terminals included: it draws power, or hardly any at no load."""
FAR_END = (4.2, 6.0, 10.0)
"""Bracket of ``q0 + D`` over rated current; locked-rotor currents are 4 to 9 times rated, those
of the unsaturated circle somewhat less at the low end (common practice, no source)."""
CURRENT_SCATTER = (0.93, 1.0, 1.07)
"""Factors that allow for nameplate rounding, voltage and clamp errors."""
NO_LOAD_POWER = 0.03
"""Active current at no load over rated current."""
LEAST_NO_LOAD = 0.12
"""Smallest no-load current over rated current."""
LARGEST_POWER_FACTOR = 0.95
"""No induction motor is better than this."""
MARGIN_DEG = 12.0
"""Added to either side: saturation, core loss, resistance, clamp phase errors."""
LOSS_AT_1_KW = 0.2
"""Loss over input of a typical 1 kW motor; falls with the cube root of power (typical values)."""
LOSS_SCATTER = (0.6, 1.4)
"""Factors about the typical loss that bracket it."""


def expected_lag_deg(current: float, flux: float, nameplate: Nameplate) -> tuple[float, float]:
    """Return the smallest and largest lag of a motor at this current, in degrees.

    Parameters
    ----------
    current
        Line current over rated current.
    flux
        Voltage over frequency, over the rated one.
    nameplate
        Rated values.
    """
    lags = [
        _circle_lag_deg(scatter * current / flux, power_factor, far_end)
        for scatter, power_factor, far_end in itertools.product(
            CURRENT_SCATTER, rated_power_factors(nameplate), FAR_END
        )
    ]
    low, high = min(lags) - MARGIN_DEG, max(lags) + MARGIN_DEG
    return max(low, 0.0), min(high, MOTOR_LAG_DEG[1])


def rated_power_factors(nameplate: Nameplate) -> tuple[float, float]:
    """Return the bracket of the rated power factor: given, or from power and typical losses."""
    if nameplate.power_factor is not None:
        value = min(nameplate.power_factor, LARGEST_POWER_FACTOR)
        return value, value
    product = nameplate.rated_power_w / nameplate.rated_apparent_power_va
    if nameplate.efficiency is not None:
        efficiencies = (nameplate.efficiency, nameplate.efficiency)
    else:
        loss = LOSS_AT_1_KW * (nameplate.rated_power_w / 1000.0) ** (-1.0 / 3.0)
        efficiencies = (1.0 - LOSS_SCATTER[0] * loss, 1.0 - LOSS_SCATTER[1] * loss)
    low, high = (product / max(efficiency, product) for efficiency in efficiencies)
    return min(low, LARGEST_POWER_FACTOR), min(high, LARGEST_POWER_FACTOR)


def _circle_lag_deg(current: float, power_factor: float, far_end: float) -> float:
    """Return the lag at ``current`` on the circle through the rated point."""
    rated_reactive = math.sqrt(1.0 - power_factor**2)
    no_load = rated_reactive - power_factor**2 / (far_end - rated_reactive)
    no_load = max(no_load, LEAST_NO_LOAD)
    diameter = far_end - no_load
    reactive = (current**2 + no_load**2 + no_load * diameter) / (2.0 * no_load + diameter)
    if reactive >= current:
        return math.degrees(math.atan2(1.0, NO_LOAD_POWER / max(current, NO_LOAD_POWER)))
    active = math.sqrt(current**2 - reactive**2)
    return math.degrees(math.atan2(reactive, max(active, NO_LOAD_POWER)))
