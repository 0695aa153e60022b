"""The equivalent circuit of a motor with its uncertainty, and where a measured power puts it.

The circuit is given in the motor file or estimated from the nameplate; either way the uncertainty
is carried as draws (``docs/theory/equivalent-circuit.md``).
"""

from __future__ import annotations

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import CircuitUncertainty, Motor
from cagewise.machine.nameplate_draws import (
    DEFAULT_DRAWS,
    DEFAULT_SEED,
    MachineDraws,
    machine_draws,
    middle_machine,
)
from cagewise.quantities import ComplexArray, RealArray

__all__ = [
    "MachineDraws",
    "circuit_ensemble",
    "circuit_nominal",
    "machine_draws",
    "operating_slip",
    "shaft_power",
    "slip_search_window",
]

WINDOW_LOW, WINDOW_HIGH = 0.5, 1.6
"""A slip inferred from power is only a place to search: its error through rotor temperature (0.4 %
per kelvin), voltage and the tolerance of the nameplate stays within these factors."""


def circuit_ensemble(
    motor: Motor, n_draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED
) -> EquivalentCircuit:
    """Return draws of the equivalent circuit that express what is not known of it.

    Parameters
    ----------
    motor
        With ``motor.circuit`` given: lognormal draws around it by
        ``motor.circuit_uncertainty``. Otherwise: draws that reproduce the nameplate.
    n_draws
        Number of draws.
    seed
        Seed of the random numbers; the same motor gives the same draws.

    Returns
    -------
    EquivalentCircuit
        Fields of shape (n_draws,).
    """
    if motor.circuit is not None:
        rng = np.random.default_rng(seed)
        return _around(motor.circuit, motor.circuit_uncertainty, n_draws, rng)
    return machine_draws(motor.nameplate, n_draws, seed).circuit


def circuit_nominal(motor: Motor) -> EquivalentCircuit:
    """Return one circuit, fields of shape (): the given one, or the middle of the ensemble.

    Estimated from a nameplate it is solved at the medians of the open quantities, so that it
    reproduces the nameplate as every draw does.
    """
    if motor.circuit is not None:
        return motor.circuit.median()
    return middle_machine(motor.nameplate).circuit


def _around(
    circuit: EquivalentCircuit,
    uncertainty: CircuitUncertainty,
    n_draws: int,
    rng: np.random.Generator,
) -> EquivalentCircuit:
    """Return lognormal draws around a given circuit, each parameter by itself."""
    spread = {
        "stator_resistance_ohm": uncertainty.resistance,
        "rotor_resistance_ohm": uncertainty.resistance,
        "stator_leakage_h": uncertainty.leakage,
        "rotor_leakage_h": uncertainty.leakage,
        "magnetizing_inductance_h": uncertainty.magnetizing,
    }
    middle = circuit.median()
    draws = {
        name: getattr(middle, name) * np.exp(deviation * rng.standard_normal(n_draws))
        for name, deviation in spread.items()
    }
    return EquivalentCircuit(**draws)


def operating_slip(
    circuit: EquivalentCircuit,
    voltage_peak_v: float,
    frequency_hz: float,
    active_power_w: float,
    core_loss_w: RealArray | float = 0.0,
) -> RealArray:
    """Return the slip at which the circuit takes this active power, per draw.

    The input power is a quotient of two quadratics in the slip, so the slip is a root of a
    quadratic: the one that grows from the no-load point, the stable branch. A window for the
    search of the slip, never the slip itself.

    Parameters
    ----------
    circuit
        One circuit or an ensemble.
    voltage_peak_v
        Modulus of the voltage space vector (phase-to-neutral, peak).
    frequency_hz
        Measured supply frequency.
    active_power_w
        Measured three-phase input power.
    core_loss_w
        Taken off the input power first; scalar or shape (n_draws,).

    Returns
    -------
    RealArray
        Shape of the circuit's fields; NaN where the draw cannot take this much power, negative
        where it would take more at no load.
    """
    c, w = circuit, 2.0 * np.pi * frequency_hz
    stator: ComplexArray = np.asarray(c.stator_resistance_ohm + 1j * w * c.stator_inductance_h)
    # Y(0) = (n0 + s n1) / (d0 + s d1)
    n0, n1 = c.rotor_resistance_ohm, 1j * w * c.rotor_inductance_h
    d0 = stator * c.rotor_resistance_ohm
    d1 = 1j * w * stator * c.rotor_inductance_h + (w * c.magnetizing_inductance_h) ** 2
    conductance = (active_power_w - core_loss_w) / (1.5 * voltage_peak_v**2)
    constant = (n0 * np.conj(d0)).real - conductance * np.abs(d0) ** 2
    linear = (n0 * np.conj(d1) + n1 * np.conj(d0)).real
    linear = linear - conductance * 2.0 * (d0 * np.conj(d1)).real
    square = (n1 * np.conj(d1)).real - conductance * np.abs(d1) ** 2
    with np.errstate(invalid="ignore"):
        root = np.sqrt(linear**2 - 4.0 * square * constant)
        return np.asarray(-2.0 * constant / (linear + root))


def shaft_power(
    circuit: EquivalentCircuit,
    slip: RealArray | float,
    voltage_peak_v: float,
    frequency_hz: float,
    mechanical_loss_w: RealArray | float = 0.0,
) -> RealArray:
    """Return the power at the shaft in W: converted power less mechanical losses."""
    state = circuit.at(slip, 2.0 * np.pi * frequency_hz)
    current = np.abs(state.rotor_current(state.stator_current(voltage_peak_v)))
    with np.errstate(invalid="ignore", divide="ignore"):
        load_ohm = circuit.rotor_resistance_ohm * (1.0 - state.slip) / state.slip
        converted = np.where(state.slip == 0.0, 0.0, 1.5 * current**2 * load_ohm)
    return np.asarray(converted - mechanical_loss_w)


def slip_search_window(slips: RealArray) -> tuple[float, float] | None:
    """Return where to search for the slip, given draws of :func:`operating_slip`.

    None when more than half of the draws cannot take the measured power: then motor file and
    recording do not belong together.
    """
    known = slips[np.isfinite(slips)]
    if 2 * known.size <= slips.size:
        return None
    middle = max(float(np.median(known)), 0.0)
    return WINDOW_LOW * middle, WINDOW_HIGH * middle
