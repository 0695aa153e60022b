"""One run: machine, damage, supply, load and sensors in, a recording with its truth out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from cagewise.errors import InputError, SimulationError
from cagewise.measurement import Provenance, Recording
from cagewise.quantities import RealArray
from cagewise.simulation.course import Setup, Trajectory, phases, truth_of
from cagewise.simulation.load import LoadRun
from cagewise.simulation.model import CoupledModel, assemble
from cagewise.simulation.sensors import GUARD_SAMPLES
from cagewise.simulation.steady import SteadyState, steady_state, steady_state_under_load
from cagewise.simulation.stepping import N_OBSERVED, Advance, fastest_advance
from cagewise.simulation.supply import SupplyRun

LOWEST_STEP_RATE_HZ = 20e3
"""Steps are at least this frequent; the error of a run is estimated, not assumed."""

LARGEST_STEP_ERROR = 1e-5
"""Largest error of the stator current per cycle of supply, relative to its rms (-100 dB)."""

_BLOCK_SAMPLES = 4096
"""Samples computed at a time: bounds the memory for supply and load."""

_SETTLING_INERTIA_TIME_S = 0.05
"""Mechanical time constant in the first part of settling: a heavy rotor finds its speed at once."""

_LIGHT_SHARE = 0.6
"""Part of the settling time with light inertia."""

_SLOWEST, _FASTEST = 0.5, 1.5
"""Speeds, relative to the steady one, at which a run is given up as stalled or run away."""

_POWER_INVARIANT = math.sqrt(1.5)
"""Power-invariant over amplitude-invariant space vector."""


def simulate(
    setup: Setup,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    settling_s: float = 2.0,
) -> Recording:
    """Simulate a steady stretch of running and record it.

    The run begins at the steady state of the mean load and settles for ``settling_s`` before the
    first sample. Equal arguments give equal samples.

    Raises
    ------
    SimulationError
        If the motor stalls or runs away, or the step is too coarse for it.
    InputError
        If the duration or the rate is impossible.
    """
    path = trajectory(
        setup,
        duration_s=duration_s,
        sampling_rate_hz=sampling_rate_hz,
        seed=seed,
        settling_s=settling_s,
    )
    phase = path.supply_phase_rad
    channels = setup.sensors.channels(
        path.currents_a,
        path.voltages_v,
        float(phase[-1] - phase[0]) / (phase.size - 1),
        np.random.default_rng([seed, 3]),
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=sampling_rate_hz,
        provenance=Provenance(source="cagewise simulation", format_name="simulation"),
        nominal_frequency_hz=setup.supply.frequency_hz,
        truth=MappingProxyType(truth_of(setup, path)),
    )


def trajectory(
    setup: Setup,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    settling_s: float = 2.0,
    advance: Advance | None = None,
) -> Trajectory:
    """Return the true course with :data:`~.sensors.GUARD_SAMPLES` extra at either end.

    ``advance`` chooses the stepper; the fastest that is installed by default.
    """
    plan = _Plan.of(duration_s, sampling_rate_hz, settling_s)
    stepper = "given"
    if advance is None:
        advance, stepper = fastest_advance()
    run = _Run(setup, _model(setup), plan, seed, advance)
    error = run.settle()
    rows = np.concatenate(list(run.record()))
    return _trajectory(run, rows, error, stepper)


def _model(setup: Setup) -> CoupledModel:
    """Return the equations of the machine with its load's dependence on speed."""
    machine = assemble(setup.geometry, setup.damage, setup.eccentricity)
    return machine._replace(
        viscous_nm_s=setup.load.viscous_nm_s, quadratic_nm_s2=setup.load.quadratic_nm_s2
    )


