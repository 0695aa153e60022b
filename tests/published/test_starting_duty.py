"""Published numbers of starting duty: allowed starts, load inertia, stall, run-up, inertia."""

from __future__ import annotations

import pytest

from cagewise.machine.nameplate import Nameplate
from cagewise.machine.starting_duty import (
    ACCELERATION_CONSTANT_LB_FT,
    KG_M2_PER_LB_FT2,
    NM_PER_LB_FT,
    StartsAllowed,
    acceleration_time_s,
    inertia_constant_s,
    load_inertia_limit_kg_m2,
    reflected_inertia_kg_m2,
    stall_withstand_s,
    starts_allowed,
)
from cagewise.quantities import WATT_PER_HORSEPOWER, NotKnown


def allowed(horsepower: float, poles: int) -> StartsAllowed:
    entry = starts_allowed(horsepower * WATT_PER_HORSEPOWER, poles)
    assert isinstance(entry, StartsAllowed)
    return entry


@pytest.mark.parametrize(
    ("horsepower", "poles", "printed"),
    [
        (1, 2, (15, 1.2, 75)),
        (1, 4, (30, 5.8, 38)),
        (1, 6, (34, 15, 33)),
        (10, 2, (6.2, 11, 92)),
        (10, 4, (12.5, 51, 46)),
        (10, 6, (14.2, 137, 41)),
        (50, 2, (3.4, 49, 145)),
        (50, 4, (6.8, 232, 72)),
        (50, 6, (7.7, 620, 64)),
        (100, 2, (2.6, 92, 220)),
        (100, 4, (5.2, 441, 110)),
        (100, 6, (5.9, 1181, 97)),
        (250, 2, (1.8, 210, 1000)),
        (250, 4, (3.7, 1017, 500)),
        (250, 6, (4.2, 2744, 440)),
    ],
)
def test_rows_of_the_table_of_allowed_starts(
    horsepower: float, poles: int, printed: tuple[float, float, float]
) -> None:
    """NEMA MG 10 Table 2-3, as in scribd 450805826 and a trade handbook (read in both)."""
    entry = allowed(horsepower, poles)

    product = entry.product_max_kg_m2 / KG_M2_PER_LB_FT2
    assert (entry.starts_per_hour_max, product, entry.rest_s) == pytest.approx(printed, rel=1e-9)
    assert entry.between_powers is None


def test_the_example_beside_the_table() -> None:
    """25 hp, 4 poles, 50 lb ft^2: 122 / 50 = 2.44 starts per hour, less than A = 8.8 (read)."""
    assert allowed(25, 4).starts_per_hour(50 * KG_M2_PER_LB_FT2) == pytest.approx(2.44, rel=1e-9)
    assert allowed(25, 4).starts_per_hour(1.0 * KG_M2_PER_LB_FT2) == pytest.approx(8.8, rel=1e-9)


def test_the_trap_of_the_second_ten_horsepower_row() -> None:
    """scribd 450805826 prints 10 hp twice; the second row is that of 20 hp (the other copy)."""
    assert allowed(20, 4).starts_per_hour_max == pytest.approx(9.6, rel=1e-9)
    assert allowed(10, 4).starts_per_hour_max == pytest.approx(12.5, rel=1e-9)


LOAD_INERTIA_LB_FT2 = {
    2: """
        1.8 2.4 3.5 5.7 8.3 11 16 21 26 30 40 49 58 71 92 113 133 172 210 246 281 315 349 381
    """,
    4: """
        5.8 8.6 11 17 27 39 51 75 99 122 144 189 232 275 338 441 542 640 831 1020 1200 1370 1550
        1710 1880
    """,
    6: """
        15 23 30 44 71 104 137 200 262 324 384 503 620 735 904 1180 1450 1720 2240 2740 3240
        3720
    """,
    8: """
        31 45 60 87 142 208 273 400 525 647 769 1010 1240 1470 1810 2370 2920 3460 4510 5540
    """,
    10: """
        53 77 102 149 242 355 467 684 898 1110 1320 1720 2130 2520 3110 4070 5010 5940 7750
    """,
    12: """
        82 120 158 231 375 551 723 1060 1390 1720 2040 2680 3300 3920 4830 6320 7790 9230
    """,
}
"""NEMA MG 1 Table 12-7 by poles, as a maker's manual prints it (dtsheet.com 1803173, read)."""
POWERS_HP = """
    1 1.5 2 3 5 7.5 10 15 20 25 30 40 50 60 75 100 125 150 200 250 300 350 400 450 500
"""
"""The rows of that table; 2 poles begin with the second."""


