"""What is said of a visit before it is examined: channels, their roles, quality at a glance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from cagewise.conditioning import QualityFinding, Severity
from cagewise.measurement import Role
from cagewise.measurement.role_text import parse_role_text

ROLE_WORDS: Mapping[Role, str] = MappingProxyType(
    {
        Role.CURRENT_A: "current of phase a",
        Role.CURRENT_B: "current of phase b",
        Role.CURRENT_C: "current of phase c",
        Role.VOLTAGE_A: "voltage of phase a to neutral",
        Role.VOLTAGE_B: "voltage of phase b to neutral",
        Role.VOLTAGE_C: "voltage of phase c to neutral",
        Role.VOLTAGE_AB: "line voltage from a to b",
        Role.VOLTAGE_BC: "line voltage from b to c",
        Role.VOLTAGE_CA: "line voltage from c to a",
        Role.OTHER: "something else, not used",
        Role.UNASSIGNED: "not known",
    }
)
PROVEN = "Proven: no other naming of these channels could be this motor."
NOT_PROVEN = "Used as named; the checks could not rule out every other naming."
GLANCE: Mapping[Severity | None, str] = MappingProxyType(
    {
        None: "Nothing to object to",
        Severity.NOTE: "Good, with something to know",
        Severity.CAUTION: "Usable with caution",
        Severity.BLOCKING: "Something cannot be read",
    }
)
SEVERITY: Mapping[Severity, str] = MappingProxyType(
    {
        Severity.NOTE: "To know",
        Severity.CAUTION: "Caution",
        Severity.BLOCKING: "Stops something",
    }
)


def glance(findings: Sequence[QualityFinding]) -> str:
    """Return the quality of a recording in a few words."""
    order = (Severity.BLOCKING, Severity.CAUTION, Severity.NOTE)
    worst = next((level for level in order if any(f.severity is level for f in findings)), None)
    return GLANCE[worst]


def length_words(seconds: float) -> str:
    """Return a length of time for people."""
    if seconds < 100.0:
        return f"{seconds:.3g} s"
    return f"{seconds / 60.0:.3g} min" if seconds >= 600.0 else f"{seconds:.0f} s"


def naming(text: str) -> str:
    """Return what is said of a channel, such as ``-i_b*60``, in words."""
    said = parse_role_text(text)
    words = ROLE_WORDS[said.role]
    if abs(said.factor) != 1.0:
        words += f", times {abs(said.factor):g}"
    return f"{words}, reversed" if said.factor < 0.0 else words
