"""Block values against closed forms; the supply frequency found without being told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning import survey_recording
from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.quantities import NotKnown, RealArray
from support.synthetic import Synthetic


def one_channel(samples: RealArray, rate_hz: float, **fields: object) -> Recording:
    channel = Channel(name="I", raw=samples, unit="A", role=Role.CURRENT_A)
    return Recording(
        channels=(replace(channel, **fields),),  # type: ignore[arg-type]  # fields vary by test
        sampling_rate_hz=rate_hz,
        provenance=Provenance(source="closed form", format_name="synthetic"),
    )


def frequency(recording: Recording) -> float:
    found = survey_recording(recording).frequency_hz
    assert isinstance(found, float)
    return found


@pytest.mark.parametrize("supply_hz", [8.3, 16.7, 25.0, 49.93, 60.02, 100.0, 400.0])
@pytest.mark.parametrize("rate_hz", [1000.0, 4096.0, 51200.0])
def test_supply_frequency_is_found_without_being_told(supply_hz: float, rate_hz: float) -> None:
    wave = Synthetic(
        frequency_hz=supply_hz, sampling_rate_hz=rate_hz, duration_s=3.0, noise_db=-30.0
    )
    # a hundredth of the width of a bin of 3 s
    assert frequency(wave.recording()) == pytest.approx(supply_hz, abs=0.01 / 3.0)


@pytest.mark.parametrize("rate_hz", [1013.0, 4096.0, 10000.0])
def test_a_sine_with_offset_is_fitted_exactly_even_off_the_cycle(rate_hz: float) -> None:
    """60 Hz is no whole number of samples at any of these rates."""
    time_s = np.arange(round(2.0 * rate_hz)) / rate_hz
    samples = 40.0 + 10.0 * np.cos(2.0 * np.pi * 60.0 * time_s + 0.3)
    survey = survey_recording(one_channel(samples, rate_hz))
    assert np.abs(survey.phasor[0]) == pytest.approx(np.full(survey.n_blocks, 10.0), rel=2e-4)
    assert survey.mean[0] == pytest.approx(np.full(survey.n_blocks, 40.0), rel=2e-4)
    assert np.median(survey.rms[0]) == pytest.approx(10.0 / np.sqrt(2.0), rel=2e-2)
    assert np.angle(survey.phasor[0, 0]) == pytest.approx(0.3, abs=0.01)


def test_level_of_a_balanced_current_is_its_rms_and_ignores_clamp_direction() -> None:
    recording = Synthetic(duration_s=1.0).recording()
    level = survey_recording(recording).current_level()
    assert level == pytest.approx(np.full(level.size, 100.0), rel=1e-9)
    turned = tuple(
        replace(c, scale=-1.0) if c.role is Role.CURRENT_B else c for c in recording.channels
    )
    other = survey_recording(replace(recording, channels=turned)).current_level()
    assert np.array_equal(level, other)


def test_a_sample_that_is_no_number_spoils_its_block_only() -> None:
    recording = Synthetic(duration_s=1.0).recording()
    raw = recording.channels[0].raw.copy()
    raw[1234] = np.nan
    channels = (replace(recording.channels[0], raw=raw), *recording.channels[1:])
    survey = survey_recording(replace(recording, channels=channels))
    bad = ~np.isfinite(survey.current_level())
    assert np.flatnonzero(bad).tolist() == [1234 // survey.block_samples]


@pytest.mark.parametrize(
    "samples",
    [
        np.empty(0),
        np.ones(1),
        np.zeros(5000),
        np.full(5000, np.nan),
        np.full(5000, np.inf),
        np.random.default_rng(1).standard_normal(5000),
        np.linspace(0.0, 1.0, 5000),
    ],
    ids=["empty", "one sample", "zeros", "nan", "inf", "noise", "ramp"],
)
def test_what_holds_no_line_is_said_so(samples: RealArray) -> None:
    survey = survey_recording(one_channel(samples, 5000.0))
    assert isinstance(survey.frequency_hz, NotKnown)
    assert survey.n_blocks == 0
    assert survey.current_level().size == 0


def test_channels_of_other_things_are_left_alone() -> None:
    recording = Synthetic(duration_s=1.0).recording()
    named = recording.with_roles({"v_ab": Role.OTHER})
    survey = survey_recording(named)
    row = [c.name for c in named.channels].index("v_ab")
    assert np.isnan(survey.phasor[row]).all()
    assert survey.inspections[row] is None
