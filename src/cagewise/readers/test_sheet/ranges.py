"""Between which figures a reading can be at all, and which slip a figure outside suggests.

The bounds are far outside anything that is measured on a motor (common practice, no source): they
keep slips of unit and column out of the arithmetic and judge nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Range:
    """What a reading must lie between, both ends included."""

    low: float
    """In the SI unit of the quantity (degC for temperatures)."""
    high: float
    slip: str
    """The likeliest slip, as advice."""

    def holds(self, value: float) -> bool:
        """Return whether the value lies inside; false for NaN."""
        return self.low <= value <= self.high


_TEMPERATURE = Range(-60.0, 250.0, "Degrees Celsius or Fahrenheit: which one does the heading say?")
_FREQUENCY = Range(0.1, 1e5, "Write the frequency of the test voltage.")
_WINDING_OHM = Range(1e-6, 1e5, "Ohm or milliohm, and is this the column of resistance?")

RANGES: Mapping[tuple[str, str], Range] = {
    ("conditions", "winding_temperature"): _TEMPERATURE,
    ("conditions", "ambient_temperature"): _TEMPERATURE,
    ("conditions", "relative_humidity"): Range(0.0, 1.0, "Per cent or per unit?"),
    ("winding_resistance", "winding_temperature"): _TEMPERATURE,
    ("winding_resistance", "resistance"): Range(
        1e-6, 1e3, "Ohm or milliohm? This is the winding itself, not its insulation."
    ),
    ("position", "frequency"): _FREQUENCY,
    ("position", "test_current"): Range(1e-6, 1e5, "Ampere or milliampere?"),
    ("position", "winding_temperature"): _TEMPERATURE,
    ("position", "shaft_angle"): Range(-629.0, 629.0, "Degrees or radians?"),
    ("position", "resistance"): _WINDING_OHM,
    ("position", "inductance"): Range(
        1e-6, 100.0, "Henry or millihenry, and is this the column of inductance?"
    ),
    ("position", "impedance"): Range(1e-6, 1e6, "Ohm or milliohm?"),
    ("position", "voltage"): Range(1e-3, 1e5, "Is this the column of voltage?"),
    ("position", "current"): Range(
        1e-6, 1e5, "Ampere or milliampere, and is this the column of current?"
    ),
    ("insulation_resistance", "test_voltage"): Range(10.0, 1e5, "Volt or kilovolt?"),
    ("insulation_resistance", "winding_temperature"): _TEMPERATURE,
    ("insulation_resistance", "time"): Range(
        1e-3, 1e6, "Times count from when the voltage was applied, and are positive."
    ),
    ("insulation_resistance", "resistance"): Range(
        1.0, 1e14, "Megaohm or gigaohm, and is this the column of resistance?"
    ),
    ("step_voltage", "step"): Range(1e-2, 1e5, "Seconds or minutes?"),
    ("step_voltage", "voltage"): Range(
        1.0, 1e6, "Volt or kilovolt, and is this the column of voltage?"
    ),
    ("step_voltage", "current"): Range(
        0.0, 10.0, "Ampere or microampere, and is this the column of current?"
    ),
    ("dissipation", "frequency"): _FREQUENCY,
    ("dissipation", "voltage"): Range(
        1.0, 1e6, "Volt or kilovolt, and is this the column of voltage?"
    ),
    ("dissipation", "dissipation_factor"): Range(0.0, 2.0, "Per cent or per unit?"),
    ("dissipation", "capacitance"): Range(
        1e-12, 1e-3, "Nanofarad or microfarad, and is this the column of capacitance?"
    ),
    ("turn_test", "peak_voltage"): Range(1.0, 1e6, "Volt or kilovolt?"),
    ("turn_test", "time"): Range(-1.0, 10.0, "Seconds or microseconds?"),
    ("turn_test", "voltage"): Range(-1e6, 1e6, "Volt or kilovolt?"),
}
"""Table and quantity to its range. Shaft angles: a hundred turns either way."""

EARLIEST, LATEST = date(1950, 1, 1), date(2099, 12, 31)
"""Days between which a sheet can have been filled in. The day of reading plays no part: the same
file is read in the same way tomorrow."""
