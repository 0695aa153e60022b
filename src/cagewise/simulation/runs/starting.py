"""Starts from standstill: switch-on, run-up, stall; their course and what is true of it.

The rotor stands and carries no flux until the contactor closes all three phases at one instant.
The voltages stand before the contactor, so they are there before. What a soft starter does to
them belongs to the supply.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cagewise.errors import InputError, SimulationError
from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.equations.steady import steady_state, steady_state_under_load
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.runs.course import Setup, Trajectory
from cagewise.simulation.runs.run import (
    check_finite,
    engine_of,
    machine_under_load,
    trajectory_of,
)
from cagewise.simulation.runs.terminals import Terminals, behind_source
from cagewise.simulation.stepping.engine import Engine, Steps
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, Advance

SPEED_REACHED = 0.95
"""Part of synchronous speed that ends a start."""

_FASTEST = 1.5
"""Speed over synchronous speed at which a start is given up as run away."""

_BACKWARDS = -0.2
"""The same for a load that drives the rotor backwards."""

_STALL_TAIL = 0.2
"""Last part of the record in which a motor below its speed that gains no more has stalled."""

_STALL_GAIN = 0.01
"""Gain in that part, relative to synchronous speed, below which it has."""

_RUN_UP_POINTS = 400
"""Speeds at which the torques are compared: the integral is then good to a few parts in 10^4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """When and at what phase the contactor closes."""

    switch_on_s: float = 0.2
    """After the first sample, rounded to a whole sample."""
    phase_rad: float | None = None
    """Phase of v_a at that instant (0: its positive peak); the supply's own if None."""


def start_trajectory(
    setup: Setup,
    start: Start | None = None,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    advance: Advance | None = None,
) -> Trajectory:
    """Return the true course of a start with :data:`GUARD_SAMPLES` extra at either end.

    Voltages are those at the motor's terminals, behind a source impedance. ``step_error`` is the
    largest of all blocks of the run-up, and of the first cycle.
    """
    start = start or Start()
    _check_uncontrolled(setup)
    steps = Steps.of(duration_s, sampling_rate_hz, 0.0)
    if not 0.0 <= start.switch_on_s < duration_s:
        raise InputError(
            f"cannot switch on {start.switch_on_s} s into a record of {duration_s} s",
            where="start",
        )
    n_still = GUARD_SAMPLES + round(start.switch_on_s * sampling_rate_hz)
    setup = _with_phase(setup, start, (n_still - GUARD_SAMPLES) / sampling_rate_hz)
    terminals = Terminals.of(setup, advance)
    model = machine_under_load(terminals.stiff)
    watch = _Watch(setup, sampling_rate_hz)
    engine = engine_of(setup, steps, seed, terminals.advance, watch)
    engine.state = np.zeros(model.n_states)
    engine.sample += n_still
    rows = [np.zeros((n_still, N_OBSERVED))]
    error = _run_up(engine, model, setup.supply.frequency_hz, rows)
    path = trajectory_of(setup, engine, np.concatenate(rows), error, terminals.stepper)
    path.load_torque_nm[:n_still] = 0.0
    return terminals.course(path)


def _check_uncontrolled(setup: Setup) -> None:
    """Raise if a regulator would have to begin at rest."""
    if setup.supply.control is not None:
        raise InputError(
            "vector control takes over a running machine; it does not start one",
            where="start",
            remedy="Simulate the steady run, or start with the soft starter.",
        )


def _with_phase(setup: Setup, start: Start, switch_on_s: float) -> Setup:
    """Return the setup whose supply has the wanted phase when the contactor closes."""
    if start.phase_rad is None:
        return setup
    at_start = start.phase_rad - 2.0 * math.pi * setup.supply.frequency_hz * switch_on_s
    return replace(setup, supply=replace(setup.supply, initial_phase_rad=at_start))


def _run_up(
    engine: Engine, model: CoupledModel, frequency_hz: float, rows: list[RealArray]
) -> float:
    """Append the rows of the run-up and return the largest estimated error of the step."""
    left = engine.steps.n_samples - rows[0].shape[0]
    block = max(1, math.ceil(10.0 / frequency_hz * engine.steps.sampling_rate_hz))
    error = 0.0
    while left > 0:
        mark = engine.mark()
        rows.extend(engine.blocks(model, min(block, left)))
        error = max(error, engine.step_error(model, frequency_hz, mark))
        left -= block
    return error


