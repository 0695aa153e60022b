"""Shaft load from power, from slip, from current: three rough scales joined into one interval.

Equations, uncertainties and sources: ``docs/theory/operating-point.md``.
"""

from __future__ import annotations

import math

import numpy as np

from cagewise.indicators.running.slip_window import first_crossing, slip_at_power, thinned
from cagewise.indicators.running.supply import Supply
from cagewise.machine import typical
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.load import slip_load_ratio
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown, RealArray

N_DRAWS = 400
"""Draws of what is not known."""
SEED = 4_711
"""The same record gives the same draws."""
POWER_SPREAD = 0.012
"""Relative standard deviation of the measured power: sensors of class 1 on either side."""
STATED_LOSS_SPREAD = 0.07
"""Of the losses (logarithm) when the efficiency is stated: 15 % tolerance of IEC 60034-1 clause
12.1 as a 95 % limit (secondary source)."""
CORE_SHARE = (0.35, 0.65)
"""Core loss over the losses that are neither in the stator nor in the cage; common practice."""
CONSTANT_LOSS_RANGE = (0.15, 0.60)
"""Those losses over all losses at rated load: what is left after the copper must lie here."""
RATED_SLIP_SPREAD = 0.10
"""Relative standard deviation of the rated slip: the 20 % tolerance of NEMA MG 1-12.46 and IEC
60034-1 clause 12.1 as a 95 % limit."""
ROTOR_HEAT_SPREAD = 0.08
"""Relative standard deviation of the rotor resistance at the moment against rated load: 20 K at
0.39 % per kelvin."""
PLANT_VOLTAGE_SPREAD = 0.03
"""Relative standard deviation of a plant voltage nobody measured; common practice, no source."""


def load_fraction(
    supply: Supply,
    nameplate: Nameplate,
    circuit: EquivalentCircuit,
    slip: Estimate | NotKnown,
) -> Estimate | NotKnown:
    """Return shaft power over rated power.

    Parameters
    ----------
    supply
        The fundamental.
    nameplate
        Rated values.
    circuit
        One or an ensemble.
    slip
        Measured slip, if it is known.
    """
    power = supply.complex_power_va
    if power is not None and power.real <= 0.0:
        return NotKnown("no power flows into the motor")
    if isinstance(slip, Estimate) and slip.value <= 0.0:
        return NotKnown("the motor runs above synchronous speed")
    rng = np.random.default_rng(SEED)
    if power is None:
        scales = [_from_current(supply, nameplate, circuit, rng)]
    else:
        scales = [_from_power(supply, nameplate, circuit, slip, rng)]
    if isinstance(slip, Estimate):
        scales.append(_from_slip(supply, nameplate, slip, rng))
    return _joined(scales)


def _from_power(
    supply: Supply,
    nameplate: Nameplate,
    circuit: EquivalentCircuit,
    slip: Estimate | NotKnown,
    rng: np.random.Generator,
) -> RealArray:
    """Return draws of the load by the power balance, shape (N_DRAWS,)."""
    power = supply.complex_power_va
    voltage_rms = supply.line_voltage_rms_v
    if power is None or voltage_rms is None:
        message = "the power balance needs a voltage"
        raise ValueError(message)
    members = thinned(circuit)
    which = rng.integers(0, members.stator_resistance_ohm.size, N_DRAWS)
    stator_ohm = members.stator_resistance_ohm[which]
    core, mechanical = _constant_losses(nameplate, stator_ohm, rng)
    core = core * (voltage_rms / nameplate.rated_voltage_v) ** 2
    if isinstance(slip, Estimate):
        slips = _normal(slip, rng)
    else:
        net = power.real - float(np.median(core))
        slips = slip_at_power(supply, nameplate.rated_slip, circuit, net)[which]
    taken = power.real * (1.0 + POWER_SPREAD * rng.standard_normal(N_DRAWS))
    air_gap = taken - core - 1.5 * abs(supply.current_a) ** 2 * stator_ohm
    return np.asarray((air_gap * (1.0 - slips) - mechanical) / nameplate.rated_power_w)


def _constant_losses(
    nameplate: Nameplate, stator_ohm: RealArray, rng: np.random.Generator
) -> tuple[RealArray, RealArray]:
    """Return draws of core loss and of friction, windage and stray loss at rated load, in W."""
    rated_w, slip = nameplate.rated_power_w, nameplate.rated_slip
    ratio, spread = _loss_ratio(nameplate)
    losses = rated_w * ratio * np.exp(spread * rng.standard_normal(N_DRAWS))
    copper = 3.0 * nameplate.rated_current_a**2 * stator_ohm + rated_w * slip / (1.0 - slip)
    low, high = CONSTANT_LOSS_RANGE
    rest = np.clip(losses - copper, low * losses, high * losses)
    core = rest * rng.uniform(*CORE_SHARE, N_DRAWS)
    return core, rest - core


