"""Recordings of the simulated reference motor R3K, kept between test runs.

The supply is 220 V per phase: the reference tables are reproduced at that voltage
(``docs/theory/simulation.md``). Computing a record takes about a fifteenth of its length.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from cagewise import simulation
from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.simulation import (
    Damage,
    Eccentricity,
    Harmonic,
    Load,
    Modulation,
    Saturation,
    Sensors,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
)

PHASE_VOLTAGE_RMS_V = 220.0
FREQUENCY_HZ = 50.0

FULL_LOAD_NM = 20.2
HALF_LOAD_NM = 10.1
QUARTER_LOAD_NM = 5.05
TENTH_LOAD_NM = 2.02

FAULTS = {
    "healthy": Damage(),
    "1 bar": Damage(open_bars=(0,)),
    "2 adjacent": Damage(open_bars=(0, 1)),
    "3 adjacent": Damage(open_bars=(0, 1, 2)),
    "4 adjacent": Damage(open_bars=(0, 1, 2, 3)),
    "2 at 90": Damage(open_bars=(0, 4)),
    "2 at 180": Damage(open_bars=(0, 8)),
    "2 at 45": Damage(open_bars=(0, 2)),
    "bar x1.5": Damage(resistance_factors={0: 1.5}),
    "bar x2": Damage(resistance_factors={0: 2.0}),
    "bar x5": Damage(resistance_factors={0: 5.0}),
}
"""Faults of the reference table; angles are electrical (8 bars per pole)."""


@dataclass(frozen=True, kw_only=True)
class R3k:
    """One run of R3K; equal fields give the same recording."""

    fault: str = "healthy"
    """A key of :data:`FAULTS`."""
    load_torque_nm: float = FULL_LOAD_NM
    inertia_factor: float = 1.0
    duration_s: float = 20.0
    sampling_rate_hz: float = 5000.0
    settling_s: float = 3.0
    orders: tuple[int, ...] = simulation.reference_motor_r3k().orders
    oscillation_nm: float = 0.0
    """Amplitude of a load torque exactly at twice the slip frequency."""
    other_oscillations: tuple[Modulation, ...] = ()
    torque_noise_rms_nm: float = 0.0
    unbalance: float = 0.0
    harmonics: tuple[Harmonic, ...] = ()
    amplitude_modulation: float = 0.0
    """Depth of the supply's amplitude modulation exactly at twice the slip frequency."""
    phase_modulation_rad: float = 0.0
    """Depth of the supply's phase modulation exactly at twice the slip frequency."""
    wander_rms_hz: float = 0.0
    flicker_rms: float = 0.0
    eccentricity: Eccentricity = field(default_factory=Eccentricity)
    saturation: Saturation | None = None
    sensors: Sensors = field(default_factory=Sensors)
    seed: int = 0

    def setup(self, pole_pass_frequency_hz: float = 0.0) -> Setup:
        """Return what is simulated, with the coincident modulations at this frequency."""
        at = pole_pass_frequency_hz
        own = (Modulation(amplitude=self.oscillation_nm, frequency_hz=at),)
        amplitude = (Modulation(amplitude=self.amplitude_modulation, frequency_hz=at),)
        phase = (Modulation(amplitude=self.phase_modulation_rad, frequency_hz=at),)
        return Setup(
            geometry=reference_motor_r3k(inertia_factor=self.inertia_factor, orders=self.orders),
            damage=FAULTS[self.fault],
            eccentricity=self.eccentricity,
            saturation=self.saturation,
            supply=Supply(
                line_voltage_rms_v=PHASE_VOLTAGE_RMS_V * 3.0**0.5,
                frequency_hz=FREQUENCY_HZ,
                unbalance=self.unbalance,
                harmonics=self.harmonics,
                amplitude_modulation=amplitude if self.amplitude_modulation else (),
                phase_modulation=phase if self.phase_modulation_rad else (),
                wander_rms_hz=self.wander_rms_hz,
                flicker_rms=self.flicker_rms,
            ),
            load=Load(
                torque_nm=self.load_torque_nm,
                oscillations=(own if self.oscillation_nm else ()) + self.other_oscillations,
                noise_rms_nm=self.torque_noise_rms_nm,
            ),
            sensors=self.sensors,
        )

    @property
    def _needs_pole_pass(self) -> bool:
        return bool(self.oscillation_nm or self.amplitude_modulation or self.phase_modulation_rad)

    def _quiet(self) -> R3k:
        """Return the same run without the modulations that must coincide with the pole pass."""
        return replace(self, oscillation_nm=0.0, amplitude_modulation=0.0, phase_modulation_rad=0.0)

    def simulate(self) -> Recording:
        """Simulate; coincident modulations follow the slip of the very run they disturb."""
        frequency_hz = 0.0
        if self._needs_pole_pass:
            frequency_hz = self._quiet().recording().truth["pole_pass_frequency_hz"]
        for _ in range(3 if self._needs_pole_pass else 1):
            recording = simulate(
                self.setup(frequency_hz),
                duration_s=self.duration_s,
                sampling_rate_hz=self.sampling_rate_hz,
                seed=self.seed,
                settling_s=self.settling_s,
            )
            frequency_hz = recording.truth["pole_pass_frequency_hz"]
        return recording

    def recording(self) -> Recording:
        """Return the recording, from the cache if this run was made before."""
        path = _cache_folder() / f"{self._key()}.npz"
        if not path.exists():
            _save(path, self.simulate())
        return _load(path)

    def _key(self) -> str:
        """Return a digest of the run and of the code that simulates it."""
        digest = hashlib.sha256(repr(self).encode())
        for source in sorted(Path(simulation.__file__).parent.rglob("*.py")):
            digest.update(source.read_bytes())
        digest.update(Path(__file__).read_bytes())
        return digest.hexdigest()[:24]


