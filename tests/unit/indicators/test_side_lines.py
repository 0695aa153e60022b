"""Side lines in closed form: levels, what does not change them, and when they are refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.cage.catalogue import HEADS, CageReadings, read_cage
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.reading import Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.motor import DriveTrain
from cagewise.measurement import CURRENT_ROLES, LINE_VOLTAGE_ROLES, Recording
from cagewise.quantities import Estimate, NotKnown
from support.operating import frame_of, plant_circuit, plant_motor, point_of, uncertain
from support.synthetic import Line, Synthetic

SLIP = 0.02
LINES = (
    Line(level_dbc=-45.0, offset_hz=-2.0, phase_rad=0.7),
    Line(level_dbc=-50.0, offset_hz=2.0, phase_rad=-1.9),
)
EXACT_DB = 0.006
"""What still rings of the frame's filter where it is trimmed lies at -116 dBc: 0.005 dB of -50."""
RECORD = Synthetic(sampling_rate_hz=2500.0, duration_s=20.0, lines=LINES)


def read(recording: Recording, nominal_hz: float = 50.0, scale: float = 1.0) -> dict[str, Reading]:
    frame = frame_of(recording, nominal_hz)
    # the inertia that takes part of the lower line away goes with the power, and so does its reach
    train = DriveTrain(rotor_inertia_kg_m2=0.5 * scale**2, load_inertia_kg_m2=1.5 * scale**2)
    motor = replace(plant_motor(nominal_hz, scale), drive_train=train)
    return by_name(read_cage(frame, point_of(frame, SLIP), motor, plant_circuit(), CageLimits()))


def by_name(found: CageReadings) -> dict[str, Reading]:
    return {reading.name: reading for reading in found.readings}


def level(readings: dict[str, Reading], name: str) -> float:
    value = readings[name].value
    assert value is not None
    return value.value


def test_levels_are_those_put_in() -> None:
    found = read(RECORD.recording())
    assert level(found, "lower_side_line") == pytest.approx(-45.0, abs=EXACT_DB)
    assert level(found, "upper_side_line") == pytest.approx(-50.0, abs=EXACT_DB)
    total = 20.0 * math.log10(10.0 ** (-45.0 / 20.0) + 10.0 ** (-50.0 / 20.0))
    assert level(found, "side_line_sum") == pytest.approx(total, abs=EXACT_DB)
    details = found["lower_side_line"].details
    assert details["frequency_hz"] == pytest.approx(48.0, abs=1e-4)
    assert details["coherent_level_dbc"] == pytest.approx(-45.0, abs=EXACT_DB)


def test_phase_is_that_of_the_line_at_mid_record() -> None:
    found = read(RECORD.recording())["lower_side_line"].details
    # line and fundamental share the lag; the phase of the line advances from the first sample
    middle_s = float(frame_of(RECORD.recording()).time_s.mean())
    expected = 0.7 - 2.0 * math.pi * 2.0 * middle_s
    apart = found["phase_to_fundamental_rad"] - expected
    assert math.remainder(apart, 2.0 * math.pi) == pytest.approx(0.0, abs=2e-3)


def test_the_lower_line_counts_by_the_inertia_of_the_drive() -> None:
    """A light drive swings with the fault and takes part of its own line away: more bars."""
    frame = frame_of(RECORD.recording())
    counted = []
    for inertia_kg_m2 in (0.1, 100.0):
        train = DriveTrain(rotor_inertia_kg_m2=inertia_kg_m2, load_inertia_kg_m2=0.0)
        motor = replace(plant_motor(), drive_train=train)
        found = read_cage(frame, point_of(frame, SLIP), motor, plant_circuit(), CageLimits())
        bars = by_name(found)["lower_side_line"].open_bar_equivalent
        assert bars is not None
        counted.append(bars)
    light, heavy = counted
    assert light.low > heavy.high


