"""Steady stretches: starts skipped, steps cut, beats of a damaged cage left whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning import Boundary, QualityLimits, Stretch, find_steady_stretches
from cagewise.measurement import Recording, Role
from cagewise.quantities import RealArray
from support.synthetic import Line, Synthetic

RATE_HZ = 2000.0
BLOCK_S = 0.02


def shaped(recording: Recording, shape: RealArray, prefix: str = "i_") -> Recording:
    channels = tuple(
        replace(c, raw=c.raw * shape) if c.role.value.startswith(prefix) else c
        for c in recording.channels
    )
    return replace(recording, channels=channels)


def clock(recording: Recording) -> RealArray:
    return np.arange(recording.n_samples) / recording.sampling_rate_hz


def record(duration_s: float = 30.0, lines: tuple[Line, ...] = ()) -> Recording:
    return Synthetic(
        sampling_rate_hz=RATE_HZ, duration_s=duration_s, noise_db=-50.0, lines=lines
    ).recording()


def beating(depth: float, beat_hz: float) -> tuple[Line, ...]:
    """Return two equal lines that beat the current by +-depth."""
    level = 20.0 * np.log10(depth / 2.0)
    return (Line(level_dbc=level, offset_hz=-beat_hz), Line(level_dbc=level, offset_hz=beat_hz))


def spans(stretches: tuple[Stretch, ...]) -> list[tuple[float, float]]:
    return [(s.start / RATE_HZ, s.stop / RATE_HZ) for s in sorted(stretches, key=lambda s: s.start)]


@pytest.mark.parametrize("depth", [0.02, 0.05, 0.10])
@pytest.mark.parametrize("beat_hz", [0.04, 0.1, 0.33, 0.7, 1.9, 4.8])
def test_the_beat_of_a_broken_cage_cuts_nothing(depth: float, beat_hz: float) -> None:
    for phase in (0.0, 1.0, 2.0, 3.0):
        lines = tuple(replace(line, phase_rad=phase) for line in beating(depth, beat_hz))
        stretches = find_steady_stretches(record(lines=lines))
        assert spans(stretches) == [(0.0, 30.0)]
        assert stretches[0].drift < 0.02


@pytest.mark.parametrize("lines", [(), beating(0.08, 0.4)], ids=["quiet", "beating"])
@pytest.mark.parametrize("step", [-0.3, -0.08, 0.08, 1.0])
@pytest.mark.parametrize("at_s", [4.0, 13.0, 27.0])
def test_a_load_step_is_cut_where_it_happened(
    lines: tuple[Line, ...], step: float, at_s: float
) -> None:
    recording = record(lines=lines)
    shape = np.where(clock(recording) < at_s, 1.0, 1.0 + step)
    found = spans(find_steady_stretches(shaped(recording, shape)))
    (first, before), (after, last) = found
    assert (first, last) == (0.0, 30.0)
    assert at_s - 0.25 < before <= at_s <= after < at_s + 0.25


def test_a_step_below_the_limit_stays_and_the_limit_is_the_callers() -> None:
    recording = record()
    recording = shaped(recording, np.where(clock(recording) < 10.0, 1.0, 1.03))
    assert len(find_steady_stretches(recording)) == 1
    assert len(find_steady_stretches(recording, QualityLimits(load_step=0.02))) == 2


@pytest.mark.parametrize("tail_s", [0.0, 0.4])
def test_a_start_is_skipped(tail_s: float) -> None:
    """At rest for 3 s, direct start with six times the current for 1.5 s, then running."""
    recording = record()
    t = clock(recording)
    running = 1.0 + (5.0 * np.exp(-(t - 4.5) / tail_s) if tail_s else 0.0)
    shape = np.select([t < 3.0, t < 4.5], [0.001, 6.0 - 0.4 * (t - 3.0)], running)
    best = find_steady_stretches(shaped(recording, shape))[0]
    assert best.began is Boundary.START_UP
    assert 4.5 < best.start / RATE_HZ < 4.6 + 8.0 * tail_s
    assert best.stop == recording.n_samples
    assert best.current_rms_a == pytest.approx(100.0, rel=0.01)


def test_switching_off_ends_a_stretch() -> None:
    recording = record()
    stretches = find_steady_stretches(
        shaped(recording, np.where(clock(recording) < 20.0, 1.0, 0.0))
    )
    assert len(stretches) == 1
    assert stretches[0].start == 0
    assert 20.0 - 2.0 * BLOCK_S < stretches[0].stop / RATE_HZ <= 20.0
    assert stretches[0].ended is Boundary.SWITCH_OFF


@pytest.mark.parametrize("prefix", ["i_", "v_ab"])
@pytest.mark.parametrize("filler", [0.0, np.nan])
def test_a_dropout_in_any_channel_cuts(prefix: str, filler: float) -> None:
    recording = record()
    t = clock(recording)
    gone = (t > 12.003) & (t < 12.011)
    torn = shaped(recording, np.where(gone, filler, 1.0), prefix)
    stretches = find_steady_stretches(torn)
    assert len(stretches) == 2
    assert stretches[0].began is Boundary.DROPOUT
    assert stretches[1].ended is Boundary.DROPOUT
    assert spans(stretches)[0][1] <= 12.003
    assert spans(stretches)[1][0] >= 12.011


def test_longest_first_and_cut_agrees_with_the_samples() -> None:
    recording = record()
    recording = shaped(recording, np.where(clock(recording) < 10.0, 1.0, 0.7))
    stretches = find_steady_stretches(recording)
    assert [s.duration_s for s in stretches] == sorted(s.duration_s for s in stretches)[::-1]
    piece = stretches[0].cut(recording)
    assert piece.n_samples == stretches[0].stop - stretches[0].start
    assert np.array_equal(
        piece.channels[0].raw,
        recording.channels[0].raw[stretches[0].start : stretches[0].stop],
    )
    assert piece.provenance.steps[-1].startswith("cut to samples")


@pytest.mark.parametrize("factor", [1e-3, 1.0, 1e4])
def test_scaling_changes_nothing_but_the_current(factor: float) -> None:
    recording = record()
    recording = shaped(recording, np.where(clock(recording) < 9.0, 1.0, 1.2))
    scaled = shaped(recording, np.full(recording.n_samples, factor))
    plain, other = find_steady_stretches(recording), find_steady_stretches(scaled)
    assert spans(plain) == spans(other)
    assert other[0].current_rms_a == pytest.approx(factor * plain[0].current_rms_a)


def test_the_two_sides_of_a_step_swap_when_time_runs_backwards() -> None:
    recording = record()
    recording = shaped(recording, np.where(clock(recording) < 9.0, 1.0, 1.2))
    backwards = replace(
        recording,
        channels=tuple(replace(c, raw=c.raw[::-1].copy()) for c in recording.channels),
    )
    there = np.array(spans(find_steady_stretches(recording)))
    back = np.array(spans(find_steady_stretches(backwards)))
    assert 30.0 - back[::-1, ::-1] == pytest.approx(there, abs=2.0 * BLOCK_S)


def test_nothing_steady_is_an_empty_answer() -> None:
    recording = record(duration_s=5.0)
    assert find_steady_stretches(shaped(recording, np.zeros(recording.n_samples))) == ()
    nameless = recording.with_roles(dict.fromkeys(("i_a", "i_b", "i_c"), Role.UNASSIGNED))
    assert find_steady_stretches(nameless) == ()
