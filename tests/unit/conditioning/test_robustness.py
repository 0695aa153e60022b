"""No content of a recording raises; what is not blocked gives finite numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from cagewise.conditioning import (
    Ability,
    FindingCode,
    StatorSignals,
    blocked_abilities,
    find_steady_stretches,
    judge_quality,
    prove_roles,
    supply_frame,
    survey_recording,
)
from cagewise.conditioning.findings import EVERYTHING
from cagewise.errors import ChannelRoleError
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
    Role,
)
from cagewise.quantities import RealArray

NAMEPLATE = Nameplate(
    rated_power_w=55e3,
    rated_voltage_v=400.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1480.0,
    rated_current_a=100.0,
    poles=4,
)
SETS = (
    CURRENT_ROLES + LINE_VOLTAGE_ROLES,
    CURRENT_ROLES,
    CURRENT_ROLES[:1],
    CURRENT_ROLES[:2] + PHASE_VOLTAGE_ROLES,
)


def spoiled(samples: RealArray, rng: np.random.Generator) -> NDArray[Any]:
    """Return samples as a bad instrument, cable or file might deliver them."""
    n = samples.size
    kind = int(rng.integers(9))
    if kind in (0, 1) and n:
        samples[rng.integers(n)] = (np.nan, np.inf)[kind]
    if kind == 2:
        samples = np.full(n, 3.0)
    if kind == 3:
        samples[n // 2 :] = 0.0
    if kind == 4:
        return np.asarray(np.clip(samples, -1e37, 1e37).astype(np.float32))
    if kind == 5:
        return np.asarray(np.clip(np.round(samples), -30_000, 30_000).astype(np.int16))
    if kind == 6:
        return np.asarray(np.clip(np.round(samples), -3, 3).astype(np.int8))
    if kind == 7:
        return np.asarray(np.clip(np.round(samples + 100.0), 0, 200).astype(np.uint16))
    return samples


def absurd_recording(rng: np.random.Generator) -> Recording:
    """Return a recording of random length, rate, sizes and defects."""
    n = int(rng.choice([0, 1, 2, 3, 7, 20, 60, 333, 1000, 5000, 20_000]))
    rate_hz = float(rng.choice([1.0, 50.0, 100.0, 1000.0, 5000.0, 1e6]))
    supply_hz = float(rng.choice([50.0, 60.0, 16.7, 0.3 * rate_hz]))
    time_s = np.arange(n) / rate_hz
    channels = []
    for k, role in enumerate(SETS[rng.integers(len(SETS))]):
        size = float(rng.choice([0.0, 1e-300, 1e-9, 1.0, 100.0, 1e9, 1e200, 1e307]))
        noise = float(rng.choice([0.0, 0.01, 1.0])) * rng.standard_normal(n)
        wave = np.cos(2.0 * np.pi * (supply_hz * time_s - k / 3.0))
        raw = spoiled(size * (0.2 * wave + 0.1 * noise), rng)
        scale, offset = float(rng.choice([1.0, -1.0, 1e-3, 1e5])), float(rng.choice([0.0, 1e6]))
        channels.append(Channel(name=f"c{k}", raw=raw, role=role, scale=scale, offset=offset))
    times = None
    if n > 3 and rng.random() < 0.2:
        times = time_s.copy()
        times[rng.integers(n)] = rng.choice([np.nan, 0.0, 1e9, -5.0])
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=rate_hz,
        provenance=Provenance(source="absurd", format_name="synthetic"),
        sample_times_s=times,
    )


def proven_or_asked(recording: Recording) -> bool:
    try:
        prove_roles(recording, NAMEPLATE)
    except ChannelRoleError as error:
        return bool(error.remedy)
    return True


@pytest.mark.parametrize("seed", range(8))
def test_absurd_recordings(seed: int) -> None:
    """Warnings are errors in this suite: nothing may overflow unseen either."""
    rng = np.random.default_rng(seed)
    for _ in range(40):
        recording = absurd_recording(rng)
        findings = judge_quality(recording, nameplate=NAMEPLATE)
        assert proven_or_asked(recording)
        blocked = blocked_abilities(findings)
        if blocked == EVERYTHING:
            continue
        without = {c.name: Role.OTHER for c in recording.channels if c.role.value.startswith("v")}
        if Ability.VOLTAGE_FRAME in blocked:
            recording = recording.with_roles(without)
        stretch = find_steady_stretches(recording)[0]
        frequency_hz = survey_recording(recording).frequency_hz
        assert isinstance(frequency_hz, float)
        signals = StatorSignals.from_recording(stretch.cut(recording))
        assert np.isfinite(supply_frame(signals, frequency_hz).current).all()


def test_voltages_of_noise_are_not_used() -> None:
    rng = np.random.default_rng(5)
    time_s = np.arange(20_000) / 2000.0
    currents = [
        Channel(
            name=role.value, raw=np.cos(2.0 * np.pi * (50.0 * time_s - k / 3.0)) * 100.0, role=role
        )
        for k, role in enumerate(CURRENT_ROLES)
    ]
    for raw in (rng.standard_normal(20_000), np.zeros(20_000), np.full(20_000, np.nan)):
        voltages = [Channel(name=r.value, raw=raw.copy(), role=r) for r in LINE_VOLTAGE_ROLES]
        recording = Recording(
            channels=(*currents, *voltages),
            sampling_rate_hz=2000.0,
            provenance=Provenance(source="dead", format_name="synthetic"),
        )
        findings = judge_quality(recording)
        assert Ability.VOLTAGE_FRAME in blocked_abilities(findings)
        assert Ability.FUNDAMENTAL_LINES not in blocked_abilities(findings)
        named = {c for f in findings if f.blocks for c in f.channels}
        assert named >= {role.value for role in LINE_VOLTAGE_ROLES}
        assert {f.code for f in findings} & {
            FindingCode.DEAD_CHANNEL,
            FindingCode.NO_LINE_FREQUENCY,
        }
