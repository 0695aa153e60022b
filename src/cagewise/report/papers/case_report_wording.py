"""The sentences of the case report, for somebody who decides and need not know the methods.

Rules beside those of ``report.wording``: no word of the trade on page one without its meaning, no
adjective that a number does not carry, and what is not known is said before what is.
"""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.decision.verdict import State, StateGround
from cagewise.evidence.explanations import Cause
from cagewise.evidence.findings import BlindSpot
from cagewise.indicators.reading import IndependenceClass, Part

TITLE = "Case report: {tag}"
FOOT = "{tag}, measured {day}, cagewise {version}"
FOOT_NUMBER = "{tag}, examination {number} of {day}, cagewise {version}"
MEASURED = "measured on {day}"
KEYWORDS = ("case report", "induction motor", "rotor cage")

# page one


WHY: Mapping[StateGround, str] = {
    StateGround.ENOUGH_AGREE: "The rotor turns because current flows in its bars. Measurements "
    "that fail for different reasons show that bars no longer carry theirs. For this to be wrong, "
    "all of them would have to be wrong at once.",
    StateGround.BOUNDED: "The rotor turns because current flows in its bars. A broken bar would "
    "have shown in these measurements, and none did.",
    StateGround.BOUNDED_ADJACENT: "The rotor turns because current flows in its bars. A broken bar "
    "would have shown in these measurements, and none did. Two broken bars at one certain distance "
    "from each other can hide.",
    StateGround.BOUNDED_PARTED: "The rotor turns because current flows in its bars. A bar that is "
    "broken through would have shown, and none did. A bar that is only cracked can hide.",
    StateGround.BOUNDED_LEAST: "The rotor turns because current flows in its bars. A bar that is "
    "broken through would have shown, and none did. A bar that is only cracked can hide, and so "
    "can two broken bars at one certain distance from each other.",
    StateGround.SHAPE_EXPLAINS: "The motor shows what broken rotor bars would show. A sound rotor "
    "of a certain shape shows the same, and these measurements cannot part the two.",
    StateGround.SUPPLY_NOT_EXCLUDED: "The motor shows what broken rotor bars would show. The "
    "supply can make the same signs, and its voltage was not recorded.",
    StateGround.PAIR_NOT_EXCLUDED: "Two kinds of signs do not fit together, unless two bars are "
    "broken at one certain distance from each other. One more measurement decides.",
    StateGround.TOO_FEW_AGREE: "One kind of measurement shows damage. Nothing that fails for "
    "another reason confirms it yet: this is a suspicion, not a finding.",
    StateGround.TOO_WEAK: "One kind of measurement shows damage. What confirms it is too weak to "
    "carry a decision: this is a suspicion, not a finding.",
    StateGround.SHAPE_NOT_EXCLUDED: "Two kinds of measurement show damage, and a sound rotor of a "
    "certain shape would mislead both: this is a suspicion, not a finding.",
    StateGround.CLASSES_DISAGREE: "One kind of measurement shows damage and another shows none. "
    "One of them is misled, and these records do not say which.",
    StateGround.MASKED_PAIR: "One kind of measurement shows damage and another shows none. Two "
    "bars broken at one certain distance from each other would look exactly like this.",
    StateGround.RECORDS_CONFLICT: "Recordings of one visit contradict each other. Something "
    "differed between them, and an average would hide it.",
    StateGround.NOT_BOUNDED: "No sign of damage was seen. But a broken bar would not have shown in "
    "these measurements either: their silence proves nothing.",
    StateGround.NOTHING_READ: "The measurements could not be used. Nothing is known of the rotor: "
    "neither that it is sound nor that it is damaged.",
}
"""One plain reason for each ground of the state of the cage."""

PART_WHY: Mapping[Part, str] = {
    Part.INSULATION: "The insulation keeps the voltage of the winding away from the iron and from "
    "people. Its tests do not say any more that it does so safely.",
    Part.WINDING: "The winding makes the field that turns the rotor. Its three phases should read "
    "alike, and they do not.",
}
"""One plain reason for a part in doubt; others have their statement alone."""

