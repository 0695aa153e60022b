"""Words of the repair specification."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.decision.shop_checks import Hold, Stage, Subject
from cagewise.decision.verdict import State
from cagewise.indicators.reading import IndependenceClass

TITLE = "Repair specification"
FOOT = "{tag} · repair specification of {day} · cagewise {version}"
KEYWORDS = ("repair specification", "squirrel-cage induction motor")

FIRST_TITLE = "Read this before the motor is touched"
FIRST: tuple[str, ...] = (
    (
        "Do nothing to this motor that cannot be undone before parts 3 and 4 are finished: no "
        "cleaning, no heating, no washing, no burning out, no cutting. Afterwards nobody can "
        "tell what "
        "was wrong with it."
    ),
    (
        "What you find counts, not what we expect. If a check shows nothing, write that down and "
        "send "
        "it: a part that is sound must not be replaced because of this paper."
    ),
    "Checks marked ◆ settle what the motor was sent for. The others are made because it is open.",
    (
        "Fill in the return sheet at the end, by hand or in the file that came with it, and send "
        "it "
        "with the photographs."
    ),
)

QUESTION_MOTOR = "Which motor"
QUESTION_WHY = "Why it is sent"
QUESTION_DO = "What comes first"
QUESTION_BACK = "What comes back"
DO: Mapping[Subject, str] = MappingProxyType(
    {
        Subject.CAGE: "Single-phase rotation test as received; then growler test and bar map.",
        Subject.WINDING: "Resistance of all three pairs as received; then find and photograph the "
        "fault before stripping.",
        Subject.INSULATION: "Insulation resistance as received, before drying or cleaning.",
        Subject.BEARINGS: "Run-out, end float and vibration as received; keep the bearings.",
    }
)
BACK = "Return sheet, bar map, photographs, waveforms; all parts taken out stay until released."
BACK_OTHER = "Return sheet, photographs, waveforms; all parts taken out stay until released."

MOTOR_TITLE = "1  The motor"
MOTOR_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "tag": "Tag",
        "description": "Drives",
        "power": "Rated power",
        "voltage": "Rated voltage, connection",
        "current": "Rated current",
        "speed": "Rated speed, poles, frequency",
        "starting": "Started",
        "thermal_class": "Thermal class",
        "cage": "Rotor",
        "slots": "Stator",
        "winding": "Stator winding",
        "bearings": "Bearings",
        "case": "Case",
    }
)
SPEED = "{speed} r/min, {poles} poles, {frequency} Hz"
CAGE_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "rotor_bars": "{value} bars",
        "rotor_slots": "{value} slots",
        "construction": "{value} cage",
    }
)
SLOT_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "stator_slots": "{value} slots",
        "coil_span_slots": "coil span {value} slots",
    }
)
WINDING_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "construction": "{value}-wound",
        "insulation": "{value} insulation",
        "built_year": "of {value}",
    }
)
VALUE: Mapping[str, str] = MappingProxyType(
    {
        each: each
        for each in (
            "open", "closed", "fabricated", "cast", "form", "random", "thermosetting",
            "thermoplastic", "wye", "delta", "direct", "soft starter", "converter",
        )
    }
)  # fmt: skip
"""Words of motor files."""
BEARINGS_UNKNOWN = "not known: write it into the return sheet"
UNKNOWN = "not known: count it and write it into the return sheet"
REST_UNKNOWN = "the rest is not known: see the return sheet"
NOT_STATED = "not stated"

WHY_TITLE = "2  Why it is sent"
SENT: Mapping[Subject, str] = MappingProxyType(
    {
        Subject.CAGE: "The rotor cage: open or cracked bars, joints or rings.",
        Subject.WINDING: "The stator winding: turns, joints or phases that are not alike.",
        Subject.INSULATION: "The insulation of the stator winding.",
        Subject.BEARINGS: "The bearings, their seats and the shaft.",
    }
)
STATE: Mapping[State, str] = MappingProxyType(
    {
        State.SOUND: "sound",
        State.SUSPECT: "suspect",
        State.DEFECTIVE: "defective",
        State.NOT_DECIDABLE: "not decidable",
    }
)
PART_STATE = "{part}: {state}"
PART_NAME: Mapping[str, str] = MappingProxyType(
    {
        "rotor cage": "Rotor cage",
        "stator winding": "Stator winding",
        "stator insulation": "Stator insulation",
    }
)
EXAMINED = "Measured on the motor in service on {day}."
NOT_EXAMINED = (
    "Nothing was measured in service that this motor is sent for. The checks below are the first."
)
BARS = (
    "The readings together are those of about {bars} fully open bars side by side (95 % interval "
    "{low} to {high}). A cracked bar or a bad joint counts as part of a bar, so more bars may be "
    "touched than that."
)
BARS_AT_MOST = "No more than {bars} open bars side by side were left possible (95 %)."
PROBABILITY = "Probability of a cage defect: {percent} %."
LOCATION = (
    "The measurement counts bars; it cannot say which. Where they are is for you to find: growler "
    "and penetrant, bar by bar."
)
NOT_EXCLUDED = "Not excluded by the measurement, so look for it as well"
REMARK = "{what} {remedy}"

HOLD_TITLE = "Hold points: not without the customer's written word"
HOLD: Mapping[Hold, str] = MappingProxyType(
    {
        Hold.RUN: "Do not start the motor direct on line: not on arrival, not after the repair "
        "before part 6 has been passed up to the no-load run.",
        Hold.DISMANTLE: "Do not dismantle before the results of part 3 have been sent.",
        Hold.CLEAN: "Do not clean, wash, dry, heat, blast or cut before the results of part 4 have "
        "been sent and answered.",
        Hold.STRIP: "Do not burn out or strip the winding before core loss and winding data have "
        "been sent. The core never above {burn_out} °C in the oven; write its temperature down.",
        Hold.DESIGN: "Change nothing of the design: no other material, number or shape of bars, no "
        "other turns, span or connection, no machining of rotor or stator bore.",
        Hold.OVERVOLTAGE: "No overvoltage or surge test, on arrival or afterwards, whose voltage "
        "is not agreed in writing.",
        Hold.ASSEMBLE: "Do not assemble before fits, balance and joints have been sent.",
        Hold.SHIP: "Do not ship before the results of part 6 have been accepted.",
        Hold.SCRAP: "Scrap nothing: bars, rings, coils and bearings that come out are marked and "
        "kept until they are released.",
    }
)

STAGE: Mapping[Stage, str] = MappingProxyType(
    {
        Stage.ARRIVAL: "3  As received, before dismantling",
        Stage.OPENED: "4  Dismantled, before cleaning or heating",
        Stage.REPAIRED: "6  After the repair, before it leaves",
    }
)
STAGE_NOTE: Mapping[Stage, str] = MappingProxyType(
    {
        Stage.ARRIVAL: "In this order. A winding that does not pass resistance and insulation is "
        "not connected to anything: say so and go on with part 4.",
        Stage.OPENED: "In this order. Everything with its photograph.",
        Stage.REPAIRED: "In this order; the next only after the one before has passed.",
    }
)
HEADS = ("No.", "Check", "How", "Good if", "Standard (status)")
NUMBER = "{part}.{number}"
PART: Mapping[Stage, str] = MappingProxyType(
    {Stage.ARRIVAL: "3", Stage.OPENED: "4", Stage.REPAIRED: "6"}
)
VOLTAGES = "Voltages of surge and overvoltage tests, by standard"
VOLTAGES_NOTE = (
    "The form is stated because published ones differ. None is recommended over another: agree one "
    "in writing first."
)
VOLTAGE_HEADS = ("Test", "Voltage", "Form", "Standard (status)")
VOLTS = "{low} V {kind}"
VOLTS_SPAN = "{low} to {high} V {kind}"

REPAIR_TITLE = "5  The repair"
REPAIR: Mapping[Subject, tuple[str, ...]] = MappingProxyType(
    {
        Subject.CAGE: (
            (
                "Send findings and a proposal first: which bars, which joints, how they are "
                "made. A "
                "bar beside an open one has carried its current: propose what to do with it too."
            ),
            (
                "Bars and rings of the same alloy and section; keep a piece of each and send its "
                "conductivity. Same number of bars, same shape, same skew."
            ),
            (
                "Joints brazed or welded all through, each the same way; the rotor cools slowly "
                "and "
                "even. No bar may be loose in its slot."
            ),
            (
                "Air gap and surface of the rotor stay as they are: turning the surface smears "
                "laminations together."
            ),
        ),
        Subject.WINDING: (
            (
                "Rewind like for like: slots, span, turns, section, parallel circuits, connection; "
                "thermal class not lower. Any proposal to change one comes first."
            ),
            (
                "New slot insulation and phase separators throughout; connections brazed; "
                "impregnation "
                "to the process of the shop, with its record."
            ),
        ),
        Subject.INSULATION: (
            (
                "Clean and dry only after part 4 has been answered. Send the insulation resistance "
                "before, during and after drying."
            ),
            "If it does not recover, stop: rewinding is another order.",
        ),
        Subject.BEARINGS: (
            (
                "New bearings of the same designation and clearance unless agreed; seats "
                "restored to "
                "the tolerance of the bearing maker, not by adhesive alone."
            ),
            (
                "Where current has passed the bearing, propose insulation and earthing with the "
                "repair."
            ),
        ),
    }
)

SITE_TITLE = "7  Back in the plant: what we measure"
SITE = (
    "Our own record decides whether the repair is accepted: the next start that happens anyway, "
    "and at least {seconds} s running at {load} % load or more, within {days} days."
)
SITE_ACCEPTED = (
    "Accepted if no reading leaves more than {bars} open bars possible. Not accepted if all of the "
    "interval lies above."
)
SITE_CLASSES = "Measured: {classes}."
SITE_CLASS: Mapping[IndependenceClass, str] = MappingProxyType(
    {
        IndependenceClass.RUNNING_FUNDAMENTAL: "a record of the running motor",
        IndependenceClass.START: "a record of a start",
        IndependenceClass.STANDSTILL_PATTERN: "impedance against rotor position, at rest",
        IndependenceClass.WINDING_RESISTANCE: "winding resistance",
        IndependenceClass.WINDING_TURNS: "turn comparison",
        IndependenceClass.INSULATION_DIRECT: "insulation resistance",
    }
)
"""What is measured after repairs."""
SITE_HEADS = (
    "Load",
    "Slip",
    "Lower side line, sound cage",
    "Lower side line, one open bar",
    "Smallest damage that shows",
)
SITE_CAPTION = "Readings of this motor, by its own cage model; levels below the supply line"
LEVEL = "{value} dB ({low} to {high})"
BELOW_LEVEL = "below {high} dB"
BARS_SHOWN = "{bars} open bars"
SITE_NOTE = (
    "The number of rotor bars narrows every number above. It is asked on the return sheet because "
    "it cannot be counted any more once the motor is closed."
)
SITE_VIBRATION = (
    "Vibration in service on its own foundation: {rigid} mm/s rms rigid, {flexible} mm/s rms "
    "flexible, zone boundary A/B of ISO 20816-3 (from memory)."
)

CAUTIONS_TITLE = "8  Cautions"
CAUTIONS_BOX = "What can hurt somebody, or the motor"
SHOP_CAUTIONS: tuple[str, ...] = (
    (
        "Single-phase test: the winding is live and can jerk the rotor. Clear the shaft, cover the "
        "terminals, never hold the shaft by a key or a coupling bolt."
    ),
    "Nothing cools a rotor at rest: growler and single-phase test in short turns.",
    "A rotor on a growler is pulled into it: support it against rolling.",
)

MAP_TITLE = "Bar map"
MAP_NOTE = (
    "Bar 1 is in line with the keyway; count clockwise, seen from the drive end. Mark every bar: "
    "/ weaker than its neighbours, X open, C crack seen, J joint bad. Add D (drive end), S (in the "
    "slot) or O (other end)."
)
MAP_UNKNOWN = "The number of bars is not known: strike out what is too many."
MAP_BARS = "Bars"
MAP_RANGE = "{first} to {last}"
NO_BAR = "-"
MAP_HEAD = "…{digit}"

RETURN_TITLE = "9  Return sheet"
RETURN_NOTE = (
    "A blank that stays empty means not measured. Where words are given, underline one. The "
    "same sheet came as a file (.xlsx, .csv or "
    ".toml): filled in there, it goes straight into our records."
)
BARS_FOUND = "Damaged bars"
BARS_HEADS = ("Bar", "Open or cracked", "Drive end, slot or other end", "Photograph")

STATUS_TITLE = "How limits were had"
STATUS: tuple[str, ...] = (
    "checked: read in the text that is named.",
    "secondary: read in another text that says so of the standard. Look it up before a dispute.",
    "from memory: not looked up. Look it up before a dispute.",
    "common practice, no source; our judgement: what the words say.",
)
SIGNATURES = ("Customer", "Repair shop: received", "Repair shop: tests passed")
