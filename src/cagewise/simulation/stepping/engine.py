"""The machine on its way through time: block after block of steps, watched and checked."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from cagewise.errors import InputError, SimulationError
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.plant.load import FRICTION_SPEED_RAD_S, LoadRun
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, Advance

LOWEST_STEP_RATE_HZ = 20e3
"""Steps are at least this frequent; the error of a run is estimated, not assumed."""

LARGEST_STEP_ERROR = 1e-5
"""Largest error of the stator current per cycle of supply, relative to its rms (-100 dB)."""

LARGEST_TORSION_STEP_RAD = 0.15
"""Largest phase of the torsional oscillation per step. Fourth order errs by its fourth power over
120 per radian: 2.6e-5 of the oscillation per cycle."""

LARGEST_FRICTION_STEP = 1.0
"""Largest step over the time in which friction stops the mass it acts on; fourth-order steps become
unstable at 2.8."""

_BLOCK_SAMPLES = 4096
"""Samples computed at a time: bounds the memory for supply and load."""

POWER_INVARIANT = math.sqrt(1.5)
"""Power-invariant over amplitude-invariant space vector."""


class VoltageSource(Protocol):
    """What the engine asks of a supply."""

    def phase_rad(self, time_s: RealArray) -> RealArray:
        """Return the phase of the positive-sequence fundamental of v_a."""

    def space_vector_v(self, time_s: RealArray) -> ComplexArray:
        """Return the voltage space vector (peak, amplitude-invariant)."""


class Watch(Protocol):
    """Looks at every block and raises if the run makes no sense any more."""

    def __call__(self, out: RealArray, time_s: float) -> None:
        """Judge the rows ``out``, the first of which is at ``time_s``."""


@dataclass(frozen=True, slots=True)
class Steps:
    """Sampling and stepping of a run; time zero is the first sample inside the guard."""

    n_samples: int
    """Samples with the guards."""
    sampling_rate_hz: float
    steps_per_sample: int
    lead_samples: int
    """Samples computed before the first guard."""

    @classmethod
    def of(cls, duration_s: float, sampling_rate_hz: float, lead_s: float) -> Steps:
        """Return the plan, or say what is impossible."""
        possible = math.isfinite(duration_s * sampling_rate_hz) and sampling_rate_hz > 0.0
        n_samples = round(duration_s * sampling_rate_hz) if possible else 0
        if n_samples < 2 or not 0.0 <= lead_s < math.inf:
            raise InputError(
                f"cannot record {duration_s} s at {sampling_rate_hz} Hz after {lead_s} s",
                where="simulation",
                remedy="Ask for at least two samples and no negative settling time.",
            )
        return cls(
            n_samples=n_samples + 2 * GUARD_SAMPLES,
            sampling_rate_hz=sampling_rate_hz,
            steps_per_sample=max(1, math.ceil(LOWEST_STEP_RATE_HZ / sampling_rate_hz)),
            lead_samples=round(lead_s * sampling_rate_hz),
        )

    @property
    def step_s(self) -> float:
        """Step of the integration."""
        return 1.0 / (self.sampling_rate_hz * self.steps_per_sample)

    @property
    def first_sample(self) -> int:
        """Index of the first sample that is computed; the first recorded one has index 0."""
        return -(self.lead_samples + GUARD_SAMPLES)

    @property
    def start_s(self) -> float:
        """Time of the first sample that is computed."""
        return self.first_sample / self.sampling_rate_hz

    @property
    def span_s(self) -> float:
        """From the first computed to the last sample."""
        return (self.lead_samples + self.n_samples) / self.sampling_rate_hz

    @property
    def time_s(self) -> RealArray:
        """Times of the samples with the guards, shape (n_samples,)."""
        return np.asarray((np.arange(self.n_samples) - GUARD_SAMPLES) / self.sampling_rate_hz)


class Engine:
    """State of a run in progress."""

    def __init__(
        self,
        steps: Steps,
        supply: VoltageSource,
        load: LoadRun,
        advance: Advance,
        watch: Watch,
    ) -> None:
        self.steps, self.supply, self.load = steps, supply, load
        self.state: RealArray = np.zeros(0)
        self.sample = steps.first_sample
        self._advance, self._watch = advance, watch

    @property
    def now_s(self) -> float:
        """Time of the next sample."""
        return self.sample / self.steps.sampling_rate_hz

    def blocks(self, model: CoupledModel, n_samples: int) -> Iterator[RealArray]:
        """Advance by ``n_samples`` and yield rows of observations, shape (n_block, N_OBSERVED)."""
        while n_samples > 0:
            n = min(n_samples, _BLOCK_SAMPLES)
            out = np.empty((n, N_OBSERVED))
            drive = self._drive(n * self.steps.steps_per_sample, self.steps.step_s)
            self._advance(model, drive, self.steps.step_s, self.state, out)
            self._watch(out, self.now_s)
            self.sample += n
            n_samples -= n
            yield out

    def pass_over(self, model: CoupledModel, n_samples: int) -> None:
        """Advance by ``n_samples`` unrecorded."""
        for _ in self.blocks(model, n_samples):
            pass

    def _drive(self, n_steps: int, step_s: float, sample: int | None = None) -> RealArray:
        """Return voltages and load torque at every half step from ``sample`` (now) on."""
        sample = self.sample if sample is None else sample
        now_s = sample / self.steps.sampling_rate_hz
        time_s = np.asarray(now_s + 0.5 * step_s * np.arange(2 * n_steps + 1))
        voltage = POWER_INVARIANT * self.supply.space_vector_v(time_s)
        return np.column_stack((voltage.real, voltage.imag, self.load.torque_nm(time_s)))

    def mark(self) -> tuple[RealArray, int]:
        """Return a copy of the present state and its sample, for :meth:`step_error`."""
        return self.state.copy(), self.sample

    def step_error(
        self, model: CoupledModel, frequency_hz: float, mark: tuple[RealArray, int]
    ) -> float:
        """Compare one supply cycle with whole and with half steps, from the marked state on.

        Raises
        ------
        SimulationError
            If the error is above :data:`LARGEST_STEP_ERROR`, or a torsional oscillation or the
            stop by friction is faster than the steps can follow.
        """
        step_s = self.steps.step_s
        _check_torsion(model, step_s)
        _check_friction(model, step_s)
        n = math.ceil(1.0 / (frequency_hz * step_s))
        ends = []
        for halving in (1, 2):
            state = mark[0].copy()
            out = np.empty((n, N_OBSERVED))
            drive = self._drive(n * halving, step_s / halving, mark[1])
            self._advance(model, drive, step_s / halving, state, out)
            ends.append(out[:, :2])
        # a diverging run may leave the range of numbers: then the comparison below fails
        with np.errstate(all="ignore"):
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


def _check_torsion(model: CoupledModel, step_s: float) -> None:
    """Raise if the shaft oscillates too fast for the steps."""
    if not model.load_inertia_kg_m2:
        return
    both = 1.0 / model.inertia_kg_m2 + 1.0 / model.load_inertia_kg_m2
    natural_rad_s = math.sqrt(model.stiffness_nm_per_rad * both)
    damping_per_s = model.damping_nm_s * both
    if step_s * max(natural_rad_s, damping_per_s) > LARGEST_TORSION_STEP_RAD:
        raise SimulationError(
            f"steps of {1e6 * step_s:.0f} us are too coarse for a shaft that oscillates at "
            f"{natural_rad_s / (2.0 * math.pi):.0f} Hz",
            where="simulation",
            remedy="Record at a higher sampling rate or take the shaft as rigid.",
        )


def _check_friction(model: CoupledModel, step_s: float) -> None:
    """Raise if friction stops its mass too fast for the steps."""
    inertia = model.load_inertia_kg_m2 or model.inertia_kg_m2
    if step_s * model.friction_nm / (FRICTION_SPEED_RAD_S * inertia) > LARGEST_FRICTION_STEP:
        raise SimulationError(
            f"steps of {1e6 * step_s:.0f} us are too coarse for a friction of "
            f"{model.friction_nm:.3g} N m on {inertia:.3g} kg m^2",
            where="simulation",
            remedy="Record at a higher sampling rate, or lower the friction.",
        )
