"""The sentences of work orders."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.report.asked import Asked

# codes

FROM_MEMORY = (
    "Equipment and failure codes are those of ISO 14224 from memory; they were not yet held "
    "against the standard."
)
ELECTRIC_MOTORS = "electric motors"
ELECTRIC_MOTOR = "electric motor"
ROTOR, STATOR = "rotor", "stator"
STRUCTURAL_DEFICIENCY = "structural deficiency"
PARAMETER_DEVIATION = "parameter deviation"
NO_MECHANISM = "No failure mechanism: no code is known to fit."
NOTHING_CODED = "No failure mode and no failure mechanism: no failure is claimed."
SUSPECTED_CAGE = "open or cracked bars, or joints, of the rotor cage"
SUSPECTED_PARTS = "winding or insulation beyond a limit"

# when

BETWEEN = "between {earliest} and {latest}"
BY = "by {latest}"
AT_ONCE = "at once"
NO_DAY = "no day is set"

# titles

TITLE: Mapping[Asked, str] = MappingProxyType(
    {
        "decided": "{tag}: {action}",
        "stop": "{tag}: stop it, have the rotor inspected",
        "plan_repair": "{tag}: take it out, have the rotor inspected and repaired",
        "repeat": "{tag}: {what}, before anything is decided",
        "watch": "{tag}: {what}, to watch the cage",
        "keep": "{tag}: {what} (routine)",
        "first": "{tag}: {what}",
        "after_repair": "{tag}: {what}",
    }
)

# finding

FINDING = "Finding"
CAGE = "Rotor cage: {state}."
DAMAGE = "Damage: {bars} open bars (95 % interval {low} to {high})."
BOUND = "Damage: no more than {bars} open bars (95 %)."
PROBABILITY = "Probability of a cage defect: {probability}."
WINDING, INSULATION = "Winding: {state}.", "Insulation: {state}."
EXAMINED = "Examination {number}, measured on {day}."
REPAIRED = "The cage was repaired on {day}; nothing was measured since."
NEVER = "This motor was never measured."
LATER = "That is later than the last examination advises: no later than {day}."
MEASURED_SINCE = "It was measured after the decision: read the finding before work begins."

# what to do

TO_DO = "What to do"
DECIDED = "{action}"
DECIDED_BY = "Decided by {author} on {day}."
DECIDED_ON = "Decided on {day}."
REASONS = "Reasons: {text}"
DO: Mapping[Asked, str] = MappingProxyType(
    {
        "stop": "Stop the motor at once and keep it stopped until the rotor was inspected.",
        "plan_repair": "Take the motor out ({when}) and have the rotor inspected and repaired.",
        "repeat": "Do not decide on what was measured so far. Measure again ({when}): {what}.",
        "watch": "Keep the motor in service and measure it ({when}): {what}.",
        "keep": "Keep the motor in service and measure it again ({when}): {what}.",
        "first": "Measure the motor ({when}): {what}.",
        "after_repair": "Measure the motor ({when}): {what}.",
    }
)
OUTAGE = "The motor file plans an outage on {day}."

# hold points

HOLD = "Hold points"
NUMBERED = "{number}. {text}"
NOT_DECIDED = "Hold until somebody has decided: this is advice, and nobody has signed it."
ARRIVAL = (
    "In the shop, before anything is taken apart: hold until the cage was tested as the repair "
    "specification asks."
)
ROTOR_OUT = (
    "With the rotor out: hold until the open bars are counted and photographed, and what was found "
    "is noted in the case; then decide the extent of the repair."
)
ACCEPTANCE = (
    "Before delivery: hold until the acceptance tests of the repair specification are passed."
)
BASELINE = (
    "After the return to service: not closed until the motor was recorded running within {days} "
    "days."
)
TITLED = "{title}: {text}"

# hours

HOURS_JUDGED = "two people, getting ready included; judged"
HOURS_DECISION = "the decision does not say"
HOURS_REPAIR = "the shop says"
HOURS_UNKNOWN = "no figure is kept for this work"