def _loss_ratio(nameplate: Nameplate) -> tuple[float, float]:
    """Return losses over output at rated load and the standard deviation of its logarithm."""
    if nameplate.efficiency is not None:
        return 1.0 / nameplate.efficiency - 1.0, STATED_LOSS_SPREAD
    return typical.loss_ratio(nameplate.rated_power_w), typical.LOSS_RATIO_LOG_SPREAD


def _from_slip(
    supply: Supply, nameplate: Nameplate, slip: Estimate, rng: np.random.Generator
) -> RealArray:
    """Return draws of the load by the slip method, shape (N_DRAWS,)."""
    rated = nameplate.rated_slip * (1.0 + RATED_SLIP_SPREAD * rng.standard_normal(N_DRAWS))
    rated = np.maximum(rated, 0.5 * nameplate.rated_slip)
    heat = 1.0 + ROTOR_HEAT_SPREAD * rng.standard_normal(N_DRAWS)
    voltage = _voltage_ratio(supply, nameplate, rng)
    return slip_load_ratio(_normal(slip, rng), rated, voltage) * heat


def _from_current(
    supply: Supply, nameplate: Nameplate, circuit: EquivalentCircuit, rng: np.random.Generator
) -> RealArray:
    """Return draws of the load at which the circuit takes the current at about rated voltage."""
    members = thinned(circuit)
    which = rng.integers(0, members.stator_resistance_ohm.size, N_DRAWS)
    drawn = EquivalentCircuit(
        **{name: getattr(members, name)[which] for name in EquivalentCircuit.__dataclass_fields__}
    )
    voltage = nameplate.rated_phase_voltage_peak_v * _voltage_ratio(supply, nameplate, rng)
    slip = np.linspace(1e-6, 3.0, 121) * nameplate.rated_slip
    state = drawn.at(slip[:, np.newaxis], 2.0 * math.pi * supply.frequency_hz.value)
    current = state.voltage_response(0.0) * voltage
    found = first_crossing(slip, np.abs(current), abs(supply.current_a))
    at_slip = drawn.at(np.maximum(found, slip[0]), state.frequency_rad_s)
    rotor_current = at_slip.rotor_current(at_slip.voltage_response(0.0) * voltage)
    air_gap = 1.5 * np.abs(rotor_current) ** 2 * drawn.rotor_resistance_ohm / at_slip.slip
    _, mechanical = _constant_losses(nameplate, drawn.stator_resistance_ohm, rng)
    return np.asarray((air_gap * (1.0 - at_slip.slip) - mechanical) / nameplate.rated_power_w)


def _voltage_ratio(supply: Supply, nameplate: Nameplate, rng: np.random.Generator) -> RealArray:
    """Return draws of the voltage over rated voltage, shape (N_DRAWS,)."""
    if supply.line_voltage_rms_v is None:
        return np.asarray(1.0 + PLANT_VOLTAGE_SPREAD * rng.standard_normal(N_DRAWS))
    return np.full(N_DRAWS, supply.line_voltage_rms_v / nameplate.rated_voltage_v)


def _normal(estimate: Estimate, rng: np.random.Generator) -> RealArray:
    """Return normal draws of an estimate, shape (N_DRAWS,)."""
    deviation = (estimate.high - estimate.low) / (2.0 * NORMAL_COVERAGE_FACTOR)
    return np.asarray(estimate.value + deviation * rng.standard_normal(N_DRAWS))


def _joined(scales: list[RealArray]) -> Estimate:
    """Return the inverse-variance mean of the scales; the interval grows if they disagree."""
    if len(scales) == 1:
        single = Estimate.from_draws(scales[0])
        return Estimate(max(single.value, 0.0), max(single.low, 0.0), max(single.high, 0.0))
    means = np.array([np.mean(scale) for scale in scales])
    weights = np.array([1.0 / max(float(np.var(scale)), 1e-12) for scale in scales])
    mean = float(np.sum(weights * means) / np.sum(weights))
    scatter = max(float(np.sum(weights * (means - mean) ** 2)) / (means.size - 1), 1.0)
    half_width = NORMAL_COVERAGE_FACTOR * math.sqrt(scatter / float(np.sum(weights)))
    mean = max(mean, 0.0)
    return Estimate(mean, max(mean - half_width, 0.0), mean + half_width)