class _Watch:
    """Gives up when the load drives the rotor away."""

    def __init__(self, setup: Setup, sampling_rate_hz: float) -> None:
        self._synchronous = _synchronous_rad_s(setup)
        self._sampling_rate_hz = sampling_rate_hz

    def __call__(self, out: RealArray, time_s: float) -> None:
        """Raise if the speed left the range of a start."""
        ratio = out[:, 3] / self._synchronous
        lost = np.flatnonzero(~((ratio > _BACKWARDS) & (ratio < _FASTEST)))
        if lost.size == 0:
            return
        at_s = time_s + int(lost[0]) / self._sampling_rate_hz
        check_finite(float(ratio[lost[0]]), at_s)
        raise SimulationError(
            f"the load drove the motor away: {100 * ratio[lost[0]]:.0f} % of synchronous speed at "
            f"{at_s:.2f} s",
            where="start",
            remedy="Lower the load torque, or give it as friction, which does not drive.",
        )


def _synchronous_rad_s(setup: Setup) -> float:
    return 2.0 * math.pi * setup.supply.frequency_hz / setup.geometry.pole_pairs


def start_truth(setup: Setup, start: Start, path: Trajectory) -> dict[str, float]:
    """Return what the run knows of itself.

    ``time_to_speed_s`` counts from switching on to 95 % of synchronous speed and is NaN where that
    is not reached; ``stalled`` is 1 where the speed stayed below and rose no more. The starting
    current is the rms of all phases over the second cycle, when the first offset has mostly gone.
    """
    rate = float(1.0 / (path.time_s[1] - path.time_s[0]))
    first = GUARD_SAMPLES + round(start.switch_on_s * rate)
    speed = path.speed_rad_s[first:-GUARD_SAMPLES] / _synchronous_rad_s(setup)
    reached = np.flatnonzero(speed >= SPEED_REACHED)
    tail = speed[-max(2, int(_STALL_TAIL * speed.size)) :]
    cycle = round(rate / setup.supply.frequency_hz)
    currents = path.currents_a[:, first:-GUARD_SAMPLES]
    loss = path.rotor_loss_w[first : first + (int(reached[0]) if reached.size else speed.size)]
    return {
        "supply_frequency_hz": setup.supply.frequency_hz,
        "switch_on_s": (first - GUARD_SAMPLES) / rate,
        "time_to_speed_s": float(reached[0]) / rate if reached.size else math.nan,
        "stalled": float(not reached.size and tail[-1] - tail[0] < _STALL_GAIN),
        "final_slip": 1.0 - float(np.mean(speed[-cycle:])),
        "steady_slip": _steady_slip(setup),
        "starting_current_rms_a": float(np.sqrt(np.mean(currents[:, cycle : 2 * cycle] ** 2))),
        "peak_current_a": float(np.abs(currents).max()),
        "cage_heat_j": float(np.sum(loss)) / rate,
        "open_bars": float(len(set(setup.damage.open_bars))),
        "rotor_bars": float(setup.geometry.rotor_bars),
        "step_error": path.step_error,
    }


def run_up_time_s(setup: Setup) -> float:
    """Return the time from rest to 95 % of synchronous speed at the supply's full voltage.

    The motion under steady torques, ``t = int J dw / (T - T_load)``; switching and damage are left
    out, infinite where the load holds the motor. To know beforehand how long to record.
    """
    setup = replace(behind_source(setup), saturation=None)
    model = machine_under_load(setup)
    frequency = 2.0 * math.pi * setup.supply.frequency_hz
    peak = setup.supply.line_voltage_rms_v * math.sqrt(2.0 / 3.0)
    slips = np.linspace(1.0, 1.0 - SPEED_REACHED, _RUN_UP_POINTS)
    speeds = (1.0 - slips) * frequency / model.pole_pairs
    surplus = np.array([
        steady_state(model, peak, frequency, float(slip)).torque_nm
        - setup.load.steady_torque_nm(float(speed))
        for slip, speed in zip(slips, speeds, strict=True)
    ])  # fmt: skip
    if surplus.min() <= 0.0:
        return math.inf
    inertia = model.inertia_kg_m2 + model.load_inertia_kg_m2
    return float(inertia * np.trapezoid(1.0 / surplus, speeds))


def _steady_slip(setup: Setup) -> float:
    """Return the slip at which the motor would carry the load; NaN if it cannot.

    Linear iron with the saturation that the effective gap contains; behind the source impedance.
    """
    setup = replace(behind_source(setup), saturation=None)
    peak = setup.supply.line_voltage_rms_v * math.sqrt(2.0 / 3.0)
    frequency = 2.0 * math.pi * setup.supply.frequency_hz
    try:
        steady = steady_state_under_load(machine_under_load(setup), peak, frequency, setup.load)
    except SimulationError:
        return math.nan
    return steady.slip
