"""Where the motor stood while it was recorded: supply, slip, speed, load."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.quantities import Estimate, NotKnown


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Operating point of one steady stretch."""

    supply_frequency_hz: Estimate
    """Mean over the stretch."""
    supply_frequency_wander_hz: float
    """Root-mean-square deviation of the supply frequency from its mean."""
    line_current_rms_a: float
    """Positive-sequence line current."""
    line_voltage_rms_v: float | None
    """Positive-sequence line-line voltage, None without voltages."""
    active_power_w: float | None
    reactive_power_var: float | None
    power_factor: float | None
    slip: Estimate | NotKnown
    """Per unit of synchronous speed, mean over the stretch."""
    slip_wander: float | None
    """Standard deviation of the slip within the stretch, per unit of the slip."""
    speed_rpm: Estimate | NotKnown
    pole_pass_frequency_hz: Estimate | NotKnown
    """f_pp = 2 s f."""
    slip_families: tuple[str, ...]
    """Which families of lines agreed on the speed; empty when the slip is not known."""
    rotor_bars: int | None
    """Given, or identified from the slot lines; None when open."""
    rotor_bars_candidates: tuple[int, ...]
    """Numbers of bars that remain possible."""
    load_fraction: Estimate | NotKnown
    """Shaft power over rated power."""
