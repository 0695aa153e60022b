"""Published line frequencies and bar-count formulas.

Motor M1 is the rig of the open broken-bar data set of Treml, Flauzino, Suetake and Maciejewski
(IEEE DataPort, 2020): 1 cv, 220/380 V, 60 Hz, 4 poles, 1715 rpm, 34 bars. Frequencies are computed
from the cited formulas; the data-set card prints the pole-pass frequencies.
"""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.machine.classic import (
    bars_from_line_sum,
    bars_from_lower_line,
    bars_from_mean_level,
    lower_line_ratio,
    mean_level_db,
)
from cagewise.machine.lines import (
    LineFamily,
    LineRule,
    characteristic_lines,
    pole_pass_rules,
    slot_rules,
)
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import decibel


def motor(
    frequency_hz: float, poles: int, speed_rpm: float, rotor_bars: int | None = None
) -> Motor:
    nameplate = Nameplate(
        rated_power_w=735.5,
        rated_voltage_v=380.0,
        rated_frequency_hz=frequency_hz,
        rated_speed_rpm=speed_rpm,
        rated_current_a=2.0,
        poles=poles,
    )
    return Motor(tag="m", nameplate=nameplate, cage=Cage(rotor_bars=rotor_bars))


M1 = motor(60.0, 4, 1715.0, 34)
RATED = characteristic_lines(M1, 60.0, M1.nameplate.rated_slip)


def test_rated_slip_and_pole_pass() -> None:
    """Slip 0.047222; the card prints 5.66 Hz at full load (cut, not rounded)."""
    assert RATED.slip == pytest.approx(0.047222, abs=5e-7)
    assert RATED.pole_pass_frequency_hz == pytest.approx(5.6667, abs=5e-5)
    assert int(100.0 * RATED.pole_pass_frequency_hz) / 100.0 == 5.66


def test_lightest_load() -> None:
    """The card prints 0.71 Hz: slip 0.005917, 1789.35 rpm."""
    slip = 0.71 / 120.0
    lines = characteristic_lines(M1, 60.0, slip)
    assert lines.slip == pytest.approx(0.005917, abs=5e-7)
    assert 60.0 * lines.shaft_frequency_hz == pytest.approx(1789.35, abs=5e-3)


@pytest.mark.parametrize(
    ("name", "frequency_hz"),
    [
        # (1 +- 2 s) f: Kliman 1988; Filippetti 1998
        ("lower_side_line", 54.333),
        ("upper_side_line", 65.667),
        # [(k/p)(1-s) +- s] f: Deleroi 1984; Pons-Llinares et al., review, eq. (2)
        ("5-4s", 288.667),
        ("5-6s", 283.000),
        ("7-6s", 403.000),
        ("7-8s", 397.333),
        # f +- f_r: Nandi, Toliyat and Li 2005 (from memory)
        ("shaft_1_lower", 31.417),
        ("shaft_1_upper", 88.583),
        # f [(k R +- n_d)(1-s)/p +- nu]: Cameron, Thomson and Dow 1986 (from memory)
        ("slot_-1_nu1", 911.833),
        ("slot_+1_nu1", 1031.833),
        ("slot_-1_nu1_ecc+1", 883.25),
        ("slot_+1_nu1_ecc-1", 1003.25),
        ("slot_-1_nu1_ecc-1", 940.417),
        ("slot_+1_nu1_ecc+1", 1060.417),
    ],
)
def test_lines_of_m1(name: str, frequency_hz: float) -> None:
    assert RATED.find(name).phase_frequency_hz == pytest.approx(frequency_hz, abs=6e-4)


def test_cage_lines_stand_two_and_three_pole_passes_off_the_fifth() -> None:
    """5f - 2 f_pp, 5f - 3 f_pp, 7f - 3 f_pp, 7f - 4 f_pp; nothing of the cage at 5f - f_pp."""
    f_pp = RATED.pole_pass_frequency_hz
    for name, harmonic, count in (("5-4s", 5, 2), ("5-6s", 5, 3), ("7-6s", 7, 3), ("7-8s", 7, 4)):
        line = RATED.find(name).phase_frequency_hz
        assert line == pytest.approx(60.0 * harmonic - count * f_pp, rel=1e-12)


