"""The sentences of weighing costs, kept beside the catalogue for its size."""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import Guard, SensitivityKind, StakesGround

SECTION = "What being wrong costs"

NAME: Mapping[CostAction, str] = {
    CostAction.KEEP: "keep",
    CostAction.WATCH: "watch",
    CostAction.REPEAT: "measure better",
    CostAction.PLAN_REPAIR: "plan repair",
    CostAction.STOP: "stop at once",
}
"""Actions in tables and in running text."""

ACTION: Mapping[CostAction, str] = {
    CostAction.KEEP: "Keep the motor in service and measure again at the routine interval, "
    "within {days} days.",
    CostAction.WATCH: "Keep the motor in service and measure it every {days} days until {visits} "
    "records have been quiet.",
    CostAction.REPEAT: "Do not decide yet: measure once more, better, {by}. If that shows the "
    "defect, plan the repair.",
    CostAction.PLAN_REPAIR: "Plan the repair: take the motor out {by}. Until then start it as "
    "seldom as possible.",
    CostAction.STOP: "Weigh taking the motor out of service at once. The engineer responsible on "
    "site decides.",
}
BY_DATE = "by {day}"
BY_DAYS = "within {days} days of the measurement"
BY_OUTAGE = "in the planned outage on {day}"

CHEAPEST = "Expected cost {cost}; next is \u201c{other}\u201d with {other_cost}."
BY_RULE = (
    "No cost can be expected without a probability: {reason}. The action follows the state of the "
    "cage."
)
GUARD: Mapping[Guard, str] = {
    Guard.ENOUGH_AGREE: "Enough methods and classes agree to take the motor out.",
    Guard.FEWER_AGREE: "Probability and costs ask for it although fewer methods and classes agree "
    "than the rule for taking a motor out wants. Confirm it first where there is time.",
    Guard.NOT_ASKED: "Enough methods and classes agree to take the motor out, but these costs do "
    "not ask for it.",
    Guard.NOT_TOUCHED: "",
}
"""Said below the action; nothing where rule and costs both leave the motor in service."""

STAKES: Mapping[StakesGround, str] = {
    StakesGround.GIVEN: "Both costs are those of the motor file, taken as they are.",
    StakesGround.BY_LEVEL: "The motor file gives no costs. Costs are counted in pulls of a sound "
    "motor, and the ratio is our judgement for {level} criticality.",
    StakesGround.ONE_GIVEN: "The motor file gives only one of the two costs, which weighs nothing "
    "by itself. The ratio is our judgement for {level} criticality.",
    StakesGround.BOTH_ZERO: "The motor file says that both costs are nothing. The ratio is our "
    "judgement for {level} criticality.",
}
SPARE = "With the spare on the shelf, {part} of what a failure costs is left (our judgement)."
OUTAGE_UNUSED = "The planned outage is left out: {reason}."
JUDGED = (
    "Rates of failure and of detection, and what measuring costs, are judgements. They are not "
    "measured on this motor."
)
DAMAGE_ASSUMED = "How many bars are open is not known; one is assumed."
ROBUST = "No change tried below changes the action."
NOT_ROBUST = "The action hangs on numbers that nobody knows well; see what changes it."

ROW: Mapping[str, str] = {
    "probability": "Chance of a defect",
    "false_pull": "Pulling a sound motor",
    "miss": "Failure in service",
    "hazard": "If it is defective",
    "outage": "In the planned outage",
    "better": "Measuring better",
    "probability_spans": "By the chance",
    "ratio_spans": "By the ratio of costs",
    "odds": "Simplest rule",
    "worth": "Worth of measuring better",
}
ROW_IF: Mapping[SensitivityKind, str] = {
    SensitivityKind.COST_RATIO: "If the ratio is wrong",
    SensitivityKind.PROBABILITY: "At the ends of the chance",
    SensitivityKind.HAZARD: "If cages fail otherwise",
}
PROBABILITY = "{value}"
PROBABILITY_INTERVAL = "{value} ({low} to {high})"
PROBABILITY_UNKNOWN = "not known: {reason}"
ONE_PULL = "1, the unit of all costs here"
MISS = "{cost}, beside the repair itself; ratio {ratio}"
RATIO_WITHOUT_LIMIT = "without limit"
HAZARD = (
    "open-bar equivalent {bars}: {rate} fail in the first month, doubling in {doubling} months "
    "(our judgement; {low} to {high} a month is plausible)"
)
OUTAGE = "a pull on {day} costs {part} of one in a stop made for it (our judgement)"
BETTER = (
    "shows a defect in {detection} of cases, calls a sound motor defective in {false_calls}, "
    "costs {part} of a pull (assumed)"
)
SPAN_FIRST = "{name} below {high}"
SPAN_NEXT = "{name} from {low}"
SPAN_ALWAYS = "{name} throughout"
ODDS = "pull from {value} on, if a missed defect were sure to fail and nothing else could be done"
CASE: Mapping[SensitivityKind, str] = {
    SensitivityKind.COST_RATIO: "{value} times: {name}",
    SensitivityKind.PROBABILITY: "{value}: {name}",
    SensitivityKind.HAZARD: "{value} a month: {name}",
}
UNCHANGED = "the same"
WORTH = "saves {better} on average and costs {cost}: {verdict}. Full certainty would save {perfect}"
WORTHWHILE = "worth it"
NOT_WORTHWHILE = "not worth it"

HEADS = ("action", "if sound", "if defective", "fails first", "expected")
NOT_WORKED = "\u2013"
TABLE_NOTE = (
    "Expected cost = (1 \u2212 chance) \u00d7 if sound + chance \u00d7 if defective. \u201cFails "
    "first\u201d is the chance that a defective cage fails before it is repaired."
)
