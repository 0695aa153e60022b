"""Starts of the simulated reference motor: found within a cycle, kind and end as they were."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.conditioning.starts import MotorStart, StartKind, find_starts
from cagewise.measurement import Recording, Role
from cagewise.simulation import (
    FrequencyRamp,
    Load,
    Sensors,
    SoftStart,
    SourceImpedance,
    Supply,
    simulate,
)
from support.start_scenes import (
    FAN,
    FREQUENCY_HZ,
    LIGHT,
    NO_LOAD,
    SWITCH_ON_S,
    VOLTAGE_V,
    Scene,
    currents_only,
    joined,
    silence,
    simulated,
    thinned,
    with_only,
)

CYCLE_S = 1.0 / FREQUENCY_HZ
NOISY = Sensors(current_noise_rms_a=0.37, voltage_noise_rms_v=2.2)
"""1 % of the starting current and of the voltage."""


def _only_start(recording: Recording) -> MotorStart:
    (start,) = find_starts(recording)
    return start


@pytest.mark.parametrize(
    ("scene", "short"),
    [
        (Scene(inertia_factor=2.0, load=NO_LOAD), True),
        (Scene(inertia_factor=8.0, load=FAN), True),
        (Scene(inertia_factor=25.0, load=NO_LOAD), False),
        (Scene(inertia_factor=20.0, load=FAN), False),
        (Scene(inertia_factor=60.9, load=LIGHT, duration_s=2.0), False),
        (Scene(inertia_factor=180.0, load=FAN, duration_s=6.0), False),
    ],
    ids=lambda value: f"J x {value.inertia_factor}" if isinstance(value, Scene) else "",
)
def test_start_length(scene: Scene, short: bool) -> None:  # noqa: FBT001 - a parameter of the test
    """0.03 to 4 s: the end is where the current has settled, at or after 95 % of speed.

    A fan's run-up ends slowly: at most a tenth of the start and six cycles later.
    """
    recording = simulated(scene)
    truth = recording.truth["time_to_speed_s"]
    start = _only_start(recording)
    rate = recording.sampling_rate_hz
    assert start.switched_on / rate == pytest.approx(SWITCH_ON_S, abs=0.1 * CYCLE_S)
    assert start.kind is StartKind.DIRECT
    assert ("too short" in start.refused) == short
    assert start.settled is not None
    late = start.settled / rate - SWITCH_ON_S - truth
    assert -0.05 * truth < late < 0.12 * truth + 6.0 * CYCLE_S


@pytest.mark.parametrize("roles", [(Role.CURRENT_A,), (Role.CURRENT_B, Role.CURRENT_C)])
@pytest.mark.parametrize("sensors", [Sensors(), NOISY], ids=["quiet", "1 % noise"])
def test_few_currents(roles: tuple[Role, ...], sensors: Sensors) -> None:
    start = _only_start(with_only(simulated(Scene(sensors=sensors)), *roles))
    assert start.switched_on / 5000.0 == pytest.approx(SWITCH_ON_S, abs=0.25 * CYCLE_S)
    assert (start.kind, start.refused) == (StartKind.DIRECT, "")


@pytest.mark.parametrize("rate_hz", [800.0, 1600.0, 3200.0])
def test_relay_capture(rate_hz: float) -> None:
    """16 to 64 samples per cycle, currents alone, cut off before the motor is at speed."""
    scene = Scene(sampling_rate_hz=rate_hz * round(6400.0 / rate_hz))
    recording = currents_only(thinned(simulated(scene), round(6400.0 / rate_hz)))
    start = _only_start(recording)
    assert start.switched_on / rate_hz == pytest.approx(SWITCH_ON_S, abs=0.25 * CYCLE_S)
    assert (start.kind, start.refused) == (StartKind.DIRECT, "")
    cut = _only_start(recording.section(0, round(0.45 * rate_hz)))
    assert cut.settled is None
    assert cut.refused.startswith("the record ends 0.3")


@pytest.mark.parametrize("fault", ["1 bar", "2 adjacent", "4 adjacent", "2 at 90"])
@pytest.mark.parametrize("load", [LIGHT, FAN])
def test_the_beat_of_a_broken_cage_does_not_hide_the_start(fault: str, load: Load) -> None:
    scene = Scene(inertia_factor=40.0, load=load, fault=fault, duration_s=2.2)
    start = _only_start(simulated(scene))
    assert (start.kind, start.refused) == (StartKind.DIRECT, "")


@pytest.mark.parametrize("fault", ["healthy", "4 adjacent"])
def test_a_running_motor_was_not_started(fault: str) -> None:
    setup = Scene(fault=fault, load=Load(torque_nm=15.0), inertia_factor=5.0).setup()
    recording = simulate(setup, duration_s=3.0, sampling_rate_hz=2500.0)
    assert find_starts(recording) == ()


def test_two_starts_in_one_record() -> None:
    one = simulated(Scene())
    recording = joined(one, silence(one, 1.2), one)
    first, second = find_starts(recording)
    gap = one.n_samples + round(1.2 * one.sampling_rate_hz)
    assert second.switched_on - first.switched_on == gap
    assert first.refused == second.refused == ""
    assert first.stop <= one.n_samples < second.switched_on


@pytest.mark.parametrize(("initial", "ramp_s"), [(0.3, 0.6), (0.5, 0.2)])
@pytest.mark.parametrize("voltages", [True, False])
def test_soft_starter(initial: float, ramp_s: float, voltages: bool) -> None:  # noqa: FBT001 - same
    """The simulation leaves no gaps: the rise and the harmonics tell."""
    ramp = SoftStart(initial=initial, ramp_s=ramp_s, start_s=SWITCH_ON_S)
    supply = Supply(line_voltage_rms_v=VOLTAGE_V, frequency_hz=FREQUENCY_HZ, soft_start=ramp)
    scene = Scene(supply=supply, load=NO_LOAD, duration_s=1.6)
    recording = simulated(scene)
    start = _only_start(recording if voltages else currents_only(recording))
    assert start.kind is StartKind.SOFT_STARTER
    assert "soft starter" in start.refused


def test_a_ramp_of_the_voltage_without_harmonics_is_refused_too() -> None:
    ramp = SoftStart(initial=0.5, ramp_s=0.3, start_s=SWITCH_ON_S, phase_control=False)
    supply = Supply(line_voltage_rms_v=VOLTAGE_V, frequency_hz=FREQUENCY_HZ, soft_start=ramp)
    recording = simulated(Scene(supply=supply, load=NO_LOAD, duration_s=1.6))
    for part in (recording, currents_only(recording)):
        start = _only_start(part)
        assert start.kind is StartKind.NOT_KNOWN
        assert "reduced voltage" in start.refused


@pytest.mark.parametrize(("ramp_s", "initial_hz"), [(0.6, 3.0), (2.5, 1.0)])
def test_converter(ramp_s: float, initial_hz: float) -> None:
    """Whole and cut off in the ramp; with a single current."""
    ramp = FrequencyRamp(ramp_s=ramp_s, start_s=SWITCH_ON_S, initial_hz=initial_hz)
    supply = Supply(line_voltage_rms_v=VOLTAGE_V, frequency_hz=FREQUENCY_HZ, ramp=ramp)
    scene = Scene(supply=supply, inertia_factor=5.0, load=NO_LOAD, duration_s=ramp_s + 1.0)
    recording = simulated(scene)
    cut = recording.section(0, recording.n_samples // 2)
    for part in (recording, cut, with_only(recording, Role.CURRENT_A)):
        start = _only_start(part)
        assert start.kind is StartKind.CONVERTER
        assert "the frequency rises" in start.refused


def test_a_weak_supply_is_still_a_direct_start() -> None:
    """The terminal voltage sags by a sixth and comes back as the motor gains speed."""
    source = SourceImpedance(resistance_ohm=0.2, inductance_h=3.0e-3)
    supply = Supply(line_voltage_rms_v=VOLTAGE_V, frequency_hz=FREQUENCY_HZ, source=source)
    recording = simulated(Scene(supply=supply, load=FAN, duration_s=2.0))
    for part in (recording, currents_only(recording)):
        start = _only_start(part)
        assert (start.kind, start.refused) == (StartKind.DIRECT, "")


def test_a_stalled_motor() -> None:
    start = _only_start(simulated(Scene(load=Load(friction_nm=200.0), duration_s=1.0)))
    assert start.settled is None
    assert "stands (stalled)" in start.refused


@pytest.mark.parametrize(("full_scale_a", "clipped"), [(45.0, True), (150.0, False)])
def test_a_range_too_small_for_the_start(full_scale_a: float, clipped: bool) -> None:  # noqa: FBT001 - same
    """Peaks are 52 A without offset, up to 75 A with it."""
    sensors = Sensors(bits=14, current_full_scale_a=full_scale_a, voltage_full_scale_v=1000.0)
    start = _only_start(simulated(Scene(sensors=sensors)))
    assert ("range of the recorder" in start.refused) is clipped


def test_everything_scales() -> None:
    """Another ratio of the current transformer changes nothing."""
    recording = simulated(Scene())
    channels = tuple(replace(c, scale=37.0 * c.scale) for c in recording.channels)
    assert find_starts(replace(recording, channels=channels)) == find_starts(recording)
