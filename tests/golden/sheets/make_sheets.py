"""Make the empty golden sheets and fill in the workbook: python tests/golden/sheets/make_sheets.py.

Run it in the environment of the tests, with ``src`` and ``tests`` on the path.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from cagewise.readers.test_sheet import Form, template_for, write_form
from support.examinations import motor

HERE = Path(__file__).parent
ANGLES_DEG = (0.0, 7.5, 15.0, 22.5, 30.0, 0.0)


def golden_template() -> Form:
    """Return the empty sheet of the golden files."""
    return template_for(motor(), shaft_angles_deg=ANGLES_DEG, frequencies_hz=(50.0, 200.0))


def fill(sheet: Worksheet, heading: str, *values: object, beside: bool = False) -> None:
    """Write a value beside a heading, or values below it."""
    cell = next(c for row in sheet.iter_rows() for c in row if c.value == heading)
    for k, value in enumerate(values):
        place = cell.offset(0, 1) if beside else cell.offset(k + 1, 0)
        place.value = value  # type: ignore[assignment]  # whatever a spreadsheet holds


def rename(sheet: Worksheet, heading: str, other: str) -> None:
    """Write another heading."""
    next(c for row in sheet.iter_rows() for c in row if c.value == heading).value = other


def fill_in(path: Path) -> None:
    """Fill in an empty workbook with the visit of the other golden files."""
    book = load_workbook(path)
    head = book.worksheets[0]
    for heading, value in {
        "cagewise test sheet": 1,
        "motor": "RP-204",
        "measured_on": date(2031, 5, 17),
        "measured_at": "motor terminals",
        "remark": "after the dry-out, cable disconnected",
        "winding_temperature_degc": 24.5,
        "ambient_temperature_degc": 21,
        "relative_humidity_percent": 45,
        "rotor_demagnetised": "yes",
    }.items():
        fill(head, heading, value, beside=True)
    winding = book["Winding resistance"]
    for pair, value in {"ab": 0.0412, "bc": "0,0413", "ca": 0.04125}.items():
        fill(winding, f"{pair}_resistance_ohm", value, beside=True)
    first, second = book["Position 50 Hz"], book["Position 200 Hz"]
    fill(first, "test_current_a", 5, beside=True)
    fill(first, "ab_inductance_mh", 3.21, 3.24, 3.26, 3.25, 3.22, 3.21)
    fill(first, "bc_inductance_mh", 3.25, 3.22, 3.21, 3.24, 3.26, 3.25)
    fill(first, "ca_inductance_mh", 3.24, 3.26, None, None, 3.21, 3.24)
    rename(second, "ab_inductance_mh", "ab_voltage_v")
    rename(second, "ab_resistance_ohm", "ab_current_a")
    fill(second, "ab_voltage_v", 20, 20)
    fill(second, "ab_current_a", 5, 4)
    insulation = book["Insulation resistance"]
    fill(insulation, "test_voltage_v", 1000, beside=True)
    fill(insulation, "resistance_megaohm", None, 850, None, 1200, *[None] * 8, 4100)
    steps = book["Step voltage"]
    fill(steps, "step_s", 60, beside=True)
    fill(steps, "voltage_v", 500, 1000, 1500)
    fill(steps, "current_ua", 0.4, 0.8, 1.3)
    dissipation = book["Dissipation factor"]
    fill(dissipation, "frequency_hz", 50, beside=True)
    fill(dissipation, "voltage_v", 138, 276)
    fill(dissipation, "dissipation_factor_percent", 1.1, 1.3)
    fill(dissipation, "capacitance_nf", 52.1, 52.3)
    turns = book["Turn insulation"]
    fill(turns, "peak_voltage_v", 1200, beside=True)
    fill(turns, "waveforms", "turns.csv", beside=True)
    book.save(path)


if __name__ == "__main__":
    for ending in ("toml", "csv"):
        write_form(golden_template(), HERE / f"template.{ending}", overwrite=True)
    write_form(golden_template(), HERE / "visit.xlsx", overwrite=True)
    fill_in(HERE / "visit.xlsx")
