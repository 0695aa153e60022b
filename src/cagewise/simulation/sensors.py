"""Instrument transformers and the recorder: from true quantities to channels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.errors import InputError
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Role,
)
from cagewise.quantities import RealArray

GUARD_SAMPLES = 32
"""Samples simulated on either side of the record, so that phase errors need no invented ends."""

_INTERPOLATION_HALF_WIDTH = 12
"""Half the length of the windowed-sinc filter that shifts a current in time."""

_KAISER_SHAPE = 8.0
"""Kaiser window of that filter: error below -80 dB up to 0.37 of the sampling rate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensors:
    """Errors and resolution of the measuring chain; the defaults are ideal."""

    current_ratio_error: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Per unit, phases a, b, c."""
    current_phase_error_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """At the supply frequency; positive where the measured current leads. Acts as a time shift."""
    voltage_ratio_error: tuple[float, float, float] = (0.0, 0.0, 0.0)
    line_voltages: bool = True
    """Line-line voltages; phase-to-neutral if False."""
    current_noise_rms_a: float = 0.0
    voltage_noise_rms_v: float = 0.0
    bits: int | None = None
    """Resolution including sign; integer counts are recorded if given, else floats."""
    current_full_scale_a: float = 0.0
    """Peak current at full scale; needed with ``bits``. Larger values clip."""
    voltage_full_scale_v: float = 0.0

    def __post_init__(self) -> None:
        if self.bits is None:
            return
        if not 2 <= self.bits <= 32:
            raise InputError(f"bits must lie between 2 and 32, got {self.bits}", where="sensors")
        if not min(self.current_full_scale_a, self.voltage_full_scale_v) > 0.0:
            raise InputError(
                "full scales must be positive when bits are given",
                where="sensors",
                remedy="Give current_full_scale_a and voltage_full_scale_v (peak values).",
            )

    def channels(
        self,
        currents_a: RealArray,
        voltages_v: RealArray,
        radians_per_sample: float,
        rng: np.random.Generator,
    ) -> tuple[Channel, ...]:
        """Return the recorded channels.

        Parameters
        ----------
        currents_a, voltages_v
            True phase quantities with :data:`GUARD_SAMPLES` extra on either side, shape (3, n).
        radians_per_sample
            Mean advance of the supply phase per sample.
        rng
            Source of the noise.
        """
        inner = slice(GUARD_SAMPLES, currents_a.shape[1] - GUARD_SAMPLES)
        channels = []
        for k, role in enumerate(CURRENT_ROLES):
            shift = math.radians(self.current_phase_error_deg[k]) / radians_per_sample
            true = (1.0 + self.current_ratio_error[k]) * _advanced(currents_a[k], shift)[inner]
            noisy = true + self.current_noise_rms_a * rng.standard_normal(true.size)
            channels.append(self._digitised(noisy, role, "A", self.current_full_scale_a))
        if self.line_voltages:
            voltages_v = voltages_v - np.roll(voltages_v, -1, axis=0)
        roles = LINE_VOLTAGE_ROLES if self.line_voltages else PHASE_VOLTAGE_ROLES
        for k, role in enumerate(roles):
            true = (1.0 + self.voltage_ratio_error[k]) * voltages_v[k, inner]
            noisy = true + self.voltage_noise_rms_v * rng.standard_normal(true.size)
            channels.append(self._digitised(noisy, role, "V", self.voltage_full_scale_v))
        return tuple(channels)

    def _digitised(self, values: RealArray, role: Role, unit: str, full_scale: float) -> Channel:
        """Return a channel of counts, or of floats if no resolution is given."""
        if self.bits is None:
            return Channel(name=role.value, raw=values, unit=unit, role=role)
        top = 2 ** (self.bits - 1) - 1
        counts = np.clip(np.rint(values * (top / full_scale)), -top, top)
        return Channel(
            name=role.value,
            raw=counts.astype(np.int16 if self.bits <= 16 else np.int32),
            unit=unit,
            role=role,
            scale=full_scale / top,
            range_low=-float(top),
            range_high=float(top),
        )


def _advanced(values: RealArray, shift: float) -> RealArray:
    """Return ``values`` advanced by ``shift`` samples (windowed-sinc interpolation)."""
    if shift == 0.0:
        return values
    whole = math.floor(shift)
    taps = np.arange(-_INTERPOLATION_HALF_WIDTH + 1, _INTERPOLATION_HALF_WIDTH + 1)
    offset = taps - (shift - whole)
    inside = np.clip(1.0 - (offset / _INTERPOLATION_HALF_WIDTH) ** 2, 0.0, None)
    weights = np.sinc(offset) * np.i0(_KAISER_SHAPE * np.sqrt(inside))
    weights /= weights.sum()
    if abs(whole) + _INTERPOLATION_HALF_WIDTH > GUARD_SAMPLES:
        raise InputError(
            f"a phase error of {shift:.0f} samples is more than the model of the sensor can take",
            where="sensors",
        )
    advanced = np.zeros_like(values)
    for tap, weight in zip(taps, weights, strict=True):
        advanced += weight * np.roll(values, -(whole + int(tap)))
    return advanced
