"""How often this motor may be started, and why no start is ever asked for "to get a record".

Rules and their sources: ``docs/theory/starting-duty.md``; the arithmetic is in
:mod:`cagewise.machine.starting_duty`, the run-up in :mod:`cagewise.machine.run_up`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.verdict import State
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Nameplate, Starting
from cagewise.machine.run_up import expected_start_s
from cagewise.machine.starting_duty import (
    StartsAllowed,
    external_inertia_limit_kg_m2,
    load_inertia_limit_kg_m2,
    stall_withstand_s,
    starts_allowed,
)
from cagewise.quantities import Estimate, NotKnown

COLD_STARTS, HOT_STARTS = 2, 1
"""Starts in succession from ambient and from rated temperature: NEMA MG 1-12.54 (secondary);
IEC 60034-12 says the same of its normal designs (from memory)."""
NEMA_LETTERS = frozenset("ABCD")
TABLE_LETTERS = frozenset("AB")
"""Designs for which the table of allowed starts is stated."""
IEC_LETTERS = frozenset({"N", "NE"})
"""Normal designs for direct starting; those with Y start in star, H have another load curve."""
LOW_VOLTAGE_V = 1000.0
"""Up to here both standards state starts for catalogue motors; above, the motor is designed for its
load and its data sheet states them."""

SUCCESSION_SOURCE = "NEMA MG 1-12.54, secondary"
SUCCESSION_SOURCE_IEC = "IEC 60034-12, from memory"
TABLE_SOURCE = "NEMA MG 10, Table 2-3"
STALL_SOURCE = "NEMA MG 1-12.49, from memory"
MOTOR_FILE = "motor file"
RUN_UP_SOURCE = "run-up of the estimated circuit"
MEASURED = "measured"
ASK = "ask the maker"


class Proviso(StrEnum):
    """What a number of starts stands on and nobody has checked."""

    BUILT_TO_STANDARD = "built_to_standard"
    """The motor file names no design letter."""
    LOAD_INERTIA = "load_inertia"
    """The load is no heavier than the standard's, and its inertia is not in the motor file."""
    LOAD_TORQUE = "load_torque"
    """The load's torque rises with the square of the speed to no more than rated torque."""
    VOLTAGE = "voltage"
    """Voltage and frequency stay within NEMA MG 1-12.44 while starting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """A number and who says so; the unit is in the name of the field that holds it."""

    value: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Succession:
    """Starts one after the other, coasting to rest in between."""

    from_ambient: int
    """With the motor at ambient temperature."""
    from_rated: int
    """With the motor as warm as running at rated load makes it."""
    provided: tuple[Proviso, ...]
    load_inertia_limit_kg_m2: float | None
    """Load inertia for which this holds; None where no standard states one."""
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingDuty:
    """How often, how soon again, and how long a start may take."""

    succession: Succession | NotKnown
    starts_per_hour: Stated | NotKnown
    rest_s: Stated | NotKnown
    """Least time between two starts."""
    start_s: Estimate | NotKnown
    """Time to speed."""
    start_source: str
    """:data:`MEASURED` or :data:`RUN_UP_SOURCE`."""
    stall_hot_s: Stated | NotKnown
    """Permissible time with locked rotor from operating temperature."""
    stall_cold_s: Stated | NotKnown
    """The same from ambient temperature."""
    stall_margin: Estimate | NotKnown
    """Permissible time with locked rotor (hot) over time to speed. A start heats less than a locked
    rotor for as long, so below 1 is a question to the maker, not yet damage."""


class StartGround(StrEnum):
    """Why a start may not be asked for; each has its sentence in ``report``."""

    NOT_DIRECT = "not_direct"
    """Nothing of the kind can be read on such a start."""
    DUTY_NOT_KNOWN = "duty_not_known"
    """Nobody has said how many starts are allowed."""
    ON_CONDITIONS = "on_conditions"
    """The allowed starts stand on conditions that nobody has checked."""
    NOT_COUNTED = "not_counted"
    """It is not known how many starts were made."""
    USED_UP = "used_up"
    """As many starts were made as are allowed."""
    CAGE_AT_RISK = "cage_at_risk"
    """The cage is suspect, defective or not decidable: a direct start loads it hardest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRequest:
    """Whether a start may be asked for. Recording the next one that happens anyway always may."""

    within_duty: bool
    """Whether one more start would stay within the duty. Never a recommendation to make it."""
    grounds: tuple[StartGround, ...]
    """Everything that forbids it; empty when it is within the duty."""


