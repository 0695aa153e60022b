"""Every sentence of the product, in one place. Templates are filled by ``report.sentences``.

Rules: short sentences, plain words; a number always with its unit; never a certainty that the
numbers do not carry; no dB band, no severity level. Terms are those of ISO 20958, ISO 13372 and
IEC TS 60034-24 where they exist.
"""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.conditioning.findings import Severity
from cagewise.decision.recommendation import NextMeasurement
from cagewise.decision.verdict import State, StateGround
from cagewise.evidence.findings import BlindSpot, Ground, Hypothesis, PoolGround, Support

PART = "Rotor cage"
PART_AND_STATE = "{part}: {state}"
POLES = "{poles} poles"
RECORD_LINE = "{source}: {state}. {verdict}"

STATE: Mapping[State, str] = {
    State.SOUND: "sound",
    State.SUSPECT: "suspect",
    State.DEFECTIVE: "defective",
    State.NOT_DECIDABLE: "not decidable",
}

OPEN_BARS_ONLY = "{state} (open bars only)"

VERDICT: Mapping[StateGround, str] = {
    StateGround.BOUNDED: "No cage defect was found: no more than {bound} open bars, 95 %.",
    StateGround.BOUNDED_ADJACENT: "No cage defect was found: no more than {bound} adjacent open "
    "bars, 95 %. Bars 90 electrical degrees apart would not have shown.",
    StateGround.BOUNDED_PARTED: "No open bar was found: no more than {bound} adjacent ones, 95 %. "
    "A cracked bar that still carries current would not have shown.",
    StateGround.BOUNDED_LEAST: "No open bar was found: no more than {bound} adjacent ones, 95 %. "
    "Neither a cracked bar nor bars 90 electrical degrees apart would have shown.",
    StateGround.SHAPE_EXPLAINS: "The side lines are those of {hidden}. Such damage would show at "
    "the 5th and 7th harmonic, and it does not. A sound rotor with axial ducts, arms or flats, as "
    "many as poles, looks exactly like this.",
    StateGround.SUPPLY_NOT_EXCLUDED: "The side lines are those of {hidden}, but nothing confirms "
    "it. Without voltages a modulated supply cannot be told from the cage.",
    StateGround.PAIR_NOT_EXCLUDED: "The side lines leave room for no more than {bound} adjacent "
    "open bars, but more stands at the 5th and 7th harmonic. Broken bars 90 electrical degrees "
    "apart look like this.",
    StateGround.ENOUGH_AGREE: "The cage is damaged{damage}.",
    StateGround.TOO_FEW_AGREE: "There is a sign of damage{damage}, but nothing independent "
    "confirms it.",
    StateGround.TOO_WEAK: "There is a sign of damage{damage}, but what confirms it is weak.",
    StateGround.SHAPE_NOT_EXCLUDED: "Two classes speak for damage{damage}, but a sound rotor with "
    "axial ducts or flats, as many as poles, would move both.",
    StateGround.CLASSES_DISAGREE: "The readings contradict each other: one class speaks for a "
    "cage defect, another against it.",
    StateGround.MASKED_PAIR: "The side lines of the supply frequency speak against damage, what "
    "does not rest on them speaks for it. Broken bars 90 electrical degrees apart look like this.",
    StateGround.RECORDS_CONFLICT: "The recordings of this visit contradict each other; they were "
    "not averaged.",
    StateGround.NOT_BOUNDED: "Nothing speaks for a cage defect, but {records} could hide {hidden}.",
    StateGround.NOTHING_READ: "The cage cannot be judged on {records}: {stopped}.",
}
RECORDS_ONE, RECORDS_MANY = "this recording", "these recordings"
MEASUREMENTS = "these measurements"
DAMAGE = ", equivalent to {value} open bars ({low} to {high}, 95 %)"
HIDDEN_BARS = "up to {bound} open bars"
HIDDEN_ANY = "a broken bar"

COUNT_FOR = "{methods} of 6 methods and {classes} of {asked} independent classes speak for damage."
SHORTFALL = "What would do instead: {needs}."
SHORTFALL_LOAD = "{wanted} % load (it was {was} %)"
SHORTFALL_LOAD_UNKNOWN = "{wanted} % load (what it was is not known)"
SHORTFALL_LENGTH = "{wanted} s of steady load (it was {was} s)"
SHORTFALL_RATE = "{wanted} samples per second (it was {was})"
SHORTFALL_OTHER: Mapping[NextMeasurement, str] = {
    NextMeasurement.SPEED: "the shaft speed, measured beside it (--speed)",
    NextMeasurement.SECOND_LOAD: "a record at a clearly different load",
}
EXPLAINED_BY_LOAD = (
    "Lines stand at the pole-pass frequency, but a load that swings makes them, not the cage."
)
EXPLAINED_BY_SUPPLY = (
    "Lines stand at the pole-pass frequency, but the supply voltage brings them, not the cage."
)
NOT_MEASURED = "Not measured: {methods}."
COUNT_NONE = "None of the methods that could be used speaks for damage."
COUNT_UNUSABLE = "No method could be used."

