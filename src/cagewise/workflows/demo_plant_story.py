"""The invented plant: seven motors, two years of visits, three stories."""

from __future__ import annotations

from dataclasses import dataclass, field

MOTOR_FILE = """\
# Invented: no such motor exists.
[motor]
tag = "{tag}"
description = "{description}"
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1484
rated_current_a = 310
poles = 4
power_factor = 0.885
efficiency = 0.955
rotor_bars = 40
{more}
[sensors]
current_phase_error_deg = 0.5
current_ratio_error = 0.005

[criticality]
level = "{level}"
spare = {spare}
{costs}
next_outage = {outage}

[drive_train]
load_inertia_kg_m2 = 3
rotor_inertia_kg_m2 = 5
"""
KNOWN_CAGE = """\
stator_slots = 48
rotor_slots = "open"
cage = "fabricated"
starting = "direct"
"""
COSTS = "false_pull_cost = 16000\nmiss_cost = {miss}"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitStory:
    """One record of a running motor."""

    days_ago: int
    load: float = 0.75
    """Torque over rated torque."""
    bars: dict[int, float] = field(default_factory=dict)
    """Bar to the factor on its resistance; infinity is an open bar."""
    oscillation: float = 0.0
    """Torque of the load that comes and goes about the pole-pass frequency, over rated torque."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorStory:
    """One motor and its visits."""

    tag: str
    description: str
    level: str = "normal"
    spare: bool = True
    miss: int | None = 150_000
    """None: nobody has said what a failure costs."""
    more: str = KNOWN_CAGE
    visits: tuple[VisitStory, ...] = ()


_OPEN = float("inf")

DEVELOPING = MotorStory(
    tag="DC-210-M",
    description="digester circulation pump",
    level="high",
    spare=False,
    miss=400_000,
    visits=(
        VisitStory(days_ago=722, load=0.74),
        VisitStory(days_ago=634, load=0.78, bars={11: 1.2}),
        VisitStory(days_ago=541, load=0.71, bars={11: 1.45}),
        VisitStory(days_ago=452, load=0.76, bars={11: 1.7}),
        VisitStory(days_ago=358, load=0.80, bars={11: 2.2}),
        VisitStory(days_ago=271, load=0.73, bars={11: 3.5}),
        VisitStory(days_ago=180, load=0.77, bars={11: 8.0}),
        VisitStory(days_ago=92, load=0.75, bars={11: _OPEN, 12: 1.3}),
        VisitStory(days_ago=12, load=0.79, bars={11: _OPEN, 12: 2.0}),
    ),
)
SUSPECTED = MotorStory(
    tag="WW-310-M",
    description="white-water pump 1",
    visits=(
        VisitStory(days_ago=705, load=0.76),
        VisitStory(days_ago=522, load=0.74),
        VisitStory(days_ago=343, load=0.76, oscillation=0.05),
        VisitStory(days_ago=329, load=0.60),
        VisitStory(days_ago=160, load=0.75, oscillation=0.03),
        VisitStory(days_ago=26, load=0.77),
    ),
)
REPAIRED = MotorStory(
    tag="RF-115-M",
    description="refiner feed pump",
    level="high",
    visits=(
        VisitStory(days_ago=716, load=0.72, bars={4: _OPEN}),
        VisitStory(days_ago=560, load=0.75, bars={4: _OPEN, 5: 1.5}),
        VisitStory(days_ago=431, load=0.77, bars={4: _OPEN, 5: _OPEN}),
        VisitStory(days_ago=352, load=0.74),
        VisitStory(days_ago=220, load=0.76),
        VisitStory(days_ago=35, load=0.73),
    ),
)
QUIET = (
    MotorStory(
        tag="FW-102-M",
        description="feed-water pump 2",
        level="high",
        miss=250_000,
        visits=(
            VisitStory(days_ago=640),
            VisitStory(days_ago=395, load=0.82),
            VisitStory(days_ago=44),
        ),
    ),
    MotorStory(
        tag="VP-420-M",
        description="vacuum pump",
        visits=(VisitStory(days_ago=530, load=0.68), VisitStory(days_ago=300, load=0.70)),
    ),
    MotorStory(
        tag="CT-005-M",
        description="cooling-tower fan",
        level="low",
        miss=None,
        more="",
        visits=(VisitStory(days_ago=410, load=0.66),),
    ),
    MotorStory(
        tag="CT-006-M", description="cooling-tower fan, moved", level="low", miss=None, more=""
    ),
)
MOTORS = (DEVELOPING, SUSPECTED, REPAIRED, *QUIET)
