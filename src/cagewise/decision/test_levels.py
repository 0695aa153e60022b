"""Which voltages a winding test of this motor would use, by which standard, in which form.

No level is recommended over another: where two published wordings do not agree both are listed
with the form that each uses. Local codes, the maker and licensed practice come before this list.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import (
    CONTROLLED_OVERVOLTAGE_FROM_V,
    DIRECT_OVER_ALTERNATING,
    MAINTENANCE_OF_ACCEPTANCE,
    MAINTENANCE_OF_RATED,
    STEEP_FRONT_PART,
    SURGE_IN_SERVICE_PART,
    SURGE_NEW_PU,
    TEST_VOLTAGE_SOURCE,
    acceptance_alternating_rms_v,
    impulse_withstand_v,
    insulation_test_voltage_v,
    surge_unit_v,
)


class VoltageKind(StrEnum):
    """How a test voltage is stated."""

    DIRECT = "d.c."
    ALTERNATING = "a.c., rms"
    CREST = "crest"


class SourceStatus(StrEnum):
    """How a published number was had."""

    READ = "read"
    SECONDARY = "secondary"
    MEMORY = "from memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class TestLevel:
    """One test voltage of one standard in one form."""

    __test__ = False

    name: str
    """Stable identifier, snake_case."""
    title: str
    """The same in words for a person."""
    low_v: float
    """Lowest voltage; equal to :attr:`high_v` where one value is stated."""
    high_v: float
    kind: VoltageKind
    form: str
    """The arithmetic that was used, with its numbers."""
    source: str
    """Standard, edition, clause."""
    status: SourceStatus
    in_scope: bool | None = True
    """Whether the source is for this motor; None where that is not known."""
    remarks: tuple[str, ...] = ()
    """Scope, disagreement with other forms, and cautions."""


DISCONNECT = (
    "first disconnect converters, soft starters, surge capacitors, arresters and circuits of "
    "instruments"
)
LOCK_OUT = (
    "de-energise, lock out, verify absence of voltage with a tested tester; local codes and "
    "licensed practice come first"
)
DISCHARGE = (
    "afterwards earth the winding at least 4 times as long as voltage was on it: charge returns "
    "(IEEE 43-2013 cl. 4, from memory)"
)
MAY_BREAK = (
    "may break down weak insulation: have a plan for the repair first, barrier and attend both ends"
)
_BEFORE = (LOCK_OUT, DISCONNECT)
_OVERVOLTAGE = (*_BEFORE, MAY_BREAK)

_MAINTENANCE_SOURCE = "IEEE 95, as quoted in two texts on testing"
_ACCEPTANCE_SOURCE = "IEC 60034-1 (2E + 1000); IEEE 95-2002 (times 1.7)"
_SURGE_SOURCE = "IEEE 522-2004 cl. 6"
_IMPULSE_SOURCE = "IEC 60034-15"
_IMPULSE_RANGE_V = (3000.0, 24000.0)
"""Rated voltages that IEC 60034-15 is for (from memory)."""


def advise_test_levels(motor: Motor) -> tuple[TestLevel, ...]:
    """List the test voltages of the standards for one motor.

    Parameters
    ----------
    motor
        Rated voltage and construction of the winding.
    """
    rated_v = motor.nameplate.rated_voltage_v
    construction = motor.winding.construction
    return (
        _insulation_resistance(rated_v),
        *_maintenance(rated_v),
        *_acceptance(rated_v),
        *_surge(rated_v, construction),
        *_impulse(rated_v, construction),
    )


def _insulation_resistance(rated_v: float) -> TestLevel:
    """Return the direct voltage for measuring insulation resistance."""
    low, high = insulation_test_voltage_v(rated_v)
    return TestLevel(
        name="insulation_resistance",
        title="insulation resistance and polarization index",
        low_v=low,
        high_v=high,
        kind=VoltageKind.DIRECT,
        form=f"table by rated voltage, {rated_v:g} V",
        source=TEST_VOLTAGE_SOURCE.removesuffix(", secondary (reproduced in a trade paper)"),
        status=SourceStatus.SECONDARY,
        remarks=(*_BEFORE, DISCHARGE),
    )


def _maintenance(rated_v: float) -> tuple[TestLevel, ...]:
    """Return the maintenance overvoltage in both wordings of the same sentence."""
    base = acceptance_alternating_rms_v(rated_v)
    forms: tuple[tuple[str, str, tuple[float, float], float], ...] = (
        ("of_rated", "of E", MAINTENANCE_OF_RATED, rated_v),
        ("of_acceptance", "of 2E + 1000", MAINTENANCE_OF_ACCEPTANCE, base),
    )
    levels = []
    for suffix, words, (low, high), unit in forms:
        form = f"{100.0 * low:.0f} to {100.0 * high:.0f} % {words}"
        for kind, factor in (
            (VoltageKind.ALTERNATING, 1.0),
            (VoltageKind.DIRECT, DIRECT_OVER_ALTERNATING),
        ):
            direct = kind is VoltageKind.DIRECT
            levels.append(
                TestLevel(
                    name=f"maintenance_{'direct' if direct else 'alternating'}_{suffix}",
                    title=f"maintenance overvoltage, {kind.value}",
                    low_v=low * unit * factor,
                    high_v=high * unit * factor,
                    kind=kind,
                    form=f"{form}, times {factor:g}" if direct else form,
                    source=_MAINTENANCE_SOURCE,
                    status=SourceStatus.SECONDARY,
                    in_scope=rated_v >= CONTROLLED_OVERVOLTAGE_FROM_V,
                    remarks=(*_disagreement(rated_v), *_overvoltage_remarks(rated_v, kind)),
                )
            )
    return tuple(levels)


def _disagreement(rated_v: float) -> tuple[str, ...]:
    """Say how far the two wordings of the maintenance level are apart for this motor."""
    base = acceptance_alternating_rms_v(rated_v)
    low, high = (
        100.0 * (part * base / (of_rated * rated_v) - 1.0)
        for part, of_rated in zip(MAINTENANCE_OF_ACCEPTANCE, MAINTENANCE_OF_RATED, strict=True)
    )
    return (
        (
            "the two wordings of the sentence do not agree: here the form with 2E + 1000 lies "
            f"{low:.0f} % (lower end) and {high:.0f} % (upper end) above the form with E"
        ),
    )


def _overvoltage_remarks(rated_v: float, kind: VoltageKind) -> tuple[str, ...]:
    """Return scope and cautions of an overvoltage test."""
    scope: tuple[str, ...] = ()
    if rated_v < CONTROLLED_OVERVOLTAGE_FROM_V:
        scope = (
            (
                f"IEEE 95 is for a.c. machines rated {CONTROLLED_OVERVOLTAGE_FROM_V:g} V and above "
                f"(secondary), not for {rated_v:g} V"
            ),
        )
    discharge = (DISCHARGE,) if kind is VoltageKind.DIRECT else ()
    return (*scope, *_OVERVOLTAGE, *discharge)


def _acceptance(rated_v: float) -> tuple[TestLevel, ...]:
    """Return the acceptance test of a new winding, alternating and direct."""
    alternating = acceptance_alternating_rms_v(rated_v)
    direct = DIRECT_OVER_ALTERNATING * alternating
    new = "for a new winding, once; never for one in service"
    return (
        TestLevel(
            name="acceptance_alternating",
            title="acceptance of a new winding, a.c., rms",
            low_v=alternating,
            high_v=alternating,
            kind=VoltageKind.ALTERNATING,
            form="2E + 1000",
            source="IEC 60034-1 (2E + 1000)",
            status=SourceStatus.MEMORY,
            remarks=(new, *_OVERVOLTAGE),
        ),
        TestLevel(
            name="acceptance_direct",
            title="acceptance of a new winding, d.c.",
            low_v=direct,
            high_v=direct,
            kind=VoltageKind.DIRECT,
            form=f"{DIRECT_OVER_ALTERNATING:g} (2E + 1000)",
            source=_ACCEPTANCE_SOURCE,
            status=SourceStatus.MEMORY,
            in_scope=rated_v >= CONTROLLED_OVERVOLTAGE_FROM_V,
            remarks=(new, *_overvoltage_remarks(rated_v, VoltageKind.DIRECT)),
        ),
    )


def _crest(
    name: str, title: str, value_v: float, form: str, source: str, scope: _Scope
) -> TestLevel:
    return TestLevel(
        name=name,
        title=title,
        low_v=value_v,
        high_v=value_v,
        kind=VoltageKind.CREST,
        form=form,
        source=source,
        status=SourceStatus.MEMORY,
        in_scope=scope.inside,
        remarks=(*scope.remarks, *_OVERVOLTAGE),
    )


@dataclass(frozen=True, slots=True)
class _Scope:
    """Whether a source is for this motor, None where that is not known, and why."""

    inside: bool | None
    remarks: tuple[str, ...]


def _form_wound(construction: str | None, what: str) -> _Scope:
    """Return the scope of a source that is for form-wound coils."""
    if construction == "form":
        return _Scope(inside=True, remarks=(what,))
    if construction == "random":
        return _Scope(inside=False, remarks=(f"{what}; this winding is random-wound",))
    return _Scope(inside=None, remarks=(f"{what}; whether this winding is one is not known",))


def _surge(rated_v: float, construction: str | None) -> tuple[TestLevel, ...]:
    """Return the surge test of the turn insulation, new and in service."""
    scope = _form_wound(
        construction,
        "for form-wound multiturn coils, typically 200 kW to 100 MW (IEEE 522-2004, read)",
    )
    new = SURGE_NEW_PU * surge_unit_v(rated_v)
    unit = "1 pu = sqrt(2/3) E"
    return (
        _crest(
            "surge_new",
            "turn insulation of new coils, front about 0.1 us",
            new,
            f"{SURGE_NEW_PU:g} pu, {unit}",
            _SURGE_SOURCE,
            scope,
        ),
        _crest(
            "surge_in_service",
            "turn insulation in service, front about 0.1 us",
            SURGE_IN_SERVICE_PART * new,
            f"{100.0 * SURGE_IN_SERVICE_PART:.0f} % of {SURGE_NEW_PU:g} pu, {unit}",
            "IEEE 522-2004",
            scope,
        ),
    )


def _impulse(rated_v: float, construction: str | None) -> tuple[TestLevel, ...]:
    """Return the impulse withstand of coils by the international standard."""
    scope = _form_wound(construction, "withstand of sample coils, for form-wound stator coils")
    low, high = _IMPULSE_RANGE_V
    if not low <= rated_v <= high:
        outside = f"for rated voltages of {1e-3 * low:g} to {1e-3 * high:g} kV (from memory)"
        scope = _Scope(inside=False, remarks=(*scope.remarks, outside))
    full = impulse_withstand_v(rated_v)
    return (
        _crest(
            "impulse_full",
            "impulse withstand of coils, 1.2/50 us",
            full,
            "4 U_N + 5, in kV",
            _IMPULSE_SOURCE,
            scope,
        ),
        _crest(
            "impulse_steep",
            "impulse withstand of coils, steep front",
            STEEP_FRONT_PART * full,
            f"{STEEP_FRONT_PART:g} (4 U_N + 5), in kV",
            _IMPULSE_SOURCE,
            scope,
        ),
    )