CARD_WHAT = "What is it?"
CARD_SURE = "How sure is it?"
CARD_DO = "What to do"
CARD_WHEN = "By when"
CARD_COST = "What being wrong costs"
CARD_OPEN = "What was not excluded"

WHAT: Mapping[State, str] = {
    State.DEFECTIVE: "Broken rotor bars. The damage counts as {bars} of them, and with 95 % "
    "confidence it lies between {low} and {high}.",
    State.SUSPECT: "A sign of broken rotor bars, not confirmed. The damage counts as {bars} of "
    "them, and with 95 % confidence it lies between {low} and {high}.",
    State.SOUND: "No broken rotor bar was found. With 95 % confidence no more than {bound} bars "
    "are missing.",
    State.NOT_DECIDABLE: "Not known: up to {bound} broken rotor bars could hide.",
}
WHAT_WITHOUT: Mapping[State, str] = {
    State.DEFECTIVE: "Broken rotor bars; how many is not known.",
    State.SUSPECT: "A sign of broken rotor bars, not confirmed.",
    State.SOUND: "No broken rotor bar was found.",
    State.NOT_DECIDABLE: "Not known: broken rotor bars could hide.",
}
WHAT_SHAPED = "Not known: broken rotor bars, or something else that shows the same."
WHAT_UNREAD = "Not known: the rotor could not be judged."

SURE = "Probability of a damaged cage: {value} % ({low} to {high} %)."
SURE_HELD_MORE = (
    "Probability of a damaged cage: {value} % ({low} to {high} %), the most that our study "
    "supports."
)
SURE_HELD_LESS = (
    "Probability of a damaged cage: {value} % ({low} to {high} %), the least that our study "
    "supports."
)
SURE_NOT = "No probability can be given: {reason}."
SURE_COUNT = (
    "{methods} of 6 methods and {classes} of {asked} independent kinds of measurement say so."
)
SURE_PART = "{part}: {count} independent kinds of test lie beyond their limits."

WHEN_OUTAGE = "Planned outage: {day}."
WHEN_FIRST: Mapping[bool, str] = {True: "At once.", False: "Act {by}."}
WHEN_NEXT = "Measure again {by}."

COST_CAGE = "Of the cage alone: winding and insulation have no price here."
COST_GIVEN = (
    "Taken out though sound: {false_pull}. Left in and failing: {miss}, beside the repair. Both "
    "stand in the motor file."
)
COST_FREE = (
    "Taken out though sound: nothing. Left in and failing: {miss}, beside the repair. Both stand "
    "in the motor file."
)
COST_MISSING = (
    "Not priced. The motor file must say what a needless removal costs (false_pull_cost) and what "
    "a failure costs (miss_cost)."
)
COST_JUDGED = "Until then a failure counts as {ratio} needless removals: our judgement."
COST_EXPECTED = "Expected cost of what is advised: {cost}."

OPEN_MORE = "{count} more: see \u201c{section}\u201d."
OPEN_NOTHING = "Nothing that these methods are known to miss. What nobody thought of is not listed."
OPEN_CAUSE = "{cause} ({weight})."
OPEN_ALONE = "{cause}: not weighed."
OPEN_CAUSES: Mapping[Cause, str] = {
    Cause.CAGE: "Damage of the cage",
    Cause.UNEVEN_CAGE: "A sound cage that is slightly uneven",
    Cause.WRONG_READING: "A wrong reading",
    Cause.LOAD_OSCILLATION: "A load that swings in step",
    Cause.COUPLED_LINE: "The driven machine, its belt or its gear",
    Cause.ROTOR_SHAPE: "A sound rotor of an odd shape",
    Cause.SUPPLY_MODULATION: "A supply that swings in step",
    Cause.CONVERTER_LOOP: "The regulator of the converter",
    Cause.ECCENTRICITY: "A rotor off its centre, or unbalance",
}
"""Causes of the same signs in plain words."""
OPEN_SPOTS: Mapping[BlindSpot, str] = {
    BlindSpot.MASKED_PAIR: "Two broken bars at one certain distance, which hide each other.",
    BlindSpot.SYMMETRIC_DAMAGE: "Damage that is the same in all bars.",
    BlindSpot.OUTER_CAGE: "Damage of the outer cage, if the rotor has two.",
    BlindSpot.CRACKED_BAR: "A bar that is cracked, but not through.",
    BlindSpot.INTER_BAR_CURRENT: "More damage than was read, if current passes the break through "
    "the iron.",
    BlindSpot.ANISOTROPIC_ROTOR: "A sound rotor of an odd shape, which looks like damage.",
    BlindSpot.RING_OR_BARS: "A cut end ring instead of broken bars.",
    BlindSpot.LOAD_OSCILLATION: "A load that swings in step.",
    BlindSpot.SUPPLY_MODULATION: "A supply that swings in step.",
}
"""What these measurements cannot see, in plain words."""

