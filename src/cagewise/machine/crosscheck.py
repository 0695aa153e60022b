"""Does the nameplate hang together? Errors for the impossible, warnings for the odd.

Every check compares numbers that physics ties to one another, and when they disagree tries the
usual slips of the pen (wrong pole number, 50 for 60 Hz, hp for kW, phase for line voltage, the
current of another voltage) and names those that would make the nameplate consistent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cagewise.machine import typical
from cagewise.machine.locked_rotor import code_letter_current_a
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.tolerances import rated_slip_interval
from cagewise.quantities import WATT_PER_HORSEPOWER

LARGEST_RATED_SLIP = 0.20
"""No cage motor is rated at more slip; the highest-slip standard design has up to 13 %
(NEMA MG 1 design D, from memory)."""
USUAL_SLIP_FACTOR = 3.5
"""Rated slips of ordinary motors of one size lie within this factor of the usual one."""
USUAL_PRODUCT_LOW, USUAL_PRODUCT_HIGH = 0.80, 1.20
"""Efficiency times power factor of ordinary motors, as a ratio to the usual one of their size."""
USUAL_PRODUCT_LOW_SMALL = 0.72
"""The lower end below ``SMALL_MOTOR_W``: table currents of small motors are on the safe side
(NEC 430.250, from memory)."""
SMALL_MOTOR_W = 2e3
LARGEST_PRODUCT = 0.94
"""Efficiency times power factor above this needs a power factor no cage motor has."""
PRODUCT_TOLERANCE = 0.04
"""Stated efficiency times power factor against P / (sqrt3 V I): the rounding of five numbers."""
LARGEST_ROTOR_LOSS_SHARE = 0.6
"""Rotor copper loss over all losses, beyond which efficiency and slip hardly belong together;
common practice, no source."""
USUAL_STARTING_RATIO = (3.0, 12.0)
"""Locked-rotor current over rated current of ordinary motors; common practice, no source."""
COIL_PITCH_RANGE = (0.6, 1.0)
"""Coil over pole pitch of ordinary stators; common practice, no source."""
BAR_RANGE = (6, 240)
"""Numbers of rotor bars ever built in ordinary cage motors; common practice, no source."""
LOAD_MARGIN = 1.6
"""Slip of a running motor over its rated slip, at most: overload, low voltage and a hot rotor."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: where, what, and what to do."""

    where: str
    """Section and key: ``"[motor] rated_speed_rpm"``."""
    what: str
    remedy: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}"
        return f"{text}. {self.remedy}" if self.remedy else text


@dataclass(frozen=True, slots=True)
class CrossCheck:
    """Result of the cross-checks."""

    errors: tuple[Fault, ...]
    """Physically impossible."""
    warnings: tuple[Fault, ...]
    """Possible, but so unusual that a slip of the pen is likelier."""


def crosscheck(nameplate: Nameplate, cage: Cage | None = None) -> CrossCheck:
    """Return everything that does not hang together on a nameplate and its cage data."""
    errors: list[Fault] = []
    warnings: list[Fault] = []
    for check in (_speed, _current_and_power, _stated_product, _starting, _supply):
        check(nameplate, errors, warnings)
    if cage is not None:
        _slots(cage, errors, warnings)
        _coils(nameplate, cage, warnings)
    return CrossCheck(tuple(errors), tuple(warnings))


def slip_window(motor: Motor) -> tuple[float, float]:
    """Return the slips at which this motor can be running as a motor: where to search, no more.

    From zero to ``LOAD_MARGIN`` times the rated slip, or to the upper end of the rated slip's own
    interval where that is more.
    """
    rated = rated_slip_interval(motor.nameplate)
    return 0.0, max(LOAD_MARGIN * rated.value, rated.high)


def _speed(plate: Nameplate, errors: list[Fault], warnings: list[Fault]) -> None:
    """Compare the speed with poles and frequency."""
    where = "[motor] rated_speed_rpm"
    setting = (
        f"{plate.rated_speed_rpm:g} rpm against a synchronous speed of "
        f"{plate.synchronous_speed_rpm:g} rpm ({plate.poles} poles, "
        f"{plate.rated_frequency_hz:g} Hz)"
    )
    if plate.rated_slip == 0.0:
        what = f"{setting}: an induction motor at full load runs below synchronous speed"
        errors.append(Fault(where, what, "Give the full-load speed from the nameplate."))
    elif plate.rated_slip < 0.0:
        errors.append(Fault(where, f"{setting}: a motor cannot run above it", _remedy(plate)))
    elif plate.rated_slip > LARGEST_RATED_SLIP:
        what = f"{setting} is a slip of {plate.rated_slip:.0%}, more than any cage motor is rated"
        errors.append(Fault(where, what, _remedy(plate)))
    elif not _usual_slip(plate):
        what = (
            f"{setting} is a slip of {100.0 * plate.rated_slip:.2g} %; motors of this size usually "
            f"have about {100.0 * typical.slip(plate.rated_power_w):.1g} %"
        )
        warnings.append(Fault(where, what, _remedy(plate)))


