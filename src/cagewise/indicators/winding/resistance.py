"""Direct-current resistance of the stator winding: its value, its unbalance, its change.

Three terminals show three line-line resistances; star and delta are two ways of writing the same
network, so the phases follow by algebra once the connection is known
(docs/theory/winding-resistance.md).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cagewise.indicators.reading import IndependenceClass, Part, Reading, ReferenceLimit, Sense
from cagewise.indicators.winding.head import RestHead, cable_caveat, comparable, settled_limit
from cagewise.indicators.winding.limits import WindingLimits
from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import (
    RESISTANCE_REFERENCE_DEGC,
    conductor_constant_degc,
    resistance_factor,
    temperature_from_ratio_degc,
)
from cagewise.measurement.test_sheet import TerminalPair, TestSheet
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown, RealArray


def _head(name: str, title: str, unit: str) -> RestHead:
    return RestHead(
        name=name,
        title=title,
        unit=unit,
        part=Part.WINDING,
        independence_class=IndependenceClass.WINDING_RESISTANCE,
    )


RESISTANCE = _head("winding_resistance", "mean line-line resistance at 25 degC", "ohm")
UNBALANCE = _head(
    "resistance_unbalance", "largest deviation of a line-line resistance from their mean", "%"
)
PATTERN_CHANGE = _head(
    "resistance_unbalance_change", "largest change of a pair's share of the mean resistance", "%"
)
CHANGE = _head("winding_resistance_change", "change of the mean resistance at 25 degC", "%")
HEADS = (RESISTANCE, UNBALANCE, PATTERN_CHANGE, CHANGE)

PAIRS = tuple(TerminalPair)
SIMULTANEOUS_FACTOR = 2.3939797998185104
"""Half width, in standard deviations, that three normal deviations keep together with 95 %
probability whatever their correlation (Bonferroni: quantile at 1 - 0.05/6)."""
DEVIATION_SHARE = math.sqrt(2.0 / 3.0)
"""Standard deviation of one of three equal readings' deviation from their mean, in theirs."""

CABLE = (
    "the cable is in series with the winding: its resistance is in the reading, and its unbalance "
    "or a bad joint on the way cannot be told from the winding's"
)
UNBALANCE_SOURCE = "ANSI/EASA AR100-2020, secondary (trade note)"


def read_winding(
    sheet: TestSheet, motor: Motor, limits: WindingLimits, *, earlier: Sequence[TestSheet] = ()
) -> tuple[Reading, ...]:
    """Read the direct-current resistances of one sheet.

    Parameters
    ----------
    sheet
        Readings of one occasion; nothing is returned if no resistance was measured.
    motor
        Connection, conductor and construction of the winding.
    limits
        Errors and limits.
    earlier
        Sheets of the same motor to compare with, in any order.
    """
    if sheet.resistance is None:
        return ()
    lines = line_resistances(sheet)
    if isinstance(lines, NotKnown):
        details = _as_measured(sheet)
        return tuple(replace(head.refused(lines.reason), details=details) for head in HEADS[:2])
    caveats = cable_caveat(sheet, CABLE)
    readings = [
        _resistance(sheet, lines, motor, limits),
        _unbalance(lines, motor, limits),
        *_changes(lines, sheet, comparable(sheet, earlier, motor), motor, limits),
    ]
    return tuple(replace(r, caveats=(*r.caveats, *caveats)) for r in readings)


def line_resistances(sheet: TestSheet) -> RealArray | NotKnown:
    """Return the resistances of a-b, b-c, c-a (ohm), shape (3,), or what is wrong with them."""
    given: Mapping[TerminalPair, float] = (
        {} if sheet.resistance is None else sheet.resistance.line_resistance_ohm
    )
    missing = [pair.value for pair in PAIRS if pair not in given]
    if missing:
        return NotKnown(f"no resistance of pair {' and '.join(missing)}")
    lines = np.array([given[pair] for pair in PAIRS])
    if not (np.all(np.isfinite(lines)) and np.all(lines > 0.0)):
        return NotKnown("a line-line resistance is not a positive number")
    if 2.0 * lines.max() >= lines.sum():
        return NotKnown(
            "one line-line resistance is as large as the other two together, which no winding of "
            "three terminals can show: readings of different pairs were mixed up, or a phase is "
            "open"
        )
    return np.asarray(lines)


def star_phases(lines: RealArray) -> RealArray:
    """Return the star resistances at a, b, c from those of a-b, b-c, c-a (ohm), shape (3,).

    With ``M = (R_ab + R_bc + R_ca) / 2`` the star resistance at a terminal is M less the
    resistance between the other two.
    """
    half_sum = 0.5 * lines.sum()
    return np.asarray(half_sum - lines[[1, 2, 0]])


