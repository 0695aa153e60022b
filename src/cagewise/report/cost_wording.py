"""The sentences of weighing costs, kept beside the catalogue for its size."""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import SensitivityKind, StakesGround

SECTION = "What being wrong costs"

NAME: Mapping[CostAction, str] = {
    CostAction.KEEP: "keep",
    CostAction.WATCH: "watch",
    CostAction.REPEAT: "measure better",
    CostAction.PLAN_REPAIR: "plan repair",
    CostAction.STOP: "stop at once",
}
"""Actions in tables and in running text."""
AT_OUTAGE: Mapping[bool, str] = {
    False: "plan repair without waiting",
    True: "plan repair in the outage",
}
"""Names of a repair where there is an outage."""

WHOSE_GIVEN = "your costs"
WHOSE_LEVEL = "our ratio of costs for {level} criticality"

CHEAPEST = "By {whose} \u201c{name}\u201d is the cheapest."
LEADS = "What leads is \u201c{name}\u201d, for the reason above."
CAGE_ALONE = "For the cage alone: {said}"
IN_EITHER_CASE = (
    "Without a probability the state of the cage decides alone. In either case, by {whose}:"
)
NOT_WEIGHED = (
    "By {whose} \u201c{name}\u201d is the cheapest. With both false_pull_cost and miss_cost in "
    "the motor file your own are weighed here."
)
NOT_WEIGHED_UNKNOWN = (
    "Not weighed: there is no probability, and the motor file gives no costs (false_pull_cost, "
    "miss_cost)."
)

STAKES: Mapping[StakesGround, str] = {
    StakesGround.GIVEN: "false pull {false_pull}; failure {miss} beside the repair ({ratio} times)",
    StakesGround.BY_LEVEL: "a failure counts as {ratio} false pulls{spare}: judged",
    StakesGround.ONE_GIVEN: "only one is given; a failure counts as {ratio} false pulls{spare}: "
    "judged",
    StakesGround.BOTH_ZERO: "given as nothing; a failure counts as {ratio} false pulls{spare}: "
    "judged",
}
SPARE = " ({part}, for the spare)"
FREE_PULL = "false pull 0, so that any doubt is worth one; failure {miss} beside the repair"

ROW: Mapping[str, str] = {
    "probability": "Chance",
    "stakes": "Costs",
    "hazard": "Failing",
    "outage": "Outage",
    "spans": "By chance",
    "if_wrong": "If wrong",
    "worth": "Measuring",
}
PROBABILITY = "{value}"
UNDER, OVER = "under {value} %", "over {value} %"
PROBABILITY_INTERVAL = "{value} ({low} to {high})"
PROBABILITY_GUARDED = "{value}, held where our study ends ({low} to {high})"
HAZARD = "{rate} in the first month at {bars} ({low} to {high} plausible)"
HAZARD_ASSUMED = "{rate} in the first month at {bars}, assumed ({low} to {high})"
ONE_BAR, BARS = "one open bar", "{bars} open bars"
OUTAGE = "a pull on {day} costs {part} of one in a stop made for it"
OUTAGE_UNUSED = "left out: {reason}"
WORTH = "better saves {better}, costs {cost}: {verdict} (certainty: {perfect})"
WORTHWHILE = "worth it"
NOT_WORTHWHILE = "not worth it"

SPAN_NEXT = " < {low} < {name}"
SPAN_ALWAYS = "{name} throughout"
CASE: Mapping[SensitivityKind, str] = {
    SensitivityKind.COST_RATIO: "ratio \u00d7 {value}",
    SensitivityKind.PROBABILITY: "chance {value}",
    SensitivityKind.HAZARD: "failing {value}",
}
CHANGED = "{name} at {values}"
ROBUST = "no change at 1/5 to 5 times ratio or failures{interval}"
ROBUST_INTERVAL = ", nor by chance"

HEADS = ("action", "if sound", "if defective", "fails first", "expected")
NOT_WORKED = "\u2013"
NOTE = (
    "\u201cFails first\u201d: before its repair. Failing and detection are judged, not measured on "
    "this motor."
)
UNIT = "Costs in false pulls."
