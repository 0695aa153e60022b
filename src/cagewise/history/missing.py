"""What nobody has said of a motor yet, and what each kind of repair has to be followed by."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Protocol

from cagewise.indicators.reading import IndependenceClass
from cagewise.machine.motor import Cage, Criticality, Winding


class MissingItem(StrEnum):
    """Something that is not known of a motor; each has its words in the report."""

    ROTOR_BARS = "rotor_bars"
    STATOR_SLOTS = "stator_slots"
    COIL_SPAN = "coil_span_slots"
    ROTOR_SLOTS = "rotor_slots"
    """Open or closed."""
    CAGE_CONSTRUCTION = "cage_construction"
    """Fabricated or cast."""
    WINDING_CONSTRUCTION = "winding_construction"
    WINDING_YEAR = "winding_built_year"
    WINDING_INSULATION = "winding_insulation"
    COSTS = "costs"
    """Of pulling a sound motor and of a failure in service."""
    NEVER_EXAMINED = "never_examined"
    NOT_SINCE_REPAIR = "not_since_repair"
    """A record since the cage was repaired: what was measured before was another cage."""
    NO_PROBABILITY = "no_probability"
    NO_DAMAGE = "no_damage"
    """Damage that is not expressed in open bars, of a motor that is not sound."""


class RepairKind(StrEnum):
    """What was done in the shop."""

    CAGE = "cage"
    """Bars or rings repaired or replaced, or another rotor."""
    REWIND = "rewind"
    BEARINGS = "bearings"
    OTHER = "other"


ASKED_OF_SHOP: Mapping[RepairKind, tuple[MissingItem, ...]] = MappingProxyType(
    {
        RepairKind.CAGE: (
            MissingItem.ROTOR_BARS,
            MissingItem.STATOR_SLOTS,
            MissingItem.ROTOR_SLOTS,
            MissingItem.CAGE_CONSTRUCTION,
        ),
        RepairKind.REWIND: (
            MissingItem.STATOR_SLOTS,
            MissingItem.COIL_SPAN,
            MissingItem.WINDING_CONSTRUCTION,
            MissingItem.WINDING_YEAR,
            MissingItem.WINDING_INSULATION,
        ),
        RepairKind.BEARINGS: (MissingItem.ROTOR_BARS, MissingItem.STATOR_SLOTS),
        RepairKind.OTHER: (),
    }
)
"""What can be counted or read while the motor is open: our judgement."""

MEASURED_AFTER: Mapping[RepairKind, tuple[IndependenceClass, ...]] = MappingProxyType(
    {
        RepairKind.CAGE: (
            IndependenceClass.RUNNING_FUNDAMENTAL,
            IndependenceClass.START,
            IndependenceClass.STANDSTILL_PATTERN,
        ),
        RepairKind.REWIND: (
            IndependenceClass.RUNNING_FUNDAMENTAL,
            IndependenceClass.WINDING_RESISTANCE,
            IndependenceClass.WINDING_TURNS,
            IndependenceClass.INSULATION_DIRECT,
        ),
        RepairKind.BEARINGS: (
            IndependenceClass.RUNNING_FUNDAMENTAL,
            IndependenceClass.INSULATION_DIRECT,
        ),
        RepairKind.OTHER: (IndependenceClass.RUNNING_FUNDAMENTAL,),
    }
)
"""Baseline after a repair: our judgement. A repaired cage is read by three classes, of different
data; a new winding by its resistances, turns and insulation; and each repair leaves a running
record that later ones are compared with."""


class Described(Protocol):
    """What of a motor is asked here; a :class:`~cagewise.machine.motor.Motor` has it."""

    @property
    def cage(self) -> Cage:
        """The cage."""

    @property
    def winding(self) -> Winding:
        """The winding."""

    @property
    def criticality(self) -> Criticality:
        """What depends on the motor."""


def unknown_of(motor: Described) -> tuple[MissingItem, ...]:
    """Return what the motor file does not say."""
    cage, winding, criticality = motor.cage, motor.winding, motor.criticality
    costs = criticality.false_pull_cost is not None and criticality.miss_cost is not None
    known = {
        MissingItem.ROTOR_BARS: cage.rotor_bars is not None,
        MissingItem.STATOR_SLOTS: cage.stator_slots is not None,
        MissingItem.COIL_SPAN: cage.coil_span_slots is not None,
        MissingItem.ROTOR_SLOTS: cage.rotor_slots is not None,
        MissingItem.CAGE_CONSTRUCTION: cage.construction is not None,
        MissingItem.WINDING_CONSTRUCTION: winding.construction is not None,
        MissingItem.WINDING_YEAR: winding.built_year is not None,
        MissingItem.WINDING_INSULATION: winding.insulation is not None,
        MissingItem.COSTS: costs,
    }
    return tuple(item for item, said in known.items() if not said)


def owed_by_shop(motor: Described, kind: RepairKind) -> tuple[MissingItem, ...]:
    """Return what the shop should be asked after a repair and the motor file does not say."""
    unknown = set(unknown_of(motor))
    return tuple(item for item in ASKED_OF_SHOP[kind] if item in unknown)
