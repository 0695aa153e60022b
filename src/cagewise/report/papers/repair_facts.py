"""What a repair specification is written from: gathered from a plant, or from a motor file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.decision.repair_specification import Acceptance, RepairSpecification
from cagewise.decision.verdict import State
from cagewise.quantities import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairFinding:
    """What was measured in service."""

    day: date
    state: State
    """Of the cage."""
    statement: str
    """The verdict in one sentence, as the examination has it."""
    probability: float | None
    """Of a cage defect."""
    damage_bars: Estimate | None
    """Pooled open-bar equivalent."""
    bound_bars: float | None
    """No more than this, 95 %."""
    parts: tuple[tuple[str, State, str], ...]
    """Other parts that were tested: name, state, statement."""
    not_excluded: tuple[tuple[str, str], ...]
    """What the measurement could not exclude, and what would tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairFacts:
    """All of a repair specification."""

    day: date
    """Day it speaks of."""
    specification: RepairSpecification
    acceptance: Acceptance
    case: int | None
    title: str
    """The suspicion of the case, in words; empty without one."""
    finding: RepairFinding | None
    """None where nothing was examined."""
    program_version: str
