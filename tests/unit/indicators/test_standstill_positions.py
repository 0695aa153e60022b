"""Impedance against position: what is refused, named and left open; the winding's unbalance."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from cagewise.indicators.reading import IndependenceClass, Method, Part, Reading
from cagewise.indicators.standstill.expected import Signal, standstill_scale
from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.positions import GRID, PositionResult, read_positions
from cagewise.indicators.standstill.series import PairReadings
from cagewise.indicators.standstill.unbalance import largest_deviation
from cagewise.machine.motor import Cage, Motor
from cagewise.measurement.test_sheet import Place, PositionSeries, TerminalPair, TestSheet
from cagewise.quantities import RealArray
from support.position_sheets import PAIRS, R3K, r3k_circuit, sheet_of, wave_sheet

LIMITS = PositionLimits()
UNKNOWN_BARS = replace(R3K, cage=Cage(stator_slots=36))


def read(sheet: TestSheet, motor: Motor = R3K, limits: PositionLimits = LIMITS) -> PositionResult:
    return read_positions(sheet, motor, r3k_circuit(), limits)


def pattern(sheet: TestSheet, motor: Motor = R3K, limits: PositionLimits = LIMITS) -> Reading:
    return read(sheet, motor, limits).readings[0]


def edited(
    sheet: TestSheet, pair: int, change: Callable[[PositionSeries], PositionSeries]
) -> TestSheet:
    series = list(sheet.positions)
    series[pair] = change(series[pair])
    return replace(sheet, positions=tuple(series))


def with_inductance(values: Callable[[RealArray], RealArray]) -> Callable[..., PositionSeries]:
    def change(series: PositionSeries) -> PositionSeries:
        assert series.inductance_h is not None
        return replace(series, inductance_h=values(series.inductance_h.copy()))

    return change


def test_a_pattern_is_read_with_class_method_and_interval() -> None:
    found = pattern(wave_sheet(second=0.03))
    assert found.valid
    assert found.name == "position_pattern"
    assert found.independence_class is IndependenceClass.STANDSTILL_PATTERN
    assert found.method is Method.POSITION_PATTERN
    assert found.part is Part.CAGE
    assert found.value is not None
    assert found.value.low < 3.0 < found.value.high
    assert found.value.high - found.value.low < 0.1
    assert found.unit == "% of the mean impedance"
    assert found.false_alarm_probability is not None
    assert found.false_alarm_probability < 1e-12
    assert found.open_bar_equivalent is not None
    assert found.open_bar_equivalent.low > 0.5
    assert found.details["moving_with_rotor_share_1"] > 0.99
    assert all(key.rsplit("_", 1)[1] in UNITS for key in found.details), found.details


UNITS = {"hz", "percent", "deg", "h", "ohm", "1", "bars"}


def test_a_sound_rotor_includes_zero_and_says_what_it_could_have_shown() -> None:
    found = pattern(wave_sheet(ripple=0.003))
    assert found.valid
    assert found.open_bar_equivalent is not None
    assert found.open_bar_equivalent.low == 0.0
    assert found.detection_limit_bars is not None
    limits = (found.details["noise_limit_bars"], found.details["sound_rotor_limit_bars"])
    assert found.detection_limit_bars == max(limits)
    assert 0.0 < limits[0] < limits[1] < 0.3


def test_a_small_pattern_that_stands_may_be_a_sound_rotors_own() -> None:
    """0.4 % is 20 times the noise and below what sound rotors may have (0.5 %, judgement)."""
    found = pattern(wave_sheet(second=0.004))
    assert found.false_alarm_probability is not None
    assert found.false_alarm_probability < 1e-12
    assert found.open_bar_equivalent is not None
    assert found.open_bar_equivalent.low == 0.0
    assert any("no larger than sound rotors may have" in c for c in found.caveats)


def test_no_series_gives_no_readings() -> None:
    assert read(sheet_of()) == PositionResult(readings=(), curves=())


@pytest.mark.parametrize(
    ("sheet", "reason"),
    [
        (wave_sheet(per_pole_pair=8), "8 positions per pole pair are too few"),
        (
            wave_sheet(per_pole_pair=18),
            "slot ripple of order 16 (32 bars) appears as order 2; safe counts per pole pair are",
        ),
        (wave_sheet(per_pole_pair=20), "slot ripple of order 16 (32 bars) appears as order 4"),
        (wave_sheet(per_pole_pair=36), "slot ripple of order 32 (32 bars) appears as order 4"),
        (wave_sheet(second=0.02, movement=-1), "the pattern moves 240 instead of 120"),
        (wave_sheet(second=0.02, movement=0), "the pattern stays at the same angles"),
        (wave_sheet(noise=0.05, returned=False), "the readings scatter too much"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_reason(sheet: TestSheet, reason: str) -> None:
    found = pattern(sheet)
    assert not found.valid
    assert found.value is None
    assert found.open_bar_equivalent is None
    assert reason in found.reason


def test_safe_counts_named_in_the_refusal_are_accepted() -> None:
    reason = pattern(wave_sheet(per_pole_pair=18)).reason
    for count in map(int, reason.rsplit("are ", 1)[1].split(", ")):
        assert pattern(wave_sheet(per_pole_pair=count, ripple=0.003)).valid


def test_uneven_angles_that_fold_the_ripple_are_refused_too() -> None:
    """18 positions per pole pair with half a degree of scatter fold as 18 exact ones do."""
    rng = np.random.default_rng(3)

    def jitter(series: PositionSeries) -> PositionSeries:
        moved = np.radians(0.5) * rng.standard_normal(series.shaft_angle_rad.size)
        return replace(series, shaft_angle_rad=series.shaft_angle_rad + moved)

    sheet = edited(wave_sheet(per_pole_pair=18), 0, jitter)
    assert "order 16" in pattern(sheet).reason


def half_turned(series: PositionSeries) -> PositionSeries:
    keep = np.arange(series.shaft_angle_rad.size) < 16
    return replace(
        series,
        shaft_angle_rad=series.shaft_angle_rad[keep],
        resistance_ohm=None if series.resistance_ohm is None else series.resistance_ohm[keep],
        inductance_h=None if series.inductance_h is None else series.inductance_h[keep],
    )


def test_less_than_a_pole_pair_is_refused() -> None:
    assert (
        "the positions cover 0.67 pole pairs"
        in pattern(edited(wave_sheet(second=0.02), 1, half_turned)).reason
    )


def test_one_pole_pair_is_read_with_a_caveat_and_can_be_forbidden() -> None:
    sheet = wave_sheet(second=0.02, covered=1)
    assert any("1 pole pairs were covered, 2 are better" in c for c in pattern(sheet).caveats)
    strict = replace(LIMITS, least_pole_pairs=2.0)
    assert "2 at least are needed" in pattern(sheet, limits=strict).reason


def test_positions_in_heaps_are_refused() -> None:
    angles = np.radians(np.concatenate([np.linspace(d, d + 12.0, 16) for d in (0, 90, 180, 270)]))

    def heap(series: PositionSeries) -> PositionSeries:
        assert series.resistance_ohm is not None
        assert series.inductance_h is not None
        n = angles.size
        return replace(
            series,
            shaft_angle_rad=angles,
            resistance_ohm=np.resize(series.resistance_ohm, n),
            inductance_h=np.resize(series.inductance_h, n),
        )

    sheet = wave_sheet()
    for pair in range(3):
        sheet = edited(sheet, pair, heap)
    assert "heaps" in pattern(sheet).reason


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1e3, "units a thousand apart were mixed"),
        (1e-3, "units a thousand apart were mixed"),
        (2.0 * math.pi * 50.0, "reactance and inductance were mixed"),
        (5.0, "check unit and decimal point"),
    ],
)
def test_mixed_units_between_pairs_are_named(factor: float, words: str) -> None:
    sheet = edited(wave_sheet(second=0.02), 1, with_inductance(lambda v: factor * v))
    reason = pattern(sheet).reason
    assert "terminals a-b and b-c" in reason
    assert words in reason
    unbalance = read(sheet).readings[-1]
    assert not unbalance.valid
    assert words in unbalance.reason


def test_mixed_units_within_a_pair_name_the_reading() -> None:
    def tenth(values: RealArray) -> RealArray:
        values[7] *= 1e3
        return values

    reason = pattern(edited(wave_sheet(), 2, with_inductance(tenth))).reason
    assert "reading 8 of the inductance of terminals c-a" in reason
    assert "units a thousand apart" in reason


def test_a_unit_wrong_everywhere_is_held_against_the_motor() -> None:
    sheet = wave_sheet(second=0.02)
    for pair in range(3):
        sheet = edited(sheet, pair, with_inductance(lambda v: 1e3 * v))
    assert "what this motor can have" in pattern(sheet).reason


def test_copied_columns_are_named() -> None:
    sheet = wave_sheet(second=0.02)
    copied = replace(sheet.positions[0], pair=TerminalPair.BC)
    sheet = replace(sheet, positions=(sheet.positions[0], copied, sheet.positions[2]))
    assert "one column was copied" in pattern(sheet).reason


def test_a_pair_entered_twice_is_refused() -> None:
    sheet = wave_sheet()
    twice = replace(sheet.positions[1], pair=TerminalPair.AB)
    sheet = replace(sheet, positions=(*sheet.positions, twice))
    assert "terminals a-b stand twice" in pattern(sheet).reason


def test_pairs_read_in_other_quantities_are_refused() -> None:
    sheet = edited(wave_sheet(), 1, lambda s: replace(s, resistance_ohm=None))
    assert "not read in the same quantities" in pattern(sheet).reason


def test_nonsense_numbers_are_refused() -> None:
    def negative(values: RealArray) -> RealArray:
        values[3] = -values[3]
        return values

    reason = pattern(edited(wave_sheet(), 0, with_inductance(negative))).reason
    assert "not a positive number" in reason


def test_exchanged_rows_are_named() -> None:
    def exchange(values: RealArray) -> RealArray:
        values[[3, 9]] = values[[9, 3]]
        return values

    reason = pattern(edited(wave_sheet(second=0.03), 1, with_inductance(exchange))).reason
    assert "readings 4 and 10 of the inductance of terminals b-c" in reason


def test_a_shaft_that_did_not_come_back_is_refused() -> None:
    def late(values: RealArray) -> RealArray:
        values[-1] *= 1.012
        return values

    reason = pattern(edited(wave_sheet(), 0, with_inductance(late))).reason
    assert "back at the first angle the inductance of terminals a-b differs by 1 %" in reason


@pytest.mark.parametrize("movement", [0, -1])
def test_nobody_asks_how_a_tiny_pattern_moves(movement: int) -> None:
    """0.02 % stands out of very quiet readings, but is less than slot ripple may leave."""
    assert pattern(wave_sheet(second=2e-4, movement=movement, noise=1e-5)).valid
    assert not pattern(wave_sheet(second=2e-3, movement=movement, noise=1e-5)).valid


def test_no_return_reading_is_a_caveat() -> None:
    found = pattern(wave_sheet(returned=False))
    assert found.valid
    assert any("no last reading at the first angle" in c for c in found.caveats)


@pytest.mark.parametrize(("kept", "lost"), [(1, "may belong to the test set"), (2, "two pairs")])
def test_missing_pairs_are_said_with_what_is_lost(kept: int, lost: str) -> None:
    result = read(wave_sheet(second=0.03, pairs=PAIRS[:kept]))
    found, unbalance = result.readings
    assert found.valid
    assert any(lost in c and "were not read" in c for c in found.caveats)
    assert not unbalance.valid
    assert "three pairs are needed" in unbalance.reason


def test_each_frequency_is_a_reading_of_the_same_class() -> None:
    sheets = [wave_sheet(second=0.03, frequency_hz=f) for f in (200.0, 50.0, 7.5)]
    names = [r.name for r in read(sheet_of(*(s for x in sheets for s in x.positions))).readings]
    assert names == [
        "position_pattern",
        "position_pattern_200_hz",
        "position_pattern_7_5_hz",
        "inductance_unbalance",
    ]


def test_unknown_bars_leave_the_ripple_open() -> None:
    """18 positions fold the ripple of some rotors this motor may have: the floor rises by it."""
    safe = pattern(wave_sheet(per_pole_pair=41), UNKNOWN_BARS)
    folding = pattern(wave_sheet(per_pole_pair=18, second=0.003), UNKNOWN_BARS)
    assert safe.valid
    assert folding.valid
    assert any("would show slot ripple as damage" in c for c in folding.caveats)
    floors = [r.details["sound_rotor_limit_bars"] for r in (safe, folding)]
    assert floors[1] > 1.8 * floors[0]
    assert folding.open_bar_equivalent is not None
    assert folding.open_bar_equivalent.low == 0.0


def test_rotation_index_comes_from_the_modulus() -> None:
    """(I_max - I_min) / I_mean with I = V / |Z|; a swing of 2 x 2 % of |Z| is 4 % of I,
    up to 3 % (1 - cos 15 degrees) less as the extremes lie between positions."""
    found = pattern(wave_sheet(second=0.02, quantities="Z", noise=0.0))
    assert found.unit == "% of the mean impedance"
    assert found.details["rotation_index_ab_percent"] == pytest.approx(4.0, rel=0.034)
    assert any("no standard limits the swing" in c for c in found.caveats)
    alone = pattern(wave_sheet(second=0.02, quantities="L", noise=0.0))
    assert not any(key.startswith("rotation_index") for key in alone.details)


def test_cable_and_missing_resistance_are_said() -> None:
    sheet = replace(wave_sheet(quantities="L"), place=Place.SWITCHBOARD)
    caveats = " ".join(pattern(sheet).caveats)
    assert "from the switchboard" in caveats
    assert "resistance was not read" in caveats


def single_position(pairs: int = 3) -> TestSheet:
    return sheet_of(
        *(
            PositionSeries(
                pair=pair,
                frequency_hz=50.0,
                shaft_angle_rad=np.zeros(1),
                inductance_h=np.array([0.029 * (1.0 + 0.02 * k)]),
            )
            for k, pair in enumerate(PAIRS[:pairs])
        )
    )


def test_a_single_position_says_nothing_of_rotor_or_winding() -> None:
    """On a cage motor the pairs differ by the rotor's position alone (common practice)."""
    found, unbalance = read(single_position()).readings
    assert "single position" in found.reason
    assert not unbalance.valid
    assert "single rotor position" in unbalance.reason


