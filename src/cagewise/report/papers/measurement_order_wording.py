"""Words of the measurement order: one page that is carried to the motor."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

TITLE = "Measurement order"
FOOT = "{tag} · measurement order of {day} · cagewise {version}"
KEYWORDS = ("measurement order", "squirrel-cage induction motor")

CAUTIONS_TITLE = "First of all"
LIVE = "Live: {cautions}"
AT_REST = "At rest: {cautions}"
ALWAYS = "{cautions} The plan has all cautions in full."
CAUTION: Mapping[str, str] = MappingProxyType(
    {
        "approach": "qualified persons, arc-flash rules, distance kept;",
        "current_transformer": "never open a current-transformer secondary;",
        "voltage_leads": "leads of category III or IV with fused probes;",
        "no_start_for_a_record": "no start is made for a record;",
        "clear_of_the_drive": "connect while it is off; stand clear when it starts;",
        "lock_out": "switch off, lock, tag, prove dead, earth;",
        "stored_current": "never open the leads while current flows in the winding;",
        "disconnect": "disconnect converter, capacitors, arresters, relays;",
        "barrier": "bar the way to motor and cable ends;",
        "breakdown": "overvoltage and surge only with the owner's consent;",
        "stop_at_a_knee": "step voltage: stop where the current jumps;",
        "discharge": "afterwards earth {factor} times as long as under voltage;",
        "earth_after": "earth the winding before touching it;",
        "turning": "uncouple, or prove that the load cannot turn;",
        "no_hands_while_live": "turn with the test voltage off;",
        "heating_at_rest": "nothing cools a rotor at rest: small current, short;",
        "local_rules": "Local rules and licensed persons come before this sheet.",
    }
)
"""What hurts, in few words: by the identifier of the caution that has it in full."""

CONNECT = "Where to connect: all channels together, at the motor's own feeder"
CONNECT_HEADS = ("Quantity", "Where", "Range", "Channel, ratio")
CURRENT = "Current {number}"
CURRENTS_AT: tuple[str, ...] = (
    "Line 1 (L1, U, T1): clamp, arrow to the motor; or relay secondary",
    "Line 2 (L2, V, T2): the same",
    "Line 3 (L3, W, T3): the same",
)
CURRENTS_RANGE = "{running} A peak"
VOLTAGE = "Voltage {number}"
VOLTAGE_NUMBERS = ("1-2", "2-3")
VOLTAGES_AT: tuple[str, ...] = (
    "Line 1 to line 2: at the motor, or at the switchgear",
    "Line 2 to line 3: the same; above 1 kV by voltage transformer",
)
VOLTAGES_AT_CONVERTER: tuple[str, ...] = (
    "Line 1 to line 2: output of the converter, motor side",
    "Line 2 to line 3: the same",
)
VOLTAGES_RANGE = "{peak} V peak"

WHAT = "What to measure"
WHAT_HEADS = ("When", "How", "Done")
RUNNING = "Running"
RUNNING_HOW = (
    "{seconds} s without a break at {good} % load or more (not below {least} %); {rate} Hz, "
    "{bits} bits, anti-alias filter. Shows damage from {bars} open bars on."
)
START = "Next start"
START_HOW = (
    "{seconds} s, begun {before} s before switching on; {rate} Hz, {bits} bits; currents on a "
    "range "
    "of {peak} A peak. Only a start that happens anyway."
)
START_REFUSED = "No record: {reason}."
STANDSTILL = "At rest: position test"
STANDSTILL_HOW = (
    "After the winding has passed; demagnetise the rotor. R and L (or V and I) between 1-2, 2-3, "
    "3-1, third terminal open, at {first} and {second} Hz, low voltage, always the same. Turn in "
    "one direction to {count} angles, degrees of the shaft, to within {tolerance}: {angles}; then "
    "{back} again."
)
STANDSTILL_STEPS = "every {step} from 0 to {last}"
RESISTANCE = "At rest: resistance"
RESISTANCE_HOW = "Four-wire, 1-2, 2-3, 3-1, with the temperature of the winding. Before all others."
INSULATION = "At rest: insulation"
LEVELS = "{title}: {levels}."
LEVEL_ONE = "{low} V ({form})"
LEVEL_SPAN = "{low} to {high} V ({form})"
TITLE_KIND = "{title}, {kind}"
LEVEL_OR = " or "
LEVELS_AGREED = "Overvoltages only as agreed in writing."

OBSERVED = "What was seen: fill in on the spot"
OBSERVED_HEADS = ("Observed", "Running", "Start", "At rest")
DAY_AND_TIME = "Day and time"
SPEED = "Speed by strobe or tachometer, r/min"
LOAD = "Load (flow, damper, power), steady?"
SUPPLY = "Mains, or converter at which frequency"
TEMPERATURE = "Winding / air temperature, °C"
FILE = "File or sheet; instrument"
WHO = "Who measured"
NONE = "-"

WORTHLESS = "What makes the record worthless"
WORTHLESS_ITEMS: tuple[str, ...] = (
    "Channels not sampled together, a clamp turned round or on the wrong line, no voltages.",
    "A current that clips, or a range so wide that it shows only a few steps.",
    "Load below {least} %, a load that jumps or hunts, a record cut into pieces.",
    "Start: switching on not in the record. At rest: first position not repeated at the end.",
)