def _usual_slip(plate: Nameplate) -> bool:
    """Return whether the slip is one that motors of this size have."""
    usual = typical.slip(plate.rated_power_w)
    return usual / USUAL_SLIP_FACTOR <= plate.rated_slip <= usual * USUAL_SLIP_FACTOR


def _remedy(plate: Nameplate) -> str:
    """Return which pole number or frequency would make the speed an ordinary one."""
    pole_numbers, frequencies_hz = range(2, 26, 2), (50.0, 60.0)
    single = {f"{n} poles": replace(plate, poles=n) for n in pole_numbers}
    single |= {f"{f:g} Hz": replace(plate, rated_frequency_hz=f) for f in frequencies_hz}
    double = {
        f"{n} poles at {f:g} Hz": replace(plate, poles=n, rated_frequency_hz=f)
        for n in pole_numbers
        for f in frequencies_hz
    }
    for guesses in (single, double):
        found = [text for text, guess in guesses.items() if guess != plate and _usual_slip(guess)]
        if found:
            break
    if not found:
        return "Check speed, poles and frequency against the nameplate."
    return f"The speed would fit {' or '.join(found)}; check the nameplate."


def _current_and_power(plate: Nameplate, errors: list[Fault], warnings: list[Fault]) -> None:
    """Compare the current with power and voltage."""
    product = plate.power_to_apparent_ratio
    where = "[motor] rated_current_a"
    numbers = (
        f"{plate.rated_power_w / 1e3:.4g} kW from {plate.rated_voltage_v:g} V and "
        f"{plate.rated_current_a:g} A means efficiency times power factor = {product:.3g}"
    )
    if product * (1.0 + LARGEST_RATED_SLIP / 10.0) >= 1.0 - max(plate.rated_slip, 0.0):
        what = f"{numbers}: more comes out of the shaft than the supply can bring in"
        errors.append(Fault(where, what, _power_remedy(plate)))
    elif not _usual_product(plate):
        what = f"{numbers}; motors of this size usually have about {_product_of_size(plate):.2g}"
        warnings.append(Fault(where, what, _power_remedy(plate)))


def _product_of_size(plate: Nameplate) -> float:
    """Return the usual efficiency times power factor."""
    return typical.efficiency(plate.rated_power_w) * typical.power_factor(
        plate.rated_power_w, plate.poles
    )


def _usual_product(plate: Nameplate) -> bool:
    """Return whether efficiency times power factor is one that motors of this size have."""
    product = plate.power_to_apparent_ratio
    ratio = product / _product_of_size(plate)
    small = plate.rated_power_w < SMALL_MOTOR_W
    low = USUAL_PRODUCT_LOW_SMALL if small else USUAL_PRODUCT_LOW
    return low <= ratio <= USUAL_PRODUCT_HIGH and product <= LARGEST_PRODUCT


def _power_remedy(plate: Nameplate) -> str:
    """Return which slips of the pen would make current and power agree."""
    power, voltage, current = plate.rated_power_w, plate.rated_voltage_v, plate.rated_current_a
    to_hp = WATT_PER_HORSEPOWER / 1e3
    root3 = math.sqrt(3.0)
    guesses = (
        ("the power is in hp, not kW", replace(plate, rated_power_w=power * to_hp)),
        ("the power is in kW, not hp", replace(plate, rated_power_w=power / to_hp)),
        ("the power is in W, not kW", replace(plate, rated_power_w=power / 1e3)),
        ("the voltage is in kV, not V", replace(plate, rated_voltage_v=voltage * 1e3)),
        ("the voltage is phase-to-neutral", replace(plate, rated_voltage_v=voltage * root3)),
        ("the current is per winding of a delta", replace(plate, rated_current_a=current * root3)),
        (
            "voltage and current belong to different connections (star and delta)",
            replace(plate, rated_current_a=current / root3),
        ),
        (
            "the current belongs to half this voltage (dual-voltage motor)",
            replace(plate, rated_current_a=current / 2.0),
        ),
        (
            "the current belongs to twice this voltage (dual-voltage motor)",
            replace(plate, rated_current_a=current * 2.0),
        ),
    )
    likely = [text for text, guess in guesses if _close_product(guess)]
    if not likely:
        return "Check power, voltage (line-line) and current (line) against the nameplate."
    return f"It would fit if {', or '.join(likely)}."


def _close_product(plate: Nameplate) -> bool:
    """Return whether a guess makes efficiency times power factor ordinary, with less leeway."""
    return (
        _usual_product(plate)
        and 0.85 <= (plate.power_to_apparent_ratio / _product_of_size(plate)) <= 1.15
    )


