"""What is not known of a motor, in words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.history.missing import MissingItem

MISSING: Mapping[MissingItem, str] = MappingProxyType(
    {
        MissingItem.ROTOR_BARS: "number of rotor bars (ask the repair shop; narrows every "
        "interval)",
        MissingItem.STATOR_SLOTS: "number of stator slots",
        MissingItem.COIL_SPAN: "coil span in slots",
        MissingItem.ROTOR_SLOTS: "whether the rotor slots are open or closed",
        MissingItem.CAGE_CONSTRUCTION: "whether the cage is fabricated or cast",
        MissingItem.WINDING_CONSTRUCTION: "whether the winding is random or form-wound",
        MissingItem.WINDING_YEAR: "year in which the winding was made",
        MissingItem.WINDING_INSULATION: "insulation of the winding",
        MissingItem.COSTS: "costs of pulling a sound motor and of a failure in service",
        MissingItem.NEVER_EXAMINED: "an examination: none was made yet",
        MissingItem.NOT_SINCE_REPAIR: "a record since the cage was repaired",
        MissingItem.NO_PROBABILITY: "a probability of a cage defect",
        MissingItem.NO_DAMAGE: "the damage in open bars",
    }
)
"""One phrase per item."""
