"""Turn test: comparison of waveforms, ringing frequency, noise, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.reading import IndependenceClass, Part, Reading
from cagewise.indicators.winding.head import keeps
from cagewise.indicators.winding.limits import TurnLimits
from cagewise.indicators.winding.turns import read_turns
from cagewise.indicators.winding.waveforms import compare, crossings, noise_sigma, ringing
from cagewise.machine.motor import Motor, Winding
from cagewise.measurement import Place, TerminalPair, TestSheet, TurnTest
from cagewise.quantities import NotKnown, RealArray
from support.winding_scenes import BEFORE, INVENTED, TODAY, by_name, motor, says, value_of

TIME_S = np.linspace(0.0, 200e-6, 401)
RINGING_HZ = 20e3
DECAY_S = 70e-6
CREST_V = 9000.0
LIMITS = TurnLimits()


def wave(
    missing: float = 0.0,
    *,
    scale: float = 1.0,
    delay_s: float = 0.0,
    noise: float = 0.0,
    rng: np.random.Generator | None = None,
) -> RealArray:
    """Return a damped ringing; ``missing`` is the part of the inductance in a short."""
    t = TIME_S - delay_s
    omega = 2.0 * math.pi * RINGING_HZ / math.sqrt(1.0 - missing)
    clean = scale * CREST_V * np.exp(-t / DECAY_S) * np.cos(omega * t)
    if rng is None:
        return np.asarray(clean)
    return np.asarray(clean + noise * CREST_V * rng.standard_normal(t.size))


def sheet(waves: Mapping[TerminalPair, RealArray] | None = None, **changes: object) -> TestSheet:
    rng = np.random.default_rng(1)
    alike = {pair: wave(noise=0.001, rng=rng) for pair in TerminalPair}
    test = TurnTest(time_s=TIME_S, voltage_v=waves or alike, peak_voltage_v=CREST_V)
    base = TestSheet(motor_tag="P-1", measured_on=TODAY, provenance=INVENTED, turns=test)
    return replace(base, **changes)  # type: ignore[arg-type]


def shorted(missing: float, noise: float = 0.001, seed: int = 4) -> TestSheet:
    """Return a sheet with a short in phase a: half of it in each pair that holds the phase."""
    rng = np.random.default_rng(seed)
    waves = {
        pair: wave(0.0 if pair is TerminalPair.BC else 0.5 * missing, noise=noise, rng=rng)
        for pair in TerminalPair
    }
    return sheet(waves)


def read(
    measured: TestSheet, about: Motor | None = None, earlier: tuple[TestSheet, ...] = ()
) -> dict[str, Reading]:
    return by_name(read_turns(measured, earlier, about or motor(), LIMITS))


def test_alike_waveforms() -> None:
    found = read(sheet())
    assert set(found) == {"waveform_difference", "ringing_frequency_difference"}
    for reading in found.values():
        assert value_of(reading).value < 1.0
        assert reading.limit is not None
        assert reading.limit.source == "our judgement"
        assert keeps(value_of(reading).high, reading.limit)
        assert reading.part is Part.WINDING
        assert reading.independence_class is IndependenceClass.WINDING_TURNS
        assert says(reading, "no limit")
        assert says(reading, "depend on its position")


def test_short_between_turns_names_the_odd_pair() -> None:
    found = read(shorted(0.06))
    assert value_of(found["waveform_difference"]).low > 100.0 * LIMITS.waveform_repeat
    assert says(found["waveform_difference"], "pair bc differs from the other two")
    spread = found["ringing_frequency_difference"]
    truth = 1.0 / math.sqrt(1.0 - 0.03) - 1.0
    truth /= (1.0 + 2.0 / math.sqrt(1.0 - 0.03)) / 3.0
    assert value_of(spread).low < 100.0 * truth < value_of(spread).high
    assert spread.limit is not None
    assert not keeps(value_of(spread).low, spread.limit)
    assert spread.details["inductance_difference_percent"] == pytest.approx(3.0, abs=0.15)


@pytest.mark.parametrize("scale", [0.5, 1.0, 3.0])
@pytest.mark.parametrize("delay_s", [0.0, 0.3e-6, 1.7e-6, -1.2e-6])
def test_scale_and_trigger_do_not_matter(scale: float, delay_s: float) -> None:
    """Ringing of 50 samples a period interpolated by a cubic: the rest is below 0.1 %."""
    other = wave(scale=scale, delay_s=delay_s)
    found = compare(TIME_S, wave(), other, 5e-6)
    assert found.area.value < 1e-3
    assert found.scale * scale == pytest.approx(1.0, rel=1e-3)
    assert found.shift_s == pytest.approx(delay_s, abs=0.02e-6)


def test_swapped_lead_is_named() -> None:
    waves = {TerminalPair.AB: wave(), TerminalPair.BC: -wave(), TerminalPair.CA: wave()}
    reading = read(sheet(waves))["waveform_difference"]
    assert says(reading, "opposite polarity between ab and bc, bc and ca")
    assert not says(read(sheet())["waveform_difference"], "opposite polarity")


def test_whole_record_in_another_unit_gives_the_same() -> None:
    one = compare(TIME_S, wave(), wave(0.02), 5e-6)
    other = compare(TIME_S, 1e-3 * wave(), 1e-3 * wave(0.02), 5e-6)
    assert other.area.value == pytest.approx(one.area.value, rel=1e-9)


def test_area_of_a_known_difference() -> None:
    """A sine with another of a quarter period shift and part e: the best scale leaves e cos."""
    t = np.linspace(0.0, 1.0, 20001)
    base, other = np.sin(20.0 * np.pi * t), np.cos(20.0 * np.pi * t)
    found = compare(t, base, base + 0.05 * other, 0.0)
    scale = 1.0 / (1.0 + 0.05**2)
    left = np.abs(base - scale * (base + 0.05 * other)).sum() / np.abs(base).sum()
    assert found.area.value == pytest.approx(left, rel=1e-3)
    assert found.area.value == pytest.approx(0.05, rel=5e-3)


def test_noise_is_measured_and_covers() -> None:
    rng = np.random.default_rng(9)
    truth = compare(TIME_S, wave(), wave(0.02), 5e-6).area.value
    runs, held, floors = 200, {0.0: 0, 0.02: 0}, []
    for _ in range(runs):
        one = wave(noise=0.003, rng=rng)
        for missing in held:
            other = wave(missing, noise=0.003, rng=rng)
            area = compare(TIME_S, one, other, 5e-6).area
            held[missing] += area.low <= (truth if missing else 0.0) <= area.high
        floors.append(noise_sigma(one))
    assert np.median(floors) == pytest.approx(0.003 * CREST_V, rel=0.1)
    for count in held.values():
        assert count / runs > 0.95 - 3.0 * math.sqrt(0.05 * 0.95 / runs)


def test_noise_that_hides_the_question_leaves_it_open() -> None:
    reading = read(shorted(0.0, noise=0.02))["waveform_difference"]
    assert reading.limit is not None
    assert not keeps(value_of(reading).high, reading.limit)
    assert value_of(reading).low == pytest.approx(0.0, abs=1.0)


def test_ringing_is_exact_without_noise_and_covers_with_it() -> None:
    clean = ringing(TIME_S, wave(), 1.5)
    assert not isinstance(clean, NotKnown)
    assert clean.frequency_hz.value == pytest.approx(RINGING_HZ, rel=1e-8)
    assert clean.decay_rate_per_s == pytest.approx(1.0 / DECAY_S, rel=1e-7)
    rng, runs, held = np.random.default_rng(6), 200, 0
    for _ in range(runs):
        found = ringing(TIME_S, wave(noise=0.003, rng=rng), 1.5)
        assert not isinstance(found, NotKnown)
        held += found.frequency_hz.low <= RINGING_HZ <= found.frequency_hz.high
    assert held / runs > 0.95 - 3.0 * math.sqrt(0.05 * 0.95 / runs)


def test_crossings_stop_at_the_noise() -> None:
    rng = np.random.default_rng(8)
    half_period = 0.5 / RINGING_HZ
    zeros = crossings(TIME_S, wave(noise=0.03, rng=rng))
    assert zeros.size > 3
    assert np.diff(zeros) == pytest.approx(np.full(zeros.size - 1, half_period), rel=0.1)
    assert zeros.size < crossings(TIME_S, wave()).size


def test_no_ringing_no_frequency() -> None:
    waves = {pair: CREST_V * np.exp(-TIME_S / 30e-6) for pair in TerminalPair}
    reading = read(sheet(waves))["ringing_frequency_difference"]
    assert not reading.valid
    assert "pair ab: the waveform does not ring long enough" in reading.reason


def test_change_against_the_earlier_sheet() -> None:
    past = replace(sheet(), measured_on=BEFORE)
    found = read(shorted(0.06), earlier=(past,))
    change = found["waveform_change"]
    assert value_of(change).low > 100.0 * LIMITS.waveform_repeat
    assert change.details["difference_bc_percent"] < 1.0
    assert value_of(read(sheet(), earlier=(past,))["waveform_change"]).value < 1.0


def test_earlier_waveforms_of_another_stretch_are_refused() -> None:
    past = sheet(measured_on=BEFORE)
    assert past.turns is not None
    late = replace(past, turns=replace(past.turns, time_s=TIME_S + 1e-3))
    assert not read(sheet(), earlier=(late,))["waveform_change"].valid


@pytest.mark.parametrize(
    ("waves", "words"),
    [
        ({TerminalPair.AB: wave()}, "one waveform"),
        ({TerminalPair.AB: wave(), TerminalPair.BC: wave()[:-3]}, "pair bc is empty, incomplete"),
        ({TerminalPair.AB: wave(), TerminalPair.CA: 0.0 * wave()}, "pair ca is empty"),
    ],
)
def test_what_cannot_be_compared(waves: dict[TerminalPair, RealArray], words: str) -> None:
    for reading in read(sheet(waves)).values():
        assert not reading.valid
        assert words in reading.reason


def test_two_waveforms_are_enough() -> None:
    waves = {TerminalPair.AB: wave(0.05), TerminalPair.BC: wave()}
    reading = read(sheet(waves))["waveform_difference"]
    assert value_of(reading).value > 10.0
    assert not says(reading, "other two")


def test_scope_crest_and_cable_are_said() -> None:
    """1 pu = sqrt(2/3) E = 3.397 kV at 4 160 V; form-wound coils: IEEE 522-2004."""
    reading = read(sheet())["waveform_difference"]
    assert reading.details["crest_per_unit_1"] == pytest.approx(9000.0 / 3397.0, rel=2e-4)
    assert not says(reading, "form-wound multiturn")
    random = read(sheet(), motor(Winding(construction="random")))["waveform_difference"]
    assert says(random, "this winding is random-wound")
    far = read(sheet(place=Place.SWITCHBOARD))["waveform_difference"]
    assert says(far, "the cable rings with the winding")


def test_nothing_measured_is_nothing_read() -> None:
    assert read_turns(sheet(turns=None), (), motor(), LIMITS) == ()


@pytest.mark.parametrize("bad", [TIME_S[:8], np.full(401, np.nan), TIME_S**1.1, -TIME_S])
def test_times_that_are_not_uniform_are_refused(bad: RealArray) -> None:
    waves = {pair: wave()[: bad.size] for pair in TerminalPair}
    test = TurnTest(time_s=bad, voltage_v=waves)
    for reading in read(sheet(turns=test)).values():
        assert "not uniform" in reading.reason