BY_DATES = "between {earliest} and {latest}"
BY_DATE = "by {latest}"
BY_DAYS = "{earliest} to {latest} days after the recording"
BY_DAYS_AT_MOST = "within {latest} days of the recording"

SUPPORT: Mapping[Support, str] = {
    Support.FOR: "for",
    Support.AGAINST: "against",
    Support.CANNOT_TELL: "cannot tell",
}

HYPOTHESIS: Mapping[Hypothesis, str] = {
    Hypothesis.CAGE_DEFECT: "cage defect",
    Hypothesis.LOAD_OSCILLATION: "load that swings at the pole-pass frequency",
    Hypothesis.SUPPLY_MODULATION: "supply voltage that is modulated",
    Hypothesis.WINDING_DEFECT: "winding defect",
    Hypothesis.INSULATION_DEFECT: "insulation defect",
}

GROUND: Mapping[Ground, str] = {
    Ground.NOT_READ: "not read: {note}",
    Ground.NOT_IN_BARS: "not a measure of damage by itself",
    Ground.DAMAGE_ESTABLISHED: "at least {low_bars} open bars",
    Ground.NO_MORE_THAN: "no more than {bound_bars} open bars",
    Ground.BLIND_BELOW: "nothing found, but {bound_bars} open bars could hide",
    Ground.STRADDLES: "anything from {low_bars} to {high_bars} open bars",
    Ground.PATTERN_MAY_HIDE: "as weak as of {high_bars} open bars; bars that cancel here show less",
    Ground.LINE_FOUND: "cage lines stand; how many bars they mean is not known",
    Ground.EXPLAINED_BY_SPEED: "high, but the direct component says: speed, not cage",
    Ground.CAN_BE_CANCELLED: "low, but speed ripple can cancel this reading",
    Ground.SPEED_NOT_EXCLUDED: "high, but speed ripple alone may make it",
    Ground.SHAPE_OF_ROTOR: "at least {low_bars} open bars, but the 5th and 7th do not show them: "
    "the shape of a sound rotor?",
    Ground.SUPPLY_NOT_EXCLUDED: "at least {low_bars} open bars, or the supply: no voltages were "
    "recorded",
    Ground.MORE_THAN_SIDE_LINES: "at least {low_bars} open bars, more than the side lines leave "
    "room for",
    Ground.OUTRANKED: "low, but a better reading of the same lines leaves room for an open bar",
    Ground.RECORDS_CONFLICT: "recordings contradict each other",
    Ground.NOTHING_TO_EXPLAIN: "no line stands at the pole-pass distance",
    Ground.LINES_WITHOUT_CAGE: "lines stand, and the direct component says the cage does not "
    "make them",
    Ground.CAGE_REMAINS: "damage remains after all speed ripple is removed",
    Ground.REST_REMAINS: "it cannot make all of these lines",
    Ground.NO_SEPARATION: "nothing in this recording parts it from the cage",
    Ground.POWER_ACTIVE: "active over reactive swing of the power is {power_ratio}, as a load "
    "makes it",
    Ground.POWER_REACTIVE: "active over reactive swing of the power is {power_ratio}, less than a "
    "load makes",
    Ground.POWER_BETWEEN: "active over reactive swing of the power is {power_ratio}: in between",
    Ground.SUPPLY_MAKES_THEM: "the supply explains the lines without it",
    Ground.VOLTAGE_CLEAN: "the voltage's part of the lines is only {supply_percent} %",
    Ground.VOLTAGE_EXPLAINS: "the voltage's part of the lines is {supply_percent} %",
    Ground.VOLTAGE_REMOVED: "damage remains after the part of the voltage is removed",
    Ground.VOLTAGE_NOT_MEASURED: "no voltages were recorded",
    Ground.TREND_NOT_THE_CAGE: "not as before, but the side line of the start says: not the cage",
    Ground.WITHIN_LIMIT: "within the limit",
    Ground.BEYOND_LIMIT: "beyond the limit",
    Ground.BEYOND_REFERENCE: "beyond the reference, which sound parts in service may miss; follow "
    "its trend",
    Ground.AT_LIMIT: "the limit lies within the uncertainty",
    Ground.NO_LIMIT: "no standard limits it; compare it with the motor's own past",
    Ground.CHANGE_FOUND: "a sound part does not behave so",
    Ground.NO_CHANGE: "nothing unusual found",
}

