"""The voltage-phase frame: closed forms, metamorphic relations, and what wander costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning import StatorSignals, SupplyFrame, supply_frame
from cagewise.conditioning.frame import least_duration_s
from cagewise.conditioning.signals import mirrored, turning_sense
from cagewise.measurement import Recording, Role
from cagewise.quantities import ComplexArray, amplitude_ratio, decibel
from support.synthetic import Line, Synthetic

F_PP_HZ = 0.4
LOWER = Line(level_dbc=-55.0, offset_hz=-F_PP_HZ, phase_rad=1.0)
UPPER = Line(level_dbc=-60.0, offset_hz=F_PP_HZ, phase_rad=-0.7)
MOTOR = Synthetic(sampling_rate_hz=2000.0, frequency_hz=50.0137, lines=(LOWER, UPPER))
MEAN_PART = 3e-5
"""What side lines of 0.2 % leave in a plain mean over 23 periods."""

SETS = {
    "three currents, three voltages": ("i_a", "i_b", "i_c", "v_ab", "v_bc", "v_ca"),
    "two currents, two voltages": ("i_a", "i_c", "v_ab", "v_bc"),
    "two other currents, two other voltages": ("i_b", "i_c", "v_bc", "v_ca"),
    "one current, one voltage": ("i_a", "v_ab"),
    "one other current, one other voltage": ("i_c", "v_bc"),
    "three currents": ("i_a", "i_b", "i_c"),
    "one current": ("i_b",),
}


def with_channels(recording: Recording, names: tuple[str, ...]) -> Recording:
    kept = tuple(c for c in recording.channels if c.role.value in names)
    return replace(recording, channels=kept)


def frame_of(recording: Recording, nominal_hz: float = 50.0) -> SupplyFrame:
    return supply_frame(StatorSignals.from_recording(recording), nominal_hz)


def side_lines(frame: SupplyFrame, offset_hz: float = F_PP_HZ) -> tuple[complex, complex]:
    """Return L and U over the fundamental: a weighted fit of the three lines at known places."""
    offsets = np.array([0.0, -offset_hz, offset_hz])
    window = np.kaiser(frame.time_s.size, 10.0)
    basis = np.exp(2j * np.pi * np.outer(frame.time_s, offsets))
    carrier, lower, upper = np.linalg.lstsq(
        basis * window[:, None], frame.current * window, rcond=None
    )[0]
    return complex(lower / carrier), complex(upper / carrier)


EXPECTED = tuple(
    amplitude_ratio(line.level_dbc) * np.exp(1j * line.phase_rad) for line in (LOWER, UPPER)
)


@pytest.mark.parametrize("names", SETS.values(), ids=SETS.keys())
def test_closed_form_is_returned_by_every_set_of_channels(names: tuple[str, ...]) -> None:
    frame = frame_of(with_channels(MOTOR.recording(), names))
    # the ends ring at -78 dB where they are weighted by less than -60 dB
    assert side_lines(frame) == pytest.approx(EXPECTED, abs=3e-7)
    assert frame.supply_frequency_hz == pytest.approx(50.0137, abs=1e-6)
    mean = complex(frame.current.mean())
    assert abs(mean) == pytest.approx(100.0 * np.sqrt(2.0), rel=MEAN_PART)
    if frame.from_voltage:
        assert np.angle(mean) == pytest.approx(-0.5, abs=MEAN_PART)
        assert frame.voltage is not None
        assert np.abs(frame.voltage.imag).max() < 1e-9 * abs(frame.voltage.mean())
        assert abs(frame.voltage.mean()) == pytest.approx(400.0 * np.sqrt(2.0 / 3.0), rel=1e-6)
    else:
        assert frame.voltage is None


@pytest.mark.parametrize("rate_hz", [1000.0, 1613.0, 5000.0, 12800.0])
@pytest.mark.parametrize("supply_hz", [49.91, 60.02, 16.7])
def test_sampling_rate_and_supply_frequency_change_nothing(
    rate_hz: float, supply_hz: float
) -> None:
    motor = replace(MOTOR, sampling_rate_hz=rate_hz, frequency_hz=supply_hz)
    frame = frame_of(motor.recording(), round(supply_hz))
    assert side_lines(frame) == pytest.approx(EXPECTED, abs=3e-7)
    assert frame.supply_frequency_hz == pytest.approx(supply_hz, abs=1e-6)


@pytest.mark.parametrize("names", SETS.values(), ids=SETS.keys())
def test_reversed_sequence_reads_the_same(names: tuple[str, ...]) -> None:
    recording = with_channels(replace(MOTOR, sequence=-1).recording(), names)
    signals = StatorSignals.from_recording(recording)
    several = sum(n[0] == "i" for n in names) >= 2 or sum(n[0] == "v" for n in names) >= 2
    assert signals.sequence == (-1 if several else 0)
    assert side_lines(supply_frame(signals, 50.0)) == pytest.approx(EXPECTED, abs=3e-7)


def test_renaming_b_and_c_is_the_same_as_turning_the_other_way() -> None:
    recording = MOTOR.recording()
    there = StatorSignals.from_recording(mirrored(recording))
    plain = StatorSignals.from_recording(recording)
    assert (plain.sequence, there.sequence) == (1, -1)
    assert np.array_equal(plain.current, there.current)
    assert plain.voltage is not None
    assert there.voltage is not None
    assert there.voltage == pytest.approx(plain.voltage, rel=1e-12, abs=1e-9)
    back = mirrored(mirrored(recording))
    assert [c.role for c in back.channels] == [c.role for c in recording.channels]
    assert [c.scale for c in back.channels] == [c.scale for c in recording.channels]


def test_turning_sense_is_that_of_the_fundamental_not_of_the_carrier() -> None:
    time_s = np.arange(40_000) / 20_000.0
    slow = np.exp(2j * np.pi * 20.0 * time_s)
    carrier = 1.2 * np.exp(-2j * np.pi * 4100.0 * time_s)
    vector: ComplexArray = slow + carrier
    assert turning_sense(vector, 20_000.0) == 1
    assert turning_sense(np.conj(vector), 20_000.0) == -1
    assert turning_sense((slow + np.conj(slow)).astype(np.complex128), 20_000.0) == 1


@pytest.mark.parametrize("factor", [1e-3, 1.0, 1e3])
def test_scaling_scales(factor: float) -> None:
    recording = MOTOR.recording()
    channels = tuple(replace(c, scale=factor) for c in recording.channels)
    frame = frame_of(replace(recording, channels=channels))
    assert side_lines(frame) == pytest.approx(EXPECTED, abs=3e-7)
    assert abs(frame.current.mean()) == pytest.approx(factor * 100.0 * np.sqrt(2.0), rel=MEAN_PART)


@pytest.mark.parametrize("shift", [1, 37, 12_345])
def test_a_time_shift_turns_the_side_lines_in_opposite_senses(shift: int) -> None:
    recording = MOTOR.recording()
    late = recording.section(shift, recording.n_samples)
    turn = np.exp(2j * np.pi * F_PP_HZ * shift / recording.sampling_rate_hz)
    lower, upper = side_lines(frame_of(late))
    assert (lower * turn, upper / turn) == pytest.approx(EXPECTED, abs=3e-7)


def test_cyclic_renaming_changes_nothing() -> None:
    recording = MOTOR.recording()
    ring = {"a": "b", "b": "c", "c": "a"}
    channels = tuple(
        replace(c, role=Role("_".join([c.name[0], *["".join(ring[x] for x in c.name[2:])]])))
        for c in recording.channels
    )
    frame = frame_of(replace(recording, channels=channels))
    assert side_lines(frame) == pytest.approx(EXPECTED, abs=3e-7)


def test_sensor_offsets_do_not_reach_the_frame_even_at_railway_frequency() -> None:
    motor = replace(MOTOR, frequency_hz=16.7, lines=(LOWER, UPPER))
    recording = motor.recording()
    channels = tuple(
        replace(c, raw=c.raw + 0.5 * k * np.abs(c.raw).max())
        for k, c in enumerate(recording.channels)
    )
    frame = frame_of(replace(recording, channels=channels), 16.7)
    assert side_lines(frame) == pytest.approx(EXPECTED, abs=3e-7)
    middle = frame.current[200:-200] / frame.current.mean()
    assert np.abs(middle).max() < 1.0 + 1.1 * (abs(EXPECTED[0]) + abs(EXPECTED[1]))


# --- wander of the supply


def error_db(motor: Synthetic, names: tuple[str, ...]) -> float:
    lower, _ = side_lines(frame_of(with_channels(motor.recording(), names)))
    return decibel(abs(lower)) - LOWER.level_dbc


@pytest.mark.parametrize("wander_hz", [0.01, 0.05])
def test_wander_of_the_supply_costs_nothing_in_the_frame_of_the_voltage(wander_hz: float) -> None:
    """Wander with a correlation time of 10 s; error below 0.001 dB at 10 and 50 mHz rms."""
    for seed in range(3):
        motor = replace(MOTOR, wander_hz=wander_hz, seed=seed)
        for names in list(SETS.values())[:5]:
            assert abs(error_db(motor, names)) < 1e-3


@pytest.mark.parametrize(("wander_hz", "least_db"), [(0.01, 1.0), (0.05, 5.0)])
def test_wander_is_lost_on_currents_alone(wander_hz: float, least_db: float) -> None:
    """Only motion slower than three periods per record is followed; rms over eight records."""
    errors = [
        error_db(replace(MOTOR, wander_hz=wander_hz, seed=seed), SETS["three currents"])
        for seed in range(8)
    ]
    assert float(np.sqrt(np.mean(np.square(errors)))) > least_db


@pytest.mark.parametrize("order", [-5.0, 7.0, 16.3])
def test_lines_that_follow_the_supply_stand_still_in_their_order(order: float) -> None:
    line = Line(level_dbc=-44.5, order=order, offset_hz=-2.0 * F_PP_HZ, phase_rad=0.4)
    motor = replace(MOTOR, lines=(line,), wander_hz=0.05)
    recording = motor.recording()
    frame = frame_of(recording)
    band = frame.order_band(order, 8.0, 40.0)
    window = np.kaiser(band.time_s.size, 10.0)
    turned = band.samples * np.exp(2j * np.pi * 2.0 * F_PP_HZ * band.time_s)
    level = abs(np.average(turned, weights=window)) / abs(frame.current.mean())
    assert decibel(level) == pytest.approx(-44.5, abs=0.02)
    voltage = frame.voltage_order_band(order, 8.0, 40.0)
    assert voltage is not None
    assert np.abs(voltage.samples).max() < 1e-4 * 400.0


def test_a_band_is_never_sampled_too_slowly() -> None:
    signals = StatorSignals.from_recording(MOTOR.recording())
    band = signals.band(signals.current_spectrum, 50.0, 16.0, 10.0)
    assert band.sampling_rate_hz >= 40.0


def test_too_short_a_record_is_refused() -> None:
    short = replace(MOTOR, duration_s=0.9 * least_duration_s(50.0)).recording()
    with pytest.raises(ValueError, match="too short"):
        frame_of(short)
    enough = replace(MOTOR, duration_s=1.1 * least_duration_s(50.0)).recording()
    assert frame_of(enough).duration_s > 0.5


def test_frequency_track_follows_the_supply() -> None:
    motor = replace(MOTOR, wander_hz=0.05, lines=())
    frame = frame_of(motor.recording())
    truth = np.gradient(motor.supply_phase()) * motor.sampling_rate_hz / (2.0 * np.pi)
    at = np.round(frame.time_s * motor.sampling_rate_hz).astype(int)
    inner = slice(40, -40)
    assert frame.frequency_hz[inner] == pytest.approx(truth[at][inner], abs=1e-3)