def delta_phases(lines: RealArray) -> RealArray:
    """Return the delta resistances a-b, b-c, c-a from the line-line ones (ohm), shape (3,).

    Each is the sum of the star's products over the star resistance of the terminal opposite.
    """
    a, b, c = star_phases(lines)
    return np.asarray((a * b + b * c + c * a) / np.array([c, a, b]))


def unbalance(lines: RealArray) -> float:
    """Return the largest deviation from the mean over the mean (AR100), not largest - smallest."""
    return float(np.max(np.abs(lines / lines.mean() - 1.0)))


def _resistance(sheet: TestSheet, lines: RealArray, motor: Motor, limits: WindingLimits) -> Reading:
    """Read the mean resistance, referred to 25 degC."""
    constant = conductor_constant_degc(motor.winding.conductor)
    temperature = winding_temperature_degc(sheet)
    details = _as_measured(sheet) | {"conductor_constant_degc": constant}
    if temperature is None:
        details |= _phases(lines, motor.nameplate.connection, "measured")
        reason = "the winding temperature is not given, so nothing is referred to 25 degC"
        return replace(RESISTANCE.refused(reason), details=details)
    corrected = lines * resistance_factor(temperature, RESISTANCE_REFERENCE_DEGC, constant)
    details |= {"winding_temperature_degc": temperature}
    details |= _phases(corrected, motor.nameplate.connection, "at_25_degc")
    mean = float(corrected.mean())
    half_width = mean * _mean_error(temperature, constant, limits)
    caveats = [
        f"referred to 25 degC with the constant {constant:g} degC of {motor.winding.conductor}",
        "no standard limits the resistance itself: it is compared with the maker's or earlier data",
    ]
    if motor.nameplate.connection is None:
        caveats.append("the connection is not known: phases are shown for star and for delta")
    estimate = Estimate(mean, mean - half_width, mean + half_width)
    return replace(RESISTANCE.read(estimate, caveats), details=details)


def _unbalance(lines: RealArray, motor: Motor, limits: WindingLimits) -> Reading:
    """Read the unbalance; it needs no temperature."""
    percent = 100.0 * unbalance(lines)
    half_width = 100.0 * _deviation_error(limits)
    estimate = Estimate(percent, max(0.0, percent - half_width), percent + half_width)
    limit, caveats = _unbalance_limit(percent, motor, limits)
    reading = UNBALANCE.read(estimate, caveats)
    details = {
        f"deviation_{pair.value}_percent": 100.0 * float(deviation)
        for pair, deviation in zip(PAIRS, lines / lines.mean() - 1.0, strict=True)
    }
    return replace(reading, limit=limit, details=details)


def _unbalance_limit(
    percent: float, motor: Motor, limits: WindingLimits
) -> tuple[ReferenceLimit | None, tuple[str, ...]]:
    """Return the limit of the unbalance for this winding, and what to say about it."""
    winding = motor.winding
    if winding.concentric and winding.construction != "form":
        return None, ("concentric coils may exceed the 2 % of other random windings: no limit",)
    parts = {"form": limits.unbalance_form, "random": limits.unbalance_random}
    candidates = [
        ReferenceLimit(
            value=100.0 * part,
            sense=Sense.AT_MOST,
            source=UNBALANCE_SOURCE,
            form=f"{construction}-wound: {100.0 * part:g} %",
        )
        for construction, part in parts.items()
        if winding.construction in {construction, None}
    ]
    return settled_limit(percent, candidates, "form- or random-wound is not known")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Past:
    """Earlier sheets with all three pairs."""

    shares: RealArray
    """Of the pairs in their mean less one, shape (n_sheets, 3)."""
    means_ohm: RealArray
    """Mean line-line resistance at 25 degC of the sheets with a temperature, shape (n,)."""
    errors: RealArray
    """Relative limits of error of these means, shape (n,)."""


def _past(sheets: Sequence[TestSheet], constant: float, limits: WindingLimits) -> _Past:
    shares, means, errors = [], [], []
    for sheet in sheets:
        lines = line_resistances(sheet)
        if isinstance(lines, NotKnown):
            continue
        shares.append(lines / lines.mean() - 1.0)
        degc = winding_temperature_degc(sheet)
        if degc is not None:
            factor = resistance_factor(degc, RESISTANCE_REFERENCE_DEGC, constant)
            means.append(lines.mean() * factor)
            errors.append(_mean_error(degc, constant, limits))
    return _Past(
        shares=np.array(shares).reshape(-1, 3), means_ohm=np.array(means), errors=np.array(errors)
    )