NOT_READ_AS_SAID = "not read, for the reason in the verdict"

POOLED: Mapping[PoolGround, str] = {
    PoolGround.ONE_CLASS: "one class can tell",
    PoolGround.CLASSES_AGREE: "classes agree",
    PoolGround.COUNT_DIFFERS: "classes agree, but not on how much",
    PoolGround.CLASSES_DISAGREE: "classes contradict each other: not pooled",
    PoolGround.RECORDS_CONFLICT: "recordings contradict each other: not pooled",
    PoolGround.NOTHING: "no class can tell",
}
POOLED_TITLE = "together"
POOLED_LABEL = "{title}: {said}"
CLASS_VOTE = "{name}: {word}"
POOLED_NOTE = (
    "\u201cTogether\u201d is no sharper than the sharpest class: classes of one recording share "
    "noise, slip and motor model."
)

BLIND_SPOT: Mapping[BlindSpot, tuple[str, str]] = {
    BlindSpot.MASKED_PAIR: (
        "Broken bars 90 electrical degrees apart: their side lines cancel.",
        "cage lines at the 5th and 7th harmonic, or the position test with the coil span known",
    ),
    BlindSpot.SYMMETRIC_DAMAGE: (
        "Damage alike in all bars (porosity, aged joints): it makes no line.",
        "the trend of the average inductance, slip at known power",
    ),
    BlindSpot.OUTER_CAGE: (
        "The outer cage of a double-cage or deep-bar rotor: it carries little current at speed.",
        "a start-up record",
    ),
    BlindSpot.CRACKED_BAR: (
        (
            "A crack that does not part a bar: at the start and at rest the bar's reactance hides "
            "its resistance; a doubled one reads as less than 0.35 open bars."
        ),
        "a record of the loaded motor",
    ),
    BlindSpot.INTER_BAR_CURRENT: (
        "Current that passes a break through the iron: it makes damage look smaller.",
        "a start-up record, cold against hot",
    ),
    BlindSpot.ANISOTROPIC_ROTOR: (
        (
            "A rotor with axial ducts, spider arms or flats as many as poles: the same lines, no "
            "damage."
        ),
        "a record at a second load, or a start-up record",
    ),
    BlindSpot.RING_OR_BARS: (
        "A cut end ring instead of broken bars: current alone cannot tell them apart.",
        "inspection",
    ),
    BlindSpot.LOAD_OSCILLATION: (
        "A load that swings at the pole-pass frequency.",
        "voltages recorded with the currents, or a second load or speed",
    ),
    BlindSpot.SUPPLY_MODULATION: (
        "A supply voltage that is modulated at the pole-pass frequency.",
        "voltages recorded with the currents",
    ),
}

NEXT: Mapping[NextMeasurement, tuple[str, str]] = {
    NextMeasurement.RUNNING_RECORD: (
        'Record the motor running under load; "cagewise plan" says how.',
        "Two more independent classes, and no stop is needed.",
    ),
    NextMeasurement.VOLTAGES: (
        "Record two line voltages together with the currents, sample by sample.",
        "Only then can load and supply be parted from the cage.",
    ),
    NextMeasurement.CURRENTS: (
        "Record three line currents, or at least two.",
        "One current folds the two directions of rotation onto each other.",
    ),
    NextMeasurement.HIGHER_LOAD: (
        "Record at {load_percent} % load or more.",
        (
            "The cage carries current in proportion to load; at light load damage hides beside the "
            "supply line."
        ),
    ),
    NextMeasurement.LONGER_RECORD: (
        "Record at least {seconds_s} s at steady load.",
        "The side lines stand too close to the supply line for a shorter record.",
    ),
    NextMeasurement.HIGHER_RATE: (
        "Sample at {rate_hz} Hz or faster, with an anti-alias filter.",
        "Cage lines at the 5th and 7th harmonic are a second, independent class.",
    ),
    NextMeasurement.SPEED: (
        "Measure the shaft speed while recording (strobe, tachometer) and give it with --speed.",
        "The place of every cage line follows from the slip, and this recording does not show it.",
    ),
    NextMeasurement.SECOND_LOAD: (
        "Record again at a clearly different load.",
        "Bars follow the rotor current, rotor ducts and flats follow the flux.",
    ),
    NextMeasurement.START_UP: (
        "Record the next start that happens anyway: currents and voltages, the whole run-up.",
        (
            "The rotor current is then about five times higher and the load hardly matters. Do not "
            "start the motor for the test: every start loads the cage and the winding."
        ),
    ),
    NextMeasurement.POSITION_TEST: (
        "At the next stop: inductance against rotor position, before the motor is opened.",
        (
            'It works at standstill, so neither load nor supply can disturb it. "cagewise plan" '
            'prints the positions, "cagewise sheet" a sheet to fill in.'
        ),
    ),
    NextMeasurement.PART_TESTS: (
        "Repeat the tests of winding or insulation that lie beyond a limit or could not be used.",
        "Moisture, leads or a wrong temperature spoil a reading as easily as a defect does.",
    ),
    NextMeasurement.ROTOR_BARS: (
        "Ask the repair shop for the number of rotor bars and write it into the motor file.",
        "Every open-bar number scales with it.",
    ),
    NextMeasurement.ROUTINE: (
        "Repeat what was measured on this visit, at the same load and in the same way.",
        "A slow rise is seen against the motor's own past before it is seen against a limit.",
    ),
}

