"""Terms and codes of ISO 14224:2016, class of electric motors.

From memory: nobody has held them against the text of the standard, so every export says it beside
them. A code that is not known stays empty; none is invented. Used are:

* equipment class EM, electric motors; its subunit "electric motor" with the items stator and rotor
  (annex A);
* failure modes STD, structural deficiency, for a cage that is suspect or defective, and PDE,
  parameter deviation, for a winding or an insulation beyond a limit (annex B);
* no failure mechanism: none of its codes is known well enough to be written down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cagewise.report import work_order_wording as words
from cagewise.report.language import say
from cagewise.report.work_order import Status, TaxonomyPart

STANDARD: Final = "ISO 14224:2016"
STATUS: Final[Status] = "from memory"
EQUIPMENT_CLASS: Final = "EM"
STRUCTURAL_DEFICIENCY: Final = "STD"
PARAMETER_DEVIATION: Final = "PDE"


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """What an order is filed under."""

    maintainable_item: str = ""
    failure_mode: str = ""
    failure_mode_name: str = ""
    note: str = ""
    """Why a code is empty."""
    suspected: str = ""
    """In our words."""


def taxonomy() -> TaxonomyPart:
    """Return where the codes come from."""
    return TaxonomyPart(standard=STANDARD, status=STATUS, note=say(words.FROM_MEMORY))


def codes_of(*, cage: bool, other_parts: bool) -> Codes:
    """Return the codes of what is in doubt.

    Parameters
    ----------
    cage
        Whether the cage is suspect or defective.
    other_parts
        Whether winding or insulation is; the cage is named first.
    """
    if cage:
        return Codes(
            maintainable_item=say(words.ROTOR),
            failure_mode=STRUCTURAL_DEFICIENCY,
            failure_mode_name=say(words.STRUCTURAL_DEFICIENCY),
            note=say(words.NO_MECHANISM),
            suspected=say(words.SUSPECTED_CAGE),
        )
    if other_parts:
        return Codes(
            maintainable_item=say(words.STATOR),
            failure_mode=PARAMETER_DEVIATION,
            failure_mode_name=say(words.PARAMETER_DEVIATION),
            note=say(words.NO_MECHANISM),
            suspected=say(words.SUSPECTED_PARTS),
        )
    return Codes(note=say(words.NOTHING_CODED))
