"""What 0, 1, 2, 3 open bars would show on this motor, across load.

Everything comes from the motor's own cage solution, with the intervals of what is not known of the
motor; at every load the damaged motor carries what the sound one carries, at its own larger slip.
Detection limits hold for a stated record.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from cagewise.decision.limits import Limits, load_limits
from cagewise.decision.plan import (
    detection_factor,
    line_noise_density,
    sampling_rate_hz,
    slip_at_load,
)
from cagewise.machine.cage.ensemble import (
    LINES,
    SIDE_LINES,
    CageEnsemble,
    OperatingDraws,
    Response,
)
from cagewise.machine.cage.expectation import CageExpectation
from cagewise.machine.cage.patterns import ADJACENT, EVEN_CRACK, EVEN_CRACK_EXTRA
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    FIFTH_SIX,
    LOWER,
    SEVENTH_EIGHT,
    SEVENTH_SIX,
    UPPER,
    Line,
)
from cagewise.machine.circuit import EquivalentCircuit, OperatingState
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Motor
from cagewise.quantities import COVERAGE, Estimate, RealArray

LOADS = (0.10, 0.25, 0.50, 0.75, 1.00)
"""Loads, per unit of rated power."""
COUNTS = (0, 1, 2, 3)
"""Adjacent open bars."""
N_DRAWS = 120
"""Draws of the motor: three lie beyond each end of a 95 % interval."""
LOWEST_LEVEL_DBC = -160.0
"""Levels are cut here, far below any measuring chain."""
LINE_NAMES: Mapping[Line, str] = {
    LOWER: "(1-2s)f",
    UPPER: "(1+2s)f",
    FIFTH_FOUR: "(5-4s)f",
    FIFTH_SIX: "(5-6s)f",
    SEVENTH_SIX: "(7-6s)f",
    SEVENTH_EIGHT: "(7-8s)f",
}
"""Lines as they are written."""
_SEED = 31


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedRecord:
    """The record for which detection limits are computed; None: as the plan recommends."""

    duration_s: float | None = None
    noise_db: float | None = None
    """Rms noise of a current channel over the rms rated current."""
    bits: int | None = None
    sampling_rate_hz: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDamage:
    """What a number of adjacent open bars shows at one load."""

    open_bars: int
    """0: a sound cage whose bars differ as those of sound cages do."""
    slip: Estimate
    """Mean slip of the damaged motor at this load."""
    levels_dbc: Mapping[Line, Estimate]
    """Levels of the six lines over the fundamental current, dB."""
    n_hat: Estimate
    """n |d| / |I_r|: the direct component as a number of bars, before the table is inverted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectionLimits:
    """Smallest damage, in adjacent open bars, that a record shows 95 times in 100.

    Noise of sensors and converter, an ordinary load's swinging for what it reaches, and the natural
    unevenness of a sound cage; with the interval of what is not known of the motor.
    """

    record_s: float
    """Length of the record."""
    direct_bars: Estimate
    """By the direct component on a steady load: currents and voltages."""
    line_bars: Mapping[Line, Estimate]
    """By each line alone; side lines beside load noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPoint:
    """One load."""

    load_fraction: float
    pole_pass_frequency_hz: Estimate
    """2 s f of the sound motor."""
    damages: tuple[ExpectedDamage, ...]
    """For :data:`COUNTS`."""
    detection: DetectionLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """The answer to "what would open bars show on this motor?"."""

    motor: Motor
    record: StatedRecord
    points: tuple[ExpectedPoint, ...]
    """For :data:`LOADS`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedRow:
    """One line of the table that :func:`rows` builds."""

    load_fraction: float
    open_bars: int | None
    """None: the detection limit, in open bars."""
    quantity: str
    unit: str
    value: Estimate


def expect(
    motor: Motor, record: StatedRecord | None = None, limits: Limits | None = None
) -> Expectation:
    """Return what 0 to 3 adjacent open bars would show from 10 to 100 % load."""
    record, limits = record or StatedRecord(), limits or load_limits()
    circuit = circuit_ensemble(motor, N_DRAWS)
    points = tuple(_Point(motor, circuit, load, limits).expected(record) for load in LOADS)
    return Expectation(motor=motor, record=record, points=points)


def rows(expectation: Expectation) -> Iterator[ExpectedRow]:
    """Yield the expectation as a flat table: load, open bars, quantity, value with interval."""
    for point in expectation.points:
        for damage in point.damages:
            cells = [("slip", "1", damage.slip), ("n_hat", "bars", damage.n_hat)]
            cells += [(LINE_NAMES[line], "dBc", level) for line, level in damage.levels_dbc.items()]
            for quantity, unit, value in cells:
                yield ExpectedRow(
                    load_fraction=point.load_fraction,
                    open_bars=damage.open_bars,
                    quantity=quantity,
                    unit=unit,
                    value=value,
                )
        limits = point.detection
        for name, bars in (
            ("direct component", limits.direct_bars),
            *((LINE_NAMES[line], value) for line, value in limits.line_bars.items()),
        ):
            yield ExpectedRow(
                load_fraction=point.load_fraction,
                open_bars=None,
                quantity=name,
                unit="bars",
                value=bars,
            )


def sound_scatter(n_draws: int) -> RealArray:
    """Return draws of the length of many small phasors together, mean square 1 (Rayleigh)."""
    return np.sqrt(np.random.default_rng(_SEED).exponential(size=n_draws))


