"""Instrument transformers and the recorder: from true quantities to channels.

In the order of the real chain: clamp on a conductor, ratio and phase error, offset; anti-alias
filter; sampling with its jitter; noise; conversion to counts; samples lost or repeated on the way
into the file.
"""

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
from cagewise.simulation.plant.recorder import Recorder, Sampling, advanced


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensors(Sampling):
    """Errors and resolution of the measuring chain; the defaults are ideal."""

    current_ratio_error: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Per unit, phases a, b, c."""
    current_phase_error_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """At the supply frequency; positive where the measured current leads. Acts as a time shift."""
    voltage_ratio_error: tuple[float, float, float] = (0.0, 0.0, 0.0)
    line_voltages: bool = True
    """Line-line voltages; phase-to-neutral if False."""
    current_conductors: tuple[int, int, int] = (0, 1, 2)
    """Phase (0 to 2) whose conductor the clamps labelled a, b, c really hold."""
    current_directions: tuple[int, int, int] = (1, 1, 1)
    """-1 for a clamp put on the wrong way round."""
    voltage_leads: tuple[int, int, int] = (0, 1, 2)
    """Phase (0 to 2) on which the voltage leads labelled a, b, c really hang."""
    current_offset_a: tuple[float, float, float] = (0.0, 0.0, 0.0)
    voltage_offset_v: tuple[float, float, float] = (0.0, 0.0, 0.0)
    current_noise_rms_a: float = 0.0
    voltage_noise_rms_v: float = 0.0
    bits: int | None = None
    """Resolution including sign; integer counts are recorded if given, else floats."""
    current_full_scale_a: float = 0.0
    """Peak current at full scale; needed with ``bits``. Larger values clip."""
    voltage_full_scale_v: float = 0.0

    def __post_init__(self) -> None:
        self._check_wiring()
        Sampling.__post_init__(self)
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

    def _check_wiring(self) -> None:
        """Raise if clamps or leads hang on conductors that do not exist."""
        for name in ("current_conductors", "voltage_leads"):
            if not set(getattr(self, name)) <= {0, 1, 2}:
                raise InputError(f"{name} must be phases 0, 1 or 2", where="sensors")
        if not set(self.current_directions) <= {-1, 1}:
            raise InputError("current_directions must be 1 or -1", where="sensors")

    def truth(self) -> dict[str, float]:
        """Return what the recorder did to the samples; nothing if it is ideal."""
        done = {"lost_samples": self.lost_samples, "repeated_samples": self.repeated_samples}
        return {name: float(count) for name, count in done.items() if count}

    def channels(
        self,
        currents_a: RealArray,
        voltages_v: RealArray,
        radians_per_sample: float,
        rng: np.random.Generator,
        *,
        trajectory_rate_hz: float = math.nan,
    ) -> tuple[Channel, ...]:
        """Return the recorded channels.

        Parameters
        ----------
        currents_a, voltages_v
            True phase quantities, shape (3, n), with :data:`~.recorder.GUARD_SAMPLES` extra on
            either side.
        radians_per_sample
            Mean advance of the supply phase per sample of the course.
        rng
            Source of the noise.
        trajectory_rate_hz
            Samples of the course per second: ``oversampling`` times the recorded rate. Needed
            for jitter and filter.
        """
        events = rng.spawn(1)[0]
        recorder = Recorder.of(self, currents_a.shape[1], trajectory_rate_hz, events)
        channels = []
        for k, role in enumerate(CURRENT_ROLES):
            shift = math.radians(self.current_phase_error_deg[k]) / radians_per_sample
            conductor = self.current_directions[k] * currents_a[self.current_conductors[k]]
            true = (1.0 + self.current_ratio_error[k]) * advanced(conductor, shift)
            taken = recorder.taken(true + self.current_offset_a[k])
            noisy = taken + self.current_noise_rms_a * rng.standard_normal(taken.size)
            kept = recorder.kept(noisy)
            channels.append(self._digitised(kept, role, "A", self.current_full_scale_a))
        voltages_v = voltages_v[list(self.voltage_leads)]
        if self.line_voltages:
            voltages_v = voltages_v - np.roll(voltages_v, -1, axis=0)
        roles = LINE_VOLTAGE_ROLES if self.line_voltages else PHASE_VOLTAGE_ROLES
        for k, role in enumerate(roles):
            true = (1.0 + self.voltage_ratio_error[k]) * voltages_v[k]
            taken = recorder.taken(true + self.voltage_offset_v[k])
            noisy = taken + self.voltage_noise_rms_v * rng.standard_normal(taken.size)
            kept = recorder.kept(noisy)
            channels.append(self._digitised(kept, role, "V", self.voltage_full_scale_v))
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