MISSING_TITLE = "What would allow a verdict"
STORY_TITLE = "What became of it"
STORY_REPAIR = "Repair of {day}: {acceptance}. {because}"
STORY_REPAIR_OPEN = "Repair of {day}: nothing was measured after it yet."
SIGNED = "Decided: {action}"
SIGNED_DUE = "Decided: {action} By {day}."
SIGNED_BY = "Signed by {author} on {day}."
SIGNED_NOBODY = "Noted on {day}, without a name."
CLOSED = "Case closed on {day}: {why}"
OPEN_CASE = "case {number}, open since {day}: {title}"
NOT_AS_KEPT = (
    "This report says what the program says today. What is kept of the visit says otherwise: "
    "{reason}."
)
ROLES = ("Decided by", "Checked by")
SIGNED_LATE = "That is later than this report advises."
PART_SOUND = "Also tested, and within their limits: {parts}. Details: \u201c{section}\u201d."
GROWS_TO = (
    "If it goes on like this, it reaches {bars} open bars about {likely}; one chance in ten that "
    "it does before {early}."
)
GROWS_BEYOND = "If it goes on like this, it does not reach {bars} open bars within {years} years."
UNDECIDED = "Nobody has decided yet. Who is responsible on site decides, and signs here:"

# sections

SECTION: Mapping[str, str] = {
    "forest": "All readings on one scale",
    "readings": "Reading by reading",
    "causes": "What else could it be?",
    "not_excluded": "What was not excluded",
    "next": "What to measure next",
    "costs": "What being wrong costs",
    "trend": "How it developed",
    "story": "The story of the case",
    "parts": "Winding and insulation",
    "records": "How good the records are",
    "safety": "Safety",
    "appendix": "Appendix",
    "methods": "Methods and where they come from",
    "measured": "The readings as measured",
    "versions": "Data and versions",
    "glossary": "Words",
}

FOREST_HOW = (
    "Every reading is turned into one unit: how many broken bars would produce it on this motor. "
    "The dot is the best value, the line reaches as far as it may be wrong (95 %), and the shaded "
    "part is damage that this reading would have missed."
)
FOREST_ALT = (
    "Readings in open bars with 95 % intervals, one below the other; the numbers are in the table "
    "that follows."
)
FOREST_NONE = "No reading can be expressed in broken bars, so there is nothing to draw."

CLASS_TITLE = "{name}: {word}"
CLASS_WORD: Mapping[str, str] = {
    "for": "speaks for damage",
    "against": "speaks against damage",
    "cannot tell": "cannot tell",
}
READING_HEADS = ("Reading", "In plain words", "Open bars", "Damage", "Valid, and why")
VALID = "Valid: {why}."
NOT_VALID = "Not valid: {why}."
NOT_VALID_AS_SAID = "Not valid, for the reason on page one."
PICTURE_ABSENT = "There is no picture: {reason}."
WORD_YES, WORD_NO, WORD_OPEN = "yes", "no", "cannot tell"

