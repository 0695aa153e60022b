"""What stands between a stiff source and the motor, put round the stepper of a run.

An attachment is itself a stepper: it may change the voltages that the machine gets, it sees what
the machine does, and after the run it says what was at the terminals. A run also makes trial steps
(to estimate its error) on copies of its state; they leave no trace here.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from typing import Generic, Protocol, TypeVar

import numpy as np

from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.plant.supply import SourceImpedance
from cagewise.simulation.runs.course import Trajectory, phases
from cagewise.simulation.stepping.engine import POWER_INVARIANT
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, Advance

Memory = TypeVar("Memory")

_PROBE_S = 1e-6
"""Step of the slope of the current: short against every time constant of a machine, long enough
for differences far above rounding."""


class Attachment(Advance, Protocol):
    """A stepper that knows afterwards what was at the motor's terminals."""

    def at_terminals(self, path: Trajectory) -> Trajectory:
        """Return the course with the voltages at the terminals."""


@dataclass(frozen=True, slots=True)
class Link(Generic[Memory]):
    """One call: where it began and ended, what was remembered before and after, what it saw."""

    start: RealArray
    end: RealArray
    before: Memory | None
    after: Memory | None
    seen: ComplexArray


@dataclass(frozen=True, slots=True)
class Log(Generic[Memory]):
    """The calls that advanced one and the same array."""

    state: RealArray
    links: list[Link[Memory]]


class Chain(Generic[Memory]):
    """The calls of a run, kept apart from trials.

    A run advances one array throughout; a trial advances a copy, made where some call of the run
    began or ended, and takes up what was remembered there.
    """

    def __init__(self) -> None:
        self._logs: list[Log[Memory]] = []

    def resume(self, state: RealArray) -> Memory | None:
        """Return a copy of what is to be remembered in a call that begins at ``state``."""
        for log in self._logs:
            if log.state is state:
                return copy(log.links[-1].after)
        for log in self._logs:
            for link in reversed(log.links):
                if np.array_equal(link.end, state):
                    return copy(link.after)
                if np.array_equal(link.start, state):
                    return copy(link.before)
        return None

    def add(self, state: RealArray, link: Link[Memory]) -> None:
        """Note a call that advanced ``state``."""
        for log in self._logs:
            if log.state is state:
                log.links.append(link)
                return
        self._logs.append(Log(state, [link]))

    def last(self, n: int) -> ComplexArray:
        """Return what the run saw at its last ``n`` samples, on the last axis; zero before all."""
        runs = [np.concatenate([x.seen for x in log.links], axis=-1) for log in self._logs]
        seen = max(runs, key=lambda run: run.shape[-1])[..., -n:]
        missing = n - seen.shape[-1]
        return np.pad(seen, [(0, 0)] * (seen.ndim - 1) + [(missing, 0)])


class WeakGrid:
    """The voltage behind a source impedance that the equations hold in series with the stator."""

    def __init__(self, inner: Advance, source: SourceImpedance) -> None:
        self._inner, self._source = inner, source
        self._chain: Chain[None] = Chain()

    def __call__(
        self,
        model: CoupledModel,
        drive: RealArray,
        step_s: float,
        state: RealArray,
        out: RealArray,
    ) -> None:
        """Advance sample by sample and note the slope of the current at each."""
        start = state.copy()
        every = (drive.shape[0] - 1) // 2 // out.shape[0]
        slopes = np.empty(out.shape[0], dtype=np.complex128)
        for row in range(out.shape[0]):
            part = drive[2 * every * row : 2 * every * (row + 1) + 1]
            slopes[row] = self._slope(model, part[0], state)
            self._inner(model, part, step_s, state, out[row : row + 1])
        self._chain.add(state, Link(start, state.copy(), None, None, slopes))

    def _slope(self, model: CoupledModel, now: RealArray, state: RealArray) -> complex:
        """Return di/dt from three currents at very short steps, the voltage held."""
        rows = np.empty((3, N_OBSERVED))
        self._inner(model, np.tile(now, (7, 1)), _PROBE_S, state.copy(), rows)
        difference = (-3.0 * rows[0] + 4.0 * rows[1] - rows[2]) / (2.0 * _PROBE_S)
        return complex(difference[0], difference[1]) / POWER_INVARIANT

    def at_terminals(self, path: Trajectory) -> Trajectory:
        """Return the course with ``v - R i - L di/dt`` as voltages."""
        slopes = phases(self._chain.last(path.time_s.size))
        drop = self._source.resistance_ohm * path.currents_a + self._source.inductance_h * slopes
        return replace(path, voltages_v=path.voltages_v - drop)
