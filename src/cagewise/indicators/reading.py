"""The common form of an indicator: a number with uncertainty, validity and reason; no opinion."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from cagewise.quantities import Estimate


class IndependenceClass(StrEnum):
    """Groups of indicators that share data and physics; members of one class are one vote.

    The kernel ``K_m = |sum_k exp(j m alpha_k)|`` over the electrical angles of the damaged bars
    decides what a class can see (docs/theory/kernels.md).
    """

    RUNNING_FUNDAMENTAL = "running, fundamental"
    """Side lines of the supply frequency and all functions of them; kernel K2."""
    RUNNING_HARMONIC = "running, 5th and 7th"
    """Cage lines beside the 5th and 7th harmonic; kernels K4, K6, K8."""
    START = "start"
    """Start-up record."""
    STANDSTILL_PATTERN = "standstill, position pattern"
    """Impedance against rotor position."""
    STANDSTILL_MEAN = "standstill, mean inductance"
    """Average-inductance trend."""
    WINDING_RESISTANCE = "winding, d.c. resistance"
    """Resistance between terminals: joints, conductors in parallel."""
    WINDING_IMPEDANCE = "winding, a.c. impedance"
    """Inductance or impedance between terminals, compared between the pairs."""
    WINDING_TURNS = "winding, turn insulation"
    """Response of the pairs of terminals to a steep front, compared."""
    INSULATION_DIRECT = "insulation, direct voltage"
    """Insulation resistance and its rise with time, current against direct voltage."""
    INSULATION_ALTERNATING = "insulation, alternating voltage"
    """Dissipation factor and capacitance to earth."""


class Method(StrEnum):
    """The six separate methods of the trade that are counted (common practice, no source)."""

    SUPPLY_SIDE_LINES = "side lines at the supply frequency"
    FIFTH_SIDE_LINES = "cage lines at the 5th and 7th harmonic"
    DEMODULATED_CURRENT = "demodulated current"
    POSITION_PATTERN = "inductance against rotor position"
    MEAN_INDUCTANCE = "average-inductance trend"
    START_UP = "start-up"


class Part(StrEnum):
    """Part of the motor that a reading speaks of."""

    CAGE = "rotor cage"
    WINDING = "stator winding"
    INSULATION = "stator insulation"


class Sense(StrEnum):
    """On which side of a limit a sound part lies."""

    AT_LEAST = "at least"
    AT_MOST = "at most"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceLimit:
    """A published value that a reading is compared with; unit of the reading."""

    value: float
    sense: Sense
    source: str
    """Standard with edition and clause, as a reader would look it up; "from memory" if it is."""
    form: str = ""
    """Which of several published forms was used ("(E + 1) megohm, E in kV"), empty if only one."""
    decides: bool = True
    """False for a reference that a sound part may miss: beyond it, nothing is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One indicator, read on one record."""

    name: str
    """Stable identifier, snake_case, as in the JSON output ("direct_component")."""
    title: str
    """The same in words for a person."""
    independence_class: IndependenceClass
    part: Part = Part.CAGE
    """What the reading speaks of."""
    method: Method | None = None
    """Which of the trade's six methods this reading counts for; None if none."""
    value: Estimate | None = None
    """The reading with its 95 % interval, in :attr:`unit`; None when it could not be read."""
    unit: str = ""
    valid: bool = False
    reason: str = ""
    """Why it is not valid, in one clause; empty when valid."""
    false_alarm_probability: float | None = None
    """Probability that noise alone would give a line this strong, all searched cells counted."""
    open_bar_equivalent: Estimate | None = None
    """Adjacent fully open bars that would produce this reading on this motor."""
    detection_limit_bars: float | None = None
    """Smallest open-bar equivalent this record could have shown (95 % detection)."""
    limit: ReferenceLimit | None = None
    """Published limit of the value; None where none exists, which a caveat then says."""
    caveats: tuple[str, ...] = ()
    """What else could produce the reading, or what it cannot see."""
    details: Mapping[str, float] = field(default_factory=dict)
    """Further numbers; every key ends with its unit."""
