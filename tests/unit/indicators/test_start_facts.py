"""What one start is worth, on drawn currents of known level."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from cagewise.conditioning.start_level import fit_cycles
from cagewise.conditioning.starts import find_starts
from cagewise.indicators.start.facts import StartFacts, start_facts
from cagewise.indicators.start.voltage import line_voltage_rms
from cagewise.measurement import (
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
    Role,
)
from cagewise.quantities import Estimate, NotKnown
from support.operating import r3k_motor
from support.start_scenes import DIRECT, RATE_HZ, drawn, levels, with_only

MOTOR = r3k_motor()
ENDS_S = 0.9 + 0.15 * (54.0 - (10.0 + 0.1 * 50.0)) / (54.0 - 11.0)
"""Where the drawn start has fallen to 10 A plus a tenth of 50 A."""


def _facts(recording: Recording) -> StartFacts:
    (start,) = find_starts(recording)
    return start_facts(recording, start, MOTOR)


def _value(estimate: Estimate | NotKnown) -> float:
    assert isinstance(estimate, Estimate)
    return estimate.value


def _with_voltages(recording: Recording, rms_v: float, *, unbalance: float = 0.0) -> Recording:
    """Add line voltages of positive sequence, and some of negative."""
    time_s = np.arange(recording.n_samples) / recording.sampling_rate_hz
    angle = 2.0 * np.pi * 50.0 * time_s
    channels = []
    for k, role in enumerate(LINE_VOLTAGE_ROLES):
        turn = 2.0 * np.pi * k / 3.0
        wave = np.cos(angle - turn) + unbalance * np.cos(angle + turn + 0.4)
        raw = math.sqrt(2.0) * rms_v * wave
        channels.append(Channel(name=role.value, raw=raw, unit="V", role=role))
    return replace(recording, channels=(*recording.channels, *channels))


def test_the_end_is_where_a_tenth_of_the_fall_is_left() -> None:
    facts = _facts(drawn(levels(*DIRECT)))
    time = facts.time_to_speed_s
    assert isinstance(time, Estimate)
    assert time.value == pytest.approx(ENDS_S, abs=0.003)
    assert time.high - time.low < 0.02
    assert facts.supply_frequency_hz == pytest.approx(50.0, abs=1e-3)


def test_levels_are_those_drawn() -> None:
    """60 A falls to 54 A in 0.9 s: in the 4th to 6th cycle it is 59.4 A."""
    facts = _facts(_with_voltages(drawn(levels(*DIRECT)), 381.0))
    assert _value(facts.initial_current_rms_a) == pytest.approx(59.4, abs=0.1)
    assert facts.running_current_rms_a == pytest.approx(10.0, abs=0.01)
    assert _value(facts.initial_current_pu) == pytest.approx(59.4 / 6.7, rel=0.003)


@pytest.mark.parametrize("voltage_pu", [0.9, 1.0, 1.08])
def test_time_goes_with_the_square_of_the_voltage_and_current_with_it(voltage_pu: float) -> None:
    facts = _facts(_with_voltages(drawn(levels(*DIRECT)), voltage_pu * 381.0, unbalance=0.03))
    assert _value(facts.mean_voltage_pu) == pytest.approx(voltage_pu, rel=1e-3)
    assert _value(facts.normalised_time_s) == pytest.approx(ENDS_S * voltage_pu**2, rel=0.005)
    assert _value(facts.initial_current_pu) == pytest.approx(59.4 / 6.7 / voltage_pu, rel=0.003)


def test_without_voltages_nothing_is_normalised() -> None:
    facts = _facts(drawn(levels(*DIRECT)))
    for value in (facts.mean_voltage_pu, facts.normalised_time_s, facts.initial_current_pu):
        assert isinstance(value, NotKnown)
        assert value.reason == "no voltage was measured"
    assert _value(facts.initial_current_rms_a) == pytest.approx(59.4, abs=0.1)


def test_noise_widens_the_interval_and_stays_inside() -> None:
    quiet, noisy = _facts(drawn(levels(*DIRECT))), _facts(drawn(levels(*DIRECT), noise_a=0.6))
    a, b = quiet.time_to_speed_s, noisy.time_to_speed_s
    assert isinstance(a, Estimate)
    assert isinstance(b, Estimate)
    assert b.high - b.low > a.high - a.low
    assert b.low < ENDS_S < b.high


def test_one_current() -> None:
    facts = _facts(with_only(drawn(levels(*DIRECT), noise_a=0.3), Role.CURRENT_B))
    assert facts.currents_measured == 1
    assert _value(facts.time_to_speed_s) == pytest.approx(ENDS_S, abs=0.006)


def test_clock_and_figure() -> None:
    begun = datetime(2024, 5, 6, 7, 8, 9, tzinfo=UTC)
    facts = _facts(replace(drawn(levels(*DIRECT)), start_time=begun))
    assert facts.started_at is not None
    assert (facts.started_at - begun).total_seconds() == pytest.approx(0.2, abs=1e-3)
    assert 100 <= facts.time_s.size == facts.line_current_rms_a.size <= 300
    assert facts.line_current_rms_a.max() == pytest.approx(60.0, abs=1.0)
    assert np.all(np.diff(facts.time_s) > 0.0)


def test_integral_of_the_squared_current() -> None:
    facts = _facts(drawn(levels(*DIRECT)))
    level = levels(*DIRECT[1:])[: round(ENDS_S * RATE_HZ)]
    expected = float(np.sum(level**2)) / RATE_HZ
    assert facts.current_squared_time_a2s == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("pieces", "first", "reason"),
    [
        (((0.2, 0, 0), (0.2, 60, 55), (0.03, 55, 10), (1, 10, 10)), 0, "too short"),
        (DIRECT, 1500, "beginning of the start is missing"),
        (((0.2, 0, 0), (0.6, 36, 35), (0.5, 54, 52), (0.15, 52, 11), (1, 10, 10)), 0, "steps up"),
    ],
)
def test_refused_starts_carry_their_reason(
    pieces: tuple[tuple[float, float, float], ...], first: int, reason: str
) -> None:
    recording = drawn(levels(*pieces))
    facts = _facts(recording.section(first, recording.n_samples))
    for value in (facts.time_to_speed_s, facts.initial_current_rms_a, facts.normalised_time_s):
        assert isinstance(value, NotKnown)
        assert reason in value.reason
    assert facts.line_current_rms_a.size > 10


def _voltages(roles: tuple[Role, ...], phasors: tuple[complex, ...]) -> Recording:
    angle = 2.0 * np.pi * 50.0 * np.arange(2000) / RATE_HZ
    channels = tuple(
        Channel(name=role.value, raw=(phasor * np.exp(1j * angle)).real, unit="V", role=role)
        for role, phasor in zip(roles, phasors, strict=True)
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=RATE_HZ,
        provenance=Provenance(source="drawn voltages", format_name="simulation"),
    )


A = complex(-0.5, math.sqrt(0.75))
LINE = tuple(math.sqrt(2.0) * 400.0 * turn for turn in (1.0, A**2, A))
PHASE = tuple(line / math.sqrt(3.0) for line in LINE)


@pytest.mark.parametrize(
    ("roles", "phasors"),
    [
        (LINE_VOLTAGE_ROLES, LINE),
        (LINE_VOLTAGE_ROLES, LINE[::-1]),
        (LINE_VOLTAGE_ROLES[:2], LINE[:2]),
        (LINE_VOLTAGE_ROLES[2:], LINE[2:]),
        (PHASE_VOLTAGE_ROLES, PHASE),
        (PHASE_VOLTAGE_ROLES[:2], PHASE[:2]),
    ],
)
def test_line_voltage_of_what_was_measured(
    roles: tuple[Role, ...], phasors: tuple[complex, ...]
) -> None:
    """Three, two, one; line or phase; either order of the phases."""
    voltage = line_voltage_rms(_voltages(roles, phasors), RATE_HZ / 50.0)
    assert voltage is not None
    assert voltage == pytest.approx(400.0, rel=1e-6)


def test_the_main_sequence_is_read() -> None:
    unbalanced = tuple(one + 0.05 * other for one, other in zip(LINE, LINE[::-1], strict=True))
    voltage = line_voltage_rms(_voltages(LINE_VOLTAGE_ROLES, unbalanced), RATE_HZ / 50.0)
    assert voltage == pytest.approx(400.0, rel=1e-6)
    assert line_voltage_rms(drawn(levels((1, 10, 10))), 100.0) is None


@pytest.mark.parametrize("cycle", [16.0, 64.0, 83.33, 100.0, 13.33])
def test_fit_is_exact_for_sines_on_a_slope(cycle: float) -> None:
    """Fundamental 3, fifth 0.4, direct offset and drift; order 7 needs 16 samples per cycle."""
    place = np.arange(1000)
    angle = 2.0 * np.pi * place / cycle
    wave = 3.0 * np.cos(angle + 0.3) + 0.4 * np.cos(5.0 * angle) + 2.0 + 0.01 * place
    fit = fit_cycles(np.stack([wave]), cycle, (1, 5, 7))
    assert np.abs(fit.phasors[0, 0]) == pytest.approx(3.0, rel=1e-9)
    assert np.angle(fit.phasors[0, 0]) == pytest.approx(0.3, abs=1e-9)
    assert fit.harmonic_ratio(5) == pytest.approx(0.4 / 3.0, rel=1e-9)
    assert np.isnan(fit.harmonic_ratio(7)).all() == (cycle < 16.0)
