"""The sentences of what is how probable, kept beside the catalogue for its size."""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.decision.agreement import Difference
from cagewise.evidence.explanations import Cause, ExplanationGround, SeparatingTest
from cagewise.evidence.fusion.patterns import DamagePattern

SECTION = {
    "patterns": "What the cage most probably is",
    "explanations": "What else could make these lines?",
}

PROBABILITY = "Probability of a cage defect: {value} ({low} to {high} % where {kin})."
PROBABILITY_CAPPED = (
    "Probability of a cage defect: {value}, the {most} that the study supports ({low} to {high} % "
    "where {kin})."
)
KIN_ASSUMED = "{low} to {high} % of such motors have one; {prevalence} % is assumed"
KIN_STATED = "{low} to {high} % of such motors have one; {prevalence} % was stated"
MOST, LEAST = "most", "least"
NO_PROBABILITY = "No probability is stated, because {reason}."
WORKED_OUT = "That is worked out from how readings err, not counted."

FALSE_CALLS = (
    "Of {cases} sound simulated motors recorded like this one ({kind}) {events} called suspect or "
    "defective: {share}."
)
MISSES = (
    "Of {cases} simulated motors with an open bar, recorded like this one ({kind}), {events} "
    "called sound: {share}."
)
FALSE_CALLS_TOO = "Of {cases} sound ones {events} called suspect or defective: {share}."
MISSES_TOO = "Of {cases} with an open bar {events} called sound: {share}."
UNDECIDED = (
    "Of {cases} simulated motors recorded like this one ({kind}), sound or not, {events} left "
    "undecided: {share}."
)
EVENTS = ("none was", "1 was", "{n} were")
SHARE = "{share} % ({low} to {high} %, 95 %)"
FEW_FALSE_CALLS = (
    "How often a sound motor of this kind ({kind}) is called suspect or defective cannot be said, "
    "because the study has {cases}."
)
FEW_MISSES = (
    "How often an open bar is missed in a motor of this kind ({kind}) cannot be said, because the "
    "study has {cases}."
)
FEW_UNDECIDED = (
    "How often a motor of this kind ({kind}) is left undecided cannot be said, because the study "
    "has {cases}."
)
FEW_FALSE_CALLS_TOO = (
    "How often a sound one is called otherwise cannot be said: the study has {cases}."
)
FEW_MISSES_TOO = "How often an open bar is missed cannot be said: the study has {cases}."
CASES = ("none", "only 1", "only {n}")
NO_RATE = "No probability and no false-call rate can be stated, because {reason}."
SIMULATED = (
    "The study is of simulated motors: it leaves out what nobody put into its model "
    "(docs/validation.md)."
)

PATTERN: Mapping[DamagePattern, str] = {
    DamagePattern.SOUND: "sound",
    DamagePattern.PARTIAL: "one bar cracked",
    DamagePattern.ONE: "one bar open",
    DamagePattern.TWO: "two bars open, side by side",
    DamagePattern.THREE_OR_MORE: "three bars open or more",
    DamagePattern.APART: "two bars, 90 electrical degrees apart",
}
DIFFERING: Mapping[Difference, str] = {
    Difference.SOUND_BUT_PROBABLE: (
        "State and probability differ because they ask different questions: sound says that less "
        "than one open bar is missing, and what is probable is less than that: {pattern} "
        "({share} %). Measure again, and compare."
    ),
    Difference.UNDECIDED_BUT_PROBABLE: (
        "State and probability differ because they ask different questions: the state waits until "
        "a reading establishes damage beyond its own errors, and the probability weighs all "
        "readings together: {pattern} is the likeliest damage ({share} %)."
    ),
    Difference.CALLED_BUT_IMPROBABLE: (
        "State and probability differ because they ask different questions: the state counts a "
        "reading that stands until another measurement explains it, and the probability weighs "
        "what else made it: the shape of the rotor {shape} %, a reading that errs on a sound cage "
        "{error} %. The next measurement decides."
    ),
    Difference.CALLED_BUT_RARE: (
        "State and probability differ because they ask different questions. The state names what "
        "looks like this: bars 90 electrical degrees apart. The probability takes such bars for "
        "rare before anything is measured ({rare} % of motors), a reading that errs for less rare. "
        "The next measurement decides."
    ),
}
ALMOST_ALL = "By far the likeliest: {pattern} ({share} %)."
OPEN_BARS = "Open bars, all readings weighed: {bars}, 95 % credible."
OPEN_BARS_DOWN_TO_SOUND = (
    "Open bars, all readings weighed: {bars}, 95 % credible. The interval begins at a sound cage, "
    "which keeps {share} %."
)
PATTERN_NARROW = "{share} % {label}"
OTHERS = "everything else"
PATTERN_CAPTION = "Probabilities under the stated prior; patterns below 1 % are left out."
WEIGHED_TITLE = "weighed: 95 % credible"
WEIGHED_NOTE = "\u201cWeighed\u201d takes every reading with how it errs, and the prior."