@pytest.mark.parametrize("poles", LOAD_INERTIA_LB_FT2)
def test_load_inertias_of_the_standard(poles: int) -> None:
    """The formula against every printed cell, to its rounding."""
    printed = [float(word) for word in LOAD_INERTIA_LB_FT2[poles].split()]
    powers = [float(word) for word in POWERS_HP.split()][1 if poles == 2 else 0 :]
    for horsepower, value in zip(powers, printed, strict=False):
        computed = load_inertia_limit_kg_m2(horsepower * WATT_PER_HORSEPOWER, poles)
        assert isinstance(computed, float)
        unit = 0.1 if value < 10 else 10.0 ** max(0, len(f"{value:.0f}") - 3)
        assert computed / KG_M2_PER_LB_FT2 == pytest.approx(value, abs=0.55 * unit), horsepower


@pytest.mark.parametrize("poles", [2, 4, 6])
def test_the_product_of_the_table_is_one_start_at_the_largest_load(poles: int) -> None:
    """Column B is the load inertia of MG 1-12.54: read beside the table ("also the maximum")."""
    for horsepower in map(float, POWERS_HP.split()[:20]):
        limit = load_inertia_limit_kg_m2(horsepower * WATT_PER_HORSEPOWER, poles)
        assert isinstance(limit, float)
        # two printed digits at one horsepower; 31 for 30.5 at thirty
        assert allowed(horsepower, poles).starts_per_hour(limit) == pytest.approx(1.0, abs=0.035)


def test_time_to_accelerate_and_the_constant_in_print() -> None:
    """50 lb ft^2, 1750 rpm, 75 lb ft: electrialstandards.blogspot 2014 (308), roton.com (307)."""
    inertia, torque = 50.0 * KG_M2_PER_LB_FT2, 75.0 * NM_PER_LB_FT
    exact = acceleration_time_s(inertia, 1750.0, torque)
    constant = 50.0 * 1750.0 / 75.0 / exact
    trap = 50.0 * 1750.0 / (308.0 * 75.0)

    assert inertia == pytest.approx(2.107, abs=0.0005)
    assert torque == pytest.approx(101.7, abs=0.05)
    assert exact == pytest.approx(3.797, abs=0.0005)
    assert constant == pytest.approx(ACCELERATION_CONSTANT_LB_FT, rel=1e-12)
    assert constant == pytest.approx(307.24, abs=0.005)
    assert trap == pytest.approx(3.788, abs=0.0005)  # 0.25 % short


def test_reflected_inertia() -> None:
    """J_motor = J_load (n_load / n_motor)^2 (electrialstandards.blogspot 2014, read)."""
    assert reflected_inertia_kg_m2(40.0, 500.0, 1480.0) == pytest.approx(40.0 / 8.7616, rel=1e-9)


def test_inertia_constant_of_a_textbook_machine() -> None:
    """2250 hp, 4 poles at 60 Hz, 63.87 kg m^2 (Krause, machine data): 0.676 s on 2250 hp."""
    constant = inertia_constant_s(63.87, 1800.0, 2250 * WATT_PER_HORSEPOWER)

    assert constant == pytest.approx(0.676, abs=0.0005)


def plate(power_w: float, voltage_v: float) -> Nameplate:
    return Nameplate(
        rated_power_w=power_w,
        rated_voltage_v=voltage_v,
        rated_frequency_hz=60.0,
        rated_speed_rpm=1780.0,
        rated_current_a=100.0,
        poles=4,
    )


def test_stall_withstand_and_its_scope() -> None:
    """NEMA MG 1-12.49: at least 12 s to 500 hp and 1 kV (clause read, number from memory)."""
    assert stall_withstand_s(plate(500 * WATT_PER_HORSEPOWER, 460.0)) == pytest.approx(12.0)
    assert isinstance(stall_withstand_s(plate(501 * WATT_PER_HORSEPOWER, 460.0)), NotKnown)
    assert isinstance(stall_withstand_s(plate(200e3, 2300.0)), NotKnown)
