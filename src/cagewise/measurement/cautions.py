"""What can hurt people or the motor while something is measured, in sentences.

All other sentences of the product stand in ``report``. These stand here because everybody who asks
for a measurement has to show them: the plan, the reports, and the empty sheet that is filled in
beside the motor, whose writer (``readers``) may not know of decisions or reports.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

DISCHARGE_FACTOR = 4
"""Least earthing over charging time: IEEE 43-2013 cl. 4; IEEE 95 (from memory)."""
POLARIZATION_TEST_MIN = 10
"""Length of a polarization index test: 40 minutes of earthing follow."""


class TestKind(StrEnum):
    """Kinds of measurement that have cautions of their own."""

    __test__ = False  # for pytest: not a test case

    OFF_LINE = "any test of a motor at rest"
    RESISTANCE = "winding resistance"
    INSULATION = "insulation resistance and polarization index"
    STEP_VOLTAGE = "step voltage"
    TURN = "turn insulation"
    DISSIPATION = "dissipation factor and capacitance"
    POSITION = "impedance against rotor position"
    RUNNING_RECORD = "record of the running motor"
    START_RECORD = "record of a start"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One thing to mind."""

    id: str
    """Stable identifier, snake_case."""
    text: str
    """One or two sentences for the person who measures."""
    source: str
    """Standard or rule behind it, and "from memory" where it was not read."""


def cautions_for(test: TestKind) -> tuple[Caution, ...]:
    """Return what to mind in one kind of measurement, what all of its kind share first.

    The last one always says that local rules and licensed practice stand above all of it.
    """
    before = LIVE if test in ON_LINE else ISOLATION
    return (*before, *OWN.get(test, ()), DEFERENCE)


def shared_cautions(test: TestKind) -> tuple[Caution, ...]:
    """Return what a measurement shares with all others of a live motor, or of one at rest."""
    return LIVE if test in ON_LINE else ISOLATION


def own_cautions(test: TestKind) -> tuple[Caution, ...]:
    """Return what to mind in this kind of measurement only."""
    return OWN.get(test, ())


ON_LINE = frozenset({TestKind.RUNNING_RECORD, TestKind.START_RECORD})
"""Measured while the motor is live; all others at rest."""

DEFERENCE = Caution(
    id="local_rules",
    text="Local codes, the site's own rules and the judgement of licensed persons come before "
    "anything written here. If they differ, follow them.",
    source="EN 50110-1; OSHA 29 CFR 1910.333; NFPA 70E (from memory)",
)

ISOLATION: tuple[Caution, ...] = (
    Caution(
        id="lock_out",
        text="Switch off, lock and tag out, wait for the shaft to stop. Prove the absence of "
        "voltage with a tester that was proved before and after; earth where the rules ask for it.",
        source="OSHA 29 CFR 1910.147, 1910.333(b)(2); NFPA 70E-2021 Art. 120.5; EN 50110-1 "
        "(from memory)",
    ),
)
LIVE: tuple[Caution, ...] = (
    Caution(
        id="approach",
        text="Qualified persons only, with arc-flash study and protective equipment. From fixed "
        "live parts keep 1.0 m (restricted: 0.3 m) up to 750 V, 1.5 m (0.7 m) up to 15 kV.",
        source="NFPA 70E Art. 130, Tables 130.4 and 130.5(C) (from memory)",
    ),
    Caution(
        id="current_transformer",
        text="Never open the secondary of a current transformer in service: it kills. Clamp onto "
        "it, best in the relay panel.",
        source="IEEE C57.13.3 practice (from memory)",
    ),
    Caution(
        id="voltage_leads",
        text="Instrument, leads and probes of measurement category III or IV for the voltage of "
        "the circuit, with fused probes. No direct connection above their rating.",
        source="IEC 61010-1, -031, -2-032 (from memory)",
    ),
)

_DISCONNECT = Caution(
    id="disconnect",
    text="Disconnect converter, soft starter, surge capacitors, arresters, instrument transformers "
    "and electronic relays first. They are destroyed, or spoil the reading.",
    source="trade guide (secondary); an arrester that conducts below the test voltage imitates "
    "poor insulation (trade article, secondary)",
)
_DISCHARGE = Caution(
    id="discharge",
    text=f"Afterwards earth the winding at least {DISCHARGE_FACTOR} times as long as it was under "
    f"voltage: {DISCHARGE_FACTOR * POLARIZATION_TEST_MIN} minutes after a polarization index. "
    "Charge comes back if the earth is taken off too soon.",
    source="IEEE 43-2013 cl. 4; IEEE 95 (from memory)",
)
_BARRIER = Caution(
    id="barrier",
    text="The whole winding and both ends of the cable are live. Bar the way to them and have "
    "both attended.",
    source="IEEE 95; IEEE 522; EN 50191 (from memory)",
)
_BREAKDOWN = Caution(
    id="breakdown",
    text="This test can break down weak insulation. Have a repair plan and the owner's consent "
    "before; pass the insulation resistance test first.",
    source="IEEE 95; IEEE 522 (from memory)",
)
_STOP = Caution(
    id="stop_at_a_knee",
    text="Raise the voltage in equal steps and stop at the first step whose current rises more "
    "than in proportion. Do not go on to see where it ends.",
    source="IEEE 95 (from memory)",
)

OWN: Mapping[TestKind, tuple[Caution, ...]] = {
    TestKind.RESISTANCE: (
        Caution(
            id="stored_current",
            text="The winding is a large inductance: never open the leads while current flows. "
            "Wait until the meter shows that it has discharged.",
            source="IEEE 118 practice (from memory)",
        ),
    ),
    TestKind.INSULATION: (_DISCONNECT, _BARRIER, _DISCHARGE),
    TestKind.STEP_VOLTAGE: (_DISCONNECT, _BREAKDOWN, _BARRIER, _STOP, _DISCHARGE),
    TestKind.TURN: (_DISCONNECT, _BREAKDOWN, _BARRIER),
    TestKind.DISSIPATION: (
        _DISCONNECT,
        _BARRIER,
        Caution(
            id="earth_after",
            text="Earth the winding before touching it. The test transformer stores energy even "
            "when the meter reads zero.",
            source="EN 50191 (from memory)",
        ),
    ),
    TestKind.POSITION: (
        Caution(
            id="turning",
            text="Uncouple, or prove that no pressure, weight or spring in the load can turn the "
            "shaft. The winding is live and can jerk the rotor; no loose clothing.",
            source="OSHA 1910.147 (stored energy), 1910.212, 1910.219 (from memory)",
        ),
        Caution(
            id="no_hands_while_live",
            text="Turn with the test voltage off, clear the shaft, then read. Cover the terminals.",
            source="OSHA 1910.212 (from memory); our rule",
        ),
        Caution(
            id="heating_at_rest",
            text="Nothing cools a rotor at rest: keep the test current small and the time short, "
            "and let it cool when it gets warm.",
            source="AR100 practice (from memory)",
        ),
    ),
    TestKind.START_RECORD: (
        Caution(
            id="no_start_for_a_record",
            text="Do not start the motor to get a record: every direct start loads the cage "
            "hardest. Connect, wait, and record the next start that happens anyway.",
            source="NEMA MG 1-12.54 (secondary)",
        ),
        Caution(
            id="clear_of_the_drive",
            text="Connect everything while the motor is off and isolated. Stand clear of shaft, "
            "coupling and terminal box while it starts.",
            source="NFPA 70E Art. 130 (from memory)",
        ),
    ),
}
"""What only this kind of measurement asks for."""