@pytest.mark.parametrize("scale", [0.01, 30.0])
def test_amperes_and_volts_of_another_size(scale: float) -> None:
    other = replace(RECORD, current_rms_a=100.0 * scale, line_voltage_rms_v=400.0 * scale)
    one, many = read(RECORD.recording()), read(other.recording(), scale=scale)
    for name in ("lower_side_line", "envelope_amplitude", "direct_component"):
        assert level(many, name) == pytest.approx(level(one, name), rel=1e-6)
        first, second = one[name].open_bar_equivalent, many[name].open_bar_equivalent
        assert first is not None
        assert second is not None
        # bars of a larger motor may be deeper: what is not known of the cage is drawn for its size
        assert second.high == pytest.approx(first.high, rel=0.02)


def test_a_later_start() -> None:
    recording = RECORD.recording()
    later = recording.section(1234, recording.n_samples)
    one, other = read(recording), read(later)
    for name in ("lower_side_line", "upper_side_line", "envelope_phase", "direct_component"):
        assert level(other, name) == pytest.approx(level(one, name), rel=2e-4)


def test_phases_renamed_in_turn() -> None:
    recording = RECORD.recording()
    turned = {}
    for roles in (CURRENT_ROLES, LINE_VOLTAGE_ROLES):
        for k, role in enumerate(roles):
            turned[role] = roles[(k + 1) % 3]
    channels = tuple(replace(c, role=turned[c.role]) for c in recording.channels)
    one, other = read(recording), read(replace(recording, channels=channels))
    for name in ("lower_side_line", "direct_component", "active_power_line"):
        assert level(other, name) == pytest.approx(level(one, name), rel=1e-6)


def test_reversed_sequence() -> None:
    one, other = read(RECORD.recording()), read(replace(RECORD, sequence=-1).recording())
    for name in ("lower_side_line", "upper_side_line", "direct_component"):
        assert level(other, name) == pytest.approx(level(one, name), rel=1e-5)


def test_another_sampling_rate() -> None:
    one = read(RECORD.recording())
    other = read(replace(RECORD, sampling_rate_hz=7350.0).recording())
    for name in ("lower_side_line", "upper_side_line", "envelope_amplitude"):
        assert level(other, name) == pytest.approx(level(one, name), rel=1e-5)


def test_sixty_hertz() -> None:
    lines = tuple(replace(line, offset_hz=1.2 * line.offset_hz) for line in LINES)
    found = read(replace(RECORD, frequency_hz=60.0, lines=lines).recording(), 60.0)
    assert level(found, "lower_side_line") == pytest.approx(-45.0, abs=EXACT_DB)
    assert found["lower_side_line"].details["frequency_hz"] == pytest.approx(57.6, abs=1e-3)


def test_mains_wander_is_gone_in_the_voltage_frame() -> None:
    """Survey: 10 mHz rms moves every fixed-frequency estimator by 2 to 40 dB."""
    found = read(replace(RECORD, wander_hz=0.02, noise_db=-70.0).recording())
    assert level(found, "lower_side_line") == pytest.approx(-45.0, abs=0.02)


def test_noise_alone_is_no_line_and_bounds_the_damage() -> None:
    found = read(replace(RECORD, lines=(), noise_db=-60.0).recording())
    for name in ("side_line_sum", "lower_side_line", "direct_component", "envelope_amplitude"):
        reading = found[name]
        assert reading.valid
        assert reading.false_alarm_probability is not None
        assert reading.false_alarm_probability > 0.01
        assert reading.open_bar_equivalent is not None
        assert reading.detection_limit_bars is not None
        assert reading.open_bar_equivalent.low == 0.0
        assert 0.0 < reading.detection_limit_bars < 0.1
    assert not found["active_power_line"].valid


def refused(**changes: object) -> Reading:
    frame = frame_of(RECORD.recording())
    point = replace(point_of(frame, SLIP), **changes)  # type: ignore[arg-type]  # fields of the point
    return _lower(frame, point)


def _lower(frame: SupplyFrame, point: OperatingPoint) -> Reading:
    found = read_cage(frame, point, plant_motor(), plant_circuit(), CageLimits())
    assert [reading.name for reading in found.readings] == [head.name for head in HEADS]
    assert found.spectra
    return by_name(found)["lower_side_line"]


def test_unknown_slip_refuses_everything() -> None:
    reading = refused(slip=NotKnown("no family of lines was found"))
    assert not reading.valid
    assert "no family of lines was found" in reading.reason


