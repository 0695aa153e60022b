"""Starts found on drawn currents: kinds, refusals, and what is no start."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning.start_limits import StartLimits
from cagewise.conditioning.starts import MotorStart, StartKind, find_starts
from cagewise.measurement import Recording, Role
from cagewise.quantities import RealArray
from support.start_scenes import DIRECT, RATE_HZ, drawn, levels, with_only

CYCLE = round(RATE_HZ / 50.0)
ON = 1000
"""Sample at which the drawn starts begin."""


def _only_start(recording: Recording) -> MotorStart:
    (start,) = find_starts(recording)
    return start


def test_a_direct_start_is_found_to_the_sample() -> None:
    start = _only_start(drawn(levels(*DIRECT)))
    assert abs(start.switched_on - ON) <= 3
    assert start.kind is StartKind.DIRECT
    assert start.refused == ""
    assert not start.begins_before_record
    assert start.settled is not None
    assert abs(start.settled - 6250) < CYCLE  # the drawn fall ends at 1.25 s
    assert start.stop == 11250


def test_the_cut_is_the_start_with_what_follows() -> None:
    recording = drawn(levels(*DIRECT))
    start = _only_start(recording)
    part = start.cut(recording)
    assert part.n_samples == start.stop - start.switched_on
    assert part.provenance.steps[-1] == f"cut to the start at sample {start.switched_on}"


@pytest.mark.parametrize("role", [Role.CURRENT_A, Role.CURRENT_B, Role.CURRENT_C])
def test_one_noisy_current_is_enough(role: Role) -> None:
    start = _only_start(with_only(drawn(levels(*DIRECT), noise_a=0.6), role))
    assert abs(start.switched_on - ON) < CYCLE
    assert (start.kind, start.refused) == (StartKind.DIRECT, "")


@pytest.mark.parametrize("rate_hz", [800.0, 960.0, 3840.0])
@pytest.mark.parametrize("frequency_hz", [49.4, 60.3])
def test_rates_that_do_not_fit_the_supply(rate_hz: float, frequency_hz: float) -> None:
    level = levels(*DIRECT, rate_hz=rate_hz)
    start = _only_start(drawn(level, frequency_hz=frequency_hz, rate_hz=rate_hz, noise_a=0.3))
    assert start.switched_on / rate_hz == pytest.approx(0.2, abs=0.5 / frequency_hz)
    assert (start.kind, start.refused) == (StartKind.DIRECT, "")


@pytest.mark.parametrize("time_constant_s", [0.02, 0.1])
def test_the_direct_offset_of_switching_on_is_no_low_frequency(time_constant_s: float) -> None:
    """A full offset in two phases; 0.1 s is that of a large motor (X/R of 31)."""
    recording = drawn(levels(*DIRECT))
    time_s = np.arange(recording.n_samples) / RATE_HZ - 0.2
    offset = np.where(time_s >= 0.0, 80.0 * np.exp(-time_s / time_constant_s), 0.0)
    shares = (1.0, -0.5, -0.5)
    channels = tuple(
        replace(c, raw=c.raw + share * offset)
        for c, share in zip(recording.channels, shares, strict=True)
    )
    start = _only_start(replace(recording, channels=channels))
    assert (start.kind, start.refused) == (StartKind.DIRECT, "")


@pytest.mark.parametrize("pre_samples", [200, 100, 50, 30])
def test_a_short_pre_trigger(pre_samples: int) -> None:
    """Two cycles down to a third of one."""
    recording = drawn(levels(*DIRECT)).section(ON - pre_samples, 9000)
    start = _only_start(recording)
    assert abs(start.switched_on - pre_samples) <= 5
    assert not start.begins_before_record


def test_a_record_that_begins_during_the_start() -> None:
    start = _only_start(drawn(levels(*DIRECT)).section(2000, 11250))
    assert start.begins_before_record
    assert start.switched_on == 0
    assert start.kind is StartKind.NOT_KNOWN
    assert start.refused == ""


def test_a_record_that_begins_too_late_in_the_start() -> None:
    start = _only_start(drawn(levels(*DIRECT)).section(4800, 11250))
    assert start.begins_before_record
    assert "cycles of the start are in the record" in start.refused


@pytest.mark.parametrize(
    ("stop", "reason"),
    [(4000, "unchanged since switching on|at its starting level"), (6000, "still falling")],
)
def test_a_record_that_ends_before_the_motor_is_at_speed(stop: int, reason: str) -> None:
    start = _only_start(drawn(levels(*DIRECT)).section(0, stop))
    assert start.settled is None
    assert start.stop == stop
    assert start.refused.startswith("the record ends")
    assert any(words in start.refused for words in reason.split("|"))


def test_a_stalled_motor_that_is_tripped() -> None:
    start = _only_start(drawn(levels((0.2, 0, 0), (1.5, 60, 60), (1, 0, 0))))
    assert start.settled is None
    assert start.refused.startswith("the motor was switched off after 1.5 s")
    assert "stands (stalled)" in start.refused


def test_several_starts() -> None:
    first, second = find_starts(drawn(levels(*DIRECT, (1.5, 0, 0), *DIRECT)))
    assert abs(second.switched_on - (11250 + 7500 + ON)) <= 3
    assert first.stop == pytest.approx(11250, abs=2 * CYCLE)
    assert first.refused == second.refused == ""


def test_a_later_change_of_load_ends_the_running_part() -> None:
    start = _only_start(drawn(levels(*DIRECT, (2.0, 18, 18))))
    assert start.refused == ""
    assert start.stop == pytest.approx(11250, abs=2 * CYCLE)


@pytest.mark.parametrize("seconds", [0.1, 0.2, 0.5, 1.0, 2.0, 5.0])
def test_length_decides(seconds: float) -> None:
    """Least 20 cycles, 0.4 s: shorter starts are found and refused."""
    fall = 0.15 * seconds
    level = levels((0.2, 0, 0), (seconds - fall, 60, 55), (fall, 55, 10), (0.6 + fall, 10, 10))
    start = _only_start(drawn(level))
    assert abs(start.switched_on - ON) <= 3
    assert start.settled is not None
    assert start.settled / RATE_HZ - 0.2 == pytest.approx(seconds, abs=0.03)
    assert ("too short" in start.refused) == (seconds < 0.4)
    assert start.refused == "" or "cycles" in start.refused


NO_STARTS = {
    "running": levels((3, 10, 10)),
    "load step up": levels((1, 10, 10), (0.02, 10, 22), (2, 22, 22)),
    "load step down": levels((1, 22, 22), (0.02, 22, 7), (2, 7, 7)),
    "switching off": levels((1, 10, 10), (1, 0, 0)),
    "nothing": np.zeros(10_000),
    "beat of a broken cage": 10.0 * (1.0 + 0.15 * np.cos(2.0 * np.pi * np.arange(15_000) / 3846.0)),
}


@pytest.mark.parametrize("name", NO_STARTS)
def test_no_start(name: str) -> None:
    assert find_starts(drawn(NO_STARTS[name], noise_a=0.05)) == ()


def test_currents_that_are_no_sine_start_no_motor() -> None:
    """Bursts of noise between silences, as the record of a disturbance holds them."""
    rng = np.random.default_rng(8)
    recording = drawn(levels((0.3, 0, 0), (0.4, 1, 1), (0.3, 0, 0), (0.1, 1, 1), (0.3, 0, 0)))
    channels = tuple(
        replace(c, raw=np.abs(c.raw) ** 0.1 * np.cumsum(rng.standard_normal(c.raw.size)) * 1e-2)
        for c in recording.channels
    )
    noise = tuple(
        replace(c, raw=(c.raw != 0.0) * rng.standard_normal(c.raw.size)) for c in recording.channels
    )
    assert find_starts(replace(recording, channels=noise)) == ()
    assert all(start.refused for start in find_starts(replace(recording, channels=channels)))


@pytest.mark.parametrize("lost_s", [0.02, 0.4, 2.0])
def test_lost_samples_of_a_running_motor_are_no_start(lost_s: float) -> None:
    level = levels((5, 10, 10))
    level[7000 : 7000 + round(lost_s * RATE_HZ)] = 0.0
    assert find_starts(drawn(level)) == ()


@pytest.mark.parametrize(("rest_s", "reason"), [(0.2, "still turning"), (3.0, "too short")])
def test_inrush_of_a_motor_that_still_turned(rest_s: float, reason: str) -> None:
    inrush = (0.04, 50.0, 40.0), (0.04, 40.0, 12.0)
    start = _only_start(drawn(levels((1, 10, 10), (rest_s, 0, 0), *inrush, (1, 10, 10))))
    assert reason in start.refused


CHANGES = {
    "star-delta": ((1.0, 20, 19), (0.5, 58, 54), (0.15, 54, 11), (1, 10, 10)),
    "star-delta, open": ((1, 20, 19), (0.06, 0, 0), (0.5, 58, 54), (0.15, 54, 11), (1, 10, 10)),
    "autotransformer": ((0.6, 36, 35), (0.5, 54, 52), (0.15, 52, 11), (1, 10, 10)),
}


@pytest.mark.parametrize("name", CHANGES)
def test_changes_of_connection_are_named(name: str) -> None:
    start = _only_start(drawn(levels((0.2, 0, 0), *CHANGES[name])))
    assert start.kind is StartKind.NOT_KNOWN
    assert "star-delta" in start.refused
    assert "autotransformer" in start.refused


def test_star_delta_changed_at_speed() -> None:
    """Open: two runs. Closed: the second peak is the higher one."""
    star, delta = ((1, 20, 18), (0.2, 18, 6), (0.3, 6, 6)), ((0.05, 58, 40), (0.05, 40, 11))
    first, second = find_starts(
        drawn(levels((0.2, 0, 0), *star, (0.06, 0, 0), *delta, (1, 10, 10)))
    )
    assert "star-delta" in first.refused
    assert "still turning" in second.refused
    closed = _only_start(drawn(levels((0.2, 0, 0), *star, *delta, (1, 10, 10))))
    assert closed.refused


def _cut_angle(level: RealArray, first_rad: float, ramp_s: float) -> RealArray:
    time_s = np.arange(level.size) / RATE_HZ - 0.2
    return np.asarray(np.interp(time_s, [0.0, ramp_s], [first_rad, 0.0]))


@pytest.mark.parametrize("currents", [1, 3])
@pytest.mark.parametrize("first_a", [15.0, 33.0])
def test_gaps_in_every_cycle_are_a_soft_starter(first_a: float, currents: int) -> None:
    """A voltage ramp, and a current limit whose level hardly rises."""
    level = levels((0.2, 0, 0), (1, first_a, 35), (0.5, 35, 34), (0.15, 34, 11), (1, 10, 10))
    recording = drawn(level, cut_rad=_cut_angle(level, 1.2, 1.2), noise_a=0.3)
    if currents == 1:
        recording = with_only(recording, Role.CURRENT_B)
    start = _only_start(recording)
    assert start.kind is StartKind.SOFT_STARTER
    assert "soft starter" in start.refused


@pytest.mark.parametrize("currents", [1, 3])
@pytest.mark.parametrize(("ramp_s", "final_hz"), [(2.0, 50.0), (0.5, 35.0), (12.0, 50.0)])
def test_rising_frequency_is_a_converter(ramp_s: float, final_hz: float, currents: int) -> None:
    """The record of the slowest ends long before the last frequency is reached."""
    level = levels((0.2, 0, 0), (2, 12, 12), (0.1, 12, 8), (1, 8, 8))
    time_s = np.arange(level.size) / RATE_HZ - 0.2
    rising = np.interp(time_s, [0.0, ramp_s], [1.5, final_hz])
    recording = drawn(level, frequency_hz=rising, noise_a=0.1)
    if currents == 1:
        recording = with_only(recording, Role.CURRENT_C)
    start = _only_start(recording)
    assert start.kind is StartKind.CONVERTER
    assert "converter" in start.refused
    assert start.settled is None


def test_clipped_tops_are_named() -> None:
    recording = drawn(levels(*DIRECT))
    channels = tuple(
        replace(c, raw=np.clip(c.raw, -70.0, 70.0)) if c.role is Role.CURRENT_B else c
        for c in recording.channels
    )
    start = _only_start(replace(recording, channels=channels))
    assert "exceeds the range of the recorder (i_b" in start.refused


def test_samples_that_are_no_numbers() -> None:
    """A lost piece in the start is named; one before it does no harm."""
    recording = drawn(levels(*DIRECT))
    for first, refused in ((300, False), (2500, True)):
        channels = []
        for channel in recording.channels:
            raw = channel.raw.copy()
            raw[first : first + 120] = np.nan
            channels.append(replace(channel, raw=raw))
        start = _only_start(replace(recording, channels=tuple(channels)))
        assert abs(start.switched_on - ON) <= 3
        assert bool(start.refused) is refused


def test_limits_are_used() -> None:
    recording = drawn(levels(*DIRECT))
    (start,) = find_starts(recording, StartLimits(least_cycles=60.0))
    assert "at least 60 are needed" in start.refused
    (start,) = find_starts(recording, StartLimits(least_current_ratio=7.0))
    assert start.settled is None


def test_a_record_without_currents_has_no_start() -> None:
    assert find_starts(with_only(drawn(levels(*DIRECT)), Role.VOLTAGE_A)) == ()


def test_current_after_samples_without_numbers_is_no_start() -> None:
    """The motor may have run all the while; the same record with zeros there holds a start."""
    recording = drawn(levels(*DIRECT))
    torn = []
    for channel in recording.channels:
        samples = channel.samples
        samples[:ON] = np.nan
        torn.append(replace(channel, raw=samples, scale=1.0, offset=0.0))
    assert find_starts(replace(recording, channels=tuple(torn))) == ()
    assert len(find_starts(recording)) == 1
