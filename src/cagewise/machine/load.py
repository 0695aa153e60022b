"""Load from slip, current or input power: arithmetic of the plant, with its bias stated.

The formulas are those of the US DOE fact sheet "Determining Electric Motor Load and Efficiency"
(from memory). They use the nameplate and share its tolerances: slip is known to 20 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import RealArray


def three_phase_power_w(
    line_voltages_v: Sequence[float], currents_a: Sequence[float], power_factors: Sequence[float]
) -> float:
    """Return the input power from meter readings of the three phases (means are multiplied)."""
    voltage, current, power_factor = (
        sum(values) / len(values) for values in (line_voltages_v, currents_a, power_factors)
    )
    return math.sqrt(3.0) * voltage * current * power_factor


def load_from_input_power(
    active_power_w: float, nameplate: Nameplate, efficiency: float | None = None
) -> float | None:
    """Return input power over rated input power; None when no efficiency is known.

    The best of the three above half load; below it reads high, by the no-load losses.
    """
    rated = nameplate.efficiency if efficiency is None else efficiency
    return None if rated is None else active_power_w * rated / nameplate.rated_power_w


def slip_load_ratio(
    slip: RealArray | float, rated_slip: RealArray | float, voltage_ratio: RealArray | float
) -> RealArray:
    """Return the load over rated by the slip method, compensated for voltage.

    ``(s / s_rated) (V / V_rated)^2``: at a higher voltage the same slip carries more torque. US
    Department of Energy, DOE/GO-10097-517, "Determining Electric Motor Load and Efficiency" (from
    memory).

    Parameters
    ----------
    slip, rated_slip
        In the same unit.
    voltage_ratio
        Measured over rated voltage.
    """
    ratio = np.asarray(voltage_ratio, dtype=np.float64)
    return np.asarray(slip / np.asarray(rated_slip, dtype=np.float64) * ratio**2)


def load_from_slip(
    speed_rpm: float,
    nameplate: Nameplate,
    *,
    supply_frequency_hz: float | None = None,
    voltage_v: float | None = None,
) -> float:
    """Return measured slip over rated slip, both in rpm, corrected for the voltage.

    Without ``voltage_v`` a voltage below rated overstates the load: slip goes with ``1 / V^2``.

    Parameters
    ----------
    speed_rpm
        Measured.
    nameplate
        Rated slip: plus or minus 20 %, and rounding.
    supply_frequency_hz
        Measured; rated when left out.
    voltage_v
        Measured line-line voltage, rms; rated when left out.
    """
    frequency_hz = (
        nameplate.rated_frequency_hz if supply_frequency_hz is None else supply_frequency_hz
    )
    synchronous_rpm = 60.0 * frequency_hz / nameplate.pole_pairs
    rated_rpm = nameplate.synchronous_speed_rpm - nameplate.rated_speed_rpm
    ratio = 1.0 if voltage_v is None else voltage_v / nameplate.rated_voltage_v
    return float(slip_load_ratio(synchronous_rpm - speed_rpm, rated_rpm, ratio))


def load_from_current(current_a: float, voltage_v: float, nameplate: Nameplate) -> float:
    """Return the load from the current ratio; the magnetising current spoils it below half load."""
    return (current_a / nameplate.rated_current_a) * (voltage_v / nameplate.rated_voltage_v)


def full_load_current_a(
    power_w: float, voltage_v: float, power_factor: float, efficiency: float
) -> float:
    """Return P / (sqrt3 V cos phi eta), rms."""
    return power_w / (math.sqrt(3.0) * voltage_v * power_factor * efficiency)