@dataclass(frozen=True, slots=True)
class _Plan:
    """Times and steps of a run; time zero is the first sample inside the guard."""

    n_samples: int
    sampling_rate_hz: float
    steps_per_sample: int
    settling_samples: int

    @classmethod
    def of(cls, duration_s: float, sampling_rate_hz: float, settling_s: float) -> _Plan:
        """Return the plan, or say what is impossible."""
        possible = math.isfinite(duration_s * sampling_rate_hz) and sampling_rate_hz > 0.0
        n_samples = round(duration_s * sampling_rate_hz) if possible else 0
        if n_samples < 2 or not 0.0 <= settling_s < math.inf:
            raise InputError(
                f"cannot record {duration_s} s at {sampling_rate_hz} Hz after {settling_s} s",
                where="simulation",
                remedy="Ask for at least two samples and no negative settling time.",
            )
        return cls(
            n_samples=n_samples + 2 * GUARD_SAMPLES,
            sampling_rate_hz=sampling_rate_hz,
            steps_per_sample=max(1, math.ceil(LOWEST_STEP_RATE_HZ / sampling_rate_hz)),
            settling_samples=round(settling_s * sampling_rate_hz),
        )

    @property
    def step_s(self) -> float:
        """Step of the integration."""
        return 1.0 / (self.sampling_rate_hz * self.steps_per_sample)

    @property
    def start_s(self) -> float:
        """Time at which settling begins."""
        return -(self.settling_samples + GUARD_SAMPLES) / self.sampling_rate_hz

    @property
    def span_s(self) -> float:
        """From the beginning of settling to the last sample."""
        return (self.settling_samples + self.n_samples) / self.sampling_rate_hz