CAUSE: Mapping[Cause, str] = {
    Cause.CAGE: "damaged cage",
    Cause.UNEVEN_CAGE: "sound but slightly uneven cage",
    Cause.WRONG_READING: "wrong reading (slip, sensor, or a motor unlike its model)",
    Cause.LOAD_OSCILLATION: "load that swings at the pole-pass frequency",
    Cause.COUPLED_LINE: "driven machine, belt or gear",
    Cause.ROTOR_SHAPE: "rotor with axial ducts, spider arms or flats, as many as poles",
    Cause.SUPPLY_MODULATION: "supply voltage that is modulated",
    Cause.CONVERTER_LOOP: "regulator of the converter",
    Cause.ECCENTRICITY: "eccentricity or unbalance",
}
WHY: Mapping[ExplanationGround, str] = {
    ExplanationGround.READINGS: "all readings weighed together",
    ExplanationGround.NOT_READ: "no reading of the cage can be weighed",
    ExplanationGround.NOTHING_TO_EXPLAIN: "nothing needs it",
    ExplanationGround.TOO_STRONG: "the lines are stronger than a sound cage makes",
    ExplanationGround.FINDINGS_FOR: "{reasons}",
    ExplanationGround.FINDINGS_AGAINST: "{reasons}",
    ExplanationGround.NOT_SEPARATED: "nothing measured tells it from the cage",
    ExplanationGround.RATIO_NEAR: "its line {line} falls {distance} Hz from them",
    ExplanationGround.RATIOS_ELSEWHERE: "nearest line {distance} Hz away",
    ExplanationGround.RATIOS_NOT_GIVEN: "the motor file names no shaft ratios",
    ExplanationGround.PLACE_NOT_KNOWN: "the slip is not known, so the place of the lines is not",
    ExplanationGround.VOLTAGE_NOT_MEASURED: "no voltages were recorded",
    ExplanationGround.NO_CONVERTER: "none feeds the motor",
    ExplanationGround.CONVERTER: "it moves lines between voltage and current",
    ExplanationGround.ONCE_PER_TURN_ELSEWHERE: "nearest line {distance} Hz away",
    ExplanationGround.ONCE_PER_TURN_NEAR: "at this slip its lines fall on them",
}
SHAPE_WEIGHED = "it moves these lines and the position test, not a start nor the 5th and 7th"
TEST: Mapping[SeparatingTest, str] = {
    SeparatingTest.SECOND_CLASS: "a start record or the position test",
    SeparatingTest.STEADY_LOAD: "a record at a steady load, or uncoupled",
    SeparatingTest.CHANGE_LOAD: "a record at another load, where such lines follow the shaft",
    SeparatingTest.TWO_LOADS_OR_START: "a record at a second load, or a start",
    SeparatingTest.VOLTAGES: "two line voltages recorded with the currents",
    SeparatingTest.MAINS_RUN: "a record on the mains, or with voltages at fixed frequency",
    SeparatingTest.VIBRATION: "vibration once per turn, and a record at another slip",
}
WOULD_TELL = "Would tell: {test}."
CAUSE_LINE = "{cause}: {why}."
TEST_HOURS = "{test} ({hours} h)"
EXPLANATION_HEADS = ("Weight", "Cause", "Because", "Would tell")
PERCENT, UNDER_ONE, NONE = "{share} %", "under 1 % each", "ruled out"
NOT_WEIGHED = "cannot be weighed"
IN_WORDS = ((0.5, "likeliest"), (0.1, "possible"), (0.01, "unlikely"), (0.0, "all but excluded"))
"""Least weight and its word, where no percentage may be stated."""
NAMED = "{cause} ({why})"
NAMED_WITH_TEST = "{cause} ({why}; would tell: {test})"
TOGETHER = "{weight}: {causes}."
NOTHING_TO_EXPLAIN = (
    "No line stands at the pole-pass distance that a sound cage would not make by itself."
)
WEIGHTS_NOTE = (
    "Only the weight of the cage comes from the study; how the rest is shared out is our judgement."
)
WEIGHTS_NOTE_WORDS = "The order is our judgement: the study does not cover this kind of motor."

HOURS = "{hours} h"
SETTLES = "as good as settling it in {tenths} of 10 cases"
SETTLES_HARDLY = "would settle next to nothing"
TIPS = "tips the balance in {tenths} of 10"
SHOWS = "shows {bars} open bars or more"
NEXT_NOTE = (
    "Most telling per hour first. \u201cSettling it in 4 of 10 cases\u201d: four tenths of the "
    "doubt are expected to go. Hours are our judgement."
)
NEXT_LITTLE_DOUBT = (
    "These readings leave too little doubt to weigh what another measurement would settle."
)