CLASS_PLAIN: Mapping[IndependenceClass, str] = {
    IndependenceClass.RUNNING_FUNDAMENTAL: "The motor runs, and its current is recorded. A broken "
    "bar makes the current swell and fade a few times in ten seconds. So do some loads and some "
    "supplies, which is why the voltage is recorded too.",
    IndependenceClass.RUNNING_HARMONIC: "The same record, looked at elsewhere: near five and seven "
    "times the supply frequency. Loads that swing and rotors of an odd shape leave nothing there, "
    "broken bars do.",
    IndependenceClass.START: "The motor starts. Its rotor carries five times the usual current "
    "then, so that a broken bar shows most, and the load does not matter.",
    IndependenceClass.STANDSTILL_PATTERN: "The motor stands and is turned by hand while a meter "
    "reads its winding. A sound rotor reads alike in all positions; a broken bar makes waves.",
    IndependenceClass.STANDSTILL_MEAN: "The motor stands. The average of the same readings is "
    "compared with earlier ones: it rises when bars break. Weak by itself.",
    IndependenceClass.WINDING_RESISTANCE: "The resistance of the stator winding, pair by pair: a "
    "bad joint or a parted conductor makes one pair differ.",
    IndependenceClass.WINDING_IMPEDANCE: "What the stator winding answers to alternating current, "
    "pair by pair: shorted turns make one pair differ.",
    IndependenceClass.WINDING_TURNS: "A steep pulse rings in the winding; shorted turns make one "
    "pair ring otherwise.",
    IndependenceClass.INSULATION_DIRECT: "A direct voltage between winding and earth: what flows "
    "tells whether the insulation is wet, dirty or aged.",
    IndependenceClass.INSULATION_ALTERNATING: "An alternating voltage between winding and earth: "
    "the losses tell of voids and moisture in the insulation.",
}
"""What a kind of measurement does, for somebody who never heard of it."""

CAUSES_HOW = (
    "Other things than a damaged cage can make the same signs. Each has a weight: how likely it "
    "is, given everything that was measured."
)
NEXT_HEADS = ("What to measure", "Why", "What it brings")
NEXT_NONE = "Nothing more is asked for."
COST_HOW = (
    "What each action costs if the rotor is sound, and if it is damaged. The last column weighs "
    "the two by how likely they are."
)

TREND_ALT = "Open bars of every visit with 95 % interval, and the load of each visit below."
TREND_CAPTION = (
    "Dots: readings with their 95 % interval. Triangles: \u201cno more than\u201d. Grey band: the "
    "level that all visits together give, 95 %. Crosses: visits that were not compared. Dotted "
    "lines: what happened. Below: the load at each visit, which moves the readings."
)
TREND_LABELS: Mapping[str, str] = {
    "bars": "open bars",
    "load": "load, %",
    "level": "level, with its 95 % band",
    "used": "reading",
    "limit_only": "no more than",
    "aside": "not compared",
    "limit": "{bars} open bars",
}

STORY_HEADS = ("Day", "What", "")
REPAIR_HEADS = ("Reading", "Before", "After", "Repair", "Because")
REPAIR_TITLE = "Repair of {day} ({kind}): {acceptance}"
REPAIR_TITLE_OPEN = "Repair of {day} ({kind})"
REPAIR_UNMEASURED = "Nothing was measured after it yet."
OWED_TITLE = "Still owed"
AUTHOR = "[{author}]"

PART_HEADS = ("Test", "Measured", "Limit", "What it says")
RECORD_TITLE = "Recording {source}"
RECORD_LEADS = "Recording {source} (the one that tells most)"
START_TITLE = "Start in {source}"
SHEET_TITLE = "Test sheet {source}"
QUALITY = "{severity}: {text}"
RECORD_STOPPED = "It was not read to the end: {reason}."
ASIDE = "{source}, of an earlier occasion: not compared, {reason}."
SHEET_FACTS = ("Measured on", "Tests", "Compared with")
SHEET_FIRST = "no earlier sheet of this motor"
SAFETY_HOW = (
    "What has to be minded in the measurements that were made or are asked for. Local rules and "
    "the judgement of licensed persons come first."
)
