"""Heads and notes of the workbook of readings."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

READINGS, MOTORS, ABOUT = "Readings", "Motors", "About"
"""Names of the worksheets."""

HEADS: Mapping[str, str] = MappingProxyType(
    {
        "site": "Site",
        "tag": "Motor",
        "motor": "What it is",
        "day": "Day",
        "examination": "Examination",
        "counts": "Counts",
        "indicator": "Indicator",
        "title": "In words",
        "class": "Independence class",
        "value": "Value",
        "low": "From (95 %)",
        "high": "To (95 %)",
        "unit": "Unit",
        "valid": "Valid",
        "reason": "Why not valid",
        "open_bars": "Open bars",
        "open_bars_low": "Open bars from (95 %)",
        "open_bars_high": "Open bars to (95 %)",
        "detection_limit_bars": "Smallest visible, open bars",
        "load_fraction": "Load, of rated",
        "load_fraction_low": "Load from (95 %)",
        "load_fraction_high": "Load to (95 %)",
        "slip": "Slip, per unit",
        "slip_low": "Slip from (95 %)",
        "slip_high": "Slip to (95 %)",
        "program_version": "Version",
        "fingerprint": "Fingerprint",
        "criticality": "Criticality",
        "rated_power_kw": "Rated power, kW",
        "next_outage": "Planned outage",
        "measured_on": "Last measured",
        "cage": "Cage",
        "probability": "P(cage defect)",
        "winding": "Winding",
        "insulation": "Insulation",
        "due_on": "Due by",
        "open_cases": "Open cases",
    }
)
"""Head of every column by the name that it has in comma-separated values."""

MEANING: Mapping[str, str] = MappingProxyType(
    {
        "site": "site of the plant; empty in a plant of one site",
        "tag": "plant tag of the motor",
        "motor": "what the motor file calls it",
        "day": "of the visit on which it was measured, by the calendar of the plant",
        "examination": "number of the examination, as the workbench has it",
        "counts": "whether this is the examination of its visit that was kept last: older ones of "
        "the same measurements stand beside it",
        "indicator": "stable identifier of the reading",
        "title": "the same in words",
        "class": "readings of one class share data and physics and are one vote",
        "value": "the reading; empty where it could not be read",
        "low": "lower end of its 95 % interval",
        "high": "upper end of its 95 % interval",
        "unit": "of value and interval",
        "valid": "whether the reading may be used",
        "reason": "why it may not",
        "open_bars": "adjacent fully open bars that would produce this reading on this motor; "
        "empty where it cannot be said so",
        "open_bars_low": "lower end of its 95 % interval",
        "open_bars_high": "upper end of its 95 % interval",
        "detection_limit_bars": "smallest damage that would have shown",
        "load_fraction": "shaft power over rated power in the leading record of the visit",
        "load_fraction_low": "lower end of its 95 % interval",
        "load_fraction_high": "upper end of its 95 % interval",
        "slip": "slip in the leading record of the visit, over synchronous speed",
        "slip_low": "lower end of its 95 % interval",
        "slip_high": "upper end of its 95 % interval",
        "program_version": "version of the program that examined it",
        "fingerprint": "checksum of document, settings, motor file and measurements of the "
        "examination",
    }
)
"""What a column of readings holds."""

ABOUT_PLANT = "Plant"
ABOUT_ID = "Identity of the plant"
ABOUT_PROGRAM = "Written by"
ABOUT_COLUMNS = "Columns of the readings"
PROGRAM = "cagewise {version}"
