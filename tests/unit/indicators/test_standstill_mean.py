"""The trend of the mean inductance: what may be compared, scatter, weak evidence."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.standstill.comparable import Comparison, MeanTest
from cagewise.indicators.standstill.limits import MeanInductanceLimits
from cagewise.indicators.standstill.mean_inductance import (
    _rise,
    read_mean_inductance,
    temperature_slope_per_k,
)
from cagewise.measurement.test_sheet import Place, TerminalPair, TestSheet
from cagewise.quantities import RealArray
from support.position_sheets import R3K, r3k_circuit, wave_sheet

LIMITS = MeanInductanceLimits()
SCATTER = (0.004, -0.003, 0.001, -0.002)


def occasion(year: int, rise: float = 0.0, **how: object) -> TestSheet:
    """Return a test of a demagnetised rotor at 1 A and 20 degC with its mean moved by a rise."""
    sheet = wave_sheet(seed=year, **how)  # type: ignore[arg-type]  # fields of Test
    series = tuple(
        replace(
            s,
            inductance_h=None if s.inductance_h is None else s.inductance_h * (1.0 + rise),
            test_current_rms_a=1.0,
        )
        for s in sheet.positions
    )
    return replace(
        sheet,
        positions=series,
        measured_on=date(year, 5, 1),
        rotor_demagnetised=True,
        winding_temperature_degc=20.0,
    )


def history(years: Sequence[int] = (2019, 2020, 2022, 2023)) -> list[TestSheet]:
    return [occasion(y, rise) for y, rise in zip(years, SCATTER, strict=False)]


def read(sheet: TestSheet, earlier: Sequence[TestSheet]) -> Reading:
    return read_mean_inductance(sheet, earlier, R3K, r3k_circuit(), LIMITS)


def at_current(sheet: TestSheet, current_a: float | None) -> TestSheet:
    series = tuple(replace(s, test_current_rms_a=current_a) for s in sheet.positions)
    return replace(sheet, positions=series)


def test_a_rise_is_read_against_the_motors_own_scatter() -> None:
    found = read(occasion(2026, 0.05), history())
    assert found.valid
    assert found.name == "mean_inductance"
    assert found.independence_class is IndependenceClass.STANDSTILL_MEAN
    assert found.method is Method.MEAN_INDUCTANCE
    assert found.value is not None
    assert found.value.low < 5.0 < found.value.high
    scatter = math.sqrt(1.25) * float(np.std(np.log1p(SCATTER), ddof=1))
    assert found.details["scatter_percent"] == pytest.approx(100.0 * scatter, rel=0.1)
    assert found.false_alarm_probability is not None
    assert found.false_alarm_probability < 0.01
    assert found.open_bar_equivalent is not None
    assert 0.0 < found.open_bar_equivalent.low < found.open_bar_equivalent.high
    assert found.details["baselines_count"] == 4.0
    assert found.details["trend_percent_per_year"] > 0.3
    assert any("weak evidence" in c for c in found.caveats)
    assert len(found.caveats) == 1


def test_no_rise_includes_zero() -> None:
    found = read(occasion(2026), history())
    assert found.open_bar_equivalent is not None
    assert found.open_bar_equivalent.low == 0.0
    assert found.detection_limit_bars is not None
    assert 0.0 < found.detection_limit_bars < 1.5


def test_a_fall_is_no_open_bar() -> None:
    found = read(occasion(2026, -0.05), history())
    assert found.value is not None
    assert found.value.high < 0.0
    assert found.open_bar_equivalent is not None
    assert found.open_bar_equivalent.value == 0.0
    assert found.false_alarm_probability is not None
    assert found.false_alarm_probability > 0.95


def test_scatter_is_covered() -> None:
    """Histories of four with 0.5 % scatter, 200 of them, no rise: the interval includes it in 95 %
    (less 3 binomial sd) of the cases; false alarms at 5 % come at their rate."""
    rng = np.random.default_rng(1)
    inside = alarms = 0
    for _ in range(200):
        moved = rng.normal(0.0, 0.005, 5)
        ratios = moved[4] - moved[:4]
        rise = _rise(comparison_of(ratios), r3k_circuit(), replace(LIMITS, least_sd=0.0))
        inside += rise.estimate.low <= 0.0 <= rise.estimate.high
        alarms += rise.probability < 0.05
    assert inside / 200.0 >= 0.95 - 0.047
    assert alarms / 200.0 == pytest.approx(0.05, abs=0.047)


def comparison_of(log_ratios: RealArray) -> Comparison:
    """Return a comparison with these ratios of today to earlier tests."""
    now = state()
    before = tuple(
        replace(
            now,
            measured_on=date(2020 + k, 1, 1),
            inductance_h={TerminalPair.AB: 0.03 * math.exp(-ratio)},
        )
        for k, ratio in enumerate(log_ratios)
    )
    return Comparison(now=now, before=before, left_out=())


def state() -> MeanTest:
    return MeanTest(
        measured_on=date(2026, 1, 1),
        frequency_hz=50.0,
        place=Place.TERMINALS,
        inductance_h={TerminalPair.AB: 0.03},
        test_current_rms_a=1.0,
        winding_temperature_degc=20.0,
        demagnetised=True,
    )


def test_too_few_baselines_are_said_and_widen() -> None:
    few, many = read(occasion(2026, 0.05), history()[:1]), read(occasion(2026, 0.05), history())
    assert few.value is not None
    assert many.value is not None
    assert few.value.high - few.value.low > many.value.high - many.value.low
    assert any("1 comparable earlier test, 3 are wanted" in c for c in few.caveats)
    assert "trend_percent_per_year" not in few.details


@pytest.mark.parametrize(
    ("other", "reason"),
    [
        (occasion(2020, frequency_hz=60.0), "at another test frequency"),
        (replace(occasion(2020), place=Place.SWITCHBOARD), "measured from another place"),
        (replace(occasion(2020), rotor_demagnetised=False), "another state of magnetisation"),
        (replace(occasion(2020), rotor_demagnetised=None), "another state of magnetisation"),
        (at_current(occasion(2020), 2.0), "at another test current"),
        (occasion(2027), "of the same day or later"),
        (occasion(2020, per_pole_pair=18), "not readable (18 positions"),
        (replace(occasion(2020), positions=()), "not readable (no inductance"),
        (occasion(2020, quantities="Z"), "not readable (inductance was not read)"),
        (
            replace(occasion(2020), positions=occasion(2020).positions[2:]),
            "on other terminals",
        ),
    ],
)
def test_tests_made_otherwise_are_left_out_and_named(other: TestSheet, reason: str) -> None:
    now = occasion(2026)
    now = replace(now, positions=now.positions[:2])
    alone = read(now, [other])
    assert not alone.valid
    assert "no earlier test can be compared: 1 " in alone.reason
    assert reason in alone.reason
    among = read(now, [*history(), other])
    assert among.valid
    assert among.details["baselines_count"] == 4.0
    assert any(reason in c for c in among.caveats)


def test_the_first_test_has_nothing_to_compare_with() -> None:
    assert read(occasion(2026), []).reason == "no earlier test of this motor to compare with"


def test_a_sheet_that_cannot_be_read_says_why() -> None:
    assert "18 positions" in read(occasion(2026, per_pole_pair=18), history()).reason


@pytest.mark.parametrize(
    ("unknown", "words"),
    [
        (lambda s: at_current(s, None), "test current was not written down"),
        (lambda s: replace(s, rotor_demagnetised=None), "not demagnetised"),
        (lambda s: replace(s, winding_temperature_degc=None), "temperature was not written down"),
    ],
)
def test_unknown_covariates_widen_and_are_said(
    unknown: Callable[[TestSheet], TestSheet], words: str
) -> None:
    known = read(occasion(2026), history())
    found = read(unknown(occasion(2026)), [unknown(s) for s in history()])
    assert any(words in c for c in found.caveats)
    assert found.details["scatter_percent"] > known.details["scatter_percent"]


def test_switchboard_throughout_is_a_caveat() -> None:
    at_board = [replace(s, place=Place.SWITCHBOARD) for s in (occasion(2026), *history())]
    found = read(at_board[0], at_board[1:])
    assert any("the cable is part of every value" in c for c in found.caveats)


def test_a_warmer_cage_is_corrected() -> None:
    """Slope by differences of the circuit's own impedance at two rotor resistances."""
    middle = r3k_circuit().median()
    omega = 2.0 * math.pi * 50.0

    def inductance(kelvin: float) -> float:
        factor = (225.0 + 75.0 + kelvin) / (225.0 + 75.0)
        rotor = middle.rotor_resistance_ohm * factor + 1j * omega * middle.rotor_inductance_h
        pushed = (omega * middle.magnetizing_inductance_h) ** 2 / rotor
        return float(middle.stator_inductance_h) + float(pushed.imag) / omega

    slope = math.log(inductance(0.5) / inductance(-0.5))
    assert temperature_slope_per_k(r3k_circuit(), state()) == pytest.approx(slope, rel=1e-4)
    warm = replace(occasion(2026), winding_temperature_degc=70.0)
    cold_value, warm_value = (read(s, history()).value for s in (occasion(2026), warm))
    assert cold_value is not None
    assert warm_value is not None
    assert warm_value.value - cold_value.value == pytest.approx(-100.0 * 50.0 * slope, rel=0.02)