def uneven_response(
    crack: Response, rotor_bars: RealArray, natural_spread: float, scatter: RealArray | float
) -> Response:
    """Return what the natural unevenness of a sound cage shows.

    Bars of relative spread sigma add as phasors: an amplitude of sigma sqrt(n) times that of one
    bar's unit crack, Rayleigh distributed with mean square 1.

    Parameters
    ----------
    crack
        Response of the crack :data:`~cagewise.machine.cage.patterns.EVEN_CRACK`.
    rotor_bars
        Of the draws, shape (n_draws,).
    natural_spread
        Relative standard deviation of the resistances of sound bars.
    scatter
        As :func:`sound_scatter`, or one value of it.
    """
    factor = natural_spread * np.sqrt(rotor_bars) * scatter / EVEN_CRACK_EXTRA
    return replace(
        crack,
        direct_ratio=factor * crack.direct_ratio,
        lines={line: factor * crack.lines[line] for line in LINES},
    )


class _Point:
    """One load, solved for every draw of the motor."""

    def __init__(
        self, motor: Motor, circuit: EquivalentCircuit, load: float, limits: Limits
    ) -> None:
        plate = motor.nameplate
        self._motor, self._load, self._limits = motor, load, limits
        self._slip = slip_at_load(circuit, motor, load)
        point = OperatingDraws.of(
            motor,
            N_DRAWS,
            slip=self._slip,
            frequency_hz=plate.rated_frequency_hz,
            voltage_v=plate.rated_phase_voltage_peak_v,
        )
        self._state: OperatingState = circuit.at(
            self._slip, 2.0 * math.pi * plate.rated_frequency_hz
        )
        self._ensemble = CageEnsemble(motor, circuit, point)
        self._crack = self._ensemble.at_slip(EVEN_CRACK)

    def expected(self, record: StatedRecord) -> ExpectedPoint:
        """Return what damage shows here, and the least that a record shows."""
        ensemble = self._ensemble
        responses = tuple(ensemble.at_torque_of_sound_cage(p.damage_of) for p in ADJACENT)
        damaged = (
            self._damage(count, response)
            for count, response in enumerate(responses, start=1)
            if count in COUNTS
        )
        pole_pass = 2.0 * self._slip * self._motor.nameplate.rated_frequency_hz
        return ExpectedPoint(
            load_fraction=self._load,
            pole_pass_frequency_hz=Estimate.from_draws(pole_pass),
            damages=(self._sound(), *damaged),
            detection=self._detection(CageExpectation.of(responses), pole_pass, record),
        )

    def _damage(self, count: int, response: Response) -> ExpectedDamage:
        """Return one damage; draws that could not carry the load are left out."""
        carried = np.isfinite(response.slip)
        if not carried.any():
            carried = np.ones_like(carried)
        slip = np.where(np.isfinite(response.slip), response.slip, self._slip)
        return ExpectedDamage(
            open_bars=count,
            slip=Estimate.from_draws(slip[carried]),
            levels_dbc={line: level_estimate(response.lines[line][carried]) for line in LINES},
            n_hat=Estimate.from_draws((self._ensemble.rotor_bars * response.direct_ratio)[carried]),
        )

    def _uneven(self, scatter: RealArray | float) -> Response:
        """Return what the natural unevenness of a sound cage shows."""
        spread = self._limits.plan.natural_bar_spread
        return uneven_response(self._crack, self._ensemble.rotor_bars, spread, scatter)

    def _sound(self) -> ExpectedDamage:
        """Return what sound cages show."""
        return self._damage(0, self._uneven(sound_scatter(N_DRAWS)))

    def _detection(
        self, expectation: CageExpectation, pole_pass_hz: RealArray, record: StatedRecord
    ) -> DetectionLimits:
        """Return the detection limits of a record: noise and unevenness, as amplitudes, in bars."""
        plan, state = self._limits.plan, self._state
        recommended_s = plan.pole_pass_periods / float(np.median(pole_pass_hz))
        record_s = record.duration_s or max(plan.record_s_min, recommended_s)
        stator = state.stator_current(self._motor.nameplate.rated_phase_voltage_peak_v)
        k = detection_factor(self._limits.cage.false_alarm_probability) / math.sqrt(record_s)
        white = self._noise_density(record)
        swing = (np.abs(stator) * 10.0 ** (plan.load_noise_db / 20.0)) ** 2
        rho = np.abs(state.ripple_ratio(2.0 * state.slip * state.frequency_rad_s, stator))
        uneven = self._uneven(math.sqrt(-math.log(1.0 - COVERAGE)))
        direct = k * np.sqrt(white * (1.0 + rho**2)) / np.abs(state.rotor_current(stator))
        bars = {}
        for line in LINES:
            side = line in SIDE_LINES
            floor = k * np.sqrt(white + (swing if side else 0.0)) / np.abs(stator)
            inverse = expectation.side_line_bars if side else expectation.harmonic_line_bars
            bars[line] = inverse(line, np.hypot(floor, uneven.lines[line]))
        return DetectionLimits(
            record_s=record_s,
            direct_bars=Estimate.from_draws(
                expectation.direct_component_bars(np.hypot(direct, uneven.direct_ratio))
            ),
            line_bars={line: Estimate.from_draws(values) for line, values in bars.items()},
        )

    def _noise_density(self, record: StatedRecord) -> float:
        """Return the white noise of the current space vector in A^2/Hz."""
        motor, plan = self._motor, self._limits.plan
        stated = replace(
            plan,
            sensor_noise_db=plan.sensor_noise_db if record.noise_db is None else record.noise_db,
            bits_min=plan.bits_min if record.bits is None else record.bits,
        )
        rate_hz = record.sampling_rate_hz or sampling_rate_hz(motor, plan)
        return line_noise_density(motor, rate_hz, stated)


def level_estimate(ratio: RealArray) -> Estimate:
    """Return amplitudes over the fundamental as a level with its interval."""
    smallest = 10.0 ** (LOWEST_LEVEL_DBC / 20.0)
    return Estimate.from_draws(20.0 * np.log10(np.maximum(ratio, smallest)))
