"""Arithmetic of winding tests: temperature laws, published minima, test voltages.

Every published number carries where it comes from and how it was had: "read" in the text named,
"secondary" (read in another text that attributes it to the standard) or "from memory". The laws
are derived in ``docs/theory/winding-resistance.md`` and ``docs/theory/insulation.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from cagewise.quantities import NotKnown

COPPER_CONSTANT_DEGC = 234.5
"""Minus the temperature at which the resistance of copper, extrapolated, would vanish
(IEC 60034-1, read in a text on temperature rise)."""
ALUMINIUM_CONSTANT_DEGC = 225.0
"""The same for aluminium (IEC 60034-1 cl. 8.6.2.2, from memory). 228 is also in print: whoever
shows a corrected resistance shows the constant with it."""
RESISTANCE_REFERENCE_DEGC = 25.0
"""To which winding resistances are corrected (IEEE 112, from memory)."""
INSULATION_REFERENCE_DEGC = 40.0
"""To which insulation resistances are corrected (IEEE 43)."""

_REFERENCE_KELVIN = 313.0
"""40 degC as the published formula writes it, with 273 and not 273.15."""
_KELVIN_AT_ZERO = 273.0
_BELOW_REFERENCE_KELVIN = 1245.0
"""Constant of the thermosetting formula from 10 to 40 degC."""
_ABOVE_REFERENCE_KELVIN = 4230.0
"""Constant of the thermosetting formula from 40 to 85 degC."""
THERMOSETTING_RANGE_DEGC = (10.0, 85.0)
"""Temperatures for which the two thermosetting formulas are given."""
HALVING_KELVIN = 10.0
"""Temperature step that halves the resistance of thermoplastic insulation."""

THERMOSETTING = "thermosetting"
THERMOPLASTIC = "thermoplastic"
INSULATIONS = (THERMOSETTING, THERMOPLASTIC)

DISCHARGE_FACTOR = 4.0
"""Earthing time over charging time after a direct-voltage test (IEEE 43-2013 cl. 4, from
memory)."""
ABOUT_1970 = 1970
"""Year around which winding insulation changed, as the minima of IEEE 43 part them."""
LOW_VOLTAGE_V = 1000.0
"""Rated voltage below which form-wound coils have the minimum of random-wound ones."""
MEGOHM = 1e6
GIGOHM = 1e9

_RESISTANCE_TABLE = "cl. 12.3, Table 3, secondary (trade quiz and a manual)"


class Edition(StrEnum):
    """Edition of IEEE Std 43 whose minima are used."""

    OF_2000 = "IEEE 43-2000"
    OF_2013 = "IEEE 43-2013"


class WindingKind(StrEnum):
    """Rows of the table of minimum insulation resistances of IEEE 43."""

    OLD = "made before about 1970"
    FORM = "form-wound, made after about 1970"
    RANDOM_OR_LOW = "random-wound, or form-wound rated below 1 kV"
    DIRECT_CURRENT_ARMATURE = "direct-current armature"


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """A published number, in the unit that the name of its function ends with."""

    value: float
    source: str
    """Standard and clause, and "secondary" or "from memory" where it is."""
    form: str
    """Which of the published forms it is."""


def conductor_constant_degc(conductor: str) -> float:
    """Return the constant of the resistance law for ``"copper"`` or ``"aluminium"``."""
    return ALUMINIUM_CONSTANT_DEGC if conductor == "aluminium" else COPPER_CONSTANT_DEGC


def resistance_factor(from_degc: float, to_degc: float, constant_degc: float) -> float:
    """Return R(to) / R(from) of a metallic conductor, ``(k + to) / (k + from)``."""
    return (constant_degc + to_degc) / (constant_degc + from_degc)


def temperature_from_ratio_degc(ratio: float, from_degc: float, constant_degc: float) -> float:
    """Return the temperature at which the resistance is ``ratio`` times that at ``from_degc``."""
    return ratio * (constant_degc + from_degc) - constant_degc


def insulation_factor(temperature_degc: float, insulation: str) -> float | NotKnown:
    """Return K_T, by which an insulation resistance is multiplied to refer it to 40 degC.

    Parameters
    ----------
    temperature_degc
        Of the winding.
    insulation
        ``"thermosetting"``: ``exp(-c (1/(T+273) - 1/313))`` with c = 1245 K from 10 to 40 degC and
        4230 K from 40 to 85 degC (IEEE 43-2013 cl. 6.3; constants from memory); not known outside.
        ``"thermoplastic"``: ``0.5^((40-T)/10)`` (same clause, secondary); no range is printed.
    """
    if insulation == THERMOPLASTIC:
        return float(0.5 ** ((INSULATION_REFERENCE_DEGC - temperature_degc) / HALVING_KELVIN))
    low, high = THERMOSETTING_RANGE_DEGC
    if not low <= temperature_degc <= high:
        return NotKnown(
            f"the formulas for thermosetting insulation hold from {low:.0f} to {high:.0f} degC, "
            f"not at {temperature_degc:.1f} degC"
        )
    below = temperature_degc < INSULATION_REFERENCE_DEGC
    constant = _BELOW_REFERENCE_KELVIN if below else _ABOVE_REFERENCE_KELVIN
    inverse = 1.0 / (temperature_degc + _KELVIN_AT_ZERO) - 1.0 / _REFERENCE_KELVIN
    return math.exp(-constant * inverse)


def insulation_slope_per_k(temperature_degc: float, insulation: str) -> float:
    """Return d ln K_T / dT: what an error of the winding temperature does to the correction."""
    if insulation == THERMOPLASTIC:
        return math.log(2.0) / HALVING_KELVIN
    below = temperature_degc < INSULATION_REFERENCE_DEGC
    constant = _BELOW_REFERENCE_KELVIN if below else _ABOVE_REFERENCE_KELVIN
    return float(constant / (temperature_degc + _KELVIN_AT_ZERO) ** 2)


def winding_kinds(
    construction: str | None,
    built_year: int | None,
    rated_voltage_v: float,
    changeover_span_years: int = 0,
) -> tuple[WindingKind, ...]:
    """Return every row of the table of minima that what is known of the winding allows.

    Parameters
    ----------
    construction
        ``"form"``, ``"random"`` or None where nobody knows.
    built_year
        Of the winding, None where nobody knows.
    rated_voltage_v
        Line-line, rms.
    changeover_span_years
        Years on either side of 1970 within which "about 1970" decides nothing.

    Notes
    -----
    The rows are taken as they are worded: a random-wound winding from before 1970 is in two of
    them, and both are returned.
    """
    kinds = []
    if built_year is None or built_year < ABOUT_1970 + changeover_span_years:
        kinds.append(WindingKind.OLD)
    may_be_form = construction in {"form", None} and rated_voltage_v >= LOW_VOLTAGE_V
    if may_be_form and (built_year is None or built_year >= ABOUT_1970 - changeover_span_years):
        kinds.append(WindingKind.FORM)
    if construction in {"random", None} or rated_voltage_v < LOW_VOLTAGE_V:
        kinds.append(WindingKind.RANDOM_OR_LOW)
    return tuple(kinds)


def minimum_insulation_ohm(
    kind: WindingKind, rated_voltage_v: float, edition: Edition = Edition.OF_2013
) -> Published:
    """Return the least insulation resistance of a whole winding at 1 min and 40 degC."""
    source = f"{edition.value} {_RESISTANCE_TABLE}"
    if kind is WindingKind.OLD:
        return Published(
            value=(1e-3 * rated_voltage_v + 1.0) * MEGOHM,
            source=source,
            form=f"{kind.value}: (E + 1) megohm, E = rated line-line kV",
        )
    if kind is WindingKind.DIRECT_CURRENT_ARMATURE:
        megohm = 100.0 if edition is Edition.OF_2000 else 5.0
        source = f"{edition.value}, read in a trade article on the 2013 edition"
    else:
        megohm = 100.0 if kind is WindingKind.FORM else 5.0
    return Published(value=megohm * MEGOHM, source=source, form=f"{kind.value}: {megohm:g} megohm")


_POLARIZATION_MINIMA = {"A": 1.5, "B": 2.0, "F": 2.0, "H": 2.0}
"""By thermal class; IEEE 43 Table 2 as the secondary text has it, which names no other class."""
POLARIZATION_CLASSES = "class A: 1.5; classes B, F, H: 2.0"
POLARIZATION_CEILING_OHM = 5.0 * GIGOHM
"""Insulation resistance (1 min, 40 degC) above which the polarization index is not to be used
(IEEE 43 Table 2, secondary)."""
POLARIZATION_HIGH = 8.0
"""Index beyond which an asphaltic or varnished-cambric insulation may be dry and brittle
(older text of IEEE 43, secondary)."""


def minimum_polarization_index(thermal_class: str) -> Published | NotKnown:
    """Return the least polarization index for a thermal class (1)."""
    if thermal_class not in _POLARIZATION_MINIMA:
        return NotKnown(f"no minimum is known for thermal class {thermal_class}")
    value = _POLARIZATION_MINIMA[thermal_class]
    return Published(
        value=value,
        source="IEEE 43 Table 2, secondary (trade quiz)",
        form=f"thermal class {thermal_class}: {value:.1f}",
    )


_TEST_VOLTAGES_V = (
    (1000.0, (500.0, 500.0)),
    (2500.0, (500.0, 1000.0)),
    (5000.0, (1000.0, 2500.0)),
    (12000.0, (2500.0, 5000.0)),
    (math.inf, (5000.0, 10000.0)),
)
"""Upper end of the rated voltage and the direct test voltages. The first row reads "below 1000",
the others include their end."""
TEST_VOLTAGE_SOURCE = "IEEE 43-2000 Table 1, secondary (reproduced in a trade paper)"


def insulation_test_voltage_v(rated_voltage_v: float) -> tuple[float, float]:
    """Return lowest and highest direct voltage for measuring insulation resistance."""
    if rated_voltage_v < LOW_VOLTAGE_V:
        return _TEST_VOLTAGES_V[0][1]
    return next(span for upper, span in _TEST_VOLTAGES_V[1:] if rated_voltage_v <= upper)


def discharge_time_s(charging_time_s: float) -> float:
    """Return how long the winding stays earthed after direct voltage was on it."""
    return DISCHARGE_FACTOR * charging_time_s


DIRECT_OVER_ALTERNATING = 1.7
"""Direct test voltage over the alternating one (rms) it replaces (IEEE 95, secondary)."""
MAINTENANCE_OF_RATED = (1.25, 1.50)
"""Alternating maintenance test over the rated voltage (IEEE 95, secondary)."""
MAINTENANCE_OF_ACCEPTANCE = (0.65, 0.75)
"""The same over 2E + 1000, as the same sentence puts it; the two do not agree."""
SURGE_NEW_PU = 3.5
"""Surge test of new coils, about 0.1 us front (IEEE 522-2004 cl. 6, from memory)."""
SURGE_IN_SERVICE_PART = 0.75
"""Surge test in service over that of new coils (IEEE 522-2004, from memory)."""
STEEP_FRONT_PART = 0.65
"""Steep-front impulse over the 1.2/50 impulse (IEC 60034-15, from memory)."""
CONTROLLED_OVERVOLTAGE_FROM_V = 2300.0
"""Rated voltage from which IEEE 95 applies (secondary)."""


def acceptance_alternating_rms_v(rated_voltage_v: float) -> float:
    """Return the alternating acceptance test of a new winding, ``2E + 1000`` (IEC 60034-1)."""
    return 2.0 * rated_voltage_v + 1000.0


def surge_unit_v(rated_voltage_v: float) -> float:
    """Return 1 per unit of surge tests: the crest of the phase voltage, ``sqrt(2/3) E``."""
    return math.sqrt(2.0 / 3.0) * rated_voltage_v


def impulse_withstand_v(rated_voltage_v: float) -> float:
    """Return the 1.2/50 impulse of a form-wound coil, ``4 U_N + 5`` kV (IEC 60034-15, memory)."""
    return 4.0 * rated_voltage_v + 5000.0


NEW_DISSIPATION_MAX = 20e-3
"""tan delta at 0.2 U_N of new form-wound bars and coils (1)."""
NEW_DISSIPATION_STEP_MAX = 5e-3
"""Its rise per step of 0.2 U_N (1)."""
NEW_TIP_UP_MAX = 2.5e-3
"""Half its rise from 0.2 to 0.6 U_N (1)."""
DISSIPATION_SOURCE = "IEC 60034-27-3:2015, from memory"
DISSIPATION_FORM = "new form-wound bars and coils: a reference, not a limit for a winding in use"