def test_orders_of_the_principal_slot_lines() -> None:
    """p = 2, R = 34: orders -16 and +18 (chapter on noise in O'Reilly, Power Electronics and Motor
    Drives, eq. 9.45); at rated slip 15.197 and 17.197 times the supply."""
    rules = {rule.name: rule for rule in slot_rules(2, 34)}
    assert rules["slot_+1_nu1"].winding_order == 18
    assert rules["slot_-1_nu1"].winding_order == -16
    assert RATED.find("slot_-1_nu1").phase_frequency_hz / 60.0 == pytest.approx(15.197, abs=5e-4)
    assert RATED.find("slot_+1_nu1").phase_frequency_hz / 60.0 == pytest.approx(17.197, abs=5e-4)


def test_existence_rule_of_the_principal_slot_lines() -> None:
    """R = 2p[3(m +- q) +- r], r = 0 or 1, m +- q = 0, 1, 2...: Nandi, Ahmed and Toliyat 2001 (from
    memory)."""
    for pole_pairs in (1, 2, 3, 4):
        published = {2 * pole_pairs * (3 * i + r) for i in range(60) for r in (-1, 0, 1)}
        for bars in range(10, 130):
            principal = [
                rule
                for rule in slot_rules(pole_pairs, bars)
                if rule.name in {"slot_+1_nu1", "slot_-1_nu1"}
            ]
            assert any(rule.expected for rule in principal) == (bars in published)


def test_reference_motor_shows_the_upper_first_and_lower_second_slot_line() -> None:
    """36/32 slots, p = 2: orders 15 (suppressed) and 17 (visible); second pair: 1480 Hz found,
    1580 Hz absent (bar-by-bar model of the 3 kW machine)."""
    r3k = motor(50.0, 4, 1434.0, 32)
    slip = 1.0 - (815.05 - 50.0) * 2.0 / (32.0 * 50.0)
    lines = characteristic_lines(r3k, 50.0, slip)
    seen = {
        line.rule.name: line.phase_frequency_hz
        for line in lines.family(LineFamily.ROTOR_SLOT)
        if line.rule.expected and line.rule.name.endswith("nu1")
    }
    assert seen == pytest.approx({"slot_+1_nu1": 815.05, "slot_-2_nu1": 1480.1}, abs=0.01)


def test_lower_side_line_during_a_start() -> None:
    """abs(1 - 2 s) f is a V: Antonino-Daviu, Riera-Guasp et al. 2006-2009."""
    rule = next(r for r in pole_pass_rules(2) if r.name == "lower_side_line")
    slips = np.array([1.0, 0.75, 0.5, 0.25, 0.02])
    signed = rule.frequency_hz(50.0, slips, 2)
    np.testing.assert_allclose(np.abs(signed), [50.0, 25.0, 0.0, 25.0, 48.0], atol=1e-12)
    np.testing.assert_array_equal(np.sign(np.round(signed, 9)), [-1.0, -1.0, 0.0, 1.0, 1.0])


def test_bar_passing_example() -> None:
    """40 bars, 29.17 Hz (1750 rpm at 60 Hz): 1166.7 Hz, side bands spaced 2 f at 1046.7 and 1286.7
    Hz (reliabilityweb.com on bar-related peaks; computed)."""
    example = motor(60.0, 4, 1750.0, 40)
    lines = characteristic_lines(example, 60.0, example.nameplate.rated_slip)
    bar_passing_hz = 40.0 * lines.shaft_frequency_hz
    assert bar_passing_hz == pytest.approx(1166.7, abs=0.05)
    assert bar_passing_hz - 120.0 == pytest.approx(1046.7, abs=0.05)
    assert bar_passing_hz + 120.0 == pytest.approx(1286.7, abs=0.05)
    upper, lower = lines.find("slot_+1_nu1"), lines.find("slot_-1_nu1")
    assert upper.phase_frequency_hz - lower.phase_frequency_hz == pytest.approx(120.0, rel=1e-12)


