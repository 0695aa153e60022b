"""Sentences of the plan for the start and the standstill.

Those for the running record stand in :mod:`cagewise.report.plan_running_wording`, the rules for all
sentences in :mod:`cagewise.report.wording`.
"""

from __future__ import annotations

from collections.abc import Mapping

from cagewise.decision.start_plan import Readable
from cagewise.decision.starting_duty import Proviso
from cagewise.measurement.cautions import TestKind

IN_SHORT = {
    "running": "Running",
    "start": "Next start",
    "standstill": "Next stop",
    "winding": "Same stop",
}
SHORT_RUNNING = "{seconds} s at {load} % load, {rate} Hz: shows {bars} open bars"
SHORT_START = "{seconds} s, {rate} Hz, {peak} A peak; only a start that happens anyway"
SHORT_START_REFUSED = "not read: it is no direct start"
SHORT_STANDSTILL = "{positions} positions, 3 pairs, {first} and {second} Hz: shows {bars} open bars"
SHORT_WINDING = "{tests}; test voltages below"
SHORT_NOTE = (
    "Open bars: the smallest damage that will show; in brackets the end of the 95 % interval."
)

RUNNING_TITLE = "Running: what to record"

START_TITLE = "The next start: what to record, and how often the motor may be started"
START_FACTS = {
    "channels": "Channels",
    "rate": "Sampling",
    "range": "Current range",
    "length": "Length",
    "readable": "Long enough",
    "succession": "Starts allowed",
    "per_hour": "Per hour",
    "rest": "Between starts",
    "stall": "Locked rotor",
    "margin": "Stall margin",
}
START_CHANNELS = "as for the running record: three currents and two voltages together"
START_RATE = "{rate} Hz or more, {bits} bits or more"
START_RANGE = "{peak} A peak, a second range: the start draws six to seven times the rated current"
START_LENGTH = (
    "{record} s: {before} s before switching on, a start of {start} s (95 %, {source}), "
    "{after} s of running after it"
)
START_LENGTH_UNKNOWN = (
    "{record} s, of them {before} s before switching on. How long the start takes is not known: "
    "{reason}"
)
READABLE: Mapping[Readable, str] = {
    Readable.YES: "yes: a start of {least} s or more can be read",
    Readable.NO: "no: shorter than the {least} s that a reading needs",
    Readable.PERHAPS: "perhaps: {least} s are needed, and the expected time may be less",
    Readable.NOT_KNOWN: "not known: {least} s are needed",
}
SUCCESSION = "{cold} from ambient temperature or {hot} from rated temperature ({source})"
PROVIDED = "; provided that {provisos}"
PROVISO: Mapping[Proviso, str] = {
    Proviso.BUILT_TO_STANDARD: "the motor is built to one of them (no design letter in the file)",
    Proviso.LOAD_INERTIA: "the load's inertia is at most {inertia} at the motor shaft",
    Proviso.LOAD_TORQUE: "the load's torque rises with the square of the speed",
    Proviso.VOLTAGE: "the voltage stays within 10 % of rated",
}
PER_HOUR = "{starts} at most with this load ({source})"
REST = "{seconds} s at least ({source})"
STALL = "{seconds} s from operating temperature ({source})"
STALL_COLD = "{seconds} s from operating temperature, {cold} s from ambient ({source})"
MARGIN = "the permissible locked-rotor time is {margin} times the time to speed"
MARGIN_LOW = "{margin}. Below 1 is a question to the maker: the start may be longer than allowed"
NOT_KNOWN = "not known: {reason}"
START_REFUSED = "There is nothing to record: {reason}."
DUTY_REFUSED = "How often the motor may be started is not known here: {reason}."
NO_START = (
    "Do not start the motor to get a record, however many starts are allowed. Connect the "
    "recorder and wait for the next start that happens anyway."
)
NO_START_ON_DOUBT = (
    "If the cage is suspect or defective, every direct start loads it hardest: start as seldom as "
    "possible."
)
COOLING = (
    "Running at load cools the motor; standing cools it more slowly, as its fan stands too. The "
    "time to wait after the last allowed start stands on the data sheet."
)
SOURCES: Mapping[str, str] = {
    "measured": "measured",
    "run-up of the estimated circuit": "computed from the motor file",
}