def _stated_product(plate: Nameplate, errors: list[Fault], warnings: list[Fault]) -> None:
    """Compare stated efficiency and power factor with slip, power and current."""
    product = plate.power_to_apparent_ratio
    pf, efficiency = plate.power_factor, plate.efficiency
    if efficiency is not None and efficiency >= 1.0 - max(plate.rated_slip, 0.0):
        what = (
            f"efficiency {efficiency:g} is impossible at a slip of {100 * plate.rated_slip:.2g} %:"
            " the rotor alone loses that share of the power"
        )
        errors.append(Fault("[motor] efficiency", what, "Check efficiency, speed and poles."))
    elif efficiency is not None and _rotor_loss_share(plate, efficiency) > LARGEST_ROTOR_LOSS_SHARE:
        what = (
            f"with efficiency {efficiency:g} the slip alone accounts for "
            f"{_rotor_loss_share(plate, efficiency):.0%} of all losses; 15 to 40 % is usual"
        )
        warnings.append(Fault("[motor] efficiency", what, "Check efficiency and speed."))
    if pf is not None and efficiency is not None:
        if abs(pf * efficiency / product - 1.0) > PRODUCT_TOLERANCE:
            what = (
                f"efficiency times power factor is {pf * efficiency:.3g}, but power, voltage and "
                f"current give {product:.3g}"
            )
            warnings.append(Fault("[motor] power_factor", what, _power_remedy(plate)))
        return
    stated, name = (pf, "power_factor") if pf is not None else (efficiency, "efficiency")
    if stated is not None and product / stated > 1.0 - max(plate.rated_slip, 0.0) * (
        pf is not None
    ):
        other = "efficiency" if pf is not None else "power factor"
        what = (
            f"with {name.replace('_', ' ')} {stated:g} the {other} would be {product / stated:.3g}"
        )
        errors.append(Fault(f"[motor] {name}", what, _power_remedy(plate)))


def _rotor_loss_share(plate: Nameplate, efficiency: float) -> float:
    """Return the rotor loss s / (1 - s) P over all losses."""
    return plate.rated_slip / (1.0 - plate.rated_slip) / (1.0 / efficiency - 1.0)


def _starting(plate: Nameplate, _errors: list[Fault], warnings: list[Fault]) -> None:
    """Compare the code letter with the rated current."""
    band = code_letter_current_a(plate)
    if band is None:
        return
    low, high = (current / plate.rated_current_a for current in band)
    if high < USUAL_STARTING_RATIO[0] or low > USUAL_STARTING_RATIO[1]:
        what = (
            f"code letter {plate.code_letter} means a locked-rotor current of {low:.3g} to "
            f"{high:.3g} times the rated current; {USUAL_STARTING_RATIO[0]:g} to "
            f"{USUAL_STARTING_RATIO[1]:g} is usual"
        )
        remedy = "The code letter is not the design letter; check both."
        warnings.append(Fault("[motor] code_letter", what, remedy))


def _supply(plate: Nameplate, _errors: list[Fault], warnings: list[Fault]) -> None:
    """Look at frequency, voltage and service factor by themselves."""
    if plate.rated_frequency_hz not in (50.0, 60.0) and plate.starting.value != "converter":
        what = f"{plate.rated_frequency_hz:g} Hz is neither 50 nor 60 Hz"
        remedy = 'Give the nameplate frequency; for a converter motor set starting = "converter".'
        warnings.append(Fault("[motor] rated_frequency_hz", what, remedy))
    if plate.service_factor is not None and not 1.0 <= plate.service_factor <= 1.5:
        what = f"a service factor of {plate.service_factor:g} is unusual (1.0 to 1.25 is common)"
        warnings.append(Fault("[motor] service_factor", what, "Check it against the nameplate."))


def _coils(plate: Nameplate, cage: Cage, warnings: list[Fault]) -> None:
    """Look at the span of the stator coils."""
    span, slots = cage.coil_span_slots, cage.stator_slots
    if span is None or slots is None:
        return
    pitch = span * plate.poles / slots
    if not COIL_PITCH_RANGE[0] <= pitch <= COIL_PITCH_RANGE[1]:
        what = (
            f"a coil over {span} slots is {pitch:.2f} of a pole pitch; "
            f"{COIL_PITCH_RANGE[0]:g} to {COIL_PITCH_RANGE[1]:g} is usual"
        )
        remedy = 'Count from side to side: "1 to 11" is a span of 10.'
        warnings.append(Fault("[motor] coil_span_slots", what, remedy))


def _slots(cage: Cage, errors: list[Fault], warnings: list[Fault]) -> None:
    """Look at the numbers of bars and slots."""
    bars, slots = cage.rotor_bars, cage.stator_slots
    if bars is not None and not BAR_RANGE[0] <= bars <= BAR_RANGE[1]:
        what = f"{bars} bars; cages have {BAR_RANGE[0]} to {BAR_RANGE[1]}"
        errors.append(Fault("[motor] rotor_bars", what, "Leave it out if it is not known."))
    if slots is not None and slots % 3:
        what = f"{slots} stator slots cannot be shared evenly by three phases"
        warnings.append(Fault("[motor] stator_slots", what, "Ask the shop that wound it."))
    if bars is not None and bars == slots:
        what = (
            f"{bars} bars and as many stator slots: such a motor sticks at standstill, nobody "
            "builds it"
        )
        remedy = "Ask the repair shop; one of the two numbers was probably written down twice."
        warnings.append(Fault("[motor] rotor_bars", what, remedy))
