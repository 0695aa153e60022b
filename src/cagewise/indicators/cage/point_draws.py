"""The motor at its operating point, as draws: circuit, slip, rotor current.

A circuit estimated from a nameplate is uncertain by tens of per cent, but the fundamental current
and voltage that were measured belong to the same motor at the same slip. The draws are moved
until they agree with them (ensemble smoother with multiple data assimilation: Emerick and
Reynolds, Computers & Geosciences 55, 2013; from memory). See docs/theory/direct-component.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit, OperatingState
from cagewise.machine.motor import Motor
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, RealArray

N_DRAWS = 200
"""Draws kept: five lie beyond each end of a 95 % interval."""
SEED = 20
"""The same record gives the same intervals."""
SMALLEST_SLIP_SHARE = 0.2
"""Draws of the slip stay above this part of its value."""
PASSES = 2
"""Passes of the smoother; noise is enlarged so that the data count once in all."""
CORE_LOSS_SHARE = (0.015, 0.012)
"""Mean and standard deviation of the core loss, which the circuit leaves out, per unit of rated
power; common practice, no source: a fifth to a quarter of the losses, more on small motors."""
SUPPLY_TOLERANCE = 0.05
"""Relative standard deviation of the supply voltage where it was not measured: rated is assumed.
Half of the 10 % range of NEMA MG 1-12.44."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fundamental:
    """Fundamental current and voltage as measured."""

    current_a: complex
    """In the frame of the voltage (or of the current itself, without voltages); peak."""
    voltage_v: float | None
    """Phase to neutral, peak; None when no voltage was measured."""
    frequency_hz: float


@dataclass(frozen=True, kw_only=True)
class PointDraws:
    """The motor at its operating point; arrays of shape (n_draws,)."""

    circuit: EquivalentCircuit
    slip: RealArray
    fundamental: Fundamental

    @property
    def state(self) -> OperatingState:
        """The linearised motor."""
        return self.circuit.at(self.slip, 2.0 * math.pi * self.fundamental.frequency_hz)

    @property
    def middle(self) -> OperatingState:
        """The linearised motor of median parameters."""
        slip = float(np.median(self.slip))
        return self.circuit.median().at(slip, 2.0 * math.pi * self.fundamental.frequency_hz)

    def part(self, members: slice) -> PointDraws:
        """Return some of the draws."""
        parameters = [getattr(self.circuit, f.name)[members] for f in fields(EquivalentCircuit)]
        return PointDraws(
            circuit=_circuit(np.stack(parameters)),
            slip=self.slip[members],
            fundamental=self.fundamental,
        )

    @property
    def rotor_current_a(self) -> RealArray:
        """|I_r|, referred, A peak, at the measured stator current."""
        return np.abs(self.state.rotor_current(self.fundamental.current_a))


def point_draws(
    motor: Motor, circuit: EquivalentCircuit, slip: Estimate, fundamental: Fundamental
) -> PointDraws:
    """Return the draws that agree with the measured fundamental."""
    rng = np.random.default_rng(SEED)
    parameters = np.stack([_thinned(getattr(circuit, f.name)) for f in fields(circuit)])
    sd = (slip.high - slip.low) / (2.0 * NORMAL_COVERAGE_FACTOR)
    slips = slip.value + sd * rng.standard_normal(N_DRAWS)
    slips = np.maximum(slips, SMALLEST_SLIP_SHARE * slip.value)
    state = np.log(np.vstack([parameters, slips]))
    if np.any(np.ptp(parameters, axis=1) > 0.0):
        for _ in range(PASSES):
            state = _assimilated(state, motor, fundamental, rng)
    matched, slips = _circuit(np.exp(state[:-1])), np.exp(state[-1])
    return PointDraws(circuit=matched, slip=slips, fundamental=fundamental)


def first_draws(circuit: EquivalentCircuit, n_draws: int) -> EquivalentCircuit:
    """Return the first draws of an ensemble."""
    return _circuit(np.stack([getattr(circuit, f.name)[:n_draws] for f in fields(circuit)]))


def _thinned(values: RealArray) -> RealArray:
    """Return ``N_DRAWS`` of the given draws (one circuit is repeated)."""
    values = np.atleast_1d(values)
    return np.asarray(values[np.linspace(0, values.size - 1, N_DRAWS).round().astype(int)])


def _circuit(parameters: RealArray) -> EquivalentCircuit:
    """Return the circuit of parameters in the order of its fields, shape (5, n_draws)."""
    names = [f.name for f in fields(EquivalentCircuit)]
    return EquivalentCircuit(**dict(zip(names, parameters, strict=True)))


def _assimilated(
    state: RealArray, motor: Motor, fundamental: Fundamental, rng: np.random.Generator
) -> RealArray:
    """Move log-parameters and log-slip, shape (6, n_draws), towards the measured fundamental."""
    missed = _mismatch(state, motor, fundamental, rng)
    centred = missed - missed.mean(axis=1, keepdims=True)
    spread = state - state.mean(axis=1, keepdims=True)
    gain = (spread @ centred.T) @ np.linalg.pinv(centred @ centred.T)
    return np.asarray(state - gain @ missed)


def _mismatch(
    state: RealArray, motor: Motor, fundamental: Fundamental, rng: np.random.Generator
) -> RealArray:
    """Return log of model over measured current, each draw against its own measuring errors.

    Two rows, magnitude and angle; without voltages only the magnitude says anything.
    """
    enlarged = math.sqrt(PASSES)
    w = 2.0 * math.pi * fundamental.frequency_hz
    model = _circuit(np.exp(state[:-1])).at(np.exp(state[-1]), w)
    voltage_v = fundamental.voltage_v or motor.nameplate.rated_phase_voltage_peak_v
    n = state.shape[1]
    sensors = motor.sensors
    # limits of error are taken as two standard deviations
    ratio = 0.5 * sensors.current_ratio_error * enlarged * rng.standard_normal(n)
    angle = 0.5 * math.radians(sensors.current_phase_error_deg) * enlarged * rng.standard_normal(n)
    share = CORE_LOSS_SHARE[0] + CORE_LOSS_SHARE[1] * enlarged * rng.standard_normal(n)
    core_current_a = share * motor.nameplate.rated_power_w / (1.5 * voltage_v)
    measured = fundamental.current_a * np.exp(ratio + 1j * angle)
    if fundamental.voltage_v is None:
        supply = SUPPLY_TOLERANCE * enlarged * rng.standard_normal(n)
        predicted = np.abs(model.stator_current(voltage_v) + core_current_a) * np.exp(supply)
        return np.asarray(np.log(predicted / np.abs(measured))[np.newaxis, :])
    predicted = model.stator_current(voltage_v) + core_current_a
    mismatch = np.log(predicted / measured)
    return np.stack([mismatch.real, mismatch.imag])
