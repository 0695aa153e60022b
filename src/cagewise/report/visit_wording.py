"""Sentences about starts, test sheets and the parts beside the cage."""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.decision.parts import PartGround
from cagewise.indicators.reading import Sense

PART_VERDICT: Mapping[PartGround, str] = {
    PartGround.SEVERAL_BEYOND: "Several independent tests lie beyond their limits: {tests}.",
    PartGround.ONE_BEYOND: "Beyond its limit: {tests}. Repeat the test before anything is decided.",
    PartGround.WITHIN: "Every test that has a limit lies within it. What was not tested is not "
    "cleared.",
    PartGround.WITHIN_BUT: "Every test that could be decided lies within its limit. Undecided: "
    "{undecided}. What was not tested is not cleared.",
    PartGround.AT_LIMIT: "Too near to its limit to be called sound or not: {undecided}.",
    PartGround.MAIN_NOT_VALID: "Not called sound without its main test: {refused}.",
    PartGround.NO_LIMIT: "Tested, but no limit decides; compare with the motor's own past.",
    PartGround.NOT_VALID: "Nothing can be said: {reason}.",
}
PART_INSULATION = (
    "Do not energise the motor and raise no test voltage on this insulation before it is cleaned "
    "and dried and the test repeated by qualified persons."
)
PART_INSULATION_NEAR = "Repeat it before the motor is energised."
SENSE: Mapping[Sense, str] = {Sense.AT_LEAST: "at least", Sense.AT_MOST: "at most"}
LIMIT = "{sense} {value} ({source})"
LIMIT_FORM = "{sense} {value} ({source}; {form})"
NO_LIMIT = "no limit in any standard"
TEST_LINE = "{title}: {value}; {limit}: {why}."
TEST_LINE_NOT_READ = "{title}: {why}."
REFUSED = "{title}: {reason}"
TRENDED = "Nothing limits these; compare them with the motor's own past:"

START_FACT = {
    "switched_on": "Switched on",
    "kind": "Kind of start",
    "time": "Time to speed",
    "voltage": "Voltage meanwhile",
    "initial": "Initial current",
    "initial_pu": "At rated voltage",
    "compared": "Compared with",
    "refused": "Not read",
}
START_SECONDS = "{second} s from the start of the recording"
EARLIER_STARTS = ("no earlier start of this motor", "1 earlier start", "{n} earlier starts")
OF_RATED_VOLTAGE = "% of rated"
TIMES_RATED = "times the rated current"

VISIT_START = "{source}, start at {second} s: {says}"
VISIT_SHEET = "{source}, tests of {day}: {says}"
VISIT_ASIDE = "{source}, of an earlier occasion: not compared, {reason}."
SAYS = "{name}: {word}"
CAVEATS = "{title}: {caveats}"
SAYS_NOTHING = "nothing about the cage"

START_TREND_LABELS = ("s after switching on", "line current, A rms")
START_TREND_TITLE = "Line current of the start"
TRACK_TITLE = (
    "The side line that a damaged cage makes during the start, read along the slip of this start"
)
TRACK_LABELS: Mapping[str, str] = {
    "slip": "slip (the motor speeds up from left to right)",
    "level": "dB of the fundamental",
    "read": "read",
    "floor": "noise beside it",
    "one_bar": "one open bar",
    "two_bars": "two adjacent",
}
POSITION_TITLE = (
    "{quantity} between the terminals against the position of the rotor, {frequency} Hz"
)
POSITION_LABELS = (
    "electrical degrees",
    "% about the mean",
    "measured",
    "fitted: orders 2 and 4, slot ripple",
    "one open bar would show",
)
