"""The motor files of the invented plant. No such motors exist."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

OUTAGE_DAYS = 45
"""To the next planned outage."""

_HEAD = "# Invented: no such motor exists.\n"

_CLAMPS = """
[sensors]
current_phase_error_deg = 0.5
current_ratio_error = 0.005
"""

MILL_690_V = """\
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1484
rated_current_a = 310
poles = 4
power_factor = 0.885
efficiency = 0.955
"""
LARGE_6_KV = """\
rated_power_kw = 500
rated_voltage_v = 6000
rated_frequency_hz = 50
rated_speed_rpm = 1488
rated_current_a = 56
poles = 4
power_factor = 0.90
efficiency = 0.955
"""
SMALL_400_V = """\
rated_power_kw = 160
rated_voltage_v = 400
rated_frequency_hz = 50
rated_speed_rpm = 1485
rated_current_a = 276
poles = 4
power_factor = 0.87
efficiency = 0.96
"""
BARS_40 = "rotor_bars = 40\n"
CAGE_40 = """\
rotor_bars = 40
stator_slots = 48
coil_span_slots = 10
rotor_slots = "open"
cage = "fabricated"
starting = "direct"
"""
CAGE_44 = """\
rotor_bars = 44
stator_slots = 60
coil_span_slots = 13
rotor_slots = "open"
cage = "fabricated"
starting = "direct"
"""
RANDOM_2011 = """
[winding]
construction = "random"
built_year = 2011
insulation = "thermosetting"
"""
FORM_2009 = """
[winding]
construction = "form"
built_year = 2009
insulation = "thermosetting"
"""
PUMP = """
[drive_train]
load_inertia_kg_m2 = 3
rotor_inertia_kg_m2 = 5
"""
FAN = """
[drive_train]
load_inertia_kg_m2 = 35
rotor_inertia_kg_m2 = 11
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """What a motor file says beside tag and description."""

    rating: str = MILL_690_V
    cage: str = CAGE_40
    winding: str = RANDOM_2011
    driven: str = PUMP
    level: str = "normal"
    spare: bool | None = True
    """None: nobody has said."""
    costs: tuple[int, int] | None = (16_000, 150_000)
    """Of a needless removal and of a failure; None: nobody has said."""


def motor_file(tag: str, description: str, plate: Plate, end: date) -> str:
    """Return the text of a motor file.

    Parameters
    ----------
    tag, description
        Of the motor.
    plate
        What else it says.
    end
        Last day of the history; the outage follows.
    """
    criticality = [
        "",
        "[criticality]",
        f'level = "{plate.level}"',
        *([] if plate.spare is None else [f"spare = {str(plate.spare).lower()}"]),
        *([] if plate.costs is None else [f"false_pull_cost = {plate.costs[0]}"]),
        *([] if plate.costs is None else [f"miss_cost = {plate.costs[1]}"]),
        f"next_outage = {(end + timedelta(days=OUTAGE_DAYS)).isoformat()}",
        "",
    ]
    named = f'[motor]\ntag = "{tag}"\ndescription = "{description}"\n'
    said = (plate.rating, plate.cage, plate.winding, _CLAMPS, "\n".join(criticality), plate.driven)
    return _HEAD + "\n" + named + "".join(said)