def test_unbalance_is_that_of_the_means_and_has_no_limit() -> None:
    """Largest deviation from the average over the average: 1.02, 1.03, 1.01 give 0.980 % (the
    definition of EASA/ANSI AR100 for resistances)."""
    assert 100.0 * largest_deviation((1.02, 1.03, 1.01)) == pytest.approx(0.980, abs=5e-4)
    factors = dict(zip(PAIRS, (1.02, 1.03, 1.01), strict=True))
    found = read(wave_sheet(second=0.03, factors=factors)).readings[-1]
    assert found.valid
    assert found.name == "inductance_unbalance"
    assert found.part is Part.WINDING
    assert found.independence_class is IndependenceClass.WINDING_IMPEDANCE
    assert found.limit is None
    assert any("no standard is known" in c for c in found.caveats)
    assert found.value is not None
    assert found.value.low < 0.980 < found.value.high
    assert found.value.high - found.value.low < 0.2


def test_resistance_alone_gives_no_unbalance_of_inductance() -> None:
    assert "neither" in read(wave_sheet(quantities="R")).readings[-1].reason


def test_curves_lay_one_open_bar_over_what_was_found() -> None:
    result = read(wave_sheet(second=0.03, noise=0.0))
    assert len(result.curves) == 6
    for curve in result.curves:
        assert curve.grid_deg.shape == curve.fitted_percent.shape == (GRID,)
        assert curve.one_open_bar_percent.shape == (GRID,)
        x = np.radians(curve.grid_deg[:-1])
        phases = [
            np.angle(np.sum(y[:-1] * np.exp(-2j * x)))
            for y in (curve.fitted_percent, curve.one_open_bar_percent)
        ]
        assert math.cos(phases[0] - phases[1]) > 0.999
        nearest = np.interp(curve.angle_deg, curve.grid_deg, curve.fitted_percent)
        assert curve.measured_percent == pytest.approx(nearest, abs=0.02)


def test_scale_grows_with_bars_and_inverts() -> None:
    scale = standstill_scale(R3K, r3k_circuit(), 50.0)
    second = scale.amplitudes[Signal.INDUCTANCE, 2]
    assert np.all(np.diff(second, axis=0) > 0.0)
    for k in range(4):
        back = scale.bars(Signal.INDUCTANCE, second[k], (2,))
        assert back == pytest.approx(np.full(scale.n_draws, k + 1.0))
        assert scale.bars_of_rise(scale.mean_rise[k]) == pytest.approx(
            np.full(scale.n_draws, k + 1.0)
        )
    assert np.all(scale.bars(Signal.VECTOR, 0.0) == 0.0)


def test_readings_keep_the_order_of_reading() -> None:
    series = wave_sheet().positions[0]
    readings = PairReadings.of(series, 2)
    assert readings.returned
    assert all(b > a for a, b in pairwise(readings.time))
