"""A recording with integer and float channels, ratios and offsets, for round trips."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cagewise.measurement import Channel, Provenance, Recording, Role


def build_recording(kind: str = "mixed", *, n_samples: int = 500) -> Recording:
    """Return three currents and a line voltage: ``int16``, ``int32``, ``float32`` or ``mixed``."""
    time = np.arange(n_samples) / 5000.0
    channels = []
    for k, (name, role) in enumerate(
        [("IL1", Role.CURRENT_A), ("IL2", Role.CURRENT_B), ("IL3", Role.CURRENT_C)]
    ):
        signal = 12000.0 * np.cos(2.0 * np.pi * (50.0 * time - k / 3.0)) + 3.0 * k
        kinds = {"int16": np.int16, "int32": np.int32, "float32": np.float32}
        dtype = np.dtype(kinds.get(kind, np.int16 if k < 2 else np.float64))
        raw = (np.rint(signal) if dtype.kind == "i" else signal * 1.1).astype(dtype)
        channels.append(
            Channel(
                name=name,
                raw=raw,
                unit="A",
                role=role,
                scale=0.0125 * (k + 1),
                offset=-0.5 * k,
                range_low=-30000.0 if k == 0 else None,
                range_high=30000.0 if k == 0 else None,
            )
        )
    voltage = replace(
        channels[0], name="U12", unit="V", role=Role.VOLTAGE_AB, scale=0.05, offset=0.0
    )
    return Recording(
        channels=(*channels, voltage),
        sampling_rate_hz=5000.0,
        nominal_frequency_hz=50.0,
        provenance=Provenance(source="closed form", format_name="synthetic"),
    )