STANDSTILL_TITLE = "The next stop: impedance against rotor position"
STANDSTILL_FACTS = {
    "positions": "Positions",
    "angle": "Angle",
    "pairs": "Terminals",
    "frequency": "Test voltage",
    "readings": "Readings",
    "shows": "Shows",
}
POSITIONS = "{count} per pole pair over {spans}: {total}, then {back} again"
SPAN_ONE, SPAN_MANY = "one pole pair", "{n} pole pairs"
BACK = "the first at {angle} degrees"
ANGLE = (
    "{step} degrees of the shaft from one to the next; better than {good} gains nothing, worse "
    "than {worst} loses damage"
)
PAIRS = "{pairs}, all three at every position, the open terminal left open"
FREQUENCY = "{first} Hz and {second} Hz, the same low level throughout; demagnetise the rotor first"
READINGS = "{readings} in all; write down R and L of each, and the temperature of the winding"
SHOWS = (
    "{bars} open bars; the scatter of the readings alone would hide {noise}, what sound rotors may "
    "show by themselves the rest"
)
STANDSTILL_NOTE = (
    "Assumed: a reading repeats within {repeatability} % and a sound rotor varies by up to "
    "{anisotropy} % (our judgement). The last reading must repeat the first within the same."
)
STATOR_FIRST = (
    "Prove the stator first, by winding resistance and insulation tests: a stator fault spoils "
    "this test."
)
SUPPLY_VOLTAGE = (
    "With a single-phase supply instead of a bridge, 10 % and 25 % of rated voltage are quoted by "
    "two authors (secondary): keep the current below rated."
)
ANGLES_HEAD = "{title}:"
ANGLES_TITLE = "Shaft angles in degrees from a mark, in one direction"
SAFE = "As good, per pole pair: {counts}."
AVOID = "Never use these: they turn the slot ripple of a sound rotor into a defect. {counts}."
AVOID_ORDER = "Order {order}: {counts}"
AVOID_UNKNOWN = (
    "Use no other number: which ones invent a defect depends on the number of rotor bars, and "
    "that is not known."
)

WINDING_TITLE = "The same stop: winding and insulation, test voltages by standard"
RESISTANCE = (
    "Winding resistance: four-wire, all three pairs of terminals, the temperature of the winding "
    "beside it. It comes before all others."
)
DISSIPATION = (
    "Dissipation factor and capacitance: in steps of a fifth of rated voltage up to the rated "
    "phase-to-earth voltage (our choice; no standard is quoted here)."
)
LEVEL = "{title}: {levels}. {source}."
LEVEL_FORM = "{volts} V {kind} ({form})"
LEVEL_SOURCE = "{source}, {status}"
LEVEL_OR = ", or "
LEVELS_NOTE = (
    "No level is recommended over another. The maker, the owner and local rules choose; E is the "
    "rated line-to-line voltage"
)

CAUTIONS_TITLE = "Cautions"
CAUTION_HEAD = "{title}:"
CAUTION_SOURCES = "Sources: {sources}."
CAUTION_FOR: Mapping[TestKind, str] = {
    TestKind.OFF_LINE: "any test at rest",
    TestKind.RESISTANCE: "winding resistance",
    TestKind.INSULATION: "insulation resistance",
    TestKind.STEP_VOLTAGE: "step voltage",
    TestKind.TURN: "turn insulation",
    TestKind.DISSIPATION: "dissipation factor",
    TestKind.POSITION: "rotor position",
    TestKind.RUNNING_RECORD: "running record",
    TestKind.START_RECORD: "start record",
}
CAUTION_AT_REST = "All tests of the motor at rest"
CAUTION_LIVE = "All records of the live motor"
CAUTION_ALL = "Always"
