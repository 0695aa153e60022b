"""Winding resistance: published and worked numbers, with their sources."""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.indicators.winding.limits import WindingLimits
from cagewise.indicators.winding.resistance import delta_phases, star_phases, unbalance
from cagewise.machine.winding_limits import (
    ALUMINIUM_CONSTANT_DEGC,
    COPPER_CONSTANT_DEGC,
    RESISTANCE_REFERENCE_DEGC,
    conductor_constant_degc,
    resistance_factor,
    temperature_from_ratio_degc,
)

EXACT = 1e-12
"""Closed formulas against themselves in double precision."""


def test_copper_law_per_kelvin_at_20_degc() -> None:
    """R2/R1 = (234.5 + T2)/(234.5 + T1): electrical-engineering-portal.com "temperature rise"."""
    rise = resistance_factor(20.0, 21.0, conductor_constant_degc("copper")) - 1.0
    assert rise == pytest.approx(1.0 / 254.5, rel=1e-10)
    assert rise == pytest.approx(0.003929, abs=5e-7)  # printed digits


@pytest.mark.parametrize(("constant", "printed"), [(225.0, 0.004082), (228.0, 0.004032)])
def test_both_aluminium_constants_in_print(constant: float, printed: float) -> None:
    """225: IEC 60034-1 cl. 8.6.2.2 (from memory); 228: the text of the copper law (read)."""
    rise = resistance_factor(20.0, 21.0, constant) - 1.0
    assert rise == pytest.approx(printed, abs=5e-7)


def test_aluminium_is_read_with_225() -> None:
    """IEC 60034-1 cl. 8.6.2.2, from memory; 228 would be the other constant in print."""
    assert conductor_constant_degc("aluminium") == ALUMINIUM_CONSTANT_DEGC == 225.0
    assert COPPER_CONSTANT_DEGC == 234.5


def test_temperature_by_resistance_worked_example() -> None:
    """80 ohm at 20 degC, 100 ohm hot: 83.63 degC; physicsforums.com thread 381286."""
    hot = temperature_from_ratio_degc(100.0 / 80.0, 20.0, COPPER_CONSTANT_DEGC)
    assert hot == pytest.approx(83.625, rel=EXACT)
    assert hot - 20.0 == pytest.approx(63.63, abs=0.01)  # printed, rounded by hand


def test_trap_another_coefficient_is_another_law() -> None:
    """50 ohm at 20 degC, 58 ohm hot: 57.2 degC printed with 4.3e-3 per K **at 20 degC**, 60.7 with
    the copper law; physics-arena problem 1305."""
    by_constant = temperature_from_ratio_degc(58.0 / 50.0, 20.0, COPPER_CONSTANT_DEGC)
    assert by_constant == pytest.approx(60.72, abs=0.005)
    by_coefficient = temperature_from_ratio_degc(58.0 / 50.0, 20.0, 1.0 / 4.3e-3 - 20.0)
    assert by_coefficient == pytest.approx(57.2, abs=0.05)


def test_reference_temperature() -> None:
    """25 degC: IEEE 112, MG 1 (from memory)."""
    assert RESISTANCE_REFERENCE_DEGC == 25.0


def test_unbalance_is_deviation_from_the_mean() -> None:
    """1.02, 1.03, 1.01 ohm: 0.980 % by the definition of AR100, not 1.96 % (largest - smallest)."""
    lines = np.array([1.02, 1.03, 1.01])
    assert 100.0 * unbalance(lines) == pytest.approx(0.980, abs=5e-4)
    assert 100.0 * unbalance(lines) == pytest.approx(100.0 * 0.01 / 1.02, rel=1e-10)


def test_limits_of_unbalance() -> None:
    """2 % random-wound, 1 % form-wound: ANSI/EASA AR100-2020 (secondary, a trade note)."""
    assert (WindingLimits().unbalance_random, WindingLimits().unbalance_form) == (0.02, 0.01)


def test_balanced_star_and_delta() -> None:
    """R_LL / 2 and 1.5 R_LL (standard)."""
    lines = np.full(3, 0.84)
    assert star_phases(lines) == pytest.approx(np.full(3, 0.42), rel=EXACT)
    assert delta_phases(lines) == pytest.approx(np.full(3, 1.26), rel=EXACT)


def test_unequal_star() -> None:
    """R_ab, R_bc, R_ca = 1.02, 1.03, 1.01: M = 1.53; phases 0.50, 0.52, 0.51 (algebra)."""
    phases = star_phases(np.array([1.02, 1.03, 1.01]))
    assert phases == pytest.approx([0.50, 0.52, 0.51], rel=EXACT)


def test_unequal_delta() -> None:
    """Phases 1.50 (ab), 1.56 (bc), 1.53 (ca): 1.00980, 1.02980, 1.02000 and back (algebra)."""
    ab, bc, ca = 1.50, 1.56, 1.53
    total = ab + bc + ca
    lines = np.array([ab * (bc + ca), bc * (ab + ca), ca * (ab + bc)]) / total
    assert lines == pytest.approx([1.00980, 1.02980, 1.02000], abs=5e-6)  # printed digits
    assert delta_phases(lines) == pytest.approx([ab, bc, ca], rel=EXACT)