def starting_duty(motor: Motor, measured_start_s: float | None = None) -> StartingDuty:
    """Return how often this motor may be started.

    Parameters
    ----------
    motor
        Of its file the design or code letter, the inertias and the locked-rotor times decide.
    measured_start_s
        Time to speed of an own start; estimated from circuit and inertia if left out.
    """
    if motor.nameplate.starting is not Starting.DIRECT:
        return _not_direct(motor.nameplate.starting)
    start = _start(motor, measured_start_s)
    hot = _stall(motor.nameplate)
    cold = _from_file(motor.nameplate.locked_rotor_time_cold_s)
    entry = _entry(motor)
    return StartingDuty(
        succession=_succession(motor),
        starts_per_hour=_per_hour(motor, entry),
        rest_s=entry
        if isinstance(entry, NotKnown)
        else Stated(value=entry.rest_s, source=TABLE_SOURCE),
        start_s=start,
        start_source=RUN_UP_SOURCE if measured_start_s is None else MEASURED,
        stall_hot_s=hot,
        stall_cold_s=cold,
        stall_margin=_margin(hot, start),
    )


def may_ask_for_a_start(
    motor: Motor,
    *,
    starts_made: int | None = None,
    warm: bool = True,
    state: State | None = None,
) -> StartRequest:
    """Return whether one more start stays within the duty, for a motor that is at rest.

    Nothing in this program recommends a start to get a record; this says only what forbids one.

    Parameters
    ----------
    motor
        The motor.
    starts_made
        Starts since it last stood at ambient temperature, or ran long enough at load; None: not
        known.
    warm
        Whether it comes from running. If in doubt it does.
    state
        Of the cage, if an examination has judged it.
    """
    grounds = []
    if motor.nameplate.starting is not Starting.DIRECT:
        grounds.append(StartGround.NOT_DIRECT)
    else:
        grounds += _duty_grounds(_succession(motor), starts_made, warm=warm)
    if state is not None and state is not State.SOUND:
        grounds.append(StartGround.CAGE_AT_RISK)
    return StartRequest(within_duty=not grounds, grounds=tuple(grounds))


def _duty_grounds(
    succession: Succession | NotKnown, starts_made: int | None, *, warm: bool
) -> list[StartGround]:
    """Return what the duty has against one more start."""
    if isinstance(succession, NotKnown):
        return [StartGround.DUTY_NOT_KNOWN]
    grounds = []
    if {Proviso.BUILT_TO_STANDARD, Proviso.LOAD_INERTIA} & set(succession.provided):
        grounds.append(StartGround.ON_CONDITIONS)
    allowed = succession.from_rated if warm else succession.from_ambient
    if starts_made is None:
        grounds.append(StartGround.NOT_COUNTED)
    elif starts_made >= allowed:
        grounds.append(StartGround.USED_UP)
    return grounds


def _not_direct(starting: Starting) -> StartingDuty:
    """Return the duty of a motor that something else starts."""
    unknown = NotKnown(f"the {starting.value} limits the starts; ask its maker and the motor's")
    return StartingDuty(
        succession=unknown,
        starts_per_hour=unknown,
        rest_s=unknown,
        start_s=unknown,
        start_source="",
        stall_hot_s=unknown,
        stall_cold_s=unknown,
        stall_margin=unknown,
    )


def _succession(motor: Motor) -> Succession | NotKnown:
    """Return the starts in succession of a catalogue motor, or why it is none."""
    plate = motor.nameplate
    if plate.rated_voltage_v > LOW_VOLTAGE_V:
        return NotKnown(f"a motor above 1 kV is designed for its load: see the data sheet or {ASK}")
    limit, source = _limit(plate)
    if isinstance(limit, NotKnown):
        return NotKnown(f"{limit.reason}; {ASK}")
    provided = [Proviso.LOAD_TORQUE, Proviso.VOLTAGE]
    inertia = motor.drive_train.load_inertia_kg_m2
    if inertia is None:
        provided.insert(0, Proviso.LOAD_INERTIA)
    elif inertia > limit:
        return NotKnown(
            f"the load's inertia of {inertia:.3g} kg m^2 is above the {limit:.3g} kg m^2 that "
            f"{source} is stated for; {ASK}"
        )
    if _letter_family(plate) is None:
        provided.insert(0, Proviso.BUILT_TO_STANDARD)
    return Succession(
        from_ambient=COLD_STARTS,
        from_rated=HOT_STARTS,
        provided=tuple(provided),
        load_inertia_limit_kg_m2=limit,
        source=source,
    )


