"""A steady stretch of running: from the steady state of the mean load, settled, then recorded."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cagewise.errors import SimulationError
from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import (
    CoupledModel,
    assemble,
    unsaturated,
    with_load,
    with_saturation,
)
from cagewise.simulation.equations.shaped_gap import assemble_shaped
from cagewise.simulation.equations.steady import SteadyState, steady_state, steady_state_under_load
from cagewise.simulation.machine.saturation import Saturation
from cagewise.simulation.plant.load import LoadRun
from cagewise.simulation.plant.supply import SupplyRun
from cagewise.simulation.runs.course import Setup, Trajectory, phases
from cagewise.simulation.runs.terminals import Terminals
from cagewise.simulation.stepping.engine import POWER_INVARIANT, Engine, Steps, Watch
from cagewise.simulation.stepping.runge_kutta import Advance

_SETTLING_INERTIA_TIME_S = 0.05
"""Mechanical time constant in the first part of settling: a heavy rotor finds its speed at once."""

_LIGHT_SHARE = 0.6
"""Part of the settling time with light inertia."""

_SLOWEST, _FASTEST = 0.5, 1.5
"""Speeds, relative to the steady one, at which a run is given up as stalled or run away."""


def trajectory(
    setup: Setup,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    settling_s: float = 2.0,
    advance: Advance | None = None,
) -> Trajectory:
    """Return the true course with :data:`GUARD_SAMPLES` extra at either end.

    Voltages are those at the motor's terminals, behind source impedance or converter. ``advance``
    chooses the stepper; the fastest that is installed by default.
    """
    steps = Steps.of(duration_s, sampling_rate_hz, settling_s)
    terminals = Terminals.of(setup, advance)
    run = _Run(terminals.stiff, steps, seed, terminals.advance)
    error = run.settle()
    rows = np.concatenate(list(run.record()))
    path = trajectory_of(terminals.stiff, run.engine, rows, error, terminals.stepper)
    return terminals.course(path)


def machine_under_load(setup: Setup) -> CoupledModel:
    """Return the equations of the machine with its load's dependence on speed."""
    saturation = setup.saturation or Saturation()
    parts = (unsaturated(setup.geometry, saturation), setup.damage, setup.eccentricity)
    model = assemble(*parts) if setup.gap is None else assemble_shaped(*parts, setup.gap)
    return with_load(with_saturation(model, setup.geometry, saturation), setup.load)


def engine_of(setup: Setup, steps: Steps, seed: int, advance: Advance, watch: Watch) -> Engine:
    """Return the engine with one realisation of supply and load, its state not yet set."""
    margin = steps.span_s + 1.0
    return Engine(
        steps,
        SupplyRun(setup.supply, steps.start_s, margin, np.random.default_rng([seed, 1])),
        LoadRun(setup.load, steps.start_s, margin, np.random.default_rng([seed, 2])),
        advance,
        watch,
    )


