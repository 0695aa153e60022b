"""The invented plant: nine motors, two years of visits, and what became of them."""

from __future__ import annotations

from cagewise.history.missing import RepairKind
from cagewise.measurement import CURRENT_ROLES, Role
from cagewise.store import BarPlace, Found, FoundBar, Note, Outcome
from cagewise.workflows.demo_plant_motors import (
    BARS_40,
    CAGE_44,
    FAN,
    FORM_2009,
    LARGE_6_KV,
    SMALL_400_V,
    Plate,
)
from cagewise.workflows.demo_plant_steps import (
    OPEN,
    AtRest,
    Closed,
    Decided,
    FileChanged,
    Measured,
    MotorStory,
    Mounted,
    Opened,
    Running,
    Start,
    Told,
)
from cagewise.workflows.invented_insulation import Insulation
from cagewise.workflows.plant_cases import repair_of

GOOD = Insulation(resistance_ohm=4.0e9, polarization_index=3.6)
"""A dry and clean winding."""
_LOGGER = Running(name="logger", load=0.70, roles=CURRENT_ROLES, rate_hz=500.0)
"""A current logger that somebody had at hand: too slow for the lines at the 5th and 7th."""

DEVELOPING = MotorStory(
    tag="ID-210-M",
    description="induced-draught fan, recovery boiler",
    plate=Plate(driven=FAN, level="high", spare=False, costs=(30_000, 600_000)),
    steps=(
        *(Mounted(days_ago=730, name=f"split-core clamp {r.value}", role=r) for r in CURRENT_ROLES),
        Measured(
            days_ago=722,
            records=(Running(load=0.74), Start(load=0.74), AtRest(insulation=GOOD)),
        ),
        Measured(days_ago=634, records=(Running(load=0.78),), bars={11: 1.1}),
        Measured(days_ago=541, records=(Running(load=0.71),), bars={11: 1.3}),
        Measured(days_ago=452, records=(Running(load=0.76),), bars={11: 1.7}),
        Opened(days_ago=451, title="side lines grow from visit to visit"),
        Decided(
            days_ago=451,
            action="record a start and test at rest at the shutdown",
            due_in=100,
            text="The fan has no spare: the running record alone shall not decide.",
        ),
        Measured(
            days_ago=358,
            records=(Running(load=0.80), Start(load=0.80), AtRest(insulation=GOOD)),
            bars={11: 2.2},
        ),
        Told(
            days_ago=356,
            what=Note(),
            text="In the start and at rest no bar is open. A cracked bar that still carries "
            "current does not show there, so the suspicion stays.",
        ),
        Decided(
            days_ago=356,
            action="measure every three months, at the same load",
            due_in=90,
        ),
        Measured(days_ago=271, records=(Running(load=0.73),), bars={11: 3.5}),
        Decided(
            days_ago=268,
            action="repair the cage at the next shutdown",
            due_in=313,
            text="The boiler cannot spare its fan before; production knows the risk. Until then "
            "no more than two starts a day, and a visit every three months.",
        ),
        Measured(days_ago=180, records=(Running(load=0.77),), bars={11: 8.0}),
        Measured(days_ago=92, records=(Running(load=0.75),), bars={11: OPEN, 12: 1.3}),
        Told(
            days_ago=90,
            what=Note(),
            text="A step: the bar is probably through. Operators start the fan by the checklist "
            "only.",
        ),
        Measured(
            days_ago=12,
            records=(Running(load=0.79), Start(load=0.79), AtRest(insulation=GOOD)),
            bars={11: OPEN, 12: 2.0},
        ),
        Decided(
            days_ago=10,
            action="take the motor out at the shutdown; bars and ring are ordered",
            due_in=55,
            text="Recorded at a short stop. The shop is told what to measure before it delivers.",
        ),
    ),
)