SECTION = {
    "action": "What to do",
    "forest": "How many open bars would explain each reading?",
    "not_excluded": "Not excluded",
    "operating_point": "How the motor ran",
    "readings": "The readings as measured (dBc: relative to the fundamental current)",
    "motor_file": "Odd in the motor file",
    "quality": "The recording",
    "records": "What was measured on this visit",
    "start": "How the motor started",
    "next": "What to measure next",
    "cautions": "Cautions",
    "figures": "What the current looked like",
    "provenance": "Where this comes from",
}

LEVEL_UNIT = "dBc"
NO_MORE_THAN = "no more than {high} {unit}"
NOTHING_VALID = "no reading was valid"
NOT_KNOWN = "not known ({reason})"
NOT_KNOWN_AS_SAID = "not known, for the reason in the verdict"

SEVERITY: Mapping[Severity, str] = {
    Severity.NOTE: "note",
    Severity.CAUTION: "caution",
    Severity.BLOCKING: "cannot be used",
}

FACT = {
    "operating_point": "Operating point",
    "load": "Load",
    "speed": "Speed",
    "slip": "Slip",
    "pole_pass": "Pole-pass frequency",
    "supply": "Supply",
    "current": "Line current",
    "voltage": "Line voltage",
    "power": "Input power",
    "rotor_bars": "Rotor bars",
    "length": "Length",
    "channels": "Channels",
    "stretch": "Read",
    "roles": "Roles",
    "recording": "Recording",
    "sheet": "Test sheet",
    "earlier": "Compared with",
    "note": "Note",
    "program": "Program",
}
LENGTH = "{seconds} s at {rate} Hz"
CHANNELS = "{currents}, {voltages}"
CURRENTS = ("no current", "1 current", "{n} currents")
VOLTAGES = ("no voltage", "1 voltage", "{n} voltages")
ROLES = "{roles} ({check})"
ROLES_PROVEN = "proven by physics"
ROLES_NAMED = "as named; physics could not prove them"
STRETCH = "second {first} to {last}, steady load"
SUPPLY = "{frequency} Hz, wandering by {wander} mHz rms"
POWER_FACTOR = ", power factor {value}"
BARS_CANDIDATES = "not known; possible: {candidates}"
BARS_UNKNOWN = "not known"
ALSO = "The same for {others}."
QUALITY_GOOD = "Nothing is wrong with this recording."

LEGEND = (
    "{speaks_for} for, {speaks_against} against, {cannot_tell} cannot tell; "
    "{interval} 95 % interval; {hidden} damage this recording would not show; "
    "{guide} one open bar."
)
ALL_OF_CLASS = "all its readings"
AXIS_LABEL = "open bars"
WOULD_TELL = "Would tell: {what}."
WHY = "{why}"

LEGEND_FIGURE = (
    "Filled: for a cage defect. Hollow: against. Cross: cannot tell. Diamond: together. "
    "Line: 95 % interval. Shaded: damage this recording would not show. "
    "The upright line marks one open bar."
)
REASON_HEADS = ("Reading", "Measured", "Cage defect", "Because")
TEST_HEADS = ("Test", "Measured", "Limit", "What it says")
SPECTRUM_LABELS = ("dB of the fundamental", "current", "local noise floor")
TREND_LABELS = ("s from the start of the recording", "line current, A rms")
TREND_TITLE = "Line current during the stretch that was read"

FORMATS_HEADS = ("format", "endings", "write", "holds")
FORMATS_EXTRA = 'needs: pip install "cagewise[{extra}]"'