def _letter_family(plate: Nameplate) -> str | None:
    """Return whose letters are on the nameplate; a code letter is NEMA's."""
    letter = plate.design_letter
    if letter is None:
        return SUCCESSION_SOURCE if plate.code_letter is not None else None
    if letter in NEMA_LETTERS:
        return SUCCESSION_SOURCE
    return SUCCESSION_SOURCE_IEC if letter in IEC_LETTERS else ""


def _limit(plate: Nameplate) -> tuple[float | NotKnown, str]:
    """Return the load inertia of the standard that applies, and that standard.

    Without a letter both may apply, so the lighter load of the two counts.
    """
    family = _letter_family(plate)
    if family == "":
        return NotKnown(f"no starts are stated here for design {plate.design_letter}"), ""
    nema = load_inertia_limit_kg_m2(plate.rated_power_w, plate.poles)
    iec = external_inertia_limit_kg_m2(plate)
    if family == SUCCESSION_SOURCE:
        return nema, family
    if family == SUCCESSION_SOURCE_IEC:
        return iec, family
    known = [limit for limit in (nema, iec) if not isinstance(limit, NotKnown)]
    return min(known, default=nema), f"{SUCCESSION_SOURCE}; {SUCCESSION_SOURCE_IEC}"


def _entry(motor: Motor) -> StartsAllowed | NotKnown:
    """Return the entry in the table of allowed starts, which is for designs A and B."""
    plate = motor.nameplate
    if plate.rated_voltage_v > LOW_VOLTAGE_V:
        return NotKnown(f"the table of allowed starts ends at 1 kV; {ASK}")
    if plate.design_letter is None:
        return NotKnown(
            "the table of allowed starts is for NEMA designs A and B, and the motor file names no "
            f"design letter; {ASK}"
        )
    if plate.design_letter not in TABLE_LETTERS:
        return NotKnown(
            "the table of allowed starts is for NEMA designs A and B, not for design "
            f"{plate.design_letter}; {ASK}"
        )
    entry = starts_allowed(plate.rated_power_w, plate.poles)
    return NotKnown(f"{entry.reason}; {ASK}") if isinstance(entry, NotKnown) else entry


def _per_hour(motor: Motor, entry: StartsAllowed | NotKnown) -> Stated | NotKnown:
    """Return the starts per hour; without the load's inertia there is only an upper end."""
    if isinstance(entry, NotKnown):
        return entry
    inertia = motor.drive_train.load_inertia_kg_m2
    if inertia is None:
        return NotKnown(
            f"no more than {entry.starts_per_hour_max:.2g}, fewer with a heavy load, and the "
            "motor file has no load_inertia_kg_m2"
        )
    per_hour = entry.starts_per_hour(inertia)
    if per_hour < 1.0:
        return NotKnown(f"the load is heavier than {TABLE_SOURCE} allows; {ASK}")
    return Stated(value=per_hour, source=TABLE_SOURCE)


def _start(motor: Motor, measured_start_s: float | None) -> Estimate | NotKnown:
    """Return the time to speed, measured or estimated."""
    if measured_start_s is not None:
        return Estimate(measured_start_s, measured_start_s, measured_start_s)
    return expected_start_s(motor)


def _stall(plate: Nameplate) -> Stated | NotKnown:
    """Return the hot locked-rotor time: the motor's own, else what the standard asks for."""
    own = _from_file(plate.locked_rotor_time_hot_s)
    if not isinstance(own, NotKnown):
        return own
    asked = stall_withstand_s(plate)
    if isinstance(asked, NotKnown):
        return NotKnown(f"{asked.reason}, and the motor file has no locked_rotor_time_hot_s")
    if _letter_family(plate) != SUCCESSION_SOURCE:
        return NotKnown(
            "neither locked_rotor_time_hot_s nor a NEMA letter is in the motor file; the data "
            "sheet states it"
        )
    return Stated(value=asked, source=STALL_SOURCE)


def _from_file(seconds: float | None) -> Stated | NotKnown:
    """Return a locked-rotor time of the motor file."""
    if seconds is None:
        return NotKnown("not in the motor file; the data sheet states it")
    return Stated(value=seconds, source=MOTOR_FILE)


def _margin(stall: Stated | NotKnown, start: Estimate | NotKnown) -> Estimate | NotKnown:
    """Return permissible locked-rotor time over time to speed."""
    if isinstance(stall, NotKnown):
        return NotKnown("the permissible time with locked rotor is not known")
    if isinstance(start, NotKnown):
        return NotKnown("the time to speed is not known")
    return Estimate(stall.value / start.value, stall.value / start.high, stall.value / start.low)