SUSPECTED = MotorStory(
    tag="WW-310-M",
    description="white-water pump 1",
    plate=Plate(),
    steps=(
        Measured(days_ago=705, records=(Running(load=0.76),)),
        Measured(days_ago=522, records=(Running(load=0.74),)),
        Measured(
            days_ago=343,
            records=(Running(name="auto-currents", load=0.76, swing=0.05, roles=CURRENT_ROLES),),
        ),
        Opened(days_ago=343, title="slow beat in the ammeter"),
        Told(
            days_ago=343,
            what=Note(),
            text="The pointer swings not quite once a second. A broken bar is feared. Only clamps "
            "were at hand.",
            author="shift",
        ),
        Decided(
            days_ago=342,
            action="record with voltages, level control in automatic and in manual",
            due_in=30,
            text="With currents alone a swinging load and a broken bar are not told apart.",
        ),
        Measured(
            days_ago=330, records=(Running(name="auto", load=0.76, swing=0.05, seconds=20.0),)
        ),
        Measured(days_ago=329, records=(Running(name="manual", load=0.62),)),
        Told(
            days_ago=329,
            what=Note(),
            text="In manual the beat is gone. The level control hunts: its integral time was "
            "shortened in spring.",
        ),
        Closed(days_ago=322, why="the load swings, not the cage; level control tuned"),
        Measured(days_ago=160, records=(Running(load=0.75, swing=0.01),)),
        Told(
            days_ago=148,
            what=Outcome(found=Found.SOUND, open_bars=0),
            text="Bearings were due. The rotor was looked at: no bar and no joint is cracked.",
            author="motor shop",
            of_motor=True,
        ),
        Told(
            days_ago=147,
            what=repair_of("bearings renewed", RepairKind.BEARINGS, {"rotor_bars": "40"}),
            author="motor shop",
            of_motor=True,
        ),
        Measured(days_ago=26, records=(Running(load=0.77),)),
    ),
)

_FOUND = (
    FoundBar(bar=4, place=BarPlace.DRIVE_END),
    FoundBar(bar=5, place=BarPlace.DRIVE_END),
)
DIRTY = Insulation(resistance_ohm=9.0e7, polarization_index=1.7)
"""The winding of the repaired motor before it was washed."""

REPAIRED = MotorStory(
    tag="RF-115-M",
    description="refiner feed pump",
    plate=Plate(level="high"),
    steps=(
        Measured(days_ago=716, records=(Running(load=0.72),), bars={4: 1.2}),
        Measured(days_ago=560, records=(Running(load=0.75),), bars={4: 6.0}),
        Opened(days_ago=559, title="one bar is cracked or more"),
        Decided(
            days_ago=559,
            action="measure again, with a start and at rest",
            due_in=130,
            text="There is a spare; the next stop is in four months.",
        ),
        Measured(
            days_ago=431,
            records=(Running(load=0.77), Start(load=0.77), AtRest(insulation=DIRTY)),
            bars={4: OPEN, 5: OPEN},
        ),
        Decided(days_ago=428, action="change it for the spare and send it to a shop", due_in=28),
        Told(
            days_ago=390,
            what=Outcome(found=Found.DAMAGED, open_bars=2, bars=_FOUND),
            text="Two neighbouring bars parted from the ring, the joints beside them sound.",
            author="rotor shop",
            sketch=_FOUND,
        ),
        Told(
            days_ago=370,
            what=repair_of(
                "bars 4 and 5 replaced, ring brazed; winding washed and dried",
                RepairKind.CAGE,
                {"rotor_bars": "40", "stator_slots": "48"},
            ),
            author="rotor shop",
        ),
        Measured(
            days_ago=352,
            records=(Running(load=0.74), Start(load=0.74), AtRest(insulation=GOOD)),
            cage=1,
        ),
        Closed(days_ago=350, why="repaired, measured and back in service"),
        Measured(days_ago=220, records=(Running(load=0.76),), cage=1),
        Measured(days_ago=35, records=(Running(load=0.73),), cage=1),
    ),
)

_APART = (
    FoundBar(bar=10, place=BarPlace.OTHER_END),
    FoundBar(bar=15, place=BarPlace.OTHER_END),
)
MISSED = MotorStory(
    tag="BC-140-M",
    description="bark conveyor",
    plate=Plate(rating=SMALL_400_V, costs=(6_000, 40_000)),
    steps=(
        Measured(days_ago=610, records=(Running(load=0.68),)),
        Measured(days_ago=250, records=(_LOGGER,), bars={10: OPEN, 15: OPEN}),
        Opened(days_ago=128, title="noisy drive-end bearing"),
        Told(
            days_ago=120,
            what=Outcome(found=Found.DAMAGED, open_bars=2, bars=_APART),
            text="Opened for the bearing. Two bars are open, five bars from each other: 90 "
            "electrical degrees.",
            author="motor shop",
            sketch=_APART,
        ),
        Told(
            days_ago=119,
            what=Note(),
            text="The logger of the last visit was too slow for the lines at the 5th and 7th "
            "harmonic, the only ones of a running record that show such bars. The page said what "
            "it could not show; nobody read that line. The logger is no longer used for cages.",
        ),
        Told(
            days_ago=101,
            what=repair_of(
                "both bars replaced, bearings renewed",
                RepairKind.CAGE,
                {
                    "rotor_bars": "40",
                    "stator_slots": "48",
                    "rotor_slots": "open",
                    "cage": "fabricated, copper",
                },
            ),
            author="motor shop",
        ),
        Measured(days_ago=95, records=(Running(load=0.69),), cage=1),
        Decided(
            days_ago=94,
            action="record a start and test at rest at the next stop of the line",
            due_in=60,
            text="The shop's motor was back on a Friday: there was time for a running record only.",
        ),
    ),
)

