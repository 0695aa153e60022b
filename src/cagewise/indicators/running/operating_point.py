"""Where the motor stood while it was recorded: supply, slip, speed, load."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.running.load import load_fraction
from cagewise.indicators.running.slip import SlipFinding, find_slip
from cagewise.indicators.running.supply import Supply, measure_supply
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate, NotKnown, synchronous_speed_rpm


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


def find_operating_point(
    frame: SupplyFrame,
    motor: Motor,
    circuit: EquivalentCircuit,
    speed_rpm: Estimate | None = None,
) -> OperatingPoint:
    """Return the operating point of a steady stretch.

    Parameters
    ----------
    frame
        The stretch, in the frame of the supply.
    motor
        Nameplate and, if somebody has counted them, rotor bars.
    circuit
        Equivalent circuit, one or an ensemble that expresses its uncertainty. It sets the window
        in which the slip is searched and the load, never the slip.
    speed_rpm
        Shaft speed measured by other means (strobe, encoder) with its interval; the lines of the
        current then only refine it.
    """
    supply = measure_supply(frame)
    given = None if speed_rpm is None else slip_of_speed(speed_rpm, supply, motor)
    finding = find_slip(frame, motor, circuit, supply, given)
    return _point(supply, finding, motor, circuit)


def slip_of_speed(speed_rpm: Estimate, supply: Supply, motor: Motor) -> Estimate:
    """Return the slip of a shaft speed, the interval of the frequency taken in."""
    frequency, pairs = supply.frequency_hz, motor.nameplate.pole_pairs
    return Estimate(
        1.0 - speed_rpm.value / synchronous_speed_rpm(frequency.value, pairs),
        1.0 - speed_rpm.high / synchronous_speed_rpm(frequency.low, pairs),
        1.0 - speed_rpm.low / synchronous_speed_rpm(frequency.high, pairs),
    )


def _speed(slip: Estimate, frequency_hz: Estimate, synchronous_rpm: float) -> Estimate:
    """Return the speed; the uncertainties of slip and frequency are independent."""
    value = synchronous_rpm * (1.0 - slip.value)
    relative = (frequency_hz.high - frequency_hz.low) / (2.0 * frequency_hz.value)
    below = math.hypot(synchronous_rpm * (slip.high - slip.value), value * relative)
    above = math.hypot(synchronous_rpm * (slip.value - slip.low), value * relative)
    return Estimate(value, value - below, value + above)


def _point(
    supply: Supply, finding: SlipFinding, motor: Motor, circuit: EquivalentCircuit
) -> OperatingPoint:
    """Return the operating point from its parts."""
    slip, power = finding.slip, supply.complex_power_va
    frequency_hz = supply.frequency_hz.value
    synchronous_rpm = synchronous_speed_rpm(frequency_hz, motor.nameplate.pole_pairs)
    speed: Estimate | NotKnown = slip
    pole_pass: Estimate | NotKnown = slip
    if isinstance(slip, Estimate):
        speed = _speed(slip, supply.frequency_hz, synchronous_rpm)
        pole_pass = slip.scaled(2.0 * frequency_hz)
    return OperatingPoint(
        supply_frequency_hz=supply.frequency_hz,
        supply_frequency_wander_hz=supply.frequency_wander_hz,
        line_current_rms_a=supply.line_current_rms_a,
        line_voltage_rms_v=supply.line_voltage_rms_v,
        active_power_w=None if power is None else power.real,
        reactive_power_var=None if power is None else power.imag,
        power_factor=supply.power_factor,
        slip=slip,
        slip_wander=finding.wander,
        speed_rpm=speed,
        pole_pass_frequency_hz=pole_pass,
        slip_families=finding.families,
        rotor_bars=finding.rotor_bars,
        rotor_bars_candidates=finding.rotor_bars_candidates,
        load_fraction=load_fraction(supply, motor.nameplate, circuit, slip),
    )
