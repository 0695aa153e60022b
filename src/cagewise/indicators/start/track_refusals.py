"""Starts on which the side line is not read, and why."""

from __future__ import annotations

import numpy as np

from cagewise.conditioning.starts import MotorStart, StartKind
from cagewise.indicators.start.track_limits import StartTrackLimits
from cagewise.indicators.start.track_signals import StartSignals
from cagewise.machine.motor import Motor
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Recording,
)

LEAST_PART = 1e-3
"""Least part of rated voltage or current that is something; an unconnected input has less."""


def why_not_tried(
    recording: Recording, start: MotorStart, motor: Motor, limits: StartTrackLimits
) -> str:
    """Return why the record cannot be read, before anything is computed; empty if it can."""
    return (
        _why_not_whole(start)
        or _why_not_long(recording, start, motor, limits)
        or _why_clipped(recording, start)
        or _why_broken(recording, start)
    )


def _why_not_whole(start: MotorStart) -> str:
    """Return why this is no whole direct start; empty if it may be."""
    if start.refused:
        return start.refused
    if start.kind in (StartKind.SOFT_STARTER, StartKind.CONVERTER):
        return f"a start by {start.kind.value} makes harmonics and slips of its own"
    if start.begins_before_record:
        return "the beginning of the start is missing, and with it the slip"
    if start.settled is None:
        return "the record ends before the motor reached its speed"
    return ""


def _why_not_long(
    recording: Recording, start: MotorStart, motor: Motor, limits: StartTrackLimits
) -> str:
    """Return why the samples do not hold enough of the start; empty if they do."""
    rate = recording.sampling_rate_hz
    if recording.roles.isdisjoint(CURRENT_ROLES):
        return "there is no current"
    if rate < limits.least_rate_hz:
        return f"{rate:g} samples per second are too few"
    settled = start.switched_on if start.settled is None else start.settled
    cycles = (settled - start.switched_on) / rate * motor.nameplate.rated_frequency_hz
    if cycles < limits.least_cycles:
        return (
            f"the start took {cycles:.0f} supply cycles; the wave needs {limits.least_cycles:.0f} "
            "to stand clear of what switching on leaves"
        )
    return ""


def _why_clipped(recording: Recording, start: MotorStart) -> str:
    """Return that a current reached the end of its range during the start; empty if none did."""
    for role in CURRENT_ROLES:
        channel = recording.find(role)
        if channel is None:
            continue
        raw = channel.raw[start.switched_on : start.settled]
        low, high = channel.range_low, channel.range_high
        if (high is not None and np.any(raw >= high)) or (low is not None and np.any(raw <= low)):
            return f"{channel.name} is clipped during the start"
    return ""


def why_not_direct(signals: StartSignals, motor: Motor, limits: StartTrackLimits) -> str:
    """Return that nothing is there, or that the voltage rose during the start; else empty."""
    running = np.mean(np.abs(signals.current_envelope[signals.first_running :]))
    if not running > LEAST_PART * motor.nameplate.rated_current_a:
        return "there is no current of the supply's frequency"
    voltage = signals.voltage_envelope
    if voltage is None:
        return ""
    stood = np.mean(np.abs(voltage[signals.first_running :]))
    if not stood > LEAST_PART * motor.nameplate.rated_phase_voltage_peak_v:
        return "there is no voltage of the supply's frequency"
    return _why_not_steady(signals, limits)


def _why_broken(recording: Recording, start: MotorStart) -> str:
    """Return that a channel holds what is no number; empty if none does."""
    roles = (*CURRENT_ROLES, *LINE_VOLTAGE_ROLES, *PHASE_VOLTAGE_ROLES)
    for channel in recording.channels:
        part = channel.raw[start.switched_on : start.stop]
        if channel.role in roles and not np.all(np.isfinite(part)):
            return f"{channel.name} holds samples that are no numbers"
    return ""


def _why_not_steady(signals: StartSignals, limits: StartTrackLimits) -> str:
    """Return that the voltage rose during the start; empty if it stood."""
    voltage = signals.voltage_envelope
    if voltage is None:
        return ""
    first = round(3.0 / signals.frequency_hz / signals.step_s)
    during = np.abs(voltage[first : max(signals.first_running, first + 1)])
    part = float(during.min() / np.mean(np.abs(voltage[signals.first_running :])))
    if part < limits.least_voltage_part:
        return f"the voltage was down to {100 * part:.0f} % during the start: not a direct start"
    return ""
