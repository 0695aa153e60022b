"""What open bars do to the length of a start and to its initial current, on this motor.

Quasi-steady: at every slip the motor gives the torque of its circuit, the cage at standstill values
near rest. The harmonic solution at fixed slips says by which factor open bars lower torque and
current there; ``t = J w_s int ds / (T - T_load)`` then needs no inertia for a ratio of two times.
Derivation: docs/theory/start.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from cagewise.conditioning.start_fall import AT_SPEED
from cagewise.machine.cage.balance import OperatingCondition
from cagewise.machine.cage.clocks import QUICK
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.expectation import COUNTS, bars_of_response
from cagewise.machine.cage.plausible import plausible_cages
from cagewise.machine.cage.solution import SUPPLY, solve_cage
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.machine.run_up import StandstillCage, standstill_cage
from cagewise.quantities import NotKnown, RealArray

N_DRAWS = 60
"""Draws of circuit, cage and load; the spread of the start itself is drawn more finely."""
SOLVED_SLIPS = (1.0, 0.8, 0.65, 0.55, 0.5, 0.45, 0.4, 0.3, 0.2, 0.1, 0.03)
"""Slips at which the damaged cage is solved: close together about a half, where open bars dig a
saddle into the torque."""
N_SLIPS = 160
"""Slips of the integral, evenly in their logarithm; twice as many move no ratio by 0.1 %."""
LOWEST_PART = 0.02
"""Lowest slip of the integral over the rated slip: next to no load."""
CONSTANT_PART = (0.0, 0.5)
"""Range of the part of the load torque that does not change with speed; the rest goes with its
square, as of pumps and fans (judgement)."""
LOAD_SPREAD = 0.15
"""Standard deviation of the load found from the running current (1 of rated); judgement."""
UNKNOWN_LOAD = (0.1, 0.9)
"""Range of the load where the running current is not known (1 of rated); judgement."""
STEP = 0.03
"""Relative step of voltage and resistance for their exponents."""
FEWEST_STARTING = 0.2
"""Part of the draws that must start for anything to be said."""
_SEED = 31


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedStart:
    """What open bars, voltage and temperature do to a start; arrays over n_draws motors."""

    time_ratio: RealArray
    """Time to speed with 1, 2, 3, 4 adjacent open bars over that of the sound cage, shape
    (len(COUNTS), n_draws)."""
    current_ratio: RealArray
    """The same of the initial current; below 1."""
    initial_current_a: RealArray
    """Rms, of the sound cage at rated voltage, shape (n_draws,)."""
    time_per_voltage: RealArray
    """Exponent of the voltage in the time to speed: -2 without load, shape (n_draws,)."""
    time_per_resistance: RealArray
    """Exponent of both resistances in the time to speed, shape (n_draws,)."""
    current_per_resistance: RealArray
    """The same in the initial current."""

    def time_bars(self, ratio: RealArray) -> RealArray:
        """Return open bars that lengthen a start by these ratios, (n_draws,) or broadcast to it."""
        return _bars(np.log(self.time_ratio), np.log(ratio))

    def current_bars(self, ratio: RealArray) -> RealArray:
        """Return open bars that lower the initial current to these ratios."""
        return _bars(-np.log(self.current_ratio), -np.log(ratio))


def expect_start(
    motor: Motor,
    circuit: EquivalentCircuit,
    *,
    running_current_rms_a: float | None = None,
    standstill: StandstillCage | None = None,
) -> ExpectedStart | NotKnown:
    """Return what open bars would do to the starts of this motor.

    Parameters
    ----------
    motor, circuit
        The motor, and one circuit or an ensemble.
    running_current_rms_a
        Line current after the start: tells the load.
    standstill
        How the circuit changes towards rest; drawn to fit nameplate and code letter if left out.
    """
    draws = _thinned(circuit)
    rng = np.random.default_rng(_SEED)
    cage = standstill or standstill_cage(motor.nameplate, draws, rng)
    load = _load_nm(motor, draws, running_current_rms_a, rng)
    drive = _Drive(motor, cage, load, _slip_grid(motor))
    torque_ratio, current_ratio = _damaged_ratios(motor, draws, cage)
    nothing = np.ones((len(SOLVED_SLIPS), N_DRAWS))
    sound = drive.time(draws, nothing, nothing)
    starts = np.isfinite(sound)
    if np.count_nonzero(starts) < FEWEST_STARTING * N_DRAWS:
        return NotKnown("the model of this motor does not bring its load up to speed")
    times = np.stack(
        [drive.time(draws, t, i) for t, i in zip(torque_ratio, current_ratio, strict=True)]
    )
    warm = _with_resistances(draws, 1.0 + STEP)
    per_voltage = np.log(
        replace(drive, voltage_pu=1.0 + STEP).time(draws, nothing, nothing) / sound
    )
    per_resistance = np.log(drive.time(warm, nothing, nothing) / sound)
    current, warm_current = drive.initial_current_a(draws), drive.initial_current_a(warm)
    unit = math.log1p(STEP)
    # a draw that four open bars keep from starting has an unbounded ratio: the largest known stands
    longest = np.nanmax(np.where(np.isfinite(times), times / sound, np.nan), initial=1.0)
    ratios = np.where(np.isfinite(times), times / sound, longest)
    return ExpectedStart(
        time_ratio=np.maximum.accumulate(ratios[:, starts], axis=0),
        current_ratio=current_ratio[:, 0, starts],
        initial_current_a=current[starts],
        time_per_voltage=per_voltage[starts] / unit,
        time_per_resistance=per_resistance[starts] / unit,
        current_per_resistance=np.log(warm_current / current)[starts] / unit,
    )


@dataclass(frozen=True, slots=True)
class _Drive:
    """Motor and load over the slips of a start, from rest on."""

    motor: Motor
    cage: StandstillCage
    load_nm: tuple[RealArray, RealArray]
    """Constant part, and part that goes with the square of the speed (at synchronous speed)."""
    slips: RealArray
    voltage_pu: float = 1.0

    @property
    def _omega(self) -> float:
        return 2.0 * math.pi * self.motor.nameplate.rated_frequency_hz

    def _state(self, circuit: EquivalentCircuit, slip: float) -> tuple[RealArray, RealArray]:
        """Return torque in N m and stator current in A rms of the sound cage."""
        voltage = self.voltage_pu * self.motor.nameplate.rated_phase_voltage_peak_v
        state = self.cage.at(circuit, slip).at(slip, self._omega)
        torque = state.electromagnetic_torque(voltage, self.motor.nameplate.pole_pairs)
        return torque, np.abs(state.stator_current(voltage)) / math.sqrt(2.0)

    def initial_current_a(self, circuit: EquivalentCircuit) -> RealArray:
        """Return the rms current at rest."""
        return self._state(circuit, 1.0)[1]

    def time(
        self, circuit: EquivalentCircuit, torque_ratio: RealArray, current_ratio: RealArray
    ) -> RealArray:
        """Return the time to speed over ``J w_s``, shape (n_draws,); NaN where the motor sticks.

        The ratios of the damaged to the sound cage have the shape (len(SOLVED_SLIPS), n_draws).
        """
        states = [self._state(circuit, float(slip)) for slip in self.slips]
        torque = np.stack([t for t, _ in states]) * _between(self.slips, torque_ratio)
        current = np.stack([i for _, i in states]) * _between(self.slips, current_ratio)
        constant, square = self.load_nm
        speed = (1.0 - self.slips)[:, np.newaxis]
        surplus = torque - constant - square * speed**2
        times = [
            _time_to_speed(self.slips, surplus[:, k], current[:, k])
            for k in range(surplus.shape[1])
        ]
        return np.array(times)


def _time_to_speed(slips: RealArray, surplus: RealArray, current: RealArray) -> float:
    """Return ``int ds / surplus`` until a tenth of the fall of the current is left, or NaN."""
    stuck = np.flatnonzero(surplus <= 0.0)
    running = int(stuck[0]) if stuck.size else slips.size - 1
    threshold = current[running] + AT_SPEED * (current[0] - current[running])
    below = np.flatnonzero(current[: running + 1] < threshold)
    if running < 2 or not below.size or current[running] > 0.5 * current[0]:
        return math.nan
    last = int(below[0])
    part = (current[last - 1] - threshold) / (current[last - 1] - current[last])
    inverse = 1.0 / np.maximum(surplus[: last + 1], 1e-12 * surplus[0])
    steps = 0.5 * (inverse[1:] + inverse[:-1]) * -np.diff(slips[: last + 1])
    return float(steps[:-1].sum() + part * steps[-1])


def _damaged_ratios(
    motor: Motor, circuit: EquivalentCircuit, cage: StandstillCage
) -> tuple[RealArray, RealArray]:
    """Return torque and current of 1, 2, 3, 4 adjacent open bars over those of the sound cage.

    Shape (len(COUNTS), len(SOLVED_SLIPS), n_draws).
    """
    damages = [Damage(), *(Damage.adjacent_open(count) for count in COUNTS)]
    torque = np.empty((len(damages), len(SOLVED_SLIPS), N_DRAWS))
    current = np.empty_like(torque)
    for row, slip in enumerate(SOLVED_SLIPS):
        condition = OperatingCondition(
            slip=np.asarray(slip),
            frequency_rad_s=2.0 * math.pi * motor.nameplate.rated_frequency_hz,
            voltage_v=motor.nameplate.rated_phase_voltage_peak_v,
            inertia_kg_m2=np.asarray(np.inf),
        )
        for group in plausible_cages(motor, cage.at(circuit, slip)):
            for number, damage in enumerate(damages):
                solution = solve_cage(group.model, damage, condition, QUICK)
                torque[number, row, group.members] = solution.torque_nm
                current[number, row, group.members] = np.abs(solution.stator[SUPPLY])
    return torque[1:] / torque[0], current[1:] / current[0]


def _between(slips: RealArray, ratio: RealArray) -> RealArray:
    """Return ratios at all slips, straight lines between the solved ones."""
    known = np.array(SOLVED_SLIPS)[::-1]
    columns = [np.interp(slips, known, ratio[::-1, k]) for k in range(ratio.shape[1])]
    return np.stack(columns, axis=1)


def _slip_grid(motor: Motor) -> RealArray:
    """Return the slips of a start, from 1 down to next to no load."""
    return np.geomspace(1.0, LOWEST_PART * motor.nameplate.rated_slip, N_SLIPS)


def _load_nm(
    motor: Motor,
    circuit: EquivalentCircuit,
    running_current_rms_a: float | None,
    rng: np.random.Generator,
) -> tuple[RealArray, RealArray]:
    """Draw the load: its constant and its square part at full speed."""
    plate = motor.nameplate
    share = rng.uniform(*UNKNOWN_LOAD, N_DRAWS)
    scatter, constant = rng.standard_normal(N_DRAWS), rng.uniform(*CONSTANT_PART, N_DRAWS)
    if running_current_rms_a is not None:
        idle = plate.rated_phase_voltage_v / np.abs(
            circuit.stator_resistance_ohm
            + 2j * math.pi * plate.rated_frequency_hz * circuit.stator_inductance_h
        )
        # the active part of the current goes with the load, the magnetizing part stays
        active = np.maximum(running_current_rms_a**2 - idle**2, 0.0)
        rated = np.maximum(plate.rated_current_a**2 - idle**2, 0.1 * plate.rated_current_a**2)
        share = np.clip(np.sqrt(active / rated) + LOAD_SPREAD * scatter, 0.0, 1.2)
    torque = share * plate.rated_torque_nm
    return constant * torque, (1.0 - constant) * torque


def _thinned(circuit: EquivalentCircuit) -> EquivalentCircuit:
    """Return ``N_DRAWS`` of the given draws (one circuit is repeated)."""

    def pick(values: RealArray) -> RealArray:
        flat = np.atleast_1d(values)
        return np.asarray(flat[np.linspace(0, flat.size - 1, N_DRAWS).round().astype(int)])

    return EquivalentCircuit(**{f.name: pick(getattr(circuit, f.name)) for f in fields(circuit)})


def _with_resistances(circuit: EquivalentCircuit, factor: float) -> EquivalentCircuit:
    """Return a circuit that is warmer by this factor of both resistances."""
    return replace(
        circuit,
        stator_resistance_ohm=factor * circuit.stator_resistance_ohm,
        rotor_resistance_ohm=factor * circuit.rotor_resistance_ohm,
    )


def _bars(response: RealArray, reading: RealArray) -> RealArray:
    """Return where responses to COUNTS, (counts, draws), meet readings; nothing below zero."""
    reading = np.maximum(np.broadcast_to(reading, (response.shape[1],)), 0.0)
    return bars_of_response(response, reading)
