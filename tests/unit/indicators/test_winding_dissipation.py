"""Dissipation factor and capacitance: steps of 0.2 U_N, references, trend."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.reading import IndependenceClass, Reading
from cagewise.indicators.winding.insulation import read_insulation
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.machine.motor import Motor, Winding
from cagewise.measurement import DissipationTest, TestSheet
from support.winding_scenes import BEFORE, INVENTED, TODAY, by_name, motor, says, value_of

RATED_V = 5000.0
PARTS = (0.2, 0.4, 0.6)
FACTORS = (0.010, 0.012, 0.016)


def sheet(
    factors: tuple[float, ...] | None = FACTORS,
    parts: tuple[float, ...] = PARTS,
    capacitance_f: tuple[float, ...] | None = (60e-9, 60.2e-9, 60.6e-9),
    **changes: object,
) -> TestSheet:
    test = DissipationTest(
        voltage_rms_v=RATED_V * np.array(parts),
        dissipation_factor=None if factors is None else np.array(factors),
        capacitance_f=None if capacitance_f is None else np.array(capacitance_f),
        frequency_hz=60.0,
    )
    base = TestSheet(
        motor_tag="P-1",
        measured_on=TODAY,
        provenance=INVENTED,
        winding_temperature_degc=30.0,
        dissipation=(test,),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def read(
    measured: TestSheet, about: Motor | None = None, earlier: tuple[TestSheet, ...] = ()
) -> dict[str, Reading]:
    known = about or motor(rated_voltage_v=RATED_V)
    return by_name(read_insulation(measured, earlier, known, InsulationLimits()))


def test_three_characteristics() -> None:
    """Value at 0.2 U_N, largest rise per 0.2 U_N, (tan d 0.6 - tan d 0.2)/2: IEC 60034-27-3."""
    found = read(sheet())
    values = {name: value_of(reading).value for name, reading in found.items()}
    assert values == pytest.approx(
        {"dissipation_factor": 10.0, "dissipation_step": 4.0, "dissipation_tip_up": 3.0}, rel=1e-12
    )
    for reading in found.values():
        assert reading.unit == "1e-3"
        assert reading.independence_class is IndependenceClass.INSULATION_ALTERNATING
        assert reading.details["largest_minus_smallest_1"] == pytest.approx(0.006, rel=1e-9)
        assert says(reading, "not failed")


def test_maxima_are_a_reference_for_form_wound_only() -> None:
    """20, 5 and 2.5 in 1e-3: IEC 60034-27-3:2015 (from memory)."""
    limits = [reading.limit for reading in read(sheet()).values()]
    assert [limit and limit.value for limit in limits] == [20.0, 5.0, 2.5]
    assert all(limit and "from memory" in limit.source for limit in limits)
    assert all(limit and "a reference, not a limit" in limit.form for limit in limits)
    for construction in ("random", None):
        about = motor(Winding(construction=construction), rated_voltage_v=RATED_V)
        for reading in read(sheet(), about).values():
            assert reading.limit is None
            assert says(reading, "no reference")


def test_missing_voltage_is_named_and_not_interpolated() -> None:
    found = read(sheet(parts=(0.2, 0.4, 0.55)))
    assert value_of(found["dissipation_factor"]).value == pytest.approx(10.0)
    assert not found["dissipation_tip_up"].valid
    assert found["dissipation_tip_up"].reason == "no reading at 0.6 U_N (nearest: 0.55 U_N)"
    assert value_of(found["dissipation_step"]).value == pytest.approx(2.0)
    alone = read(sheet((0.01,), (0.35,), None))
    assert "no two readings" in alone["dissipation_step"].reason


def test_changes_against_earlier_tests() -> None:
    past = sheet((0.007, 0.009, 0.013), capacitance_f=(64e-9, 64e-9, 64e-9), measured_on=BEFORE)
    found = read(sheet(), earlier=(past,))
    assert value_of(found["dissipation_change"]).value == pytest.approx(3.0, rel=1e-9)
    assert value_of(found["capacitance_change"]).value == pytest.approx(-6.25, rel=1e-9)
    assert found["capacitance_change"].limit is None
    assert "0.2 U_N" in found["capacitance_change"].title


def test_another_frequency_or_a_wet_sheet_is_not_compared() -> None:
    past = sheet(measured_on=BEFORE)
    other = replace(past, dissipation=(replace(past.dissipation[0], frequency_hz=0.1),))
    wet = replace(past, ambient_temperature_degc=40.0, relative_humidity=0.9)
    for earlier in (other, wet):
        assert not {"dissipation_change", "capacitance_change"} & set(
            read(sheet(), None, (earlier,))
        )


def test_capacitance_alone_and_nothing_at_all() -> None:
    past = sheet(measured_on=BEFORE)
    assert set(read(sheet(None), None, (past,))) == {"capacitance_change"}
    for reading in read(sheet(None, capacitance_f=None)).values():
        assert "neither" in reading.reason


def test_falling_factor_is_kept_with_its_sign() -> None:
    found = read(sheet((0.016, 0.012, 0.010)))
    assert value_of(found["dissipation_tip_up"]).value == pytest.approx(-3.0)
    assert value_of(found["dissipation_step"]).value == pytest.approx(-2.0)


def test_unsorted_voltages_are_refused() -> None:
    for reading in read(sheet(parts=(0.4, 0.2, 0.6))).values():
        assert "do not ascend" in reading.reason
