"""The sentences of the summary of a plant."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.decision.verdict import State
from cagewise.report.papers.plant_material import ChangeKind

TITLE = "Plant summary, {month} {year}"
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
SUBTITLE = "{plant}; as of {day}"
SUBTITLE_NO_NAME = "As of {day}"
FOOT = "{plant}, plant summary {month}, cagewise {version}"
FOOT_NO_NAME = "Plant summary {month}, cagewise {version}"
KEYWORDS = ("plant summary", "induction motors", "rotor cage")

SIGN: Mapping[State, str] = MappingProxyType(
    {
        State.SOUND: "\N{WHITE CIRCLE}",
        State.SUSPECT: "\N{CIRCLE WITH LEFT HALF BLACK}",
        State.DEFECTIVE: "\N{BLACK CIRCLE}",
        State.NOT_DECIDABLE: "\N{MULTIPLICATION SIGN}",
    }
)
"""Shape beside a state, no words."""
STATE = "{sign}\N{NO-BREAK SPACE}{state}"
STATE_PARTS = "{state}; {parts}"
NOT_MEASURED, REPAIRED = "never measured", "repaired, not measured since"

LEAD = (
    "Measured in {month} {year}: {measured} of {count} motors. Cages: {defective} defective, "
    "{suspect} suspect, {undecided} not decidable, {sound} sound, {unknown} not known."
)
LEAD_EMPTY = "There is no motor in this plant yet."

ASK_DECIDE = "What has to be decided?"
ASK_OVERDUE = "What is overdue?"
ASK_RIGHT = "Were we right?"
ASK_COST = "What does leaving it cost?"
NOTHING = "Nothing."
AND_MORE = "{names} and {count} more"
DECIDE = "{names}: a repair or a stop is advised, or a case is open without a decision."
DECIDED_LATER = "Decided for later than advised: case {cases}."
OVERDUE_COUNT = "Decisions not carried out: {decisions}. Measurements and other advice: {advised}."
RIGHT_COUNT = (
    "Motors opened after a call: {count}. Called right: {right}; wrong: {wrong}; not decided: "
    "{undecided}."
)
RIGHT_NONE = "No motor was opened yet: nobody can tell."
COST_CURRENCY = (
    "Failures of cages are expected to cost {cost} in the next month, in the currency of the motor "
    "files."
)
COST_PULLS = (
    "Failures of cages are expected to cost as much as {cost} removals of a sound motor in the "
    "next month; no motor file states costs."
)

SECTION_CHANGED = "What changed"
CHANGED_NOTHING = "No cage changed its state, and nothing was decided, repaired or found."
STATE_CHANGED = "{day}, {motor}: cage {after} (before: {before}); {damage}."
STATE_CHANGED_ONLY = "{day}, {motor}: cage {after} (before: {before})."
STATE_FIRST = "{day}, {motor}: measured for the first time, cage {after}; {damage}."
STATE_FIRST_ONLY = "{day}, {motor}: measured for the first time, cage {after}."
PARTS = "{day}, {motor}: {parts}."
MEASURED_SAME = "Measured, and as before: {names}."
DAMAGE = "{bars} open bars (95 % interval {low} to {high})"
BOUND = "no more than {bars} open bars (95 %)"
CHANGED: Mapping[ChangeKind, str] = MappingProxyType(
    {
        ChangeKind.OPENED: "{day}, {motor}: case {case} opened: {text}.",
        ChangeKind.DECIDED: "{day}, {motor}: decided in case {case}: {text} ({author}).",
        ChangeKind.REPAIRED: "{day}, {motor}: repaired: {text}.",
        ChangeKind.FOUND: "{day}, {motor}: found: {text}.",
        ChangeKind.CLOSED: "{day}, {motor}: case {case} closed: {text}.",
    }
)
DECIDED_NOBODY = "{day}, {motor}: decided in case {case}: {text}."
MORE = "Not shown here: {count} more."

SECTION_RISK = "Motors by risk"
RISK_CAPTION = "The {count} of {in_all} motors with the greatest risk."
HEAD_MOTOR = "Motor"
HEAD_STATE = "Cage"
HEAD_PROBABILITY = "P(defect)"
HEAD_BARS = "Open bars"
HEAD_RISK = "Risk a month"
HEAD_DUE = "Due"
HEAD_ADVISED_BY = "Advised by"
HEAD_ADVISED = "What is advised"
ASSUMED = "({probability})"
NOW = "now"
NONE = "\N{EN DASH}"

SECTION_CASES = "Open cases"
CASES_NONE = "No case is open."
HEAD_CASE = "Case"
HEAD_SUSPICION = "Suspicion"
HEAD_OPENED = "Open since"
HEAD_DECIDED = "Decided"
HEAD_BY = "By whom"
NOT_DECIDED = "not decided"
NO_DAY = "no day set"
DUE_IN = "{day}, in {days} d"
DUE_TODAY = "{day}, today"
LATER = (
    "Case {case}, {motor}: decided for {due}; the last examination advises no later than {latest}."
)
DUE_PAST = "{day}, overdue by {days} d"

SECTION_OVERDUE = "Overdue"
OVERDUE_NONE = "Nothing is overdue."
HEAD_WHAT = "What"
HEAD_SINCE = "Due since"
HEAD_DAYS = "Days"
WHAT_DECIDED = "{what} (decided, case {case})"

FIGURE_ALT = "Due days of {count} things on a line of time; {overdue} lie before {day}."
FIGURE_CAPTION = (
    "What is due when. Disc: decided. Ring: advised, not decided. Left of the line of {day}: "
    "overdue. An arrow points to a day beyond what is drawn."
)
FIGURE_TODAY = "{day}"
FIGURE_OUTAGE = "outage"

SECTION_CALLS = "Our calls against what was found"
CALLS_NONE = (
    "No outcome has been noted yet. Every motor that is opened for any reason tells something."
)
CALLS_MONTH = "{day}, {motor}: {verdict} Found: {found}."
CALLS_WITHOUT = "Motors opened that were never examined before: {count}."
HEAD_SAID = "We said"
HEAD_FOUND_DEFECTIVE = "Found defective"
HEAD_OF = "Of"
NO_CALL = "we had made no call."

SECTION_NEXT = "What to measure next"
NEXT_NONE = "Nothing has to be measured in the next {days} days."
HEAD_HOURS = "Hours"
NEXT_CAPTION = (
    "Overdue, or due in the next {days} days: {hours} hours of two people together (judged, "
    "getting ready included); {unknown} without a figure."
)

SECTION_COSTS = "What being wrong costs, where a motor file states it"
HEAD_PULL = "Needless removal"
HEAD_MISS = "Failure in service"
COSTS_CAPTION = "In the currency of the motor files, the greatest risk first."

SECTION_NOTES = "How to read this"
SIGNS = (
    "\N{WHITE CIRCLE} sound, \N{CIRCLE WITH LEFT HALF BLACK} suspect, \N{BLACK CIRCLE} defective, "
    "\N{MULTIPLICATION SIGN} not decidable."
)
"""Signs and states of the tables."""
KNOWN_THEN = (
    "Measurements, repairs and cases after {day} are left out, wherever they stand in the plant "
    "today."
)