def r3k_recording(
    fault: str = "healthy",
    load_torque_nm: float = FULL_LOAD_NM,
    inertia_factor: float = 1.0,
    duration_s: float = 20.0,
    **other: object,
) -> Recording:
    """Return a recording of R3K; ``other`` are further fields of :class:`R3k`."""
    run = R3k(
        fault=fault,
        load_torque_nm=load_torque_nm,
        inertia_factor=inertia_factor,
        duration_s=duration_s,
    )
    return replace(run, **other).recording()  # type: ignore[arg-type]  # checked by replace


def _cache_folder() -> Path:
    user = os.getuid() if hasattr(os, "getuid") else "user"
    folder = Path(tempfile.gettempdir()) / f"cagewise-r3k-{user}"
    folder.mkdir(exist_ok=True)
    return folder


def _save(path: Path, recording: Recording) -> None:
    """Write under a name of its own, then rename: parallel test processes share the folder."""
    part = path.with_name(f"{path.stem}-{os.getpid()}.npz")
    described = [
        [c.name, c.unit, c.role.value, c.scale, c.range_low, c.range_high]
        for c in recording.channels
    ]
    about = {"channels": described, "rate": recording.sampling_rate_hz}
    about["truth"] = dict(recording.truth)
    arrays = {f"c{k}": channel.raw for k, channel in enumerate(recording.channels)}
    np.savez(part, allow_pickle=False, about=np.array(json.dumps(about)), **arrays)
    part.replace(path)


def _load(path: Path) -> Recording:
    with np.load(path, allow_pickle=False) as stored:
        about = json.loads(str(stored["about"]))
        raws = [stored[f"c{k}"] for k in range(len(about["channels"]))]
    channels = tuple(
        Channel(
            name=name,
            raw=raw,
            unit=unit,
            role=Role(role),
            scale=scale,
            range_low=low,
            range_high=high,
        )
        for raw, (name, unit, role, scale, low, high) in zip(raws, about["channels"], strict=True)
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=about["rate"],
        provenance=Provenance(source="simulated R3K", format_name="simulation"),
        nominal_frequency_hz=FREQUENCY_HZ,
        truth=about["truth"],
    )
