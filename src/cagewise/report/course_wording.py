"""The sentences of the one action: what to do, by when, and why that."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from cagewise.decision.course import CourseGround
from cagewise.decision.course_dates import OutageFit
from cagewise.decision.next_measurement import Measurement


class Saying(StrEnum):
    """How an action is said, which depends on the state of the motor too."""

    KEEP = "keep"
    KEEP_CAGE = "keep_cage"
    WATCH = "watch"
    WATCH_CAGE = "watch_cage"
    WATCH_DAMAGE = "watch_damage"
    MEASURE_AGAIN = "measure_again"
    CONFIRM = "confirm"
    MEASURE_BETTER = "measure_better"
    SOUND_BETTER = "sound_better"
    PARTS = "parts"
    PARTS_ALONE = "parts_alone"
    REPAIR = "repair"
    REPAIR_OUTAGE = "repair_outage"
    STOP = "stop"


ACTION: Mapping[Saying, str] = {
    Saying.KEEP: "Keep the motor in service. Measure it again {by}.",
    Saying.KEEP_CAGE: "As far as the cage goes, keep the motor in service and measure it again "
    "{by}. The {parts} could not be judged.",
    Saying.WATCH: "Keep the motor in service and watch it: measure it every {days} days, the first "
    "time {by}, until {visits} records have been quiet.",
    Saying.WATCH_CAGE: "As far as the cage goes, keep the motor in service and watch it: measure "
    "it every {days} days, the first time {by}. The {parts} could not be judged.",
    Saying.WATCH_DAMAGE: "Keep the motor in service and watch it: measure it every {days} days, "
    "the first time {by}. If a record shows more damage than this one, plan the repair. Start it "
    "as seldom as possible.",
    Saying.MEASURE_AGAIN: "Do not decide on {records}. Measure again {by}; what to change is "
    "listed under {next}.",
    Saying.CONFIRM: "Do not take the motor out on this evidence alone. Confirm it first, {by}; how "
    "is listed under {next}.",
    Saying.MEASURE_BETTER: "Do not plan the repair yet. Measure once more, better, {by}; how is "
    "listed under {next}. If that shows the damage too, plan the repair.",
    Saying.SOUND_BETTER: "Keep the motor in service. Measure it once more, better, {by}; how is "
    "listed under {next}.",
    Saying.PARTS: "The cage is no reason to stop the motor; the {parts} may be one. Repeat the "
    "tests that say so {by}, before anything is decided.",
    Saying.PARTS_ALONE: "The cage could not be judged; the {parts} may be a reason to stop the "
    "motor. Repeat the tests that say so {by}, before anything is decided.",
    Saying.REPAIR: "Take the motor out and have the rotor inspected {by}. Until then start it as "
    "seldom as possible: a direct start loads the cage hardest.",
    Saying.REPAIR_OUTAGE: "Take the motor out in the planned outage on {outage} and have the rotor "
    "inspected. Until then start it as seldom as possible: a direct start loads the cage hardest.",
    Saying.STOP: "Weigh taking the motor out of service at once. The engineer responsible on site "
    "decides. Once it stands, have the rotor inspected before it is started again.",
}
AT_ONCE = "at once"
QUOTED = '"{text}"'

GROUND: Mapping[CourseGround, str] = {
    CourseGround.RULE: "",
    CourseGround.AGREED: "",
    CourseGround.LEVEL_LESS: "By {whose} \u201c{asked}\u201d would be the cheapest. A judged ratio "
    "does not overrule the rule; give your costs in the motor file to weigh them.",
    CourseGround.LEVEL_MORE: "By {whose} \u201c{asked}\u201d would be the cheapest. A judged ratio "
    "does not overrule the rule; give your costs in the motor file to weigh them.",
    CourseGround.COSTS_LESS: "The rule would ask for more. By {whose} \u201c{action}\u201d is "
    "expected to cost {cost}, \u201c{rule}\u201d {rule_cost}.",
    CourseGround.COSTS_MORE: "The rule would ask for less. By {whose} \u201c{action}\u201d is "
    "expected to cost {cost}, \u201c{rule}\u201d {rule_cost}.",
    CourseGround.FLOOR: "By {whose} alone \u201c{asked}\u201d would be the cheapest.",
    CourseGround.INTERVAL: "By {whose} \u201c{asked}\u201d would be the cheapest, but not at every "
    "plausible chance and rate of failures. Less than the rule asks for takes that.",
    CourseGround.CONFIRM_FIRST: "Probability and {whose} would already ask for "
    "\u201c{asked}\u201d, but {lack}.",
    CourseGround.TREND: "By {whose} a better record would be the cheapest. This one leaves room "
    "for less than one open bar beside its like; what else there may be shows in its trend.",
    CourseGround.PARTS: "",
}
"""Said below the action where rule and costs differ."""
FEWER = "fewer than {methods} methods of {classes} classes agree"
NOT_CLEAR = "the readings do not agree as the rule for taking a motor out wants"
AGREED_GIVEN = "Your costs ask for the same."
AGREED_REPAIR = "Your costs ask for the repair too."
GUARD_AGREES = "Enough methods and classes agree to take the motor out."
FLOOR_FOUND = "A cage that is not sound is at least watched."
FLOOR_UNDECIDED = "But routine records like this one would not show a defect either."
FLOOR_PARTS = "But the {parts} in doubt must be tested first."
STOP_LEVEL = "The engineer responsible on site decides."
FIRST = "Of other kinds of measurement {first} tells most per hour."
CHANGE_CHANCE = "\u201c{rule}\u201d is the cheapest from a chance of {chance} on."
CHANGE_RATIO = "\u201c{rule}\u201d is the cheapest if a failure costs {ratio} times a pull."
CHANGE_BOTH = (
    "\u201c{rule}\u201d is the cheapest from a chance of {chance} on, or if a failure costs "
    "{ratio} times a pull."
)

MEASUREMENT: Mapping[Measurement, str] = {
    Measurement.BETTER_RECORD: "another record of the running motor",
    Measurement.VOLTAGES: "a record with voltages",
    Measurement.SECOND_LOAD: "a record at a second load",
    Measurement.START_RECORD: "a record of the next start that happens anyway",
    Measurement.POSITION_TEST: "the position test at the next stop",
}

BY_RULE = (
    "The window is our rule for a motor of {level} criticality. It is not a forecast of the "
    "remaining life."
)
INTERVAL_BY_RULE = (
    "The interval is our rule for a motor of {level} criticality under watch. It is not a forecast "
    "of the remaining life."
)
LATEST_BY_RULE = (
    "By our rule for {level} criticality {latest} is the latest day. It is not a forecast of the "
    "remaining life."
)

OUTAGE_REPAIR: Mapping[OutageFit, str] = {
    OutageFit.NONE: "",
    OutageFit.IN_TIME: "",
    OutageFit.AWAITED: "By your costs waiting for the outage is the cheaper, although {failing} of "
    "damaged cages like this are expected to fail before it.",
    OutageFit.TEMPTING: "By our rule the planned outage on {outage} is too late. By your costs "
    "waiting is the cheaper at the rate of failures assumed ({failing} fail before it), but not at "
    "every plausible one: weigh it.",
    OutageFit.TOO_LATE: "By our rule the planned outage on {outage} is too late.",
    OutageFit.NO_NOTICE: "The planned outage on {outage} leaves less than the {notice} days of "
    "notice that a repair takes.",
    OutageFit.PAST: "The planned outage of the motor file, {outage}, is past.",
    OutageFit.UNDATED: "Whether the planned outage on {outage} is in time is not known: nothing "
    "says on which day this was measured.",
}
"""What is said of the outage beside a repair."""
OUTAGE_TEST: Mapping[OutageFit, str] = {
    **OUTAGE_REPAIR,
    OutageFit.IN_TIME: "The planned outage on {outage} is soon enough for what needs a stop.",
    OutageFit.TOO_LATE: "Do not wait for the planned outage on {outage}: it comes later.",
}
"""What is said of it beside a measurement."""
OUTAGE_KEPT = "That leaves time for a repair in the planned outage on {outage}."