class _Run:
    """State of a run in progress."""

    def __init__(
        self, setup: Setup, model: CoupledModel, plan: _Plan, seed: int, advance: Advance
    ) -> None:
        self.setup, self.model, self.plan = setup, model, plan
        self._advance = advance
        margin = plan.span_s + 1.0
        self.supply = SupplyRun(
            setup.supply, plan.start_s, margin, np.random.default_rng([seed, 1])
        )
        self.load = LoadRun(setup.load, plan.start_s, margin, np.random.default_rng([seed, 2]))
        self._sample = -(plan.settling_samples + GUARD_SAMPLES)
        self._state = self._initial_state()

    def _initial_state(self) -> RealArray:
        """Return the steady state, turned to the phase of the supply at the start."""
        supply, plan = self.setup.supply, self.plan
        self._voltage_v = supply.line_voltage_rms_v * math.sqrt(2.0 / 3.0)
        frequency = 2.0 * math.pi * supply.frequency_hz
        steady = steady_state_under_load(self.model, self._voltage_v, frequency, self.setup.load)
        self._speed_rad_s = (1.0 - steady.slip) * frequency / self.model.pole_pairs
        self._light_inertia = self._inertia_for_settling(steady, frequency)
        phase = float(self.supply.phase_rad(np.array([plan.start_s]))[0])
        flux = steady.flux_vs * np.exp(1j * phase)
        angle = phase / self.model.pole_pairs
        return np.concatenate(([angle, self._speed_rad_s, flux.real, flux.imag], steady.modes_vs))

    def _inertia_for_settling(self, steady: SteadyState, frequency_rad_s: float) -> float:
        """Return the inertia, at most the true one, with a short mechanical time constant."""
        step = 1e-4
        beside = steady_state(self.model, self._voltage_v, frequency_rad_s, steady.slip + step)
        slope = (beside.torque_nm - steady.torque_nm) * self.model.pole_pairs
        slope /= step * frequency_rad_s
        return min(self.model.inertia_kg_m2, _SETTLING_INERTIA_TIME_S * slope)

    def settle(self) -> float:
        """Run up to the first sample and return the estimated error of the step."""
        plan = self.plan
        light = self.model._replace(inertia_kg_m2=self._light_inertia)
        n_light = int(_LIGHT_SHARE * plan.settling_samples)
        for model, n in ((light, n_light), (self.model, plan.settling_samples - n_light)):
            for _ in self._blocks(model, n):
                pass
        return self._step_error()

    def record(self) -> Iterator[RealArray]:
        """Yield rows of observations, shape (n_block, N_OBSERVED), sample after sample."""
        yield from self._blocks(self.model, self.plan.n_samples)

    def _blocks(self, model: CoupledModel, n_samples: int) -> Iterator[RealArray]:
        """Advance by ``n_samples`` in blocks."""
        while n_samples > 0:
            n = min(n_samples, _BLOCK_SAMPLES)
            out = np.empty((n, N_OBSERVED))
            drive = self._drive(n * self.plan.steps_per_sample, self.plan.step_s)
            self._advance(model, drive, self.plan.step_s, self._state, out)
            self._check_running(out)
            self._sample += n
            n_samples -= n
            yield out

    def _drive(self, n_steps: int, step_s: float) -> RealArray:
        """Return voltages and load torque at every half step from now on."""
        now_s = self._sample / self.plan.sampling_rate_hz
        time_s = np.asarray(now_s + 0.5 * step_s * np.arange(2 * n_steps + 1))
        voltage = _POWER_INVARIANT * self.supply.space_vector_v(time_s)
        return np.column_stack((voltage.real, voltage.imag, self.load.torque_nm(time_s)))

    def _check_running(self, out: RealArray) -> None:
        """Raise if the machine left the range in which a steady record makes sense."""
        ratio = out[:, 3] / self._speed_rad_s
        lost = np.flatnonzero(~((ratio > _SLOWEST) & (ratio < _FASTEST)))
        if lost.size == 0:
            return
        row = int(lost[0])
        time_s = (self._sample + row) / self.plan.sampling_rate_hz
        if not np.isfinite(ratio[row]):
            raise SimulationError(
                f"the integration diverged at {time_s:.2f} s",
                where="simulation",
                remedy="Record at a higher sampling rate: the step follows it.",
            )
        what = "stalled" if ratio[row] <= _SLOWEST else "ran away"
        raise SimulationError(
            f"the motor {what}: {100 * ratio[row]:.0f} % of its steady speed at {time_s:.2f} s",
            where="simulation",
            remedy="Lower the load or its oscillation.",
        )

    def _step_error(self) -> float:
        """Compare one supply cycle with whole and with half steps, from the settled state."""
        step_s = self.plan.step_s
        n = math.ceil(1.0 / (self.setup.supply.frequency_hz * step_s))
        ends = []
        for halving in (1, 2):
            state = self._state.copy()
            out = np.empty((n, N_OBSERVED))
            drive = self._drive(n * halving, step_s / halving)
            self._advance(self.model, drive, step_s / halving, state, out)
            ends.append(out[:, :2])
        difference = np.abs(ends[0] - ends[1]).max() * 16.0 / 15.0
        error = float(difference / np.sqrt(np.mean(ends[1] ** 2)))
        if not error <= LARGEST_STEP_ERROR:
            raise SimulationError(
                f"steps of {1e6 * step_s:.0f} us are too coarse for this machine: the current errs "
                f"by {error:.1e} per cycle, more than {LARGEST_STEP_ERROR:.0e}",
                where="simulation",
                remedy="Record at a higher sampling rate or couple fewer space harmonics.",
            )
        return error


def _trajectory(run: _Run, rows: RealArray, step_error: float, stepper: str) -> Trajectory:
    """Return the observations as named quantities."""
    n = run.plan.n_samples
    time_s = np.asarray((np.arange(n) - GUARD_SAMPLES) / run.plan.sampling_rate_hz)
    load = run.setup.load
    speed = rows[:, 3]
    braking = speed * (load.viscous_nm_s + load.quadratic_nm_s2 * np.abs(speed))
    return Trajectory(
        time_s=time_s,
        supply_phase_rad=run.supply.phase_rad(time_s),
        voltages_v=phases(run.supply.space_vector_v(time_s)),
        currents_a=phases(np.asarray((rows[:, 0] + 1j * rows[:, 1]) / _POWER_INVARIANT)),
        angle_rad=rows[:, 2],
        speed_rad_s=speed,
        torque_nm=rows[:, 4],
        load_torque_nm=run.load.torque_nm(time_s) + braking,
        rotor_loss_w=rows[:, 5],
        energy_j=rows[:, 6],
        step_error=step_error,
        stepper=stepper,
    )
