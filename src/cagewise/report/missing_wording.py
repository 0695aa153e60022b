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

WHY: Mapping[MissingItem, str] = MappingProxyType(
    {
        MissingItem.ROTOR_BARS: "The share of one bar in the cage: without it every damage has a "
        "wider interval.",
        MissingItem.STATOR_SLOTS: "It tells which slot lines the bars make in the current: they "
        "give the speed, and help to count the bars.",
        MissingItem.COIL_SPAN: "It decides how much of the field's 5th and 7th order there is, and "
        "so what those lines say.",
        MissingItem.ROTOR_SLOTS: "Closed slots saturate: a start and a test at rest "
        "read otherwise.",
        MissingItem.CAGE_CONSTRUCTION: "A cast cage may have voids that look like small damage; "
        "a fabricated one breaks where bar and ring are joined.",
        MissingItem.WINDING_CONSTRUCTION: "Limits of the insulation tests depend on it.",
        MissingItem.WINDING_YEAR: "Limits of the insulation tests depend on the year.",
        MissingItem.WINDING_INSULATION: "Limits of the insulation tests depend on it.",
        MissingItem.COSTS: "What is advised weighs a needless removal against a failure; until you "
        "say what they cost it goes by the criticality.",
        MissingItem.NEVER_EXAMINED: "Nothing is known of its cage but the usual share of defects.",
        MissingItem.NOT_SINCE_REPAIR: "What was measured before was another cage.",
        MissingItem.NO_PROBABILITY: "Its place in the list rests on the usual share of defects.",
        MissingItem.NO_DAMAGE: "Damage that is not in open bars cannot be followed.",
    }
)
"""Why each of them matters, in a sentence."""
