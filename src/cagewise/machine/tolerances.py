"""How well a nameplate knows its own numbers: tolerances of the standards, and rounding."""

from __future__ import annotations

from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import Estimate

SLIP_TOLERANCE = 0.20
"""Tolerance of the rated slip, relative: NEMA MG 1-12.46; IEC 60034-1 clause 12.1 from 1 kW (the
latter from memory)."""
SLIP_TOLERANCE_BELOW_1_KW = 0.30
"""The same below 1 kW: IEC 60034-1 clause 12.1 (from memory)."""
SPEED_GRID_RPM = 5.0
"""Nameplate speeds are usually rounded to this (US DOE, Determining Electric Motor Load)."""

LARGE_MOTOR_W = 150e3
"""Above this the efficiency tolerance is tighter: IEC 60034-1 clause 12.1 (secondary source)."""


def slip_tolerance(rated_power_w: float) -> float:
    """Return the relative tolerance of the rated slip."""
    return SLIP_TOLERANCE if rated_power_w >= 1e3 else SLIP_TOLERANCE_BELOW_1_KW


def speed_rounding_rpm(rated_speed_rpm: float) -> float:
    """Return the half width of the rounding of a nameplate speed.

    A multiple of 5 rpm was probably rounded to 5; otherwise to the last whole rpm.
    """
    return 0.5 * (SPEED_GRID_RPM if rated_speed_rpm % SPEED_GRID_RPM == 0.0 else 1.0)


def rated_slip_interval(nameplate: Nameplate) -> Estimate:
    """Return the rated slip, per unit, with tolerance and rounding (added, both are limits).

    The interval keeps to motoring: its lower end is never below a tenth of the rated slip.
    """
    slip = nameplate.rated_slip
    rounding = speed_rounding_rpm(nameplate.rated_speed_rpm) / nameplate.synchronous_speed_rpm
    half_width = slip_tolerance(nameplate.rated_power_w) * slip + rounding
    return Estimate(slip, max(slip - half_width, 0.1 * slip), slip + half_width)


def lowest_efficiency(efficiency: float, rated_power_w: float) -> float:
    """Return the efficiency a motor may have at least, given the rated one.

    IEC 60034-1 clause 12.1: 15 % of ``1 - efficiency`` up to 150 kW, 10 % above (secondary).
    """
    share = 0.15 if rated_power_w <= LARGE_MOTOR_W else 0.10
    return efficiency - share * (1.0 - efficiency)


def power_factor_tolerance(power_factor: float) -> float:
    """Return by how much the power factor may fall short of the rated one.

    IEC 60034-1 clause 12.1: a sixth of ``1 - cos phi``, 0.02 to 0.07 (from memory).
    """
    return min(max((1.0 - power_factor) / 6.0, 0.02), 0.07)
