"""Cage lines beside the 5th and 7th harmonic: places, sequence, gates."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.indicators.cage.catalogue import read_cage
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.reading import Reading
from cagewise.measurement import CURRENT_ROLES, Recording
from support.operating import frame_of, plant_circuit, plant_motor, point_of, uncertain
from support.synthetic import Line, Synthetic

SLIP = 0.02
F_PP = 2.0
FIFTH = Line(level_dbc=-35.0, order=-5.0, phase_rad=0.3)
SEVENTH = Line(level_dbc=-40.0, order=7.0, phase_rad=1.3)
CAGE = (
    Line(level_dbc=-50.0, order=-5.0, offset_hz=2.0 * F_PP),
    Line(level_dbc=-58.0, order=-5.0, offset_hz=3.0 * F_PP, phase_rad=1.0),
    Line(level_dbc=-55.0, order=7.0, offset_hz=-3.0 * F_PP, phase_rad=2.0),
    Line(level_dbc=-62.0, order=7.0, offset_hz=-4.0 * F_PP, phase_rad=3.0),
)
LEVELS = {"5_minus_4s": -50.0, "5_minus_6s": -58.0, "7_minus_6s": -55.0, "7_minus_8s": -62.0}
PLACES_HZ = {"5_minus_4s": 246.0, "5_minus_6s": 244.0, "7_minus_6s": 344.0, "7_minus_8s": 342.0}
RECORD = Synthetic(
    sampling_rate_hz=2500.0, duration_s=20.0, lines=(FIFTH, SEVENTH, *CAGE), noise_db=-60.0
)


def read(recording: Recording, nominal_hz: float = 50.0) -> Reading:
    frame = frame_of(recording, nominal_hz)
    circuit, motor = uncertain(plant_circuit()), plant_motor(nominal_hz)
    found = read_cage(frame, point_of(frame, SLIP), motor, circuit, CageLimits())
    return next(r for r in found.readings if r.name == "harmonic_lines")


def test_lines_stand_at_the_places_of_the_slip() -> None:
    """(5 - 4s) f, (5 - 6s) f, (7 - 6s) f, (7 - 8s) f: Deleroi 1984 as cited in the review of
    Pons-Llinares et al., eq. (2).
    """
    reading = read(RECORD.recording())
    assert reading.details["lines_standing_count"] == 4.0
    for label, level in LEVELS.items():
        assert reading.details[f"line_{label}_hz"] == pytest.approx(PLACES_HZ[label], abs=0.01)
        # the noise floor lies 40 dB below the weakest line
        assert reading.details[f"line_{label}_dbc"] == pytest.approx(level, abs=0.15)
    assert reading.value is not None
    assert reading.value.value == pytest.approx(-50.0, abs=0.05)
    assert reading.open_bar_equivalent is not None
    assert reading.false_alarm_probability is not None
    assert reading.false_alarm_probability < 1e-6


def test_places_of_a_sixty_hertz_motor() -> None:
    """Four poles, 60 Hz, slip 0.0472: 288.667, 283.000, 403.000 and 397.333 Hz (arithmetic)."""
    slip = 170.0 / 3600.0
    recording = Synthetic(
        sampling_rate_hz=2500.0, duration_s=10.0, frequency_hz=60.0, noise_db=-60.0
    )
    frame = frame_of(recording.recording(), 60.0)
    found = read_cage(
        frame, point_of(frame, slip), plant_motor(60.0), plant_circuit(), CageLimits()
    )
    details = next(r for r in found.readings if r.name == "harmonic_lines").details
    expected = dict(zip(LEVELS, (288.667, 283.0, 403.0, 397.333), strict=True))
    for label, place_hz in expected.items():
        assert details[f"line_{label}_hz"] == pytest.approx(place_hz, abs=0.002)


def test_supply_harmonics_and_their_images_are_no_cage_lines() -> None:
    """Images one pole-pass frequency from the harmonics, as load oscillation makes them."""
    images = tuple(
        Line(level_dbc=-55.0, order=order, offset_hz=offset)
        for order in (-5.0, 7.0)
        for offset in (-F_PP, F_PP)
    )
    reading = read(replace(RECORD, lines=(FIFTH, SEVENTH, *images)).recording())
    assert reading.valid
    assert reading.details["lines_standing_count"] == 0.0
    assert reading.open_bar_equivalent is None
    assert reading.false_alarm_probability == 1.0
    for name in ("image_5_minus_2s", "image_5_plus_2s", "image_7_minus_2s", "image_7_plus_2s"):
        assert reading.details[f"{name}_dbc"] == pytest.approx(-55.0, abs=0.2)


def test_images_are_named_by_their_frequency() -> None:
    """5f - f_pp is +f_pp from -5f in the space vector; 7f - f_pp is -f_pp from +7f."""
    images = (
        Line(level_dbc=-50.0, order=-5.0, offset_hz=F_PP),
        Line(level_dbc=-52.0, order=7.0, offset_hz=-F_PP),
    )
    details = read(replace(RECORD, lines=images).recording()).details
    assert details["image_5_minus_2s_dbc"] == pytest.approx(-50.0, abs=0.1)
    assert details["image_7_minus_2s_dbc"] == pytest.approx(-52.0, abs=0.1)
    assert details["image_5_plus_2s_dbc"] < -80.0
    assert details["image_7_plus_2s_dbc"] < -80.0


def test_wrong_sequence_is_not_a_cage_line() -> None:
    mirrored = tuple(replace(line, order=-line.order, offset_hz=-line.offset_hz) for line in CAGE)
    reading = read(replace(RECORD, lines=(FIFTH, SEVENTH, *mirrored)).recording())
    assert reading.details["lines_standing_count"] == 0.0


def test_a_line_that_the_pattern_takes_away_does_not_lower_the_damage() -> None:
    """Two lines alone need as many bars as beside two weak ones: kernels K6 and K8 can vanish."""
    fifth, sixth, seventh, eighth = CAGE
    weak = tuple(replace(line, level_dbc=-80.0) for line in (sixth, eighth))
    strong = read(replace(RECORD, lines=(FIFTH, SEVENTH, fifth, seventh)).recording())
    beside = read(replace(RECORD, lines=(FIFTH, SEVENTH, fifth, seventh, *weak)).recording())

    assert beside.details["lines_standing_count"] == 4.0
    assert strong.open_bar_equivalent is not None
    assert beside.open_bar_equivalent is not None
    assert beside.open_bar_equivalent.low >= 0.95 * strong.open_bar_equivalent.low


def test_one_line_alone_is_not_enough() -> None:
    reading = read(replace(RECORD, lines=(FIFTH, SEVENTH, CAGE[0])).recording())
    assert reading.details["lines_standing_count"] == 1.0
    assert reading.open_bar_equivalent is None
    assert reading.false_alarm_probability == 1.0


def test_lines_that_the_voltage_drives_do_not_count() -> None:
    """At -20 dB of the supply the leakage admittance passes about as much as the lines carry."""
    volts = tuple(replace(line, level_dbc=line.level_dbc + 15.0) for line in CAGE)
    reading = read(replace(RECORD, voltage_lines=volts).recording())
    assert reading.details["lines_standing_count"] == 0.0
    quiet = tuple(replace(line, level_dbc=line.level_dbc - 15.0) for line in CAGE)
    reading = read(replace(RECORD, voltage_lines=quiet).recording())
    assert reading.details["lines_standing_count"] == 4.0
    shares = [reading.details[f"line_{label}_voltage_share_1"] for label in LEVELS]
    # 30 dB less voltage is a 32nd of the share, all below the limit now
    assert 0.0 < max(shares) < 0.5


def test_one_current_reads_the_same_lines_without_their_sequence() -> None:
    recording = RECORD.recording()
    alone = tuple(c for c in recording.channels if c.role is CURRENT_ROLES[0])
    reading = read(replace(recording, channels=alone))
    for label, level in LEVELS.items():
        assert reading.details[f"line_{label}_dbc"] == pytest.approx(level, abs=0.2)
    assert any("sequence" in caveat for caveat in reading.caveats)
    assert any("no voltage" in caveat for caveat in reading.caveats)


def test_low_sampling_rate_and_short_record_are_refused() -> None:
    slow = read(replace(RECORD, sampling_rate_hz=1000.0).recording())
    assert "sampled at 1000 Hz" in slow.reason
    assert "2000 Hz or more" in slow.reason
    short = read(replace(RECORD, duration_s=3.5).recording())
    assert "record 3 s or longer" in short.reason


def test_noise_bounds_what_could_have_been_seen() -> None:
    reading = read(replace(RECORD, lines=(FIFTH, SEVENTH)).recording())
    assert reading.valid
    assert reading.detection_limit_bars is not None
    assert 0.0 < reading.detection_limit_bars < 1.0


def test_a_slip_too_unsure_to_part_the_places_is_refused() -> None:
    """Four times the error of the slip reaches the next place: no noise is left to compare with."""
    frame = frame_of(RECORD.recording(), 50.0)
    circuit, motor = uncertain(plant_circuit()), plant_motor(50.0)
    point = point_of(frame, SLIP, slip_sd=0.2)
    found = read_cage(frame, point, motor, circuit, CageLimits())
    reading = next(r for r in found.readings if r.name == "harmonic_lines")
    assert not reading.valid
    assert "slip is too unsure" in reading.reason