@pytest.mark.parametrize(
    ("frequency_hz", "poles", "speed_rpm", "pole_pass_hz"),
    [
        (50.0, 4, 1485.0, 1.000),  # 355 kW case, cbmconnect.com: 60 cpm
        (60.0, 4, 1775.0, 1.667),  # maintenance.org thread: 25 rpm x 4 = 100 cpm
        (60.0, 2, 3575.0, 0.833),  # fact of the trade; side lines 59.167 and 60.833 Hz
    ],
)
def test_pole_pass_identity(
    frequency_hz: float, poles: int, speed_rpm: float, pole_pass_hz: float
) -> None:
    """P (n_s - n) / 60 = 2 s f."""
    example = motor(frequency_hz, poles, speed_rpm)
    lines = characteristic_lines(example, frequency_hz, example.nameplate.rated_slip)
    direct = poles * (example.nameplate.synchronous_speed_rpm - speed_rpm) / 60.0
    assert lines.pole_pass_frequency_hz == pytest.approx(direct, rel=1e-9)
    assert lines.pole_pass_frequency_hz == pytest.approx(pole_pass_hz, abs=5e-4)
    lower = lines.find("lower_side_line").frequency_hz
    upper = lines.find("upper_side_line").frequency_hz
    assert (lower, upper) == pytest.approx((frequency_hz - direct, frequency_hz + direct))


def test_fifth_harmonic_moves_with_the_supply() -> None:
    """The fifth stands at 300 Hz on 60 Hz, at 235 / 265 Hz on a drive at 47 / 53 Hz (common
    practice, no source); its cage lines lie 2 and 3 f_pp below."""
    for supply_hz, fifth_hz in ((60.0, 300.0), (47.0, 235.0), (53.0, 265.0)):
        lines = characteristic_lines(M1, supply_hz, 0.01)
        two_off = lines.find("5-4s").phase_frequency_hz + 2.0 * lines.pole_pass_frequency_hz
        assert two_off == pytest.approx(fifth_hz, rel=1e-12)


# --- estimators of the number of broken bars --------------------------------------------------


@pytest.mark.parametrize(
    ("bars", "level_a_db", "level_b_db", "level_c_db"),
    [
        (1, -36.39, -36.32, -30.63),
        (2, -30.10, -30.35, -24.61),
        (3, -26.31, -27.28, -21.09),
        (4, -23.52, -25.71, -18.59),
    ],
)
def test_classic_estimators(
    bars: int, level_a_db: float, level_b_db: float, level_c_db: float
) -> None:
    """Numbers computed for R = 34 from formulas that are all from memory. A: Thomson and Fenger
    2001; B: Deleroi / Kliman and Stein, in Nandi, Toliyat and Li 2005; C: Bellini et al., IEEE
    Trans. Ind. Appl. 37(5) 2001."""
    assert mean_level_db(bars, 34, 2) == pytest.approx(level_a_db, abs=0.006)
    assert bars_from_mean_level((level_a_db - 3.0, level_a_db + 3.0), 34, 2) == pytest.approx(
        bars, rel=1e-3
    )
    assert decibel(lower_line_ratio(bars, 34, 2)) == pytest.approx(level_b_db, abs=0.006)
    inverted = bars_from_lower_line(decibel(lower_line_ratio(bars, 34, 2)), 34, 2)
    assert inverted == pytest.approx(bars, rel=1e-9)
    assert decibel(bars / 34) == pytest.approx(level_c_db, abs=0.006)
    assert bars_from_line_sum(0.4 * bars / 34, 0.6 * bars / 34, 34) == pytest.approx(bars, rel=1e-9)


@pytest.mark.parametrize(
    ("rotor_bars", "pole_pairs", "level_db"), [(28, 2, -34.6), (50, 2, -39.8), (94, 5, -45.3)]
)
def test_one_bar_reads_differently_on_every_motor(
    rotor_bars: int, pole_pairs: int, level_db: float
) -> None:
    """Estimator A for one bar: no fixed level suits all motors (computed)."""
    assert mean_level_db(1.0, rotor_bars, pole_pairs) == pytest.approx(level_db, abs=0.06)


def test_one_bar_lies_inside_the_range_measured_on_the_rig() -> None:
    """The data-set card: side lines 30 to 50 dB below the line."""
    assert -50.0 < decibel(lower_line_ratio(1.0, 34, 2)) < -30.0


def test_estimator_b_has_an_end() -> None:
    assert bars_from_lower_line(-3.0, 34, 2) is None


def test_rule_inverts_to_the_slip() -> None:
    """The same rule read backwards returns the slip."""
    rules: list[LineRule] = [line.rule for line in RATED.lines]
    for rule in rules:
        slip = rule.slip(rule.frequency_hz(60.0, 0.0123, 2), 60.0, 2)
        assert float(slip) == pytest.approx(0.0123, rel=1e-6), rule.name
