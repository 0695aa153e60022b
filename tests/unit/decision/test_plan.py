"""The plan: noise, detection, natural unevenness, and how they scale (docs/theory/plan.md)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.decision.limits import Limits
from cagewise.decision.plan import (
    detection_factor,
    line_noise_density,
    natural_bars,
    plan_for,
    sampling_rate_hz,
    slip_at_load,
)
from cagewise.machine.estimate import circuit_ensemble, shaft_power
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import decibel, space_vector
from support.examinations import LIMITS, motor

PUMP = motor(cage=Cage(rotor_bars=58))


def with_plan(**changes: object) -> Limits:
    return replace(LIMITS, plan=replace(LIMITS.plan, **changes))  # type: ignore[arg-type]  # fields


def test_noise_density_is_that_of_simulated_channels() -> None:
    """White noise of 1 % and a coarse converter, through the space vector, equation (2)."""
    rate_hz, n = 5000.0, 200_000
    limits = with_plan(sensor_noise_db=-40.0, bits_min=8, current_range_factor=2.0)
    rng = np.random.default_rng(5)
    current_a = PUMP.nameplate.rated_current_a
    step = 2.0 * 2.0 * math.sqrt(2.0) * current_a / 2**8
    phase = 2.0 * math.pi * (50.0 / rate_hz * math.pi / 3.0) * np.arange(n)  # no whole cycles
    carrier = 1.3 * current_a * np.sin(phase + np.array([[0.0], [1.0], [2.0]]))
    noisy = carrier + 0.01 * current_a * rng.standard_normal((3, n))
    noise = np.round(noisy / step) * step - carrier
    vector = space_vector(*noise)

    density = float(np.mean(np.abs(vector) ** 2)) / rate_hz
    expected = line_noise_density(PUMP, rate_hz, limits.plan)
    assert density == pytest.approx(expected, rel=0.02)  # 200 000 samples: 0.3 % and rounding


@pytest.mark.parametrize(
    ("bits", "range_factor", "floor_dbc"),
    [(16, 1.25, -110.3), (12, 1.25, -108.3), (12, 10.0, -94.3), (16, 10.0, -109.7)],
)
def test_white_floor_of_the_worked_case(bits: int, range_factor: float, floor_dbc: float) -> None:
    """One channel, SNR 70 dB, 60 s, 5 kHz, P = 1e-6: computed in double precision from the
    Cramer-Rao bound and the quantisation step, printed to 0.1 dB."""
    limits = with_plan(sensor_noise_db=-70.0, bits_min=bits, current_range_factor=range_factor)
    one_channel = 3.0 * line_noise_density(PUMP, 5000.0, limits.plan)
    peak_a = math.sqrt(2.0) * PUMP.nameplate.rated_current_a
    floor = math.sqrt(-math.log(1e-6) * one_channel / 60.0) / peak_a

    assert decibel(floor) == pytest.approx(floor_dbc, abs=0.1)


@pytest.mark.parametrize("chance", [1e-2, 1e-3])
def test_ninety_five_of_a_hundred_lines_at_the_limit_are_found(chance: float) -> None:
    rng = np.random.default_rng(3)
    noise = (rng.standard_normal(100_000) + 1j * rng.standard_normal(100_000)) / math.sqrt(2.0)
    threshold = math.sqrt(-math.log(chance))

    assert np.mean(np.abs(noise) > threshold) == pytest.approx(chance, rel=0.3)
    found = np.mean(np.abs(noise + detection_factor(chance)) > threshold)
    assert found == pytest.approx(0.955, abs=0.01)  # the quadrature noise adds half a per cent


@pytest.mark.parametrize(("bars", "pole_pairs"), [(40, 2), (58, 2), (88, 5)])
def test_natural_unevenness_of_random_cages(bars: int, pole_pairs: int) -> None:
    """95 of 100 sound cages stay below equation (7)."""
    rng = np.random.default_rng(1)
    spread = LIMITS.plan.natural_bar_spread
    angle = 2.0 * math.pi * pole_pairs * np.arange(bars) / bars
    reading = np.abs(spread * rng.standard_normal((20_000, bars)) @ np.exp(2j * angle))
    limit = natural_bars(motor(cage=Cage(rotor_bars=bars)), LIMITS.plan)

    assert np.mean(reading < limit) == pytest.approx(0.95, abs=0.005)


def test_twice_the_bars_raise_the_natural_unevenness_by_the_root_of_two() -> None:
    few, many = (natural_bars(motor(cage=Cage(rotor_bars=n)), LIMITS.plan) for n in (30, 60))

    assert many == pytest.approx(math.sqrt(2.0) * few)


def test_slip_at_load_delivers_the_load() -> None:
    circuit = circuit_ensemble(PUMP, 20)
    plate = PUMP.nameplate
    for load in (0.25, 1.0):
        slip = slip_at_load(circuit, PUMP, load)
        power = shaft_power(
            circuit, slip, plate.rated_phase_voltage_peak_v, plate.rated_frequency_hz
        )
        assert power == pytest.approx(load * plate.rated_power_w, rel=1e-6)


def test_four_times_the_length_halves_what_the_instrument_hides() -> None:
    short = plan_for(PUMP, with_plan(record_s_min=200.0)).loads[-1]
    long = plan_for(PUMP, with_plan(record_s_min=800.0)).loads[-1]

    assert long.instrument_bars.value == pytest.approx(0.5 * short.instrument_bars.value, rel=1e-6)


def test_no_promise_is_below_the_natural_unevenness() -> None:
    planned = plan_for(PUMP, LIMITS)
    for at in planned.loads:
        for bars in (at.direct_bars, at.side_line_bars, at.harmonic_bars):
            assert bars.low >= planned.natural_bars
        assert at.direct_bars.value <= at.side_line_bars.value


def test_a_wilder_load_costs_the_side_lines_more_than_the_direct_component() -> None:
    calm, wild = (plan_for(PUMP, with_plan(load_noise_db=db)).loads[2] for db in (-70.0, -40.0))

    lost_by_lines = wild.side_line_bars.value - calm.side_line_bars.value
    assert lost_by_lines > 3.0 * (wild.direct_bars.value - calm.direct_bars.value)


def test_record_length_follows_the_pole_pass_frequency() -> None:
    for at in plan_for(PUMP, LIMITS).loads:
        needed = max(60.0, 30.0 / at.pole_pass_frequency_hz.value)
        assert needed <= at.record_s < needed + 10.0


def test_sixty_hertz_is_fifty_hertz_on_a_faster_clock() -> None:
    plate = PUMP.nameplate
    faster = replace(
        plate,
        rated_frequency_hz=60.0,
        rated_speed_rpm=1.2 * plate.rated_speed_rpm,
        rated_voltage_v=1.2 * plate.rated_voltage_v,
        rated_power_w=1.2 * plate.rated_power_w,
    )
    at_50 = plan_for(PUMP, LIMITS).loads[-1].pole_pass_frequency_hz.value
    at_60 = plan_for(motor(nameplate=faster, cage=PUMP.cage), LIMITS).loads[-1]

    assert at_60.pole_pass_frequency_hz.value == pytest.approx(1.2 * at_50, rel=0.02)


@pytest.mark.parametrize(
    ("frequency_hz", "rate_hz"), [(50.0, 5000.0), (60.0, 6400.0), (400.0, 51200.0)]
)
def test_sampling_rate_reaches_the_seventh_harmonic_and_the_slot_lines(
    frequency_hz: float, rate_hz: float
) -> None:
    plate = replace(PUMP.nameplate, rated_frequency_hz=frequency_hz)

    assert sampling_rate_hz(motor(nameplate=plate), LIMITS.plan) == rate_hz


def test_no_start_is_planned_where_there_is_no_direct_start() -> None:
    def start_range(subject: Motor) -> float | None:
        return plan_for(subject, LIMITS).record.start_range_peak_a

    soft = replace(PUMP.nameplate, starting=Starting.SOFT_STARTER)
    assert start_range(motor(nameplate=soft, cage=PUMP.cage)) is None
    assert start_range(PUMP) == pytest.approx(10.0 * math.sqrt(2.0) * 255.0)