class _Run:
    """A run that begins at the steady state and settles."""

    def __init__(self, setup: Setup, steps: Steps, seed: int, advance: Advance) -> None:
        self.setup, self.model, self.steps = setup, machine_under_load(setup), steps
        self.engine = engine_of(setup, steps, seed, advance, self._check_running)
        self.engine.state = self._initial_state()

    def _initial_state(self) -> RealArray:
        """Return the steady state, turned to the phase of the supply at the start."""
        supply, load = self.setup.supply, self.setup.load
        self._voltage_v = supply.line_voltage_rms_v * math.sqrt(2.0 / 3.0)
        frequency = 2.0 * math.pi * supply.frequency_hz
        steady = steady_state_under_load(self.model, self._voltage_v, frequency, load)
        speed = (1.0 - steady.slip) * frequency / self.model.pole_pairs
        self._speed_rad_s = speed
        self._lightness = self._lightness_for_settling(steady, frequency)
        phase = float(self.engine.supply.phase_rad(np.array([self.steps.start_s]))[0])
        flux = steady.flux_vs * np.exp(1j * phase)
        angle = phase / self.model.pole_pairs
        moving = []
        if load.shaft:
            moving = [load.steady_torque_nm(speed) / load.shaft.stiffness_nm_per_rad, speed]
        return np.concatenate(([angle, speed, flux.real, flux.imag], steady.modes_vs, moving))

    def _lightness_for_settling(self, steady: SteadyState, frequency_rad_s: float) -> float:
        """Return the factor, at most 1, on the inertia that makes its time constant short."""
        step = 1e-4
        beside = steady_state(self.model, self._voltage_v, frequency_rad_s, steady.slip + step)
        slope = (beside.torque_nm - steady.torque_nm) * self.model.pole_pairs
        slope /= step * frequency_rad_s
        inertia = self.model.inertia_kg_m2 + self.model.load_inertia_kg_m2
        return min(1.0, _SETTLING_INERTIA_TIME_S * slope / inertia)

    def settle(self) -> float:
        """Run up to the first sample and return the estimated error of the step.

        In the light part inertias, stiffness and damping of the shaft are smaller by one factor:
        its frequency stays, its twist grows.
        """
        model, light, n = self.model, self._lightness, self.steps.lead_samples
        n_light = int(_LIGHT_SHARE * n)
        lighter = model._replace(
            inertia_kg_m2=light * model.inertia_kg_m2,
            load_inertia_kg_m2=light * model.load_inertia_kg_m2,
            stiffness_nm_per_rad=light * model.stiffness_nm_per_rad,
            damping_nm_s=light * model.damping_nm_s,
        )
        twist = slice(-2, -1) if model.load_inertia_kg_m2 else slice(0)
        self.engine.state[twist] /= light
        self.engine.pass_over(lighter, n_light)
        self.engine.state[twist] *= light
        self.engine.pass_over(model, n - n_light)
        return self.engine.step_error(model, self.setup.supply.frequency_hz, self.engine.mark())

    def record(self) -> Iterator[RealArray]:
        """Yield rows of observations, shape (n_block, N_OBSERVED), sample after sample."""
        yield from self.engine.blocks(self.model, self.steps.n_samples)

    def _check_running(self, out: RealArray, time_s: float) -> None:
        """Raise if the machine left the range in which a steady record makes sense."""
        ratio = out[:, 3] / self._speed_rad_s
        lost = np.flatnonzero(~((ratio > _SLOWEST) & (ratio < _FASTEST)))
        if lost.size == 0:
            return
        row = int(lost[0])
        at_s = time_s + row / self.steps.sampling_rate_hz
        check_finite(float(ratio[row]), at_s)
        what = "stalled" if ratio[row] <= _SLOWEST else "ran away"
        raise SimulationError(
            f"the motor {what}: {100 * ratio[row]:.0f} % of its steady speed at {at_s:.2f} s",
            where="simulation",
            remedy="Lower the load or its oscillation.",
        )


def check_finite(value: float, time_s: float) -> None:
    """Raise if the integration left the range of numbers."""
    if not np.isfinite(value):
        raise SimulationError(
            f"the integration diverged at {time_s:.2f} s",
            where="simulation",
            remedy="Record at a higher sampling rate: the step follows it.",
        )


def trajectory_of(
    setup: Setup, engine: Engine, rows: RealArray, step_error: float, stepper: str
) -> Trajectory:
    """Return the observations as named quantities."""
    time_s = engine.steps.time_s
    load_speed = rows[:, 7]
    return Trajectory(
        time_s=time_s,
        supply_phase_rad=engine.supply.phase_rad(time_s),
        voltages_v=phases(engine.supply.space_vector_v(time_s)),
        currents_a=phases(np.asarray((rows[:, 0] + 1j * rows[:, 1]) / POWER_INVARIANT)),
        angle_rad=rows[:, 2],
        speed_rad_s=rows[:, 3],
        torque_nm=rows[:, 4],
        load_torque_nm=engine.load.torque_nm(time_s) + setup.load.braking_nm(load_speed),
        rotor_loss_w=rows[:, 5],
        energy_j=rows[:, 6],
        load_speed_rad_s=load_speed,
        shaft_torque_nm=rows[:, 8],
        step_error=step_error,
        stepper=stepper,
    )