def test_slip_found_on_the_side_lines_is_said() -> None:
    said = "the slip was found with the help of these same lines"
    assert said in refused(slip_families=("rotor slot", "pole pass")).caveats
    assert said not in refused().caveats


def test_low_load_is_refused_by_load_or_by_slip() -> None:
    assert "10 % of rated" in refused(load_fraction=Estimate(0.1, 0.08, 0.12)).reason
    frame = frame_of(RECORD.recording())
    unknown = point_of(frame, 0.003, load=None)
    assert "18 % of rated" in _lower(frame, unknown).reason


def test_wandering_slip_is_read_by_energy_then_refused() -> None:
    reading = refused(slip_wander=0.06)
    assert reading.valid
    assert any("wanders by 6 %" in caveat for caveat in reading.caveats)
    assert "wanders by 13 %" in refused(slip_wander=0.13).reason


def test_short_records_are_fitted_then_refused() -> None:
    short = replace(RECORD, duration_s=3.0).recording()
    frame = frame_of(short)
    reading = _lower(frame, point_of(frame, SLIP))
    assert reading.valid
    assert reading.value is not None
    # four periods without noise
    assert reading.value.value == pytest.approx(-45.0, abs=0.05)
    assert any("joint fit" in caveat for caveat in reading.caveats)
    shorter = frame_of(replace(RECORD, duration_s=1.9).recording())
    reason = _lower(shorter, point_of(shorter, SLIP)).reason
    assert "1.8 pole-pass periods" in reason
    assert "record 3 s or longer" in reason


def test_every_number_can_be_printed() -> None:
    for lines in (LINES, ()):
        frame = frame_of(replace(RECORD, lines=lines).recording())
        ensemble = uncertain(plant_circuit())
        found = read_cage(
            frame, point_of(frame, SLIP), plant_motor(bars=None), ensemble, CageLimits()
        )
        for reading in found.readings:
            assert reading.valid != bool(reading.reason)
            assert (reading.value is not None) == reading.valid
            estimates = [e for e in (reading.value, reading.open_bar_equivalent) if e is not None]
            numbers = [x for e in estimates for x in (e.value, e.low, e.high)]
            numbers += list(reading.details.values())
            assert np.all(np.isfinite(numbers)), reading.name
        for spectrum in found.spectra:
            assert np.all(np.diff(spectrum.frequency_hz) > 0.0)
            assert np.all(np.isfinite(spectrum.level_dbc))
            assert np.all(np.isfinite(spectrum.floor_dbc))


def test_spectrum_shows_carrier_and_lines_at_their_levels() -> None:
    frame = frame_of(replace(RECORD, noise_db=-60.0).recording())
    found = read_cage(frame, point_of(frame, SLIP), plant_motor(), plant_circuit(), CageLimits())
    spectrum = next(s for s in found.spectra if s.name == "supply_frame")
    for at_hz, expected in ((0.0, 0.0), (-2.0, -45.0), (2.0, -50.0)):
        near = np.abs(spectrum.frequency_hz - at_hz) < 0.1
        # 0.2 dB between two bins, 0.1 dB from the noise
        assert spectrum.level_dbc[near].max() == pytest.approx(expected, abs=0.3)
    assert spectrum.markers_hz["lower side line"] == pytest.approx(-2.0, abs=1e-3)
    quiet = np.abs(np.abs(spectrum.frequency_hz) - 1.0) < 0.5
    assert np.median(spectrum.floor_dbc[quiet]) < -85.0


def test_classic_counts_are_given_for_comparison() -> None:
    """34 bars, two pole pairs, both lines at -30.10 dB: estimator A reads 2 bars (Thomson and
    Fenger 2001, from memory; printed to two decimals), estimator C 2.13.
    """
    lines = tuple(replace(line, level_dbc=-30.10) for line in LINES)
    frame = frame_of(replace(RECORD, lines=lines).recording())
    point = point_of(frame, SLIP, bars=34)
    found = by_name(read_cage(frame, point, plant_motor(), plant_circuit(), CageLimits()))
    details = found["side_line_sum"].details
    assert details["classic_a_bars"] == pytest.approx(2.0, rel=2e-3)
    assert details["classic_c_bars"] == pytest.approx(34 * 2 * 10.0 ** (-30.10 / 20.0), rel=2e-3)
