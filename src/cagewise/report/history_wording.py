"""The sentences of the pages of a plant's history: trend, ranking, cases, calls."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.history.missing import MissingItem, RepairKind
from cagewise.history.repair import Acceptance
from cagewise.history.trend import TrendCall
from cagewise.store import Found

MISSING: Mapping[MissingItem, str] = MappingProxyType(
    {
        MissingItem.ROTOR_BARS: "number of rotor bars",
        MissingItem.STATOR_SLOTS: "number of stator slots",
        MissingItem.COIL_SPAN: "coil span",
        MissingItem.ROTOR_SLOTS: "rotor slots open or closed",
        MissingItem.CAGE_CONSTRUCTION: "cage fabricated or cast, and its material",
        MissingItem.WINDING_CONSTRUCTION: "winding form-wound or random-wound",
        MissingItem.WINDING_YEAR: "year of the winding",
        MissingItem.WINDING_INSULATION: "insulation of the winding",
        MissingItem.COSTS: "costs of a needless removal and of a failure",
        MissingItem.NEVER_EXAMINED: "never examined",
        MissingItem.NOT_SINCE_REPAIR: "not measured since the repair",
        MissingItem.NO_PROBABILITY: "no probability from the last examination",
        MissingItem.NO_DAMAGE: "damage not expressed in open bars",
    }
)

# trend

TREND_TITLE = "TREND: {call}"
CALL: Mapping[TrendCall, str] = MappingProxyType(
    {
        TrendCall.GROWING: "growing",
        TrendCall.STEADY: "steady",
        TrendCall.NOTHING_SEEN: "nothing seen",
        TrendCall.CANNOT_TELL: "cannot tell",
    }
)
CALL_SENTENCE: Mapping[TrendCall, str] = MappingProxyType(
    {
        TrendCall.GROWING: "The damage grows; it is now {level} open bars.",
        TrendCall.STEADY: "The reading of {level} open bars has stayed as it is.",
        TrendCall.NOTHING_SEEN: 'Every visit says only "no more than": there is nothing whose '
        "growth could be followed.",
        TrendCall.CANNOT_TELL: "Growing and steady both fit the points.",
    }
)
TREND_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "reading": "Reading",
        "level": "Level",
        "slope": "Slope",
        "growing": "P(growing)",
        "change": "Change",
        "detector": "Detector",
        "limit": "Time to limit",
        "load": "Load",
        "temperature": "Winding",
        "check": "Forecasts",
        "programs": "Versions",
        "since": "Since",
        "aside": "Set aside",
    }
)
READING = "{title}, {count} points from {first} to {last}, in open bars"
LEVEL = "{bars} open bars on {day}"
LEAST_SHARE, MOST_SHARE = "<1 %", ">99 %"
SLOPE = "{slope} dB a year: in a year times {factor}"
GROWING = (
    "{growing} faster than {least} dB a year (doubled in {years} years), {fast} faster than "
    "{fast_db}"
)
CHANGED = "yes: signal on {signal}, begun about {onset}"
FELL = "the reading fell: signal on {day} (a repair, other sensors, another load?)"
UNCHANGED = "none seen"
DETECTOR = (
    "false alarm once in {low} to {high} visits ({years_low} to {years_high} years at one visit in "
    "{interval} days); {delays}"
)
DELAY = "{growth} dB a year is noticed after {visits} visits ({years} years)"
NO_DELAY = "{growth} dB a year hardly ever"
LIMIT = "{bars} open bars, if it goes on like this: {quantiles}{never}"
LIMIT_FAR = "{bars} open bars, if it goes on like this: {share} not within {years} years"
QUANTILE = "p{share} {day}"
NOT_WITHIN = "; {share} not within {years} years"
ALREADY = "; {share} beyond it already"
LOAD = "{low} to {high} of rated, level at {reference}"
TEMPERATURE = "{low} to {high} {unit}, level at {reference} {unit}"
NOT_MEASURED = "not measured; its spread is in the interval"
CHECK = "{outside} of {count} points outside the 95 % interval from those before them"
SURPRISE = "; the model fits badly (probability {probability})"
SINCE = "repair of the cage on {day}; what was measured before was another cage"
FROM_VERSION = "{count} from {version}"
PROGRAMS = (
    "points from {count} versions of the program ({each}): a step where it changed may be the "
    'program\'s; "cagewise reexamine {tag}" makes them of one'
)
OTHER_READING = "of another reading, which sees other damage"
ASIDE = "{count} {reason}"
OTHERS = "{count} of other readings ({names})"
PLOT = "Open bars, visit by visit"
PLOT_SOME = "Open bars, one visit in {step} of {count}"
LEGEND = (
    '{reading} reading with its 95 % interval {dot} {limit} "no more than" {dot} {level} level '
    "that all points together give"
)
NEEDED = "What is missing"
NEEDED_POINTS = (
    "A trend needs {least} comparable visits over at least {days} days; there are {count}. Measure "
    "again at a similar load, with the same sensors."
)
NEEDED_NONE = "This motor was never examined."
UNKNOWN = "The motor file does not say: {items}."

# ranking

RANKING_TITLE = "MOTORS OF THE PLANT, {day}"
RANKING_SHORT = "motors: {count} {dot} due: {due} {dot} open cases: {cases} {dot} {risk}"
RISK = "failures of cages are expected to cost {cost} in the next month{unit}"
IN_CURRENCY = ", in the currency of the motor files"
IN_PULLS = " (in removals of a sound motor: no motor file states costs)"
SHOWN_OF = "Shown: {count} of {in_all}."
NONE_SHOWN = "No motor is like that."
RANKING_HEADS = (
    "motor", "cage", "other parts", "P(defect)", "bars", "risk", "due", "next", "case"
)  # fmt: skip
RANKING_SPARE = ("case", "bars", "next")
"""Columns that a narrow page leaves out, the first one first."""
RANKING_NUMBERS = ("P(defect)", "bars", "risk")
ASSUMED = "({probability})"
NOW = "now"
LEFT_OUT = "{count} more are not shown (--most)."
RANKING_NOTE = (
    "Risk, per month: probability of a cage defect today, times the chance that such a cage fails "
    "in the next month, times what a failure costs. In brackets: nothing measured gives a "
    "probability, the usual share of defective cages stands for it. Bars: damage in open bars. "
    "Other parts: where winding or insulation is in doubt; its risk is not in the number."
)
PARTS_TITLE = "Winding or insulation in doubt"
PART_NAMES: Mapping[str, str] = MappingProxyType({"winding": "winding", "insulation": "insulation"})
BOTH_PARTS = "both {state}"
PART = "{part} {state}"
PARTS_HEADS = ("motor", "winding", "insulation", "cage", "measured")
PART_NOT_TESTED = "not tested"
PART_NOT_KNOWN = "not known"
NEXT: Mapping[str, str] = MappingProxyType(
    {
        "": "routine record",
        "routine": "routine record",
        "running_record": "running record",
        "voltages": "with voltages",
        "currents": "more currents",
        "higher_load": "higher load",
        "longer_record": "longer record",
        "higher_rate": "higher rate",
        "speed": "with speed",
        "second_load": "second load",
        "start_up": "a start",
        "position_test": "position test",
        "part_tests": "winding tests",
    }
)
"""What to measure next, in a column."""
NEXT_LONG: Mapping[str, str] = MappingProxyType(
    {
        "": "record it running, as before",
        "routine": "record it running, as before",
        "running_record": "record it running",
        "voltages": "record it running, with voltages",
        "currents": "record it running, with more currents",
        "higher_load": "record it at a higher load",
        "longer_record": "record it longer",
        "higher_rate": "record it at a higher rate",
        "speed": "record it running, and measure the speed",
        "second_load": "record it at a clearly different load",
        "start_up": "record a start",
        "position_test": "inductance against rotor position, at rest",
        "part_tests": "tests of winding and insulation, at rest",
    }
)
"""The same in a sentence."""
NEXT_FIRST = ("first record", "record it running: it was never measured")
NEXT_AFTER_REPAIR = ("after repair", "measure it anew: the cage was repaired")
NEXT_REMOVAL: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "plan_repair": ("repair", "repair, as the last examination asks"),
        "stop": ("stop", "stop it, as the last examination asks"),
    }
)
DUE_TITLE = "Due"
DUE_HEADS = ("motor", "since", "days", "what")
NEVER = "never"
DUE_NONE = "Nothing is due."
DUE_NEXT = "Next: {tag} on {day} ({what})."
MISSING_TITLE = "Missing data"
MISSING_LINE = "{count}: {names}"
MISSING_ALL = "all {count}"
AND_MORE = "{names} and {count} more"
MOTORS_SHOWN = 6
"""Names in a list before the others are counted."""

# cases

CASE_TITLE = "CASE {number}: {title}"
CASE_OPEN = "open since {day} ({days} days)"
CASE_CLOSED = "opened {opened}, closed {closed}: {why}"
STORY = "The story"
WORD_OPENED = "opened"
WORD_EXAMINED = "examined"
WORD_DECIDED = "decided"
WORD_REPAIRED = "repaired"
WORD_FOUND = "found"
WORD_NOTED = "noted"
WORD_CLOSED = "closed"
EXAMINED = "cage {state}{bars}{probability}{counts}{cause}{parts}"
EXAMINED_BARS = ", {bars} open bars"
EXAMINED_BOUND = ", no more than {bars} open bars"
EXAMINED_PART = "; {part}: beyond a limit"
EXAMINED_PROBABILITY = ", P(defect) {probability}"
EXAMINED_COUNTS = "; for a defect speak {methods} of 6 methods (independent classes: {classes})"
PART_SAID = "{part}: {said}"
BECAUSE = "{said} ({why})"
EXAMINED_CAUSE = "; likeliest cause of the lines: {cause} ({weight})"
DUE_BY = "{action} (by {day})"
FOUND: Mapping[Found, str] = MappingProxyType(
    {
        Found.DAMAGED: "cage damaged",
        Found.SOUND: "cage sound",
        Found.NOT_OPENED: "not opened",
    }
)
FOUND_COUNT = "{count} bars open"
FOUND_ONE, FOUND_MORE = "bar {bars} {damage}{place}", "bars {bars} {damage}{place}"
AT_PLACE = " at the {place}"
BY = "[{author}]"
ATTACHED = "attached: {names}"
CORRECTED = "{count} entries were put right later and are not shown."
STANDS = "Where it stands"
PENDING = "{action}, by {day}: {when}"
IN_DAYS = "in {days} days"
OVERDUE = "{days} days overdue"
DUE_TODAY = "today"
SIGNED = "Decided on examination {number} of {day}: {said}"
ADVISED = "advised"
AGAINST = "Our call against what was found"
CALLED = "{verdict} On {day} we said: {statement} Found on {found_on}: {found}.{held}"
RIGHT, MISSED = "The call was right.", "We missed it."
FALSE_WARNING, NOT_DECIDED = "We warned in vain.", "We had decided nothing."
HELD = " Inside our interval."
ABOVE = " More than we had bounded."
NOT_HELD = " Outside our interval of {low} to {high} open bars."
REPAIR = "Repair of {day}: {acceptance}"
ACCEPTANCE: Mapping[Acceptance, str] = MappingProxyType(
    {
        Acceptance.ACCEPTED: "accepted",
        Acceptance.NOT_ACCEPTED: "NOT accepted",
        Acceptance.CANNOT_TELL: "cannot tell yet",
    }
)
COMPARED = "{title}: {before} before, {after} after"
COMPARED_NEW = "{title}: {after}; nothing to compare with before"
REPAIR_KIND: Mapping[RepairKind, str] = MappingProxyType(
    {
        RepairKind.CAGE: "cage repaired",
        RepairKind.REWIND: "rewound",
        RepairKind.BEARINGS: "bearings",
        RepairKind.OTHER: "other work",
    }
)
BASELINE = "Baseline of {day}, {days} days after the repair."
NO_BASELINE = "Nothing was measured after it: record it within {days} days of the repair."
OWED = "Still owed"
OWED_SHOP = "The shop: {items}."
OWED_MEASUREMENT = "Measurements after the repair: {items}."
OWED_OUTCOME = "Nobody has said what was found when the motor was open."
OWED_COUNT = "Nobody has counted the open bars."
OWED_PHOTOGRAPH = "No photograph or report is attached to what was found."
OWED_NOTHING = "Nothing is owed."
CASES_TITLE = "CASES, {day}"
CASES_NONE = "There are no such cases."
CASES_HEADS = ("no.", "motor", "opened", "closed", "suspicion")

# calls

CALLS_TITLE = "OUR CALLS AGAINST WHAT WAS FOUND, {day}"
CALLS_SHORT = "Motors opened after an examination: {count}{without}."
CALLS_WITHOUT = "; without one: {count}"
CALLS_NONE = (
    'No outcome has been noted yet: "cagewise case outcome" says what was found. Every motor that '
    "is opened for any reason is worth noting."
)
CALLS_HEADS = ("we said", "found defective", "of")
CALLS_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "right_warnings": "Warned and defective",
        "missed": "Defective and called sound",
        "false_warnings": "Sound and warned of",
        "undecided": "Not decided",
        "brier": "Error of probabilities",
        "bars": "Error of open bars",
        "surprising": "Probabilities",
    }
)
SHARE = "{value} ({low} to {high})"
BRIER = "{score} against {reference} for saying the usual share ({cases} motors)"
BAR_ERRORS = (
    "{error} bars in the middle, {absolute} without sign; {held} of {cases} inside our interval"
)
SURPRISING = "do not agree with what was found"
AS_SAID = "agree with what was found"
