"""What to record for this motor, and the smallest damage that will then show.

The derivation is in ``docs/theory/plan.md``; symbols here are those of the page.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cagewise.decision.limits import Limits, PlanLimits, load_limits
from cagewise.decision.standstill_plan import StandstillPlan, standstill_plan
from cagewise.decision.start_plan import StartPlan, start_plan
from cagewise.decision.winding_plan import WindingPlan, winding_plan
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import COVERAGE, ComplexArray, Estimate, RealArray, amplitude_ratio

if TYPE_CHECKING:
    from cagewise.indicators.limits import CageLimits
    from cagewise.machine.cage.expectation import CageExpectation
    from cagewise.machine.circuit import EquivalentCircuit, OperatingState

LOADS = (0.25, 0.5, 0.75, 1.0)
"""Loads for which the smallest damage is computed, per unit of rated power."""
N_DRAWS = 120
"""Draws of the circuit: three lie beyond each end of a 95 % interval."""
FEW_DRAWS = 24
"""The same where only the middle value is asked for: it moves by a few per cent."""
DETECTION_QUANTILE = 1.645
"""One-sided 95 % quantile of the normal distribution: 95 of 100 lines at the limit are found."""
LIMIT_STATED_AT_HZ = 50.0
"""Supply frequency for which the least sampling rate is stated."""
ROUND_RATES_HZ = (5000.0, 6400.0, 8000.0, 10_000.0, 12_800.0, 20_000.0, 25_600.0, 51_200.0)
"""Sampling rates that recorders offer."""
SPACE_VECTOR_NOISE = 4.0 / 3.0
"""Power of the noise of the current space vector over the variance of one of three currents."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPlan:
    """What to record."""

    sampling_rate_hz: float
    bits: int
    record_s: float
    """At the load to aim for."""
    load_fraction_min: float
    load_fraction_good: float
    current_range_peak_a: float
    """For the running record."""
    start_range_peak_a: float | None
    """If the same channel shall record the start; None where starts are not direct."""
    voltage_range_peak_v: float
    """Line to line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlan:
    """What a record at one load will show; open bars with the interval of the motor model.

    All but the first count the natural unevenness of a sound cage in.
    """

    load_fraction: float
    slip: Estimate
    pole_pass_frequency_hz: Estimate
    record_s: float
    """Record length at this load."""
    instrument_bars: Estimate
    """What sensors and converter would show of the direct component on a perfectly steady load."""
    direct_bars: Estimate
    """Smallest damage by the direct component (currents and voltages), load as assumed."""
    side_line_bars: Estimate
    """Smallest damage by the side lines (currents alone), load as assumed."""
    harmonic_bars: Estimate
    """Smallest damage by cage lines at the 5th and 7th harmonic; the load hardly matters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The answer to "what shall I record?"."""

    motor: Motor
    record: RecordPlan
    loads: tuple[LoadPlan, ...]
    natural_bars: float
    """What a sound cage reads, 95 %: no cage is perfectly even, and nothing below is damage."""
    start: StartPlan
    """The next start that happens anyway."""
    standstill: StandstillPlan
    """The position test at the next stop."""
    winding: WindingPlan
    """Winding and insulation tests at the same stop."""
    limits: Limits

    @property
    def aimed(self) -> LoadPlan:
        """What a record at the load to aim for will show."""
        return _aimed(self.loads, self.limits.plan)


def plan_for(motor: Motor, limits: Limits | None = None) -> Plan:
    """Return the plan for a motor."""
    from cagewise.machine.estimate import circuit_ensemble

    limits = limits or load_limits()
    circuit = circuit_ensemble(motor, N_DRAWS)
    rate_hz = sampling_rate_hz(motor, limits.plan)
    loads = tuple(_at_load(motor, circuit, load, rate_hz, limits) for load in LOADS)
    length_s = _aimed(loads, limits.plan).record_s
    return Plan(
        motor=motor,
        record=_record(motor, rate_hz, length_s, limits.plan),
        loads=loads,
        natural_bars=natural_bars(motor, limits.plan),
        start=start_plan(motor, limits),
        standstill=standstill_plan(motor, circuit, limits),
        winding=winding_plan(motor, limits),
        limits=limits,
    )


def aimed_load(motor: Motor, limits: Limits) -> LoadPlan:
    """Return what a record at the load to aim for will show, its middle value at least.

    The rest of the plan is not worked, and few draws of the circuit are made: a ranking of
    measurements asks for middle values only.
    """
    from cagewise.machine.estimate import circuit_ensemble

    load = min(LOADS, key=lambda at: abs(at - limits.plan.load_fraction_good))
    rate_hz = sampling_rate_hz(motor, limits.plan)
    return _at_load(motor, circuit_ensemble(motor, FEW_DRAWS), load, rate_hz, limits, small=True)


def sampling_rate_hz(motor: Motor, limits: PlanLimits) -> float:
    """Return the lowest usual sampling rate that reads all cage lines and finds the slip.

    The least rate is stated for 50 Hz: rotor-slot lines lie higher on a faster supply.
    """
    rated_hz = motor.nameplate.rated_frequency_hz
    slots_hz = limits.sampling_rate_hz_min * max(1.0, rated_hz / LIMIT_STATED_AT_HZ)
    needed_hz = max(slots_hz, limits.oversampling * limits.harmonic_order * rated_hz)
    return next((rate for rate in ROUND_RATES_HZ if rate >= needed_hz), needed_hz)


def line_noise_density(motor: Motor, rate_hz: float, limits: PlanLimits) -> float:
    """Return the white noise of the current space vector in A^2/Hz: sensors and quantisation.

    ``S_w = 4/3 (sigma_s^2 + Delta^2 / 12) / f_s`` with ``Delta = 2 R / 2^B``.
    """
    peak_a = math.sqrt(2.0) * motor.nameplate.rated_current_a
    sensor: float = (motor.nameplate.rated_current_a * 10.0 ** (limits.sensor_noise_db / 20.0)) ** 2
    step: float = 2.0 * limits.current_range_factor * peak_a / 2.0**limits.bits_min
    return SPACE_VECTOR_NOISE * (sensor + step**2 / 12.0) / rate_hz


def detection_factor(false_alarm_probability: float) -> float:
    """Return the amplitude that is found 95 times in 100, over the rms of the noise in its bin.

    ``sqrt(-ln P) + 1.645 / sqrt 2``: the noise power of a bin is exponentially distributed, and
    the part of the noise in phase with a strong line is normal with half of it.
    """
    return math.sqrt(-math.log(false_alarm_probability)) + DETECTION_QUANTILE / math.sqrt(2.0)


def natural_bars(motor: Motor, limits: PlanLimits) -> float:
    """Return the open-bar equivalent that a sound cage stays below 95 times in 100.

    Bars that differ by ``sigma`` carry currents that differ by ``sigma``; their sum over the
    kernel is a random walk of n steps: ``sigma sqrt(n) sqrt(-ln 0.05)`` (Rayleigh).
    """
    from cagewise.machine.cage.plausible import bar_candidates

    bars = float(np.median(bar_candidates(motor)))
    return limits.natural_bar_spread * math.sqrt(-bars * math.log(1.0 - COVERAGE))


def _aimed(loads: tuple[LoadPlan, ...], limits: PlanLimits) -> LoadPlan:
    """Return the one nearest the load to aim for."""
    return min(loads, key=lambda at: abs(at.load_fraction - limits.load_fraction_good))


def _record(motor: Motor, rate_hz: float, record_s: float, limits: PlanLimits) -> RecordPlan:
    """Return what to record."""
    plate = motor.nameplate
    peak_a = math.sqrt(2.0) * plate.rated_current_a
    direct = plate.starting is Starting.DIRECT
    return RecordPlan(
        sampling_rate_hz=rate_hz,
        bits=limits.bits_min,
        record_s=record_s,
        load_fraction_min=limits.load_fraction_min,
        load_fraction_good=limits.load_fraction_good,
        current_range_peak_a=limits.current_range_factor * peak_a,
        start_range_peak_a=limits.start_current_factor * peak_a if direct else None,
        voltage_range_peak_v=limits.voltage_range_factor * math.sqrt(2.0) * plate.rated_voltage_v,
    )


def _at_load(
    motor: Motor,
    circuit: EquivalentCircuit,
    load: float,
    rate_hz: float,
    limits: Limits,
    *,
    small: bool = False,
) -> LoadPlan:
    """Return what a record at one load will show; ``small`` where that is less than a bar."""
    from cagewise.machine.cage.expectation import expect_readings, expect_small_damage

    plate = motor.nameplate
    frequency_hz, voltage_v = plate.rated_frequency_hz, plate.rated_phase_voltage_peak_v
    slip = slip_at_load(circuit, motor, load)
    state = circuit.at(slip, 2.0 * math.pi * frequency_hz)
    stator = state.stator_current(voltage_v)
    rotor_a = np.abs(state.rotor_current(stator))
    pole_pass = Estimate.from_draws(2.0 * slip * frequency_hz)
    record_s = max(limits.plan.record_s_min, limits.plan.pole_pass_periods / pole_pass.value)
    floors = _floors(motor, state, stator, record_s, rate_hz, limits)
    expect = expect_small_damage if small else expect_readings
    expectation = expect(motor, circuit, slip=slip, frequency_hz=frequency_hz, voltage_v=voltage_v)
    natural = natural_bars(motor, limits.plan)

    def bars(amplitude_a: RealArray) -> RealArray:
        return expectation.direct_component_bars(amplitude_a / rotor_a)

    harmonic = _harmonic_bars(expectation, floors.line_a / np.abs(stator), limits.cage)
    return LoadPlan(
        load_fraction=load,
        slip=Estimate.from_draws(slip),
        pole_pass_frequency_hz=pole_pass,
        record_s=math.ceil(record_s / 10.0) * 10.0,
        instrument_bars=Estimate.from_draws(bars(floors.steady_a)),
        direct_bars=_beside(natural, bars(floors.direct_a)),
        side_line_bars=_beside(natural, bars(floors.side_line_a)),
        harmonic_bars=_beside(natural, harmonic),
    )


def _harmonic_bars(expectation: CageExpectation, floor: RealArray, limits: CageLimits) -> RealArray:
    """Return the bars from which enough lines beside the 5th and 7th stand by the margin asked.

    ``floor`` is the smallest line found in white noise, over the fundamental, shape (n_draws,).
    """
    from cagewise.machine.cage.expectation import HARMONIC_LINES

    needed = floor * amplitude_ratio(limits.harmonic_margin_db)
    bars = [expectation.harmonic_line_bars(line, needed) for line in HARMONIC_LINES]
    return np.asarray(np.sort(bars, axis=0)[limits.least_harmonic_lines - 1])


def _beside(natural: float, floor_bars: RealArray) -> Estimate:
    """Return the smallest damage that stands out of noise and natural unevenness together."""
    return Estimate.from_draws(np.hypot(natural, floor_bars))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Floors:
    """Smallest amplitudes that are found, A peak, shape (n_draws,)."""

    line_a: RealArray
    """A line in white noise alone."""
    steady_a: RealArray
    """|d| in white noise alone."""
    direct_a: RealArray
    """|d| beside load noise."""
    side_line_a: RealArray
    """|d| that lifts the lower line out of load noise, speed ripple having taken its part."""


def _floors(
    motor: Motor,
    state: OperatingState,
    stator: ComplexArray,
    record_s: float,
    rate_hz: float,
    limits: Limits,
) -> _Floors:
    """Return the floors at one load (docs/theory/plan.md, equations 3 to 6)."""
    from cagewise.indicators.cage.open_bars import DIRECT_OVER_LOWER
    from cagewise.indicators.cage.ripple_ratio import MODEL_DISCREPANCY

    white = line_noise_density(motor, rate_hz, limits.plan) * np.ones_like(stator.real)
    load = (np.abs(stator) * 10.0 ** (limits.plan.load_noise_db / 20.0)) ** 2
    ripple = 2.0 * state.slip * state.frequency_rad_s
    rho = state.ripple_ratio(ripple, stator)
    spread = np.abs(rho - rho.mean()).std() + MODEL_DISCREPANCY * np.abs(rho)
    k = detection_factor(limits.cage.false_alarm_probability) / math.sqrt(record_s)
    both = white * (1.0 + np.abs(rho) ** 2)
    taken = math.sqrt(DIRECT_OVER_LOWER[0] * DIRECT_OVER_LOWER[1])
    return _Floors(
        line_a=k * np.sqrt(white),
        steady_a=k * np.sqrt(both),
        direct_a=k * np.sqrt(both + spread**2 * load),
        side_line_a=k * taken * np.sqrt(white + load),
    )


def slip_at_load(circuit: EquivalentCircuit, motor: Motor, load: float) -> RealArray:
    """Return the slip at which each draw delivers ``load`` of rated power, shape (n_draws,).

    Bisection between no load and the slip of the rated point; the shaft power rises with the slip
    all the way there.
    """
    from cagewise.machine.estimate import shaft_power

    plate = motor.nameplate
    low = np.zeros(circuit.rotor_resistance_ohm.shape)
    high = np.full(low.shape, 3.0 * plate.rated_slip)
    for _ in range(40):
        middle = 0.5 * (low + high)
        power = shaft_power(
            circuit, middle, plate.rated_phase_voltage_peak_v, plate.rated_frequency_hz
        )
        below = power < load * plate.rated_power_w
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))
