"""Words of a motor's data, and of its sensors."""

from __future__ import annotations

from collections.abc import Mapping

FACT: Mapping[str, str] = {
    "power": "Rated power",
    "rated": "Rated",
    "speed": "Speed",
    "power_factor": "Power factor",
    "efficiency": "Efficiency",
    "connection": "Connection",
    "starting": "Starting",
    "thermal_class": "Thermal class",
    "rotor_bars": "Rotor bars",
    "stator_slots": "Stator slots",
    "coil_span": "Coil span",
    "rotor_slots": "Rotor slots",
    "cage": "Cage",
    "winding": "Winding",
    "winding_year": "Winding made in",
    "drives": "Drives",
    "criticality": "Criticality",
    "spare": "Spare",
    "outage": "Next outage",
    "false_pull": "Needless removal costs",
    "miss": "Missed defect costs",
}
RATED = "{volts} V, {amperes} A, {hertz} Hz"
SPEED = "{speed} r/min, {poles} poles (rated slip {slip} %)"
COIL_SPAN = "{slots} slots"
SPARE_READY, SPARE_NONE = "stands ready", "none"
SERIAL = "serial {number}"
RATIO = "ratio {ratio}"
MOUNTED = "mounted {day}"
CALIBRATED = "calibrated {day}"
NEVER_CALIBRATED = "no calibration noted"
REMOVED = "removed {day}"
