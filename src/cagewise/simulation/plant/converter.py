"""Converters: the lines of open-loop pulse-width modulation, and the settings of vector control.

Equations and sources: ``docs/theory/simulation-supply.md``. The regulator itself, which needs the
currents of the running machine, is in :mod:`~cagewise.simulation.runs.regulator`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray

_WEAKEST_LINE = 1e-6
"""Carrier lines below this part of the d.c. link voltage are left out (-120 dB)."""


class CarrierLine(NamedTuple):
    """The line at ``multiple`` x carrier + ``order`` x output frequency."""

    multiple: int
    order: int
    amplitude_v: float
    """Peak, signed, at carrier phase and output phase zero."""

    def frequency_hz(self, carrier_hz: float, output_hz: float) -> float:
        """Return the frequency of the line, both sequences positive."""
        return self.multiple * carrier_hz + self.order * output_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseWidth:
    """Sine-triangle modulation with natural sampling (both edges), by its lines."""

    carrier_hz: float
    dc_link_v: float
    groups: int = 2
    """Multiples of the carrier that are kept."""
    side_lines: int = 8
    """Lines kept on either side of each multiple."""
    carrier_phase_rad: float = 0.0
    """Phase of the triangle at time zero; at phase zero it is at its lowest."""

    def __post_init__(self) -> None:
        if not (self.carrier_hz > 0.0 and self.dc_link_v > 0.0):
            raise InputError("carrier and d.c. link voltage must be positive", where="converter")
        if min(self.groups, self.side_lines) < 1:
            raise InputError("at least one group and one side line must be kept", where="converter")

    def lines(self, phase_voltage_peak_v: float) -> tuple[CarrierLine, ...]:
        """Return the lines at this fundamental, those without zero sequence."""
        depth = 2.0 * phase_voltage_peak_v / self.dc_link_v
        if depth > 1.0:
            raise InputError(
                f"a peak phase voltage of {phase_voltage_peak_v:.0f} V needs a modulation depth of "
                f"{depth:.2f} at {self.dc_link_v:.0f} V",
                where="converter",
                remedy="Raise dc_link_v to at least twice the peak phase voltage.",
            )
        return _natural_sampling(depth, self.dc_link_v, self.groups, self.side_lines)

    def ripple_v(
        self, time_s: RealArray, phase_rad: RealArray, phase_voltage_peak_v: float
    ) -> ComplexArray:
        """Return the space vector of all carrier lines; ``phase_rad`` is the output's phase."""
        carrier = 2.0 * math.pi * self.carrier_hz * time_s + self.carrier_phase_rad
        ripple = np.zeros(time_s.shape, dtype=np.complex128)
        for line in self.lines(phase_voltage_peak_v):
            wave = np.exp(1j * (line.multiple * carrier + line.order * phase_rad))
            ripple += line.amplitude_v * (wave if line.order % 3 == 1 else np.conj(wave))
        return ripple


@cache
def _natural_sampling(
    depth: float, dc_link_v: float, groups: int, side_lines: int
) -> tuple[CarrierLine, ...]:
    """Return ``2 V_dc / (pi m) J_n(pi m M / 2) sin((m + n) pi / 2)`` for n no multiple of 3."""
    from scipy.special import jv

    lines = []
    for m in range(1, groups + 1):
        for n in range(-side_lines, side_lines + 1):
            if n % 3 == 0 or (m + n) % 2 == 0:
                continue
            level = jv(n, 0.5 * math.pi * m * depth) * math.sin((m + n) * 0.5 * math.pi)
            amplitude = 2.0 * dc_link_v / (math.pi * m) * float(level)
            if abs(amplitude) > _WEAKEST_LINE * dc_link_v:
                lines.append(CarrierLine(m, n, amplitude))
    return tuple(lines)


def volts_per_hertz(
    rated_voltage_v: float, rated_frequency_hz: float, frequency_hz: float, boost_v: float = 0.0
) -> float:
    """Return the line voltage (rms) of a V/f law with a boost at standstill.

    Linear from ``boost_v`` at zero to the rated voltage at rated frequency, constant above.
    """
    share = min(frequency_hz / rated_frequency_hz, 1.0)
    return boost_v + (rated_voltage_v - boost_v) * share


@dataclass(frozen=True, slots=True, kw_only=True)
class FrequencyRamp:
    """A start at the converter: frequency and voltage rise together, without carrier lines.

    The frequency rises linearly from ``initial_hz`` to that of the supply; the voltage follows
    :func:`volts_per_hertz`.
    """

    ramp_s: float
    start_s: float = 0.0
    """Time of the beginning of the ramp; before it there is the initial frequency."""
    initial_hz: float = 1.0
    boost: float = 0.03
    """Voltage at standstill over the supply's, for the drop in the winding."""

    def __post_init__(self) -> None:
        if not (self.ramp_s > 0.0 and self.initial_hz > 0.0 and 0.0 <= self.boost < 1.0):
            raise InputError(
                f"a ramp from {self.initial_hz} Hz in {self.ramp_s} s with a boost of {self.boost} "
                "is impossible",
                where="converter",
            )

    def frequency_hz(self, time_s: RealArray, final_hz: float) -> RealArray:
        """Return the frequency."""
        share = np.clip((time_s - self.start_s) / self.ramp_s, 0.0, 1.0)
        return np.asarray(self.initial_hz + (final_hz - self.initial_hz) * share)

    def turns(self, time_s: RealArray, final_hz: float) -> RealArray:
        """Return the phase in turns, zero at time zero when the ramp begins there or later."""
        since = time_s - self.start_s
        inside = np.clip(since, 0.0, self.ramp_s)
        rise = (final_hz - self.initial_hz) / self.ramp_s
        risen = 0.5 * rise * inside**2 + (final_hz - self.initial_hz) * (
            np.maximum(since, self.ramp_s) - self.ramp_s
        )
        return np.asarray(self.initial_hz * time_s + risen)

    def level(self, time_s: RealArray, final_hz: float) -> RealArray:
        """Return the voltage over that of the supply."""
        share = self.frequency_hz(time_s, final_hz) / final_hz
        return np.asarray(self.boost + (1.0 - self.boost) * share)


@dataclass(frozen=True, slots=True, kw_only=True)
class VectorControl:
    """Rotor-flux oriented control with measured speed; bandwidths of its loops.

    The flux is held at the value it has when the run begins.
    """

    current_bandwidth_hz: float = 200.0
    speed_bandwidth_hz: float = 10.0
    period_s: float = 2e-4
    """Sampling period of the regulator, rounded to whole steps of the integration."""
    speed_rpm: float | None = None
    """Reference speed; the speed at which the run begins if None."""
    voltage_margin: float = 1.3
    """Largest voltage over the one at which the run begins."""

    def __post_init__(self) -> None:
        positive = (self.current_bandwidth_hz, self.speed_bandwidth_hz, self.period_s)
        if not min(positive) > 0.0 or not self.voltage_margin >= 1.0:
            raise InputError(
                "bandwidths and period must be positive, the voltage margin at least 1",
                where="vector control",
            )
        if self.current_bandwidth_hz * self.period_s > 0.1:
            raise InputError(
                f"a current loop of {self.current_bandwidth_hz:g} Hz sampled every "
                f"{1e6 * self.period_s:.0f} us is not stable",
                where="vector control",
                remedy="Keep the bandwidth below a tenth of the sampling frequency.",
            )
        if self.speed_bandwidth_hz > 0.3 * self.current_bandwidth_hz:
            raise InputError(
                "the speed loop must be at least three times slower than the current loop",
                where="vector control",
            )
