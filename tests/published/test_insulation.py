"""Insulation tests: published minima, factors and voltages, with their sources."""

from __future__ import annotations

import pytest

from cagewise.machine.winding_limits import (
    CONTROLLED_OVERVOLTAGE_FROM_V,
    DIRECT_OVER_ALTERNATING,
    MAINTENANCE_OF_ACCEPTANCE,
    MAINTENANCE_OF_RATED,
    MEGOHM,
    NEW_DISSIPATION_MAX,
    NEW_DISSIPATION_STEP_MAX,
    NEW_TIP_UP_MAX,
    POLARIZATION_CEILING_OHM,
    POLARIZATION_HIGH,
    STEEP_FRONT_PART,
    SURGE_IN_SERVICE_PART,
    SURGE_NEW_PU,
    THERMOPLASTIC,
    THERMOSETTING,
    Edition,
    WindingKind,
    acceptance_alternating_rms_v,
    discharge_time_s,
    impulse_withstand_v,
    insulation_factor,
    insulation_test_voltage_v,
    minimum_insulation_ohm,
    minimum_polarization_index,
    surge_unit_v,
)
from cagewise.quantities import NotKnown


def factor(temperature_degc: float, insulation: str) -> float:
    found = insulation_factor(temperature_degc, insulation)
    assert not isinstance(found, NotKnown)
    return found


@pytest.mark.parametrize(("rated_v", "megohm"), [(4160.0, 5.16), (13800.0, 14.8)])
def test_minimum_of_old_windings(rated_v: float, megohm: float) -> None:
    """(E + 1) megohm: IEEE 43-2013 cl. 12.3 Table 3, secondary (testguy forum thread t-2732)."""
    found = minimum_insulation_ohm(WindingKind.OLD, rated_v)
    assert found.value / MEGOHM == pytest.approx(megohm, rel=1e-12)
    assert "(E + 1) megohm" in found.form
    assert "secondary" in found.source


@pytest.mark.parametrize(
    ("kind", "megohm"), [(WindingKind.FORM, 100.0), (WindingKind.RANDOM_OR_LOW, 5.0)]
)
def test_minimum_of_modern_windings(kind: WindingKind, megohm: float) -> None:
    """IEEE 43-2013 cl. 12.3 Table 3, secondary (same thread); in both editions, at any voltage."""
    for edition in Edition:
        for rated_v in (480.0, 4160.0, 13800.0):
            found = minimum_insulation_ohm(kind, rated_v, edition)
            assert found.value / MEGOHM == megohm
            assert edition.value in found.source


@pytest.mark.parametrize(("edition", "megohm"), [(Edition.OF_2000, 100.0), (Edition.OF_2013, 5.0)])
def test_minimum_that_changed_between_editions(edition: Edition, megohm: float) -> None:
    """D.c. armatures: EASA, "What's new in the IEEE 43 ... standard?", April 2016."""
    found = minimum_insulation_ohm(WindingKind.DIRECT_CURRENT_ARMATURE, 600.0, edition)
    assert found.value / MEGOHM == megohm


@pytest.mark.parametrize(
    ("thermal_class", "least"), [("A", 1.5), ("B", 2.0), ("F", 2.0), ("H", 2.0)]
)
def test_minimum_polarization_index(thermal_class: str, least: float) -> None:
    """IEEE 43 Table 2, secondary (testguy forum thread t-2732)."""
    found = minimum_polarization_index(thermal_class)
    assert not isinstance(found, NotKnown)
    assert found.value == least
    assert "secondary" in found.source


def test_trap_no_polarization_limit_of_four() -> None:
    """IEEE 43 has none: insulationtesting.com clause-by-clause guide (secondary)."""
    for thermal_class in "YAEBFHNR":
        found = minimum_polarization_index(thermal_class)
        assert isinstance(found, NotKnown) or found.value < 4.0


