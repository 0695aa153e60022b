"""What was measured: recordings of synchronous channels, their roles and provenance."""

from cagewise.measurement.recording import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
    Role,
)

__all__ = [
    "CURRENT_ROLES",
    "LINE_VOLTAGE_ROLES",
    "PHASE_VOLTAGE_ROLES",
    "Channel",
    "Provenance",
    "Recording",
    "Role",
]
