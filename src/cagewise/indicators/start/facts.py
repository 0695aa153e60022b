"""What one start is worth for a comparison: its length, its voltage and its currents.

The motor is at speed when nine tenths of the fall of the current from its initial to its running
level are over. Near that level the current falls steeply with the slip, so the instant is sharp,
and the speed is within a few per cent of the running one (docs/theory/start.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from cagewise.conditioning.start_fall import AT_SPEED, CurrentFall, find_fall
from cagewise.conditioning.start_level import WINDOWS_PER_CYCLE, CycleFit, fit_cycles
from cagewise.conditioning.start_limits import StartLimits
from cagewise.conditioning.start_runs import current_samples
from cagewise.conditioning.starts import MotorStart, StartKind
from cagewise.conditioning.survey import survey_recording
from cagewise.indicators.start.voltage import line_voltage_rms
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown, RealArray

INITIAL_CYCLES = (3, 6)
"""Cycles after switching on in which the initial current is read: the direct offset has gone, the
slip of a start of 20 cycles is still above 0.8."""
SWITCHING_SD_CYCLES = 0.1
"""Standard deviation of the instant of switching on, supply cycles: found to a few samples in three
currents, to a quarter of a cycle in one."""
VOLTAGE_SD = 0.005
"""Standard deviation of a measured voltage, per unit: half the limit of error of class 1."""
FIGURE_POINTS = 300
"""Points of the current kept for a figure."""
FIGURE_TAIL = 0.3
"""Part of the start that is shown after it."""
TEMPERATURE = (
    "the temperature of winding and cage is not known: a cage 10 K warmer resists 4 % more, in all "
    "bars alike"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartFacts:
    """One start in numbers; what could not be had carries its reason."""

    started_at: datetime | None
    """When the contactor closed, by the clock of the recorder."""
    kind: StartKind
    """How the voltage came to the motor."""
    supply_frequency_hz: float
    """Measured; rated where the record does not show it."""
    time_to_speed_s: Estimate | NotKnown
    """From switching on until nine tenths of the fall of the current are over."""
    mean_voltage_pu: Estimate | NotKnown
    """Positive-sequence line voltage during that time, root mean square in time since torque goes
    with its square, per unit of rated."""
    normalised_time_s: Estimate | NotKnown
    """Time to speed times the square of that voltage: the time at rated voltage without a load."""
    initial_current_rms_a: Estimate | NotKnown
    """Fundamental line current in the 4th to 6th cycle, quadratic mean of the measured phases."""
    initial_current_pu: Estimate | NotKnown
    """The same over the voltage in these cycles: per unit of rated current at rated voltage."""
    running_current_rms_a: float | NotKnown
    """Fundamental line current after the start."""
    current_squared_time_a2s: float | NotKnown
    """Integral of the squared rms current from switching on to speed."""
    time_s: RealArray
    """Time after switching on of :attr:`line_current_rms_a`, shape (n_points,)."""
    line_current_rms_a: RealArray
    """Fundamental line current, shape (n_points,); for figures."""
    currents_measured: int
    """1, 2 or 3."""
    caveats: tuple[str, ...] = (TEMPERATURE,)
    """What else changes these numbers."""


def start_facts(recording: Recording, start: MotorStart, motor: Motor) -> StartFacts:
    """Return what one start of a recording is worth.

    Parameters
    ----------
    recording
        The whole recording, roles proven.
    start
        One of its starts, refused or not.
    motor
        Rated values and sensors.
    """
    course = _course(recording, start, motor)
    refused = _why_not(start, course)
    reading = _nothing(refused) if refused else _read(course, motor)
    shown = _shown(course)
    rate = recording.sampling_rate_hz
    begun = recording.start_time
    return StartFacts(
        started_at=None if begun is None else begun + timedelta(seconds=start.switched_on / rate),
        kind=start.kind,
        supply_frequency_hz=course.frequency_hz,
        time_to_speed_s=reading.time_s,
        mean_voltage_pu=reading.voltage_pu,
        normalised_time_s=_normalised(reading.time_s, reading.voltage_pu, 2.0),
        initial_current_rms_a=reading.initial_a,
        initial_current_pu=_per_unit(reading, motor),
        running_current_rms_a=reading.running_a,
        current_squared_time_a2s=reading.squared_a2s,
        time_s=course.time_s[shown],
        line_current_rms_a=course.level[shown],
        currents_measured=course.fit.rms.shape[0],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Course:
    """A start window by window; one window per quarter cycle."""

    fit: CycleFit
    frequency_hz: float
    time_s: RealArray
    """Centres of the windows after switching on."""
    level: RealArray
    """Rms fundamental current."""
    fall: CurrentFall
    voltage_v: RealArray | None
    """Rms line voltage, positive sequence, in the same windows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """Values read on a course."""

    time_s: Estimate | NotKnown
    voltage_pu: Estimate | NotKnown
    first_voltage_pu: Estimate | NotKnown
    initial_a: Estimate | NotKnown
    running_a: float | NotKnown
    squared_a2s: float | NotKnown


def _nothing(reason: str) -> _Read:
    """Return that nothing could be read."""
    known = NotKnown(reason)
    return _Read(
        time_s=known, voltage_pu=known, first_voltage_pu=known, initial_a=known, running_a=known,
        squared_a2s=known,
    )  # fmt: skip


