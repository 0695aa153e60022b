"""The measuring chain: every fault of it appears in the recording as stated, and nothing else."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.measurement import Channel, Recording, Role
from cagewise.quantities import PHASE_OPERATOR, RealArray
from cagewise.simulation import Load, Sensors, Setup, Supply, reference_motor_r3k, simulate
from cagewise.simulation.plant.recorder import GUARD_SAMPLES

RATE_HZ = 5000.0
SETUP = Setup(
    geometry=reference_motor_r3k(orders=(1, 5, 7)),
    supply=Supply(line_voltage_rms_v=381.05, frequency_hz=50.0),
    load=Load(torque_nm=15.0),
)
IDEAL = simulate(SETUP, duration_s=0.2, sampling_rate_hz=RATE_HZ, settling_s=0.2)


def _recorded(**sensors: Any) -> Recording:
    return simulate(
        replace(SETUP, sensors=Sensors(**sensors)),
        duration_s=0.2, sampling_rate_hz=RATE_HZ, settling_s=0.2,
    )  # fmt: skip


def _samples(recording: Recording, role: Role) -> RealArray:
    channel = recording.find(role)
    assert channel is not None
    return channel.samples


def _tones(frequency_hz: float, rate_hz: float, n: int, sensors: Sensors) -> tuple[Channel, ...]:
    """Return channels that recorded a tone of 1 A, as phase currents and voltages."""
    time_s = (np.arange(n + 2 * GUARD_SAMPLES) - GUARD_SAMPLES) / rate_hz
    turn = np.exp(2j * np.pi * frequency_hz * time_s)
    three = np.stack([(turn * np.conj(PHASE_OPERATOR**k)).real for k in range(3)])
    return sensors.channels(
        three, three, 0.01, np.random.default_rng(5), trajectory_rate_hz=rate_hz
    )


def test_reversed_clamp_and_swapped_phases() -> None:
    recording = _recorded(
        current_conductors=(1, 0, 2), current_directions=(1, 1, -1), voltage_leads=(0, 2, 1)
    )
    assert np.array_equal(_samples(recording, Role.CURRENT_A), _samples(IDEAL, Role.CURRENT_B))
    assert np.array_equal(_samples(recording, Role.CURRENT_B), _samples(IDEAL, Role.CURRENT_A))
    assert np.array_equal(_samples(recording, Role.CURRENT_C), -_samples(IDEAL, Role.CURRENT_C))
    # leads a, c, b: a-b is then a-c
    assert np.allclose(
        _samples(recording, Role.VOLTAGE_AB), -_samples(IDEAL, Role.VOLTAGE_CA), atol=1e-9
    )
    assert np.allclose(
        _samples(recording, Role.VOLTAGE_BC), -_samples(IDEAL, Role.VOLTAGE_BC), atol=1e-9
    )


def test_offset_is_added_before_the_counts() -> None:
    recording = _recorded(
        current_offset_a=(0.5, 0.0, -0.25), voltage_offset_v=(3.0, 0.0, 0.0),
        bits=16, current_full_scale_a=20.0, voltage_full_scale_v=700.0,
    )  # fmt: skip
    step_a, step_v = 20.0 / 32767, 700.0 / 32767
    for role, offset, step in (
        (Role.CURRENT_A, 0.5, step_a),
        (Role.CURRENT_C, -0.25, step_a),
        (Role.VOLTAGE_AB, 3.0, step_v),
        (Role.VOLTAGE_BC, 0.0, step_v),
    ):
        difference = _samples(recording, role) - _samples(IDEAL, role) - offset
        assert np.abs(difference).max() <= 0.5 * step * (1.0 + 1e-9)


@pytest.mark.parametrize(("poles", "corner"), [(1, 0.10), (2, 0.12), (2, 0.30), (4, 0.20)])
@pytest.mark.parametrize("relative_frequency", [0.01, 0.1, 0.3])
def test_anti_alias_filter_has_gain_and_phase_of_its_poles(
    poles: int, corner: float, relative_frequency: float
) -> None:
    """H = 1 / (1 + j f / f_c)^n to 2e-3: the interpolation's own error is 1e-4 of what comes in,
    and what comes out is as low as 0.05."""
    rate_hz, n = 10_000.0, 2000
    frequency_hz = relative_frequency * rate_hz
    sensors = Sensors(anti_alias_hz=corner * rate_hz, anti_alias_poles=poles)
    samples = _tones(frequency_hz, rate_hz, n, sensors)[0].samples
    phasor = 2.0 * np.mean(samples * np.exp(-2j * np.pi * frequency_hz * np.arange(n) / rate_hz))
    expected = 1.0 / (1.0 + 1j * frequency_hz / (corner * rate_hz)) ** poles
    assert phasor == pytest.approx(expected, abs=3e-4 + 2e-3 * abs(expected))


def test_oversampling_and_filter_keep_a_line_above_the_band_from_folding() -> None:
    """6.3 kHz recorded at 5 kHz folds to 1.3 kHz: in full without, 23 dB down with two poles at
    1.67 kHz on a course of 20 kHz."""
    levels = []
    for anti_alias_hz in (None, 1670.0):
        sensors = Sensors(oversampling=4, anti_alias_hz=anti_alias_hz)
        samples = _tones(6300.0, 20_000.0, 8000, sensors)[0].samples
        assert samples.size == 2000
        turn = np.exp(-2j * np.pi * 1300.0 * np.arange(2000) / 5000.0)
        levels.append(2.0 * abs(np.mean(samples * turn)))
    assert levels[0] == pytest.approx(1.0, rel=1e-6)
    assert levels[1] == pytest.approx(1.0 / (1.0 + (6300.0 / 1670.0) ** 2), rel=0.01)


def test_oversampling_alone_changes_nothing_but_the_steps() -> None:
    recording = _recorded(oversampling=3)
    assert recording.sampling_rate_hz == RATE_HZ
    assert recording.n_samples == IDEAL.n_samples
    # the run settles from a slightly different instant: its transients are not quite alike
    assert _samples(recording, Role.VOLTAGE_AB) == pytest.approx(
        _samples(IDEAL, Role.VOLTAGE_AB), abs=1e-6
    )
    scale = np.abs(_samples(IDEAL, Role.CURRENT_A)).max()
    difference = _samples(recording, Role.CURRENT_A) - _samples(IDEAL, Role.CURRENT_A)
    assert np.abs(difference).max() < 5e-3 * scale


def test_jitter_makes_the_noise_of_its_slope() -> None:
    """rms error = 2 pi f sigma / sqrt 2 of a unit sine, to 5 % (4000 samples); the same instants in
    every channel."""
    w = 2.0 * np.pi * 200.0
    channels = _tones(200.0, 10_000.0, 4000, Sensors(jitter_rms_s=2e-6))
    angle = w * np.arange(4000) / 10_000.0
    shifts, steep = [], np.ones(4000, dtype=bool)
    for k in range(3):
        error = channels[k].samples - np.cos(angle - 2.0 * np.pi * k / 3.0)
        assert np.std(error) == pytest.approx(w * 2e-6 / math.sqrt(2.0), rel=0.05)
        slope = -w * np.sin(angle - 2.0 * np.pi * k / 3.0)
        usable = np.abs(slope) > 0.3 * w
        shifts.append(np.where(usable, error, 0.0) / np.where(usable, slope, 1.0))
        steep &= usable
    assert np.count_nonzero(steep) > 1000
    assert shifts[0][steep] == pytest.approx(shifts[1][steep], rel=0.03, abs=5e-8)


def test_lost_samples_close_up_and_are_known() -> None:
    recording = _recorded(lost_samples=3)
    assert recording.n_samples == IDEAL.n_samples - 3
    assert recording.truth["lost_samples"] == 3.0
    for role in (Role.CURRENT_A, Role.VOLTAGE_AB):
        kept, whole = _samples(recording, role), _samples(IDEAL, role)
        assert set(kept.tolist()) <= set(whole.tolist())
        assert kept[0] == whole[0]
        assert kept[-1] in whole[-4:]


def test_repeated_samples_stand_beside_their_origin_in_every_channel() -> None:
    recording = _recorded(repeated_samples=4, current_noise_rms_a=0.01, voltage_noise_rms_v=0.1)
    assert recording.n_samples == IDEAL.n_samples
    assert recording.truth["repeated_samples"] == 4.0
    places = [
        set(np.flatnonzero(np.diff(channel.samples) == 0.0).tolist())
        for channel in recording.channels
    ]
    assert len(places[0]) == 4
    assert all(other == places[0] for other in places)


def test_an_ideal_chain_adds_no_truth() -> None:
    assert "lost_samples" not in IDEAL.truth
    assert "repeated_samples" not in IDEAL.truth


@pytest.mark.parametrize(
    ("sensors", "message"),
    [
        ({"current_conductors": (0, 1, 3)}, "phases 0, 1 or 2"),
        ({"current_directions": (1, 0, 1)}, "1 or -1"),
        ({"oversampling": 0}, "at least 1"),
        ({"lost_samples": -1}, "not be negative"),
    ],
)
def test_impossible_chains_are_refused(sensors: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        Sensors(**sensors)


@pytest.mark.parametrize(
    ("sensors", "message"),
    [
        ({"anti_alias_hz": 50.0}, "remembers more"),
        ({"jitter_rms_s": 1e-3}, "jitter of 5.00 samples"),
        ({"lost_samples": 900}, "leave no recording"),
    ],
)
def test_what_the_model_cannot_take_is_refused(sensors: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        _recorded(**sensors)