def test_polarization_index_ceiling_and_warning() -> None:
    """Not above 5 000 megohm; warning above 8: testguy t-2732 and older text (secondary)."""
    assert POLARIZATION_CEILING_OHM / MEGOHM == 5000.0
    assert POLARIZATION_HIGH == 8.0


@pytest.mark.parametrize(
    ("rated_v", "span_v"),
    [
        (999.0, (500.0, 500.0)),
        (1000.0, (500.0, 1000.0)),
        (2500.0, (500.0, 1000.0)),
        (2501.0, (1000.0, 2500.0)),
        (5000.0, (1000.0, 2500.0)),
        (5001.0, (2500.0, 5000.0)),
        (12000.0, (2500.0, 5000.0)),
        (12001.0, (5000.0, 10000.0)),
        (13800.0, (5000.0, 10000.0)),
    ],
)
def test_direct_test_voltage(rated_v: float, span_v: tuple[float, float]) -> None:
    """IEEE 43-2000 Table 1 as reproduced by T. Bishop (EASA), Table 1 (secondary)."""
    assert insulation_test_voltage_v(rated_v) == span_v


def test_discharge_time() -> None:
    """Four times the charging time, 10 min -> 40 min: IEEE 43-2013 cl. 4 (from memory)."""
    assert discharge_time_s(600.0) == 2400.0


@pytest.mark.parametrize(
    ("degc", "thermoplastic", "thermosetting"),
    [
        (10.0, 0.1250, 0.6560),
        (20.0, 0.2500, 0.7622),
        (25.0, 0.3536, 0.8186),
        (30.0, 0.5000, 0.8770),
        (40.0, 1.0000, 1.0000),
        (50.0, 2.0000, 1.5195),
        (60.0, 4.0000, 2.2517),
        (70.0, 8.0000, 3.2609),
        (80.0, 16.000, 4.6245),
    ],
)
def test_correction_to_40_degc(degc: float, thermoplastic: float, thermosetting: float) -> None:
    """IEEE 43-2013 cl. 6.3: halving (insulationtesting.com, read); exponentials (from memory).

    Thermoplastic and thermosetting columns recomputed in double precision, four digits.
    """
    assert factor(degc, THERMOPLASTIC) == pytest.approx(thermoplastic, rel=2e-4)
    assert factor(degc, THERMOSETTING) == pytest.approx(thermosetting, rel=1e-4)


@pytest.mark.parametrize("degc", [-5.0, 9.9, 85.1, 120.0])
def test_thermosetting_formulas_have_an_end(degc: float) -> None:
    """10 to 40 and 40 to 85 degC: IEEE 43-2013 cl. 6.3 (from memory)."""
    assert isinstance(insulation_factor(degc, THERMOSETTING), NotKnown)


def test_halving_without_a_table() -> None:
    """200 megohm at 20 degC are 25 megohm at 50 degC: insulationtesting.com/?p=107 (read)."""
    at_50 = 200.0 * factor(20.0, THERMOPLASTIC) / factor(50.0, THERMOPLASTIC)
    assert at_50 == pytest.approx(25.0, rel=1e-12)


def test_trap_factor_read_off_a_chart() -> None:
    """3 megohm at 70 degC: 21 printed with a chart's factor 7, the formula gives 24.

    electricneutron.com "Temperature winding correction" (read).
    """
    corrected = 3.0 * factor(70.0, THERMOPLASTIC)
    assert corrected == pytest.approx(24.0, rel=1e-12)
    assert corrected != pytest.approx(21.0, rel=0.05)


def test_kind_of_insulation_matters() -> None:
    """100 megohm at 20 degC: 25.0 or 76.2 megohm (formulas of IEEE 43-2013 cl. 6.3)."""
    assert 100.0 * factor(20.0, THERMOPLASTIC) == pytest.approx(25.0, rel=1e-12)
    assert 100.0 * factor(20.0, THERMOSETTING) == pytest.approx(76.2, abs=0.05)


