"""Sheets on disk that must go on reading as they do, and the empty sheet as it is handed out."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest

from cagewise.measurement.test_sheet import (
    DissipationTest,
    InsulationResistanceTest,
    PositionSeries,
    StepVoltageTest,
    TerminalPair,
    TestSheet,
    TurnTest,
    WindingResistance,
)
from cagewise.readers.test_sheet import (
    Form,
    read_test_sheet,
    template_for,
    understand,
    write_form,
)
from cagewise.readers.test_sheet.form import field_entry
from cagewise.readers.test_sheet.ranges import RANGES
from cagewise.readers.test_sheet.sheet_schema import TABLES
from cagewise.readers.test_sheet.units import SYMBOL, UNITS
from support.examinations import motor
from support.sheets import NOWHERE, array, plain

ROOT = Path(__file__).resolve().parents[3]
GOLDEN = ROOT / "tests" / "golden" / "sheets"
GUIDE = ROOT / "docs" / "test-sheet.md"
AB, BC, CA = TerminalPair


def position(pair: TerminalPair, degrees: list[float], millihenry: list[float]) -> PositionSeries:
    return PositionSeries(
        pair=pair,
        frequency_hz=50.0,
        shaft_angle_rad=np.radians(degrees),
        inductance_h=array([float(f"{value}e-3") for value in millihenry]),
        test_current_rms_a=5.0,
    )


ALL_DEG = [0.0, 7.5, 15.0, 22.5, 30.0, 0.0]
VISIT = TestSheet(
    motor_tag="RP-204",
    measured_on=date(2031, 5, 17),
    provenance=NOWHERE,
    winding_temperature_degc=24.5,
    ambient_temperature_degc=21.0,
    relative_humidity=0.45,
    rotor_demagnetised=True,
    resistance=WindingResistance(
        line_resistance_ohm=MappingProxyType({AB: 0.0412, BC: 0.0413, CA: 0.04125})
    ),
    positions=(
        position(AB, ALL_DEG, [3.21, 3.24, 3.26, 3.25, 3.22, 3.21]),
        position(BC, ALL_DEG, [3.25, 3.22, 3.21, 3.24, 3.26, 3.25]),
        position(CA, [0.0, 7.5, 30.0, 0.0], [3.24, 3.26, 3.21, 3.24]),
        PositionSeries(
            pair=AB,
            frequency_hz=200.0,
            shaft_angle_rad=np.radians([0.0, 7.5]),
            impedance_ohm=array([4.0, 5.0]),
        ),
    ),
    insulation=(
        InsulationResistanceTest(
            test_voltage_v=1000.0,
            time_s=array([30.0, 60.0, 600.0]),
            resistance_ohm=array([850e6, 1200e6, 4100e6]),
        ),
    ),
    steps=(
        StepVoltageTest(
            voltage_v=array([500.0, 1000.0, 1500.0]),
            current_a=array([0.4e-6, 0.8e-6, 1.3e-6]),
            step_s=60.0,
        ),
    ),
    dissipation=(
        DissipationTest(
            voltage_rms_v=array([138.0, 276.0]),
            dissipation_factor=array([0.011, 0.013]),
            capacitance_f=array([52.1e-9, 52.3e-9]),
            frequency_hz=50.0,
        ),
    ),
    turns=TurnTest(
        time_s=array([0.0, 0.5e-6, 1.0e-6, 1.5e-6]),
        voltage_v=MappingProxyType(
            {AB: array([0.0, 900.0, 1150.0, 400.0]), BC: array([0.0, 905.0, 1140.0, 410.0])}
        ),
        peak_voltage_v=1200.0,
    ),
    remark="after the dry-out, cable disconnected",
)


@pytest.mark.parametrize("form", ["toml", "csv", "xlsx"])
def test_one_visit_in_three_forms(form: str) -> None:
    assert plain(read_test_sheet(GOLDEN / f"visit.{form}")) == plain(VISIT)


def golden_template() -> Form:
    """As in make_sheets.py."""
    return template_for(motor(), shaft_angles_deg=ALL_DEG, frequencies_hz=(50.0, 200.0))


@pytest.mark.parametrize("form", ["toml", "csv"])
def test_the_empty_sheet_is_handed_out_unchanged(tmp_path: Path, form: str) -> None:
    path = tmp_path / f"template.{form}"
    write_form(golden_template(), path)
    assert without_cautions(path) == without_cautions(GOLDEN / path.name)


def without_cautions(path: Path) -> list[str]:
    """The wording of cautions is tested where it stands."""
    lines = path.read_bytes().decode("utf-8").splitlines()
    assert any("CAUTION" in line for line in lines)
    return [line for line in lines if "CAUTION" not in line]


@pytest.mark.parametrize("form", ["toml", "csv", "xlsx"])
def test_an_empty_sheet_with_a_date_reads_as_nothing_measured(tmp_path: Path, form: str) -> None:
    blank = golden_template()
    head = blank.tables[0]
    head.fields = [
        entry for entry in head.fields if entry.heading not in {"measured_on", "measured_at"}
    ]
    head.fields += [
        field_entry("measured_on", date(2031, 5, 17)),
        field_entry("measured_at", "switchboard"),
    ]
    path = tmp_path / f"template.{form}"
    write_form(blank, path)
    reading = understand(path)
    assert not reading.sheet.positions
    assert not reading.sheet.insulation
    assert {table.name for table in reading.tables if not table.measured} == {*TABLES} - {
        "sheet",
        "conditions",
        "truth",
    }


def test_the_guide_shows_the_golden_sheet() -> None:
    examples = re.findall(r"```toml\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    assert (GOLDEN / "visit.toml").read_text(encoding="utf-8") in examples


def test_the_guide_names_every_heading_and_unit() -> None:
    guide = GUIDE.read_text(encoding="utf-8")
    for kind in TABLES.values():
        for quantity in kind.quantities:
            stem = f"ab_{quantity.name}" if quantity.per_pair else quantity.name
            assert f"`{stem}" in guide, stem
    for units in UNITS.values():
        for suffix in units:
            assert f"`_{suffix}`" in guide, suffix


def test_the_guide_states_the_ranges() -> None:
    guide = GUIDE.read_text(encoding="utf-8")
    for (table, name), allowed in RANGES.items():
        symbol = SYMBOL[TABLES[table].quantity(name).dimension]
        row = f"| `{table}` | {name} | {allowed.low:g} {symbol} | {allowed.high:g} {symbol} |"
        assert row in guide


def test_preferred_units_exist_and_meanings_fit_a_cell() -> None:
    for kind in TABLES.values():
        for quantity in kind.quantities:
            assert quantity.meaning
            assert set(quantity.preferred) <= set(UNITS.get(quantity.dimension, ()))
            assert bool(quantity.dimension) == bool(quantity.preferred)
