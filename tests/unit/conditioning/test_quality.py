"""Every quality finding is made by its cause, and by nothing else."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cagewise.conditioning import (
    Ability,
    FindingCode,
    QualityFinding,
    QualityLimits,
    Severity,
    blocked_abilities,
    find_steady_stretches,
    judge_duration,
    judge_quality,
    prove_roles,
)
from cagewise.conditioning.findings import EVERYTHING
from cagewise.conditioning.quality_samples import quantisation_floor_dbc
from cagewise.decision.limits import load_limits
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import CURRENT_ROLES, Channel, Provenance, Recording, Role
from cagewise.quantities import RealArray
from support.synthetic import Line, Synthetic

RATE_HZ = 5000.0
NAMEPLATE = Nameplate(
    rated_power_w=55e3,
    rated_voltage_v=400.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1480.0,
    rated_current_a=100.0,
    poles=4,
)


def clean(duration_s: float = 20.0, **fields: float) -> Recording:
    return (
        Synthetic(
            sampling_rate_hz=RATE_HZ, duration_s=duration_s, noise_db=-60.0, frequency_hz=50.013
        ).recording()
        if not fields
        else Synthetic(
            duration_s=duration_s,
            noise_db=-60.0,
            **fields,  # type: ignore[arg-type]  # floats only
        ).recording()
    )


def changed(
    recording: Recording, change: Callable[[RealArray], RealArray], name: str = ""
) -> Recording:
    channels = tuple(
        replace(c, raw=change(c.raw)) if name in ("", c.name) else c for c in recording.channels
    )
    return replace(recording, channels=channels)


def found(recording: Recording, code: FindingCode) -> QualityFinding:
    matches = [f for f in judge_quality(recording) if f.code is code]
    assert matches, [f.code for f in judge_quality(recording)]
    return matches[0]


def codes(recording: Recording) -> set[FindingCode]:
    return {f.code for f in judge_quality(recording)}


def counts(recording: Recording, bits: int, full_scale: float) -> Recording:
    """Return the recording as an instrument of so many bits delivers it."""
    step = 2.0 * full_scale / 2**bits
    channels = tuple(
        replace(c, raw=np.round(c.raw / step).astype(np.int32), scale=step)
        for c in recording.channels
    )
    return replace(recording, channels=channels)


def test_a_clean_record_has_no_findings() -> None:
    assert judge_quality(clean()) == ()
    assert judge_quality(clean(60.0), nameplate=NAMEPLATE) == ()


def test_the_defaults_are_the_values_in_force() -> None:
    assert load_limits().quality == QualityLimits()


# --- the samples


def test_clipping_is_blocking_and_counted() -> None:
    recording = changed(clean(), lambda x: np.clip(x, -120.0, 120.0), "i_b")
    finding = found(recording, FindingCode.CLIPPING)
    assert finding.severity is Severity.BLOCKING
    assert finding.channels == ("i_b",)
    clipped = np.count_nonzero(np.abs(recording.channels[2].raw) == 120.0)
    assert finding.value == pytest.approx(clipped, abs=3)  # lone samples at the edge of a top
    assert finding.blocks >= {Ability.FUNDAMENTAL_LINES, Ability.HARMONIC_LINES}


def test_clipping_of_the_start_alone_is_a_note() -> None:
    """A range chosen for the running current clips the start; the running record is sound."""
    start = scaled_by(clean(), lambda t: np.where(t < 3.0, 6.0, 1.0))
    recording = changed(start, lambda x: np.clip(x, -400.0, 400.0), "i_b")
    finding = found(recording, FindingCode.CLIPPING)
    assert finding.severity is Severity.NOTE
    assert not finding.blocks
    assert find_steady_stretches(recording)[0].start > 3.0 * RATE_HZ


def test_dropout_is_told_and_left_out() -> None:
    recording = clean()
    raw = recording.channels[0].raw.copy()
    raw[40_000:40_050] = 0.0
    torn = changed(recording, lambda _: raw, "i_a")
    finding = found(torn, FindingCode.DROPOUT)
    assert finding.value == pytest.approx(50.0, abs=1.0)
    assert finding.severity is Severity.NOTE
    best = find_steady_stretches(torn)[0]
    assert best.start >= 40_050


def test_samples_that_are_no_numbers_are_told_and_left_out() -> None:
    recording = clean()
    raw = recording.channels[0].raw.copy()
    raw[70_000:70_003] = np.nan
    torn = changed(recording, lambda _: raw, "i_a")
    assert found(torn, FindingCode.NOT_A_NUMBER).value == 3.0
    best = find_steady_stretches(torn)[0]
    assert np.isfinite(raw[best.start : best.stop]).all()


def test_held_samples_divide_the_rate() -> None:
    recording = clean()
    held = changed(recording, lambda x: np.repeat(x[::4], 4)[: x.size])
    assert found(held, FindingCode.HELD_SAMPLES).value == 4.0
    low = found(held, FindingCode.LOW_RATE)
    assert low.value == RATE_HZ / 4.0
    assert FindingCode.DROPOUT not in codes(held)


def test_a_repeated_buffer_is_blocking() -> None:
    recording = clean()
    torn = changed(recording, lambda x: np.concatenate([x[:50_000], x[49_000:-1000]]))
    finding = found(torn, FindingCode.REPEATED_BLOCK)
    assert finding.severity is Severity.BLOCKING
    assert "at 10 s" in finding.message
    assert finding.value == pytest.approx(0.2)


@pytest.mark.parametrize(("bits", "full_scale"), [(16, 1.25), (12, 1.25), (12, 10.0), (16, 10.0)])
def test_effective_bits_and_floor(bits: int, full_scale: float) -> None:
    """SNR of a uniform quantiser: 6.02 B + 1.76 - 20 log10(FS/A) dB (Kay 1993, from memory)."""
    amplitude = 100.0 * math.sqrt(2.0)
    recording = counts(clean(), bits, full_scale * amplitude)
    finding = found(recording, FindingCode.QUANTISATION)
    used = bits - math.log2(full_scale)
    assert f"{used:.1f} effective bits" in finding.message
    n = recording.n_samples
    snr_db = 20.0 * math.log10(2.0) * bits + 1.76 - 20.0 * math.log10(full_scale)
    expected = -snr_db + 10.0 * math.log10(2.0 / n * math.log(1e6))
    assert finding.value == pytest.approx(expected, abs=0.05)
    assert (finding.severity is Severity.CAUTION) == (expected > -80.0)


def test_quantisation_floor_against_counted_false_alarms() -> None:
    """The floor is a level: a dithered tone must exceed it about once in a million bins.

    With 2e6 bins two exceedances are expected; more than eight has a probability of 2e-4. At two
    thirds of the power the rate must be 1e-4: 205 with a standard deviation of 14.
    """
    rng = np.random.default_rng(11)
    n, amplitude, exceeding, lower, bins = 4096, 50.0, 0, 0, 0
    floor = amplitude * 10.0 ** (quantisation_floor_dbc(amplitude, 1.0, n) / 20.0)
    tone = amplitude * np.cos(2.0 * np.pi * 123.0 / n * np.arange(n))
    for _ in range(50):
        waves = tone + rng.uniform(-0.5, 0.5, (20, n))
        error = np.round(waves) - waves
        lines = 2.0 * np.abs(np.fft.rfft(error, axis=1))[:, 1:-1] / n
        exceeding += int(np.count_nonzero(lines > floor))
        lower += int(np.count_nonzero(lines > floor * math.sqrt(2.0 / 3.0)))
        bins += lines.size
    assert exceeding <= 8
    assert lower == pytest.approx(1e-4 * bins, abs=5.0 * math.sqrt(1e-4 * bins))
    assert np.sqrt(np.mean(error**2)) == pytest.approx(1.0 / math.sqrt(12.0), rel=0.02)


def test_offset_is_a_note() -> None:
    finding = found(changed(clean(), lambda x: x + 30.0, "i_a"), FindingCode.DIRECT_OFFSET)
    assert finding.severity is Severity.NOTE
    assert finding.value == pytest.approx(0.3, rel=0.01)
    assert not finding.blocks


# --- the time base


def with_times(recording: Recording, times: RealArray) -> Recording:
    return replace(recording, sample_times_s=times)


def test_stated_times() -> None:
    recording = clean(4.0)
    even = np.arange(recording.n_samples) / RATE_HZ
    assert judge_quality(with_times(recording, even)) == ()
    gap = even + np.where(even > 2.0, 0.01, 0.0)
    finding = found(with_times(recording, gap), FindingCode.TIME_GAP)
    assert finding.severity is Severity.BLOCKING
    assert "51 sampling intervals" in finding.message
    jitter = even + 0.05 / RATE_HZ * np.random.default_rng(1).standard_normal(even.size)
    assert found(with_times(recording, jitter), FindingCode.TIME_JITTER).value == pytest.approx(
        0.05, rel=0.05
    )
    fast = found(with_times(recording, even * 1.01), FindingCode.CLOCK_RATE)
    assert fast.value == pytest.approx(0.01, rel=1e-3)


def test_stamps_coarser_than_the_interval_are_no_gaps() -> None:
    recording = clean(4.0)
    even = np.arange(recording.n_samples) / RATE_HZ
    milliseconds = np.floor(even * 1000.0) / 1000.0
    assert judge_quality(with_times(recording, milliseconds)) == ()
    torn = np.floor((even + np.where(even > 2.0, 0.05, 0.0)) * 1000.0) / 1000.0
    assert found(with_times(recording, torn), FindingCode.TIME_GAP).blocks


@pytest.mark.parametrize(
    ("rate_hz", "blocks"),
    [
        (10000.0, None),
        (3000.0, frozenset()),
        (1000.0, {Ability.HARMONIC_LINES}),
        (400.0, {Ability.HARMONIC_LINES, Ability.FUNDAMENTAL_LINES}),
    ],
)
def test_rates_too_low(rate_hz: float, blocks: set[Ability] | None) -> None:
    recording = clean(sampling_rate_hz=rate_hz)
    if blocks is None:
        assert FindingCode.LOW_RATE not in codes(recording)
    else:
        assert found(recording, FindingCode.LOW_RATE).blocks == blocks


@pytest.mark.parametrize("order", [11, 13, 17, 23])
def test_folded_harmonics_are_named(order: int) -> None:
    """At 1013 Hz no harmonic of 50.02 Hz folds onto another."""
    line = Line(level_dbc=-40.0, order=float(order if order % 6 == 1 else -order))
    wave = Synthetic(sampling_rate_hz=1013.0, duration_s=30.0, frequency_hz=50.02, noise_db=-60.0)
    assert FindingCode.ALIASING not in codes(wave.recording())
    finding = found(replace(wave, lines=(line,)).recording(), FindingCode.ALIASING)
    assert f"order {order} " in finding.message


def test_a_strong_line_at_the_edge_of_the_band_is_mentioned_a_weak_one_not() -> None:
    strong, weak = (
        Synthetic(
            sampling_rate_hz=1000.0,
            duration_s=20.0,
            noise_db=-80.0,
            lines=(Line(level_dbc=level, order=-9.4),),
        ).recording()
        for level in (-45.0, -75.0)
    )
    assert "just below half" in found(strong, FindingCode.ALIASING).message
    assert FindingCode.ALIASING not in codes(weak)


def test_findings_of_one_kind_become_one_that_of_the_worst_channel() -> None:
    recording = changed(clean(), lambda x: x + 40.0, "i_a")
    recording = changed(recording, lambda x: x - 60.0, "i_c")
    findings = [f for f in judge_quality(recording) if f.code is FindingCode.DIRECT_OFFSET]
    assert len(findings) == 1
    assert findings[0].value == pytest.approx(-0.6, rel=0.01)
    assert findings[0].channels == ("i_c", "i_a")
    assert findings[0].message.endswith("No worse: i_a.")


# --- the motor and its supply


def scaled_by(recording: Recording, shape: Callable[[RealArray], RealArray]) -> Recording:
    time_s = np.arange(recording.n_samples) / recording.sampling_rate_hz
    channels = tuple(
        replace(c, raw=c.raw * shape(time_s)) if c.role in CURRENT_ROLES else c
        for c in recording.channels
    )
    return replace(recording, channels=channels)


def test_load_steps_are_counted() -> None:
    steps = scaled_by(clean(), lambda t: np.select([t < 5.0, t < 12.0], [1.0, 1.25], 0.9))
    finding = found(steps, FindingCode.LOAD_STEP)
    assert finding.value == pytest.approx(0.28, abs=0.01)
    assert "2 times" in finding.message
    assert "8 s of 20 s" in finding.message


def test_drift_of_load_and_frequency() -> None:
    wild = scaled_by(
        clean(), lambda t: 1.0 + 0.08 * np.sin(2.0 * np.pi * 0.9 * t) + 0.08 * np.sin(7.3 * t)
    )
    drift = found(wild, FindingCode.LOAD_DRIFT).value
    assert drift == pytest.approx(0.08 / math.sqrt(2.0), rel=0.1)
    wander = clean(wander_hz=0.2)
    finding = found(wander, FindingCode.FREQUENCY_DRIFT)
    assert finding.severity is Severity.NOTE
    without = replace(wander, channels=tuple(c for c in wander.channels if c.unit == "A"))
    assert found(without, FindingCode.FREQUENCY_DRIFT).severity is Severity.CAUTION


def test_missing_and_unequal_phases() -> None:
    gone = changed(clean(), lambda x: 0.003 * x, "i_c")
    finding = found(gone, FindingCode.MISSING_PHASE)
    assert finding.channels == ("i_c",)
    assert finding.blocks == EVERYTHING
    fuse = changed(clean(), lambda x: 0.003 * x, "v_bc")
    assert Ability.VOLTAGE_FRAME in found(fuse, FindingCode.MISSING_PHASE).blocks
    uneven = changed(clean(), lambda x: 0.85 * x, "v_bc")
    assert found(uneven, FindingCode.UNBALANCE).value == pytest.approx(0.05 / 0.95, rel=0.02)


def test_voltages_that_are_missing() -> None:
    recording = clean()
    none = replace(recording, channels=tuple(c for c in recording.channels if c.unit == "A"))
    assert found(none, FindingCode.NO_VOLTAGE).blocks == {Ability.VOLTAGE_FRAME, Ability.POWER}
    one = replace(none, channels=(*none.channels, recording.channels[1]))
    assert not found(one, FindingCode.TWO_WIRE_VOLTAGE).blocks


@pytest.mark.parametrize("seconds", [5.0, 20.0, 60.0])
def test_length_for_the_side_lines(seconds: float) -> None:
    """f_pp T >= 6 for a windowed transform, >= 2 for any method (survey of gates, computed)."""
    limits = QualityLimits()
    assert judge_duration(seconds, (6.0 / seconds, 6.0 / seconds), limits) == ()
    (short,) = judge_duration(seconds, (4.0 / seconds, 4.0 / seconds), limits)
    assert short.severity is Severity.CAUTION
    assert short.value == pytest.approx(1.5 * seconds, abs=1.0)
    (hopeless,) = judge_duration(seconds, (1.0 / seconds, 1.9 / seconds), limits)
    assert hopeless.severity is Severity.BLOCKING
    assert hopeless.value == pytest.approx(6.0 * seconds, abs=1.0)
    assert Ability.FUNDAMENTAL_LINES in hopeless.blocks


def test_the_nameplate_says_how_long() -> None:
    """Slip 1.33 %: 1.33 Hz at full load, a quarter of it at quarter load: 4.5 to 18 s."""
    finding = next(
        f
        for f in judge_quality(clean(10.0), nameplate=NAMEPLATE)
        if f.code is FindingCode.TOO_SHORT
    )
    assert finding.severity is Severity.CAUTION
    assert finding.value == 18.0


# --- input that holds nothing


@pytest.mark.parametrize("scale", [1e-300, 5e-324, 1e-160])
def test_denormal_amplitudes_are_judged_without_an_exception(scale: float) -> None:
    recording = clean()
    tiny = tuple(replace(c, raw=np.round(c.raw) * scale) for c in recording.channels)
    assert isinstance(judge_quality(replace(recording, channels=tiny)), tuple)


def recording_of(samples: RealArray, rate_hz: float = RATE_HZ) -> Recording:
    channels = tuple(
        Channel(name=role.value, raw=samples.copy(), unit="A", role=role) for role in CURRENT_ROLES
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=rate_hz,
        provenance=Provenance(source="nothing", format_name="synthetic"),
    )


@pytest.mark.parametrize(
    ("samples", "code"),
    [
        (np.empty(0), FindingCode.EMPTY),
        (np.ones(1), FindingCode.NO_LINE_FREQUENCY),
        (np.zeros(50_000), FindingCode.DEAD_CHANNEL),
        (np.full(50_000, np.nan), FindingCode.DEAD_CHANNEL),
        (np.full(50_000, np.inf), FindingCode.DEAD_CHANNEL),
        (np.zeros(50_000, dtype=np.int16), FindingCode.DEAD_CHANNEL),
        (np.random.default_rng(2).standard_normal(50_000), FindingCode.NO_LINE_FREQUENCY),
        (np.sin(0.06 * np.arange(4000.0)), FindingCode.TOO_SHORT),
        (np.sin(0.06 * np.arange(700.0)), FindingCode.TOO_SHORT),
    ],
    ids=["empty", "one", "zeros", "nan", "inf", "integer zeros", "noise", "0.8 s", "0.14 s"],
)
def test_nothing_is_a_blocking_finding_never_an_exception(
    samples: RealArray, code: FindingCode
) -> None:
    recording = recording_of(samples)
    findings = judge_quality(recording, nameplate=NAMEPLATE)
    assert code in {f.code for f in findings}
    assert findings[0].severity is Severity.BLOCKING
    assert blocked_abilities(findings) == EVERYTHING
    assert all(f.remedy for f in findings if f.severity is Severity.BLOCKING)
    if samples.size > 1 and code is not FindingCode.TOO_SHORT:
        assert not prove_roles(recording, NAMEPLATE).proven


def test_no_current_is_a_blocking_finding() -> None:
    recording = clean(2.0)
    voltages = replace(recording, channels=tuple(c for c in recording.channels if c.unit == "V"))
    assert found(voltages, FindingCode.NO_CURRENT).blocks == EVERYTHING
    assert found(replace(recording, channels=()), FindingCode.EMPTY).blocks == EVERYTHING


def test_a_motor_that_never_runs_steadily() -> None:
    """Current flows for two cycles at a time."""
    recording = scaled_by(clean(), lambda t: (np.floor(t / 0.04) % 20 == 0).astype(float))
    assert found(recording, FindingCode.NOT_RUNNING).severity is Severity.BLOCKING


def test_worst_first() -> None:
    recording = changed(clean(5.0), lambda x: np.clip(x, -120.0, 120.0) + 30.0, "i_b")
    ranks = [list(Severity)[::-1].index(f.severity) for f in judge_quality(recording)]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) > 1


# --- recordings nobody here made


def small_motor(open_data: Path, name: str) -> Recording:
    with (open_data / "itsc-stator-fault" / "RAW_Signals" / name).open() as file:
        rows = np.array([[float(x) for x in row] for row in csv.reader(file)])
    channels = tuple(
        Channel(name="ABC"[k], raw=rows[:, k].copy(), unit="A", role=role)
        for k, role in enumerate(CURRENT_ROLES)
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=1000.0,
        provenance=Provenance(source=name, format_name="csv"),
    )


SMALL_MOTOR = Nameplate(
    rated_power_w=0.75 * 745.7,
    rated_voltage_v=230.0,
    rated_frequency_hz=60.0,
    rated_speed_rpm=1725.0,
    rated_current_a=3.0,
    poles=4,
)


def test_stator_fault_records_of_a_small_motor(open_data: Path) -> None:
    """1 kHz, 5 s, no voltage, no filter, twice the rated current without load (its own notes)."""
    names = sorted(p.name for p in (open_data / "itsc-stator-fault" / "RAW_Signals").glob("*.csv"))
    assert names
    for name in names:
        recording = small_motor(open_data, name)
        kinds = codes(recording)
        assert kinds >= {FindingCode.LOW_RATE, FindingCode.NO_VOLTAGE, FindingCode.ALIASING}
        assert Ability.HARMONIC_LINES in blocked_abilities(judge_quality(recording))
        assert FindingCode.MISSING_PHASE not in kinds
        assert find_steady_stretches(recording)[0].duration_s > 1.5
        proof = prove_roles(recording, SMALL_MOTOR)
        assert proof.lag_deg is None


@pytest.mark.parametrize("name", ["healthy_motor_data", "voltage_imbalance_data"])
def test_one_current_in_ten_bit_counts(open_data: Path, name: str) -> None:
    """1.3 s of one phase: too short for anything, coarse, no voltage."""
    path = open_data / "im-current-unbalance" / f"{name}.csv.csv"
    with path.open() as file:
        counts_column = np.array([int(row[0]) for row in csv.reader(file)], dtype=np.int16)
    scale = 3.3 / 1024.0 / 0.066 * 1.57
    channel = Channel(
        name="I",
        raw=counts_column,
        unit="A",
        role=Role.CURRENT_A,
        scale=scale,
        offset=(-1.627 / 0.066 - 0.372) * 1.57,
    )
    recording = Recording(
        channels=(channel,),
        sampling_rate_hz=10_000.0,
        provenance=Provenance(source=name, format_name="csv"),
    )
    kinds = codes(recording)
    assert kinds >= {FindingCode.TOO_SHORT, FindingCode.NO_VOLTAGE, FindingCode.QUANTISATION}
    assert FindingCode.CLIPPING not in kinds
    assert FindingCode.DROPOUT not in kinds
    assert blocked_abilities(judge_quality(recording)) == EVERYTHING
    assert prove_roles(recording, SMALL_MOTOR).proven