def test_maintenance_level_in_both_wordings() -> None:
    """4 160 V: 8 840 to 10 608 V or 10 299 to 11 883 V d.c., 12 to 17 % apart.

    IEEE 95 sentence as quoted on th4.ilovetranslation.com and a second page (secondary).
    """
    rated = [DIRECT_OVER_ALTERNATING * part * 4160.0 for part in MAINTENANCE_OF_RATED]
    base = acceptance_alternating_rms_v(4160.0)
    other = [DIRECT_OVER_ALTERNATING * part * base for part in MAINTENANCE_OF_ACCEPTANCE]
    assert rated == pytest.approx([8840.0, 10608.0], rel=1e-12)
    assert other == pytest.approx([10299.0, 11883.0], abs=0.5)
    apart = [100.0 * (b / a - 1.0) for a, b in zip(rated, other, strict=True)]
    assert apart == pytest.approx([16.5, 12.0], abs=0.05)


@pytest.mark.parametrize(("rated_v", "expected_v"), [(460.0, 1920.0), (4160.0, 9320.0)])
def test_acceptance_arithmetic(rated_v: float, expected_v: float) -> None:
    """2E + 1000: reliabilityweb.com "Does High Voltage Testing Damage A Motor?", which prints
    "2,000 V" for 460 V; the arithmetic gives 1 920 V."""
    assert acceptance_alternating_rms_v(rated_v) == expected_v


def test_acceptance_direct() -> None:
    """1.7 (2E + 1000) = 15 844 V for 4 160 V: IEEE 95-2002 (from memory)."""
    direct = DIRECT_OVER_ALTERNATING * acceptance_alternating_rms_v(4160.0)
    assert direct == pytest.approx(15844.0, rel=1e-12)


def test_scope_of_controlled_overvoltage() -> None:
    """2 300 V and above: insulationtesting.com on IEEE 95 (secondary)."""
    assert CONTROLLED_OVERVOLTAGE_FROM_V == 2300.0


@pytest.mark.parametrize(
    ("rated_v", "unit_v", "new_v", "in_service_v"),
    [(4160.0, 3397.0, 11890.0, 8920.0), (13800.0, 11268.0, 39440.0, 29580.0)],
)
def test_surge_levels(rated_v: float, unit_v: float, new_v: float, in_service_v: float) -> None:
    """IEEE 522-2004 (from memory); printed to 1 V, 10 V and 10 V."""
    assert surge_unit_v(rated_v) == pytest.approx(unit_v, abs=0.6)
    assert SURGE_NEW_PU * surge_unit_v(rated_v) == pytest.approx(new_v, abs=6.0)
    in_service = SURGE_IN_SERVICE_PART * SURGE_NEW_PU * surge_unit_v(rated_v)
    assert in_service == pytest.approx(in_service_v, abs=6.0)


@pytest.mark.parametrize(
    ("rated_v", "full_v", "steep_v"), [(6600.0, 31400.0, 20400.0), (11000.0, 49000.0, 31900.0)]
)
def test_impulse_withstand(rated_v: float, full_v: float, steep_v: float) -> None:
    """4 U_N + 5 kV and 0.65 of it, printed to 0.1 kV: IEC 60034-15 (from memory)."""
    assert impulse_withstand_v(rated_v) == pytest.approx(full_v, rel=1e-12)
    assert STEEP_FRONT_PART * impulse_withstand_v(rated_v) == pytest.approx(steep_v, abs=51.0)


def test_dissipation_references() -> None:
    """20e-3, 5e-3, 2.5e-3: IEC 60034-27-3:2015 (from memory), new form-wound bars only."""
    found = (NEW_DISSIPATION_MAX, NEW_DISSIPATION_STEP_MAX, NEW_TIP_UP_MAX)
    assert found == (0.020, 0.005, 0.0025)
