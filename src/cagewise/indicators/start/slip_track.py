"""The slip of a motor during a direct start, from its own voltages and currents.

The air-gap torque less the load torque, integrated, gives the course of the speed; that it begins
at rest and ends at the running slip gives the inertia. The admittance during the start then says
which circuit and which load the motor has. With currents only the supply is taken as stiff.
Derivation, what it is worth and what it was compared with: docs/theory/start-track.md.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cagewise.indicators.start.track_circuit import StartCircuit
from cagewise.indicators.start.track_signals import StartSignals
from cagewise.indicators.start.track_trapped import braking_torque
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import COVERAGE, ComplexArray, NotKnown, RealArray

N_DRAWS = 200
"""Draws kept: five lie beyond each end of a 95 % interval."""
SEED = 41
"""The same record gives the same intervals."""
PRIOR_DRAWS = 300
"""Draws of what is believed before the start: their spread, and where the search may begin."""
BEGINNINGS = 3
"""The best of them from which the search descends: torque that is a small difference of power and
loss has more than one valley."""
DESCENTS = 20
"""Most steps of a descent; five to ten are usual."""
BRAKED = 2
"""Times that the torque of the trapped flux is taken from the best fit and the fit improved."""
SETTLED = 1e-3
"""Relative gain below which a descent ends."""
STEP = 1e-3
"""Step of the numerical slopes, in deviations."""
SMALLEST_DEVIATION = 1e-3
"""Least deviation of any logarithm: a circuit given exactly may still be moved by a tenth of a per
cent."""
POINTS = 24
"""Points of the start at which measured and predicted admittance are compared."""
ADMITTANCE_ERROR = 0.03
"""Standard deviation of each comparison (1, and rad): what a circuit of five parameters leaves of a
real motor. Neighbours err together; 24 of them at 4 % are worth six at 2 %."""
STIFFNESS_ERROR = 0.08
"""The same where the supply is taken as stiff: dips of some per cent go unseen."""
LEAST_ERROR = 0.4
"""Least part of these deviations that is believed where the best fit leaves less: the rest may hide
in the nine unknowns."""
SUPPLY_TOLERANCE = 0.05
"""Relative standard deviation of a voltage that was not measured: half of the 10 % range of NEMA MG
1-12.44."""
END_PART = 0.25
"""The speed is taken as settled after this part of the start more: the current has fallen a little
before the speed stands."""
FIRST_CYCLES = 4.0
"""Supply cycles after switching on that are not compared: offsets."""
INFLATION = 1.5
"""Widening of the spread about the best fit: slopes at one place are not the whole valley, and a
real motor is not of this family. With it the simulated starts lie inside."""
_REFINEMENTS = 6
"""Passes of speed and speed-dependent load: each leaves a tenth."""
_BISECTIONS = 24
_HIGHEST_RUNNING_SLIP = 0.2
_SLIP_SPAN = (0.12, 0.97)


@dataclass(frozen=True, kw_only=True)
class SlipTrack:
    """Course of the slip as draws that agree with the record."""

    time_s: RealArray
    """From switching on, shape (n,)."""
    draws: RealArray
    """Slip, shape (n, n_draws)."""
    circuit: StartCircuit
    """Circuits that belong to the draws."""
    misfit: float
    """Root-mean-square of measured against predicted logarithm of the admittance."""
    strain: float
    """How far the motor had to be bent for it: distance from what was believed, in deviations."""

    @property
    def median(self) -> RealArray:
        """Median course, shape (n,)."""
        return np.asarray(np.median(self.draws, axis=1))

    def interval(self) -> tuple[RealArray, RealArray]:
        """Return the ends of the 95 % interval, each (n,)."""
        tail = (1.0 - COVERAGE) / 2.0
        low, high = np.quantile(self.draws, [tail, 1.0 - tail], axis=1)
        return np.asarray(low), np.asarray(high)


def track_slip(
    signals: StartSignals, motor: Motor, circuit: EquivalentCircuit
) -> SlipTrack | NotKnown:
    """Return the course of the slip, or why there is none."""
    problem = _Problem.of(signals, motor)
    belief = _Belief.of(StartCircuit.drawn(circuit, PRIOR_DRAWS, SEED))
    best = _best(problem, belief)
    if best is None:
        return NotKnown("the torque of the start does not bring this motor to its speed")
    problem = problem.as_well_as(problem.misfit(belief.states(best[:, np.newaxis])))
    for _ in range(BRAKED):
        problem = problem.braked_as(belief.states(best[:, np.newaxis]))
        best, _ = _descended(problem, belief, best)
    scores = _drawn(problem, belief, best)
    if scores is None:
        return NotKnown("the start leaves the slip open: nothing in it depends on the motor")
    state = belief.states(scores)
    slip = problem.course(state)[0]
    good = np.all(np.isfinite(slip), axis=0)
    middle = belief.states(best[:, np.newaxis])
    return SlipTrack(
        time_s=signals.slow_time_s,
        draws=slip[:, good],
        circuit=StartCircuit(state.state[:, good]),
        misfit=problem.misfit(middle),
        strain=float(np.linalg.norm(best)),
    )


@dataclass(frozen=True)
class _Belief:
    """What is believed of the unknowns before the start: normal in logarithms and scores."""

    mean: RealArray
    root: RealArray
    """Lower triangular: unknowns = mean + root z, z standard normal."""

    @classmethod
    def of(cls, drawn: StartCircuit) -> _Belief:
        covariance = np.cov(drawn.state)
        size = covariance.shape[0]
        ridge = SMALLEST_DEVIATION**2 * np.eye(size)
        root = np.asarray(np.linalg.cholesky(covariance + ridge), dtype=np.float64)
        return cls(np.asarray(drawn.state.mean(axis=1)), root)

    def states(self, z: RealArray) -> StartCircuit:
        """Return the unknowns at scores z, (9, n)."""
        return StartCircuit(self.mean[:, np.newaxis] + self.root @ z)


def _best(problem: _Problem, belief: _Belief) -> RealArray | None:
    """Return the most probable scores, (9,); None where no course fits at all."""
    z = np.random.default_rng(SEED + 1).standard_normal((belief.mean.size, PRIOR_DRAWS))
    z[:, 0] = 0.0
    cost = problem.cost(belief, z)
    order = [k for k in np.argsort(cost)[:BEGINNINGS] if np.isfinite(cost[k])]
    found = [_descended(problem, belief, z[:, k]) for k in order]
    return min(found, key=lambda pair: pair[1])[0] if found else None


def _descended(problem: _Problem, belief: _Belief, z: RealArray) -> tuple[RealArray, float]:
    """Return the end of Levenberg's and Marquardt's descent from scores z, and its cost."""
    damping, cost = 1e-2, float(problem.cost(belief, z[:, np.newaxis])[0])
    for _ in range(DESCENTS):
        residual, slope = problem.slope(belief, z)
        curvature = slope.T @ slope + np.eye(z.size)
        descent = slope.T @ residual + z
        step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), descent)
        tried = z - step
        new = float(problem.cost(belief, tried[:, np.newaxis])[0])
        if not new < cost:
            damping *= 8.0
            continue
        z, damping, gained, cost = tried, damping * 0.2, cost - new, new
        if gained < SETTLED * cost:
            break
    return z, cost


def _drawn(problem: _Problem, belief: _Belief, best: RealArray) -> RealArray | None:
    """Return draws about the most probable scores, (9, n_draws): normal, from the slopes there."""
    slope = problem.slope(belief, best)[1]
    if not np.all(np.isfinite(slope)):
        return None
    inverse = np.linalg.inv(slope.T @ slope + np.eye(best.size))
    noise = np.random.default_rng(SEED + 2).standard_normal((best.size, N_DRAWS))
    return np.asarray(best[:, np.newaxis] + INFLATION * np.linalg.cholesky(inverse) @ noise)


@dataclass(frozen=True, kw_only=True)
class _Problem:
    """What is measured of a start and what it says of draws."""

    signals: StartSignals
    pole_pairs: int
    rated_voltage_v: float
    """Phase to neutral, peak."""
    end: int
    """Point of the slow grid from which on the speed stands."""
    error: float
    """Standard deviation of a comparison of admittances."""
    braking_nm: RealArray
    """Torque of the trapped flux, (n, 1): that of the best state so far, for all."""

    @classmethod
    def of(cls, signals: StartSignals, motor: Motor) -> _Problem:
        last = signals.current_envelope.size - 1
        end = round((1.0 + END_PART) * signals.settled_s / signals.step_s)
        rest = max(1, round((last - signals.first_running) * 0.3))
        return cls(
            signals=signals,
            pole_pairs=motor.nameplate.pole_pairs,
            rated_voltage_v=motor.nameplate.rated_phase_voltage_peak_v,
            end=min(end, last - rest),
            error=ADMITTANCE_ERROR if signals.voltage_envelope is not None else STIFFNESS_ERROR,
            braking_nm=np.zeros((last + 1, 1)),
        )

    def as_well_as(self, misfit: float) -> _Problem:
        """Return the problem with the error that the best fit leaves, twice over."""
        least = LEAST_ERROR * self.error
        return replace(self, error=min(max(2.0 * misfit, least), self.error))

    def braked_as(self, state: StartCircuit) -> _Problem:
        """Return the problem with the trapped flux of one state along its own course."""
        slip, admittance = self.course(state)
        current = float(np.abs(self.signals.current_envelope[0]))
        braking = braking_torque(
            state.at_slip(np.zeros(1)).median(),
            slip[:, 0],
            self.signals.step_s,
            current / float(np.abs(admittance[0, 0])),
            self.signals.angular_frequency,
        )
        return replace(self, braking_nm=self.pole_pairs * braking[:, np.newaxis])

    @property
    def running_current_a(self) -> complex:
        """Fundamental after the start."""
        return complex(np.mean(self.signals.current_envelope[self.end :]))

    def course(self, state: StartCircuit) -> tuple[RealArray, ComplexArray]:
        """Return slip (n, n_draws) and admittances measured or implied, (n, n_draws) or (n, 1)."""
        running = self.running_slip(state)
        voltage = self._voltage(state, running)
        current = self.signals.current_envelope[:, np.newaxis]
        power = 1.5 * (voltage * np.conj(current)).real
        loss = 1.5 * np.abs(current) ** 2 * state.stator_resistance_ohm
        torque = (power - loss) * self.pole_pairs / self.signals.angular_frequency
        load = np.mean(torque[self.end :], axis=0)
        gained = _integrated(torque, self.signals.step_s)
        return 1.0 - self._speed(gained, load, state, running), current / voltage

    def _speed(
        self, gained: RealArray, load_nm: RealArray, state: StartCircuit, running: RealArray
    ) -> RealArray:
        """Return speed over synchronous speed, (n, n_draws); the inertia follows from the ends."""
        share = state.falling_load_part
        gained = gained + _integrated(self.braking_nm, self.signals.step_s)
        speed = np.clip(np.arange(gained.shape[0]) / self.end, 0.0, 1.0)[:, np.newaxis]
        speed = speed * np.ones_like(gained)
        for _ in range(_REFINEMENTS):
            load = load_nm * (1.0 - share + share * speed**2)
            net = gained - _integrated(load, self.signals.step_s)
            with np.errstate(divide="ignore", invalid="ignore"):
                speed = np.clip(net / net[self.end] * (1.0 - running), -0.05, 1.1)
        speed[self.end :] = 1.0 - running
        return speed

    def _voltage(self, state: StartCircuit, running: RealArray) -> ComplexArray:
        """Return the measured voltage (n, 1), or the stiff one that the running current implies."""
        if self.signals.voltage_envelope is not None:
            return self.signals.voltage_envelope[:, np.newaxis]
        admittance = state.admittance(running, self.signals.angular_frequency)
        before = self.signals.slow_time_s[:, np.newaxis] - self.signals.step_s * self.end
        drift = np.exp(2j * np.pi * state.frequency_error_hz * before)
        return np.asarray(self.running_current_a / admittance * drift)

    def running_slip(self, state: StartCircuit) -> RealArray:
        """Return the slip after the start: from conductance, or from the size of the current."""
        measured = self.signals.voltage_envelope
        if measured is None:
            wanted = abs(self.running_current_a) / self.rated_voltage_v
        else:
            voltage = complex(np.mean(measured[self.end :]))
            wanted = float((self.running_current_a / voltage).real)
        low = np.zeros(state.n_draws)
        high = np.full(state.n_draws, _HIGHEST_RUNNING_SLIP)
        for _ in range(_BISECTIONS):
            middle = 0.5 * (low + high)
            admittance = state.admittance(middle, self.signals.angular_frequency)
            reached = np.abs(admittance) if measured is None else admittance.real
            high = np.where(reached > wanted, middle, high)
            low = np.where(reached > wanted, low, middle)
        return np.asarray(0.5 * (low + high))

    def cost(self, belief: _Belief, z: RealArray) -> RealArray:
        """Return minus twice the log-probability of scores (9, n), but for a constant; (n,)."""
        missing, spread = self._compared(belief.states(z))
        cost = np.sum((missing / spread[:, np.newaxis]) ** 2, axis=0) + np.sum(z**2, axis=0)
        return np.where(np.isfinite(cost), cost, np.inf)

    def slope(self, belief: _Belief, z: RealArray) -> tuple[RealArray, RealArray]:
        """Return what is missing at scores z in deviations, (n_data,), and its slopes."""
        steps = np.column_stack([z, z[:, np.newaxis] + STEP * np.eye(z.size)])
        missing, spread = self._compared(belief.states(steps), z_first=True)
        scaled = missing / spread[:, np.newaxis]
        return scaled[:, 0], (scaled[:, 1:] - scaled[:, :1]) / STEP

    def misfit(self, state: StartCircuit) -> float:
        """Return the root-mean-square of what is missing from the log-admittance of one state."""
        missing, _ = self._compared(state)
        return float(np.sqrt(np.mean(missing[: 2 * POINTS] ** 2)))

    def _compared(
        self, state: StartCircuit, *, z_first: bool = False
    ) -> tuple[RealArray, RealArray]:
        """Return measured less predicted log-admittance, (n_data, n), and its deviations (n_data,).

        Each state is compared where it has the wanted slips; with ``z_first`` all are where the
        first one has.
        """
        slip, admittance = self.course(state)
        at = self._points(slip[:, :1] if z_first else slip)
        column = np.arange(slip.shape[1])
        measured = np.broadcast_to(admittance, slip.shape)[at, column]
        predicted = state.admittance(slip[at, column], self.signals.angular_frequency)
        with np.errstate(divide="ignore", invalid="ignore"):
            missing = np.log(measured / predicted)
        parts = np.concatenate([missing.real, missing.imag])
        if self.signals.voltage_envelope is not None:
            return parts, np.full(parts.shape[0], self.error)
        implied = np.abs(self._voltage(state, self.running_slip(state))[:1])
        level = np.log(self.rated_voltage_v / implied)
        spread = np.append(np.full(parts.shape[0], self.error), SUPPLY_TOLERANCE)
        return np.vstack([parts, level]), spread

    def _points(self, slip: RealArray) -> NDArray[np.intp]:
        """Return points of the start that are evenly spaced in slip, (POINTS, n)."""
        frequency, step = self.signals.frequency_hz, self.signals.step_s
        first = min(round(FIRST_CYCLES / frequency / step), self.end - 1)
        falling = np.minimum.accumulate(np.nan_to_num(slip[first : self.end + 1]), axis=0)
        low = np.maximum(falling[-1], _SLIP_SPAN[0])
        high = np.minimum(falling[0], _SLIP_SPAN[1])
        wanted = np.linspace(high, low, POINTS)
        places = [np.searchsorted(-falling[:, k], -wanted[:, k]) for k in range(slip.shape[1])]
        return np.asarray(first + np.minimum(np.stack(places, axis=1), falling.shape[0] - 1))


def _integrated(values: RealArray, step_s: float) -> RealArray:
    """Return the integral from the first row on by trapezoids, same shape."""
    steps = 0.5 * step_s * (values[1:] + values[:-1])
    return np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(steps, axis=0)])