def _changes(
    lines: RealArray,
    sheet: TestSheet,
    earlier: Sequence[TestSheet],
    motor: Motor,
    limits: WindingLimits,
) -> tuple[Reading, ...]:
    """Compare with earlier sheets; nothing where there is none."""
    constant = conductor_constant_degc(motor.winding.conductor)
    past = _past(earlier, constant, limits)
    if not len(past.shares):
        return ()
    return (
        _pattern_change(lines, past, limits),
        _mean_change(lines, winding_temperature_degc(sheet), past, constant, limits),
    )


def _pattern_change(lines: RealArray, past: _Past, limits: WindingLimits) -> Reading:
    """Compare the shares of the pairs with the mean of the earlier ones; no temperature enters."""
    change = 100.0 * (lines / lines.mean() - 1.0 - past.shares.mean(axis=0))
    largest = float(np.max(np.abs(change)))
    half_width = 100.0 * _deviation_error(limits) * math.sqrt(1.0 + 1.0 / len(past.shares))
    reading = PATTERN_CHANGE.read(
        Estimate(largest, max(0.0, largest - half_width), largest + half_width),
        ("no standard limits the change; the temperature cancels in it",),
    )
    details = {
        f"change_{pair.value}_percent": float(c) for pair, c in zip(PAIRS, change, strict=True)
    }
    return replace(reading, details=details | {"earlier_sheets_count": float(len(past.shares))})


def _mean_change(
    lines: RealArray,
    temperature_degc: float | None,
    past: _Past,
    constant: float,
    limits: WindingLimits,
) -> Reading:
    """Compare the mean resistance at 25 degC with the mean of the earlier ones."""
    if temperature_degc is None or not past.means_ohm.size:
        return CHANGE.refused("the winding temperature of this or of all earlier sheets is missing")
    factor = resistance_factor(temperature_degc, RESISTANCE_REFERENCE_DEGC, constant)
    before_ohm = float(past.means_ohm.mean())
    ratio = float(lines.mean()) * factor / before_ohm
    own = _mean_error(temperature_degc, constant, limits)
    theirs = float(np.linalg.norm(past.errors)) / past.errors.size
    half_width = 100.0 * ratio * math.hypot(own, theirs)
    change = 100.0 * (ratio - 1.0)
    # the winding temperature at which the earlier resistance would have given today's reading
    explained = temperature_from_ratio_degc(ratio / factor, RESISTANCE_REFERENCE_DEGC, constant)
    explanation = (
        f"a winding at {explained:.1f} degC instead of {temperature_degc:.1f} degC would explain "
        "the change; no standard limits it"
    )
    reading = CHANGE.read(
        Estimate(change, change - half_width, change + half_width), (explanation,)
    )
    details = {
        "earlier_mean_at_25_degc_ohm": before_ohm,
        "earlier_sheets_count": float(past.means_ohm.size),
        "temperature_that_explains_degc": explained,
    }
    return replace(reading, details=details)


def winding_temperature_degc(sheet: TestSheet) -> float | None:
    """Return the winding temperature of the resistance test: its own, or the sheet's."""
    own = None if sheet.resistance is None else sheet.resistance.winding_temperature_degc
    return sheet.winding_temperature_degc if own is None else own


def _deviation_error(limits: WindingLimits) -> float:
    """Return how far noise moves the largest deviation at most, 95 % (1).

    The largest modulus of three deviations moves by no more than the largest movement of any.
    """
    sigma = limits.resistance_error / NORMAL_COVERAGE_FACTOR
    return SIMULTANEOUS_FACTOR * DEVIATION_SHARE * sigma


def _mean_error(temperature_degc: float, constant: float, limits: WindingLimits) -> float:
    """Return the relative half width of the mean resistance at 25 degC (1)."""
    thermal = limits.temperature_error_k / (constant + temperature_degc)
    return math.hypot(limits.resistance_error / math.sqrt(3.0), limits.instrument_error, thermal)


def _as_measured(sheet: TestSheet) -> dict[str, float]:
    """Return the line-line resistances that were measured."""
    if sheet.resistance is None:
        return {}
    given = sheet.resistance.line_resistance_ohm
    return {f"measured_{pair.value}_ohm": given[pair] for pair in PAIRS if pair in given}


def _phases(lines: RealArray, connection: str | None, state: str) -> dict[str, float]:
    """Return the phases of the connection, or of both connections where it is not known."""
    details = {}
    if connection in {"wye", None}:
        for phase, value in zip("abc", star_phases(lines), strict=True):
            details[f"wye_phase_{phase}_{state}_ohm"] = float(value)
    if connection in {"delta", None}:
        for pair, value in zip(PAIRS, delta_phases(lines), strict=True):
            details[f"delta_phase_{pair.value}_{state}_ohm"] = float(value)
    return details