def _course(recording: Recording, start: MotorStart, motor: Motor) -> _Course:
    """Return the start window by window."""
    part = start.cut(recording)
    rate = recording.sampling_rate_hz
    measured = survey_recording(part).frequency_hz
    frequency = measured if isinstance(measured, float) else motor.nameplate.rated_frequency_hz
    fit = fit_cycles(current_samples(part), rate / frequency)
    level = fit.fundamental_rms
    return _Course(
        fit=fit,
        frequency_hz=frequency,
        time_s=fit.centre / rate,
        level=level,
        fall=find_fall(level, StartLimits().least_current_ratio),
        voltage_v=line_voltage_rms(part, rate / frequency),
    )


def _why_not(start: MotorStart, course: _Course) -> str:
    """Return why a start gives no numbers; empty when it does."""
    if start.refused:
        return start.refused
    if start.begins_before_record:
        return "the record begins after switching on: the beginning of the start is missing"
    if start.kind is not StartKind.DIRECT:
        return f"not a direct start ({start.kind})"
    if course.fall.at_speed is None or course.fall.running_a is None:
        return "the current did not come down to a running level in the record"
    return ""


def _read(course: _Course, motor: Motor) -> _Read:
    """Read a start that is fit for it."""
    first, last = (WINDOWS_PER_CYCLE * cycles for cycles in INITIAL_CYCLES)
    early = slice(first, last)
    initial = float(np.median(course.level[early]))
    running = _running(course)
    crossing, scatter = _at_speed(course, initial, running)
    hop_s = float(course.time_s[1] - course.time_s[0])
    sensor = 0.5 * motor.sensors.current_ratio_error
    spread = float(np.std(course.level[early])) / initial
    during = course.time_s < crossing
    return _Read(
        time_s=Estimate.from_standard_deviation(
            crossing, math.hypot(SWITCHING_SD_CYCLES / course.frequency_hz, scatter)
        ),
        voltage_pu=_voltage(course, motor, during),
        first_voltage_pu=_voltage(course, motor, _only(early, course.level.size)),
        initial_a=Estimate.from_standard_deviation(initial, initial * math.hypot(sensor, spread)),
        running_a=running,
        squared_a2s=float(np.sum(course.level[during] ** 2)) * hop_s,
    )


def _only(part: slice, n: int) -> NDArray[np.bool_]:
    """Return a mask of shape (n,) that is true in a part."""
    mask = np.zeros(n, dtype=np.bool_)
    mask[part] = True
    return mask


def _running(course: _Course) -> float:
    """Return the running level after the start; where that is short, the level just after it."""
    settled = course.fall.settled or 0
    later = course.level[settled + WINDOWS_PER_CYCLE :]
    return float(np.median(later)) if later.size else float(course.level[-1])


def _at_speed(course: _Course, initial: float, running: float) -> tuple[float, float]:
    """Return the instant at which a tenth of the fall is left, and its standard deviation.

    The scatter of the running level (noise, beat) over the steepness of the fall there.
    """
    level, time_s = course.level, course.time_s
    threshold = running + AT_SPEED * (initial - running)
    settled = course.fall.settled or level.size - 1
    above = np.flatnonzero(level[:settled] > threshold)
    last = int(above[-1]) if above.size else settled - 1
    part = (level[last] - threshold) / max(level[last] - level[last + 1], 1e-12 * initial)
    hop_s = float(time_s[1] - time_s[0])
    beside = slice(max(last - WINDOWS_PER_CYCLE, 0), last + WINDOWS_PER_CYCLE + 1)
    slope = np.polynomial.Polynomial.fit(time_s[beside], level[beside], 1).convert().coef[1]
    later = level[settled:]
    scatter = float(np.std(later)) / max(abs(float(slope)), 1e-12 * initial)
    return float(time_s[last]) + float(np.clip(part, 0.0, 1.0)) * hop_s, scatter


def _voltage(course: _Course, motor: Motor, during: NDArray[np.bool_]) -> Estimate | NotKnown:
    """Return the voltage of some windows per unit of rated."""
    if course.voltage_v is None:
        return NotKnown("no voltage was measured")
    mean = math.sqrt(float(np.mean(course.voltage_v[during] ** 2)))
    value = mean / motor.nameplate.rated_voltage_v
    return Estimate.from_standard_deviation(value, VOLTAGE_SD * value)


def _normalised(
    value: Estimate | NotKnown, voltage_pu: Estimate | NotKnown, power: float
) -> Estimate | NotKnown:
    """Return a value times a power of the voltage, relative errors added in squares."""
    if isinstance(value, NotKnown):
        return value
    if isinstance(voltage_pu, NotKnown):
        return voltage_pu
    factor = voltage_pu.value**power
    relative = math.hypot(_relative_sd(value), power * _relative_sd(voltage_pu))
    return Estimate.from_standard_deviation(value.value * factor, value.value * factor * relative)


def _per_unit(reading: _Read, motor: Motor) -> Estimate | NotKnown:
    """Return the initial current at rated voltage, per unit of rated current."""
    current = _normalised(reading.initial_a, reading.first_voltage_pu, -1.0)
    if isinstance(current, NotKnown):
        return current
    return current.scaled(1.0 / motor.nameplate.rated_current_a)


def _relative_sd(estimate: Estimate) -> float:
    """Return the relative standard deviation of a normal estimate."""
    return 0.5 * (estimate.high - estimate.low) / NORMAL_COVERAGE_FACTOR / abs(estimate.value)


def _shown(course: _Course) -> slice:
    """Return the windows shown in a figure."""
    end = course.level.size
    if course.fall.settled is not None:
        end = min(end, round((1.0 + FIGURE_TAIL) * course.fall.settled) + 1)
    return slice(0, end, max(1, -(-end // FIGURE_POINTS)))
