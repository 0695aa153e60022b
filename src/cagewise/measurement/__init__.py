"""What was measured: recordings of synchronous channels, and test sheets of the motor at rest."""

from cagewise.measurement.recording import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
    Role,
)
from cagewise.measurement.test_sheet import (
    DissipationTest,
    InsulationResistanceTest,
    Place,
    PositionSeries,
    StepVoltageTest,
    TerminalPair,
    TestSheet,
    TurnTest,
    WindingResistance,
)

__all__ = [
    "CURRENT_ROLES",
    "LINE_VOLTAGE_ROLES",
    "PHASE_VOLTAGE_ROLES",
    "Channel",
    "DissipationTest",
    "InsulationResistanceTest",
    "Place",
    "PositionSeries",
    "Provenance",
    "Recording",
    "Role",
    "StepVoltageTest",
    "TerminalPair",
    "TestSheet",
    "TurnTest",
    "WindingResistance",
]
