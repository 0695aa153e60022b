"""What stands between a stiff source and the motor, put round the stepper of a run.

An attachment is itself a stepper: it may change the voltages that the machine gets, it sees what
the machine does, and after the run it says what was at the terminals. A run also makes trial steps
(to estimate its error) on copies of its state; they leave no trace here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, Protocol, TypeVar

import numpy as np

from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.course import Trajectory, phases
from cagewise.simulation.engine import POWER_INVARIANT
from cagewise.simulation.model import CoupledModel
from cagewise.simulation.stepping import N_OBSERVED, Advance
from cagewise.simulation.supply import SourceImpedance

Memory = TypeVar("Memory")

_PROBE_S = 1e-6
"""Step of the slope of the current: short against every time constant of a machine, long enough
for differences far above rounding."""


class Attachment(Protocol):
    """A stepper that knows afterwards what was at the motor's terminals."""

    def __call__(
        self,
        model: CoupledModel,
        drive: RealArray,
        step_s: float,
        state: RealArray,
        out: RealArray,
    ) -> None:
        """Advance ``state``; see :class:`cagewise.simulation.stepping.Advance`."""

    def at_terminals(self, path: Trajectory) -> Trajectory:
        """Return the course with the voltages at the terminals."""


@dataclass(frozen=True, slots=True)
class _Link(Generic[Memory]):
    start: RealArray
    end: RealArray
    before: Memory | None
    """What the attachment remembered when the call began."""
    seen: ComplexArray


class Chain(Generic[Memory]):
    """The calls that led from one state to the next; trials from the same state drop out.

    A call that begins where an earlier one began, and not where the last one ended, takes back
    everything since.
    """

    def __init__(self) -> None:
        self._links: list[_Link[Memory]] = []

    def resume(self, state: RealArray, memory: Memory | None) -> Memory | None:
        """Return what is to be remembered in a call that begins at ``state``."""
        if self._links and np.array_equal(self._links[-1].end, state):
            return memory
        for k in range(len(self._links) - 1, -1, -1):
            if np.array_equal(self._links[k].start, state):
                before = self._links[k].before
                del self._links[k:]
                return before
        return memory

    def add(
        self, start: RealArray, end: RealArray, before: Memory | None, seen: ComplexArray
    ) -> None:
        """Note a call: where it began and ended, what was remembered before, what it saw."""
        self._links.append(_Link(start, end.copy(), before, seen))

    def last(self, n: int) -> ComplexArray:
        """Return what was seen at the last ``n`` samples, along the last axis; zero before all."""
        seen = np.concatenate([link.seen for link in self._links], axis=-1)[..., -n:]
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
        self._chain.resume(state, None)
        start = state.copy()
        every = (drive.shape[0] - 1) // 2 // out.shape[0]
        slopes = np.empty(out.shape[0], dtype=np.complex128)
        for row in range(out.shape[0]):
            part = drive[2 * every * row : 2 * every * (row + 1) + 1]
            slopes[row] = self._slope(model, part[0], state)
            self._inner(model, part, step_s, state, out[row : row + 1])
        self._chain.add(start, state, None, slopes)

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