DAMP = MotorStory(
    tag="FW-102-M",
    description="feed-water pump 2",
    plate=Plate(
        rating=LARGE_6_KV, cage=CAGE_44, winding=FORM_2009, level="high", spare=None, costs=None
    ),
    steps=(
        Measured(
            days_ago=640,
            records=(
                Running(),
                AtRest(
                    positions=False,
                    insulation=Insulation(resistance_ohm=5.0e9, polarization_index=4.1),
                ),
            ),
        ),
        Measured(
            days_ago=395,
            records=(
                Running(load=0.82),
                AtRest(
                    positions=False,
                    insulation=Insulation(resistance_ohm=1.4e9, polarization_index=2.9),
                ),
            ),
        ),
        FileChanged(
            days_ago=380,
            plate=Plate(
                rating=LARGE_6_KV,
                cage=CAGE_44,
                winding=FORM_2009,
                level="high",
                costs=(40_000, 450_000),
            ),
            note="costs and spare stated by production",
        ),
        Measured(
            days_ago=203,
            records=(
                AtRest(
                    positions=False,
                    insulation=Insulation(resistance_ohm=3.6e8, polarization_index=2.1),
                ),
            ),
        ),
        Measured(
            days_ago=44,
            records=(
                Running(),
                AtRest(
                    positions=False,
                    insulation=Insulation(
                        resistance_ohm=5.5e7, polarization_index=1.3, dissipation_factor=0.034
                    ),
                ),
            ),
        ),
        Opened(days_ago=43, title="insulation goes down from year to year"),
        Told(
            days_ago=42,
            what=Note(),
            text="Polarization index 4.1, 2.9, 2.1 and now 1.3 in two years. The space heater was "
            "found switched off and the terminal box wet.",
            author="electrical",
        ),
        Decided(days_ago=42, action="dry the winding and test it again", due_in=60),
    ),
)

IDLING = MotorStory(
    tag="HY-051-M",
    description="hydraulic unit, idles most of the time",
    plate=Plate(rating=SMALL_400_V, costs=(6_000, 25_000)),
    steps=(
        Measured(
            days_ago=214,
            records=(Running(name="one-clamp", load=0.15, roles=CURRENT_ROLES[:1]),),
            strobe=False,
        ),
        Told(
            days_ago=139,
            what=Outcome(found=Found.SOUND, open_bars=0),
            text="Opened because the shaft seal leaked; the cage is sound.",
            author="motor shop",
            of_motor=True,
        ),
    ),
)

QUIET = (
    MotorStory(
        tag="VP-420-M",
        description="vacuum pump",
        plate=Plate(),
        steps=(
            Measured(days_ago=530, records=(Running(load=0.68),)),
            Mounted(days_ago=410, name="split-core clamp", role=Role.CURRENT_A, note="lead broken"),
            Measured(days_ago=300, records=(Running(load=0.70),)),
        ),
    ),
    MotorStory(
        tag="CT-005-M",
        description="cooling-tower fan",
        plate=Plate(
            rating=SMALL_400_V, cage=BARS_40, winding="", level="low", spare=None, costs=None
        ),
        truth=Plate(rating=SMALL_400_V, driven=FAN),
        steps=(Measured(days_ago=410, records=(Running(load=0.66),)),),
    ),
    MotorStory(
        tag="CT-006-M",
        description="cooling-tower fan, moved",
        plate=Plate(rating=SMALL_400_V, cage="", winding="", level="low", spare=None, costs=None),
        steps=(
            Told(
                days_ago=86,
                what=Note(),
                text="Came from the closed line. Its plate cannot be read below the paint.",
                author="electrical",
                of_motor=True,
            ),
        ),
    ),
)

MOTORS = (DEVELOPING, SUSPECTED, REPAIRED, MISSED, DAMP, IDLING, *QUIET)
