"""Parts of the side line's track in closed form; starts on which it is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning.starts import MotorStart, StartKind
from cagewise.indicators.start.side_line_track import read_side_line_track
from cagewise.indicators.start.track_circuit import StartCircuit, displaced
from cagewise.indicators.start.track_expectation import (
    wave_levels,
    wave_template,
)
from cagewise.indicators.start.track_limits import StartTrackLimits
from cagewise.indicators.start.track_signals import StartSignals, envelope, start_signals
from cagewise.indicators.start.track_strength import TrackStrength, track_bars
from cagewise.indicators.start.track_trapped import TrappedFlux
from cagewise.indicators.start.track_windows import TrackWindows
from cagewise.machine.cage.balance import OperatingCondition
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.expectation import bars_of_response
from cagewise.machine.cage.solution import LOWER, solve_cage
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
    Role,
)
from cagewise.quantities import RealArray
from support.cage_models import reference_cage

RATE_HZ = 2000.0
W = 100.0 * math.pi
PLATE = Nameplate(
    rated_power_w=3e3,
    rated_voltage_v=380.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1420.0,
    rated_current_a=6.7,
    poles=4,
)
MOTOR = Motor(tag="R3K", nameplate=PLATE, cage=Cage(rotor_bars=32, stator_slots=36))
START = MotorStart(switched_on=200, settled=1800, stop=3000, kind=StartKind.DIRECT)


def _recording(
    *, level: RealArray | None = None, currents: int = 3, rate_hz: float = RATE_HZ
) -> Recording:
    """A current that falls to a sixth when settled, on a voltage of this level."""
    n = 3000
    time = np.arange(n) / RATE_HZ
    size = np.where(np.arange(n) < 1800, 40.0, 7.0) * (np.arange(n) >= 200)
    voltage = 537.0 if level is None else 537.0 * level
    channels = []
    for k, role in enumerate(CURRENT_ROLES[:currents]):
        wave = size * np.cos(W * time - 1.0 - 2.0 * math.pi * k / 3.0)
        channels.append(Channel(name=role.value, raw=wave, unit="A", role=role))
    for k, role in enumerate(LINE_VOLTAGE_ROLES):
        wave = voltage * np.cos(W * time + math.pi / 6.0 - 2.0 * math.pi * k / 3.0)
        channels.append(Channel(name=role.value, raw=wave, unit="V", role=role))
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=rate_hz,
        provenance=Provenance(source="made up", format_name="synthetic"),
    )


def _reason(recording: Recording, start: MotorStart = START) -> str:
    """Return why the track is not read; nothing of the reading may then be there."""
    track = read_side_line_track(recording, start, MOTOR, circuit_ensemble(MOTOR, 50))
    assert track.figure is None
    assert not track.reading.valid
    assert track.reading.value is None
    assert track.reading.open_bar_equivalent is None
    return track.reading.reason


@pytest.mark.parametrize("kind", [StartKind.SOFT_STARTER, StartKind.CONVERTER])
def test_controlled_starts_are_refused(kind: StartKind) -> None:
    assert f"start by {kind.value}" in _reason(_recording(), replace(START, kind=kind))


def test_a_refusal_of_the_start_is_passed_on() -> None:
    assert _reason(_recording(), replace(START, refused="it is no start")) == "it is no start"


def test_a_start_cut_at_either_end_is_refused() -> None:
    begun = replace(START, begins_before_record=True)
    assert "beginning of the start is missing" in _reason(_recording(), begun)
    assert "before the motor reached" in _reason(_recording(), replace(START, settled=None))
    assert "too soon after the start" in _reason(_recording(), replace(START, stop=1850))


def test_short_starts_and_slow_recorders_are_refused() -> None:
    assert "the start took 10 supply cycles" in _reason(_recording(), replace(START, settled=600))
    assert "500 samples per second" in _reason(_recording(rate_hz=500.0))


def test_a_record_without_current_is_refused() -> None:
    assert _reason(_recording(currents=0)) == "there is no current"


def test_a_clipped_current_is_refused() -> None:
    recording = _recording()
    first = replace(recording.channels[0], range_high=30.0)
    clipped = replace(recording, channels=(first, *recording.channels[1:]))
    assert _reason(clipped) == "i_a is clipped during the start"


def test_a_rising_voltage_is_no_direct_start() -> None:
    """A soft starter that was not recognised: a third of the voltage at first."""
    ramp = np.clip((np.arange(3000) - 200) / 1600.0, 0.3, 1.0)
    assert "the voltage was down to 3" in _reason(_recording(level=ramp))


def test_a_current_of_another_motor_is_refused() -> None:
    """Ten times the current that this nameplate can draw."""
    recording = _recording()
    channels = tuple(
        replace(c, scale=10.0) if c.role in CURRENT_ROLES else c for c in recording.channels
    )
    reason = _reason(replace(recording, channels=channels))
    assert "do not fit this motor" in reason


@pytest.mark.parametrize(
    ("roles", "value", "told"),
    [
        (CURRENT_ROLES, 0.0, "no current of the supply's frequency"),
        (LINE_VOLTAGE_ROLES, 0.0, "no voltage of the supply's frequency"),
        (CURRENT_ROLES, 3.0, "no current of the supply's frequency"),
        (LINE_VOLTAGE_ROLES, math.nan, "v_ab holds samples that are no numbers"),
    ],
)
def test_dead_and_broken_channels_are_refused(
    roles: tuple[Role, ...], value: float, told: str
) -> None:
    recording = _recording()
    channels = tuple(
        replace(c, raw=np.full(3000, value)) if c.role in roles else c for c in recording.channels
    )
    assert told in _reason(replace(recording, channels=channels))


def test_reversed_currents_do_not_fit_the_motor() -> None:
    recording = _recording()
    channels = tuple(
        replace(c, scale=-1.0) if c.role in CURRENT_ROLES else c for c in recording.channels
    )
    assert "do not fit this motor" in _reason(replace(recording, channels=channels))


def test_frequency_and_envelopes_of_a_start() -> None:
    signals = start_signals(_recording(), START, 51.0)
    assert isinstance(signals, StartSignals)
    assert signals.frequency_hz == pytest.approx(50.0, abs=1e-3)
    assert signals.settled_s == pytest.approx(0.8)
    assert signals.voltage_envelope is not None
    middle = signals.current_envelope.size // 2
    ratio = signals.current_envelope[middle] / signals.voltage_envelope[middle]
    assert abs(ratio) == pytest.approx(40.0 * 3.0**0.5 / 537.0, rel=1e-3)
    assert np.angle(ratio) == pytest.approx(-1.0, abs=1e-3)


def test_an_envelope_takes_offset_and_negative_sequence_out() -> None:
    """3 cycles of Hann: an offset or mirror of 1 is below 1e-3; the fundamental stays."""
    time = np.arange(2000) / RATE_HZ
    vector = np.exp(1j * W * time) + 1.0 + 0.5 * np.exp(-1j * W * time)
    inner = envelope(vector, 50.0, RATE_HZ)[200:-200]
    assert np.abs(inner - 1.0).max() < 2e-3


@pytest.mark.parametrize("height", [0.3, 1.0, 2.0, 3.5])
def test_displaced_current_is_z_coth_z(height: float) -> None:
    z = (1.0 + 1.0j) * height
    impedance = z / np.tanh(z)
    resistance, leakage = displaced(np.array(height))
    assert float(resistance) == pytest.approx(impedance.real, rel=1e-9)
    assert float(leakage) == pytest.approx(impedance.imag / (2.0 * height**2 / 3.0), rel=1e-9)


def test_a_motor_at_its_running_slip_is_its_circuit() -> None:
    drawn = StartCircuit.drawn(circuit_ensemble(MOTOR, 50), 80, seed=1)
    at_rest = drawn.at_slip(np.zeros(80))
    assert at_rest.rotor_resistance_ohm == pytest.approx(np.exp(drawn.state[1]), rel=1e-4)
    assert at_rest.rotor_leakage_h == pytest.approx(np.exp(drawn.state[3]), rel=1e-4)
    standing = drawn.at_slip(np.ones(80))
    assert np.all(standing.rotor_resistance_ohm >= at_rest.rotor_resistance_ohm * (1.0 - 1e-9))
    assert np.all(standing.rotor_leakage_h <= at_rest.rotor_leakage_h)


def test_modes_of_the_trapped_flux() -> None:
    """Closed form against eigenvalues; standing still the slow mode is 1/(L (1/R_s + 1/R_r))."""
    circuit = reference_cage(1).circuit()
    modes = TrappedFlux.of(circuit, np.array([1.0, 0.7, 0.2]), W)
    for k, slip in enumerate((1.0, 0.7, 0.2)):
        rates = np.linalg.eigvals(_flux_matrix(circuit, slip))
        assert modes.slow[k] == pytest.approx(rates[np.argmax(rates.real)], rel=1e-9)
    leak = 1.0 / float(circuit.stator_resistance_ohm) + 1.0 / float(circuit.rotor_resistance_ohm)
    assert -1.0 / modes.slow[0].real == pytest.approx(
        float(circuit.stator_inductance_h) * leak, rel=0.02
    )
    turning = modes.slow[1].imag / (0.3 * W)
    share = float(circuit.stator_resistance_ohm) / float(
        circuit.stator_resistance_ohm + circuit.rotor_resistance_ohm
    )
    assert turning == pytest.approx(share, abs=0.02)


def _flux_matrix(circuit: EquivalentCircuit, slip: float) -> np.ndarray:
    inductance = np.array(
        [
            [float(circuit.stator_inductance_h), float(circuit.magnetizing_inductance_h)],
            [float(circuit.magnetizing_inductance_h), float(circuit.rotor_inductance_h)],
        ]
    )
    loss = np.diag([float(circuit.stator_resistance_ohm), float(circuit.rotor_resistance_ohm)])
    matrix = (-loss @ np.linalg.inv(inductance)).astype(np.complex128)
    matrix[1, 1] += 1j * W * (1.0 - slip)
    return matrix


def test_template_is_the_harmonic_solution_at_fixed_slip() -> None:
    """A motor known exactly, against the cage of its dimensions: 7 % from an unknown ring share."""
    known = replace(MOTOR, circuit=reference_cage(1).circuit())
    drawn = StartCircuit.drawn(reference_cage(1).circuit(), 4, seed=1)
    state = drawn.state.copy()
    state[5:7] = -6.0  # no displaced current, no saturation
    plain = StartCircuit(state)
    template = wave_template(known, plain, 50.0)
    for slip in (0.3, 0.8):
        condition = OperatingCondition(
            slip=np.array([slip]),
            frequency_rad_s=W,
            voltage_v=311.0,
            inertia_kg_m2=np.array([np.inf]),
        )
        one = solve_cage(reference_cage(), Damage.adjacent_open(1), condition)
        expected = abs(one.relative(LOWER)[0])
        assert abs(template.at(np.array([slip]))[0]) == pytest.approx(expected, rel=0.1)
    levels = wave_levels(known, plain, np.array([0.3, 0.8]), 50.0)
    assert levels.shape == (4, 2, 4)
    assert np.all(np.diff(levels, axis=0) > 0.0)


def test_levels_become_bars() -> None:
    levels = np.array([[0.1], [0.3], [0.6], [1.0]])
    for level, bars in ((0.0, 0.0), (0.05, 0.5), (0.1, 1.0), (0.45, 2.5), (1.4, 5.0)):
        assert bars_of_response(levels, np.array([level]))[0] == pytest.approx(bars)


def _windows(wave: float, *, count: int = 12, seed: int = 0) -> TrackWindows:
    rng = np.random.default_rng(seed)
    noise = 0.1 * (rng.standard_normal(count) + 1j * rng.standard_normal(count)) / 2.0**0.5
    return TrackWindows(
        time_s=np.linspace(0.2, 1.0, count),
        slip=np.linspace(0.9, 0.2, count),
        length_s=0.16,
        wave=wave + noise,
        expected=np.full(count, 0.03),
        floor=np.full(count, 0.1),
        leakage=np.full(count, 0.03),
        floor_degrees=30.0,
        offset_hz=np.zeros(count),
        mirror=np.zeros(count),
        fundamental_a=np.full(count, 40.0),
    )


def test_noise_alone_is_called_as_seldom_as_stated() -> None:
    """Overlapping windows are not independent; these are, so the chance errs on the safe side."""
    chances = np.array(
        [TrackStrength.of(_windows(0.0, seed=k)).false_alarm_probability for k in range(400)]
    )
    assert np.mean(chances < 0.05) <= 0.05
    assert 0.3 < np.median(chances) < 0.7


def test_searched_tracks_are_paid_for() -> None:
    one, five = (TrackStrength.of(_windows(0.2), cells) for cells in (1, 5))
    assert five.false_alarm_probability == pytest.approx(5.0 * one.false_alarm_probability)
    assert five.detection_limit(1e-3) > one.detection_limit(1e-3)
    blurred = TrackStrength.of(_windows(0.2), 1, blur=1.0)
    assert blurred.detection_limit(1e-3) == pytest.approx(2.0 * one.detection_limit(1e-3), rel=0.01)


def test_a_wave_at_the_detection_limit_is_found_nearly_always() -> None:
    limit = TrackStrength.of(_windows(0.0)).detection_limit(1e-3)
    found = [
        TrackStrength.of(_windows(limit, seed=k)).false_alarm_probability < 1e-3 for k in range(100)
    ]
    assert np.mean(found) >= 0.95


@pytest.mark.parametrize("wave", [0.0, 0.05, 0.1, 0.2])
def test_an_undetected_wave_is_bounded_by_what_noise_could_hide(wave: float) -> None:
    """The windows here are independent, so the 97.5 % hold from above; the limit is not reached."""
    strengths = [TrackStrength.of(_windows(wave, seed=k)) for k in range(200)]
    above = np.array([s.upper_limit() for s in strengths])

    assert np.mean(above >= wave) >= 0.975
    assert np.min(above) > 0.05
    if wave == 0.0:
        assert np.median(above) < 0.6 * strengths[0].detection_limit(1e-3)


def test_a_sound_start_does_not_pretend_to_read_nothing_at_all() -> None:
    """Noise smaller than its floor leaves no draw above zero; the interval is not [0, 0]."""
    quiet = replace(_windows(0.0), wave=np.full(12, 0.01 + 0.0j))
    known = replace(MOTOR, circuit=reference_cage(1).circuit())
    drawn = StartCircuit.drawn(reference_cage(1).circuit(), 20, seed=1)
    bars = track_bars(TrackStrength.of(quiet), known, drawn, 50.0, 1e-3)

    assert bars.bars.value == bars.bars.low == 0.0
    assert 0.0 < bars.bars.high < bars.detection_limit_bars


def test_level_is_that_of_the_wave() -> None:
    """|wave| = 1 bar of -30.5 dB: the interval holds it and is narrow."""
    level, slip = TrackStrength.of(_windows(1.0)).level_db(200)
    assert slip == pytest.approx(0.3)
    assert level.low < 20.0 * math.log10(0.03) < level.high
    assert level.high - level.low < 3.0
    energy = TrackStrength.of(_windows(1.0)).energy_ratio_db(200)
    assert energy.low < -20.0 * math.log10(0.03) < energy.high


def test_limits_state_what_the_methods_ask() -> None:
    """Track within 1.5 Hz on 60 % of the start, at least 15 cycles (published practice)."""
    limits = StartTrackLimits()
    assert (limits.largest_offset_hz, limits.least_track_part) == (1.5, 0.6)
    assert limits.least_cycles == 15.0


def test_single_currents_are_doubled() -> None:
    """A current alone stands for its vector: the envelope of the fundamental is the same."""
    recording = _recording()
    alone = replace(
        recording,
        channels=tuple(
            c for c in recording.channels if c.role not in (Role.CURRENT_A, Role.CURRENT_B)
        ),
    )
    three, one = (start_signals(r, START, 50.0) for r in (recording, alone))
    assert isinstance(three, StartSignals)
    assert isinstance(one, StartSignals)
    assert (three.currents_measured, one.currents_measured) == (3, 1)
    # within half a window of the step at settling the mirror shows
    before = slice(0, three.first_running - 10)
    assert one.current_envelope[before] == pytest.approx(three.current_envelope[before], rel=2e-3)
