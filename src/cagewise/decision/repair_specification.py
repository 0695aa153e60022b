"""What a repair shop is asked for one motor: checks, limits in numbers, questions, hold points."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from cagewise.decision.expect import ExpectedPoint, expect
from cagewise.decision.limits import Limits, load_limits
from cagewise.decision.shop_checks import (
    Check,
    Hold,
    Rule,
    Standing,
    Step,
    Subject,
    holds_for,
    steps_for,
)
from cagewise.decision.shop_limits import ShopLimits
from cagewise.decision.test_levels import TestLevel, advise_test_levels
from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import (
    DISSIPATION_SOURCE,
    NEW_DISSIPATION_MAX,
    NEW_TIP_UP_MAX,
    POLARIZATION_CEILING_OHM,
    insulation_test_voltage_v,
    minimum_insulation_ohm,
    minimum_polarization_index,
    winding_kinds,
)
from cagewise.measurement.repair_return import QUESTIONS, Question, Section
from cagewise.quantities import Estimate, NotKnown

N_DRAWS = 120
"""Draws of the circuit: three lie beyond each end of a 95 % interval."""
NEARLY_SYNCHRONOUS = 1e-6
"""Slip of a motor that drives nothing."""
LARGE_FROM_W, MEDIUM_FROM_W = 300e3, 15e3
"""Rated powers at which the groups of ISO 20816-3 begin (from memory)."""
CLASSES_OF_ANY = ("A", "F")
"""Thermal classes that stand for all where nobody knows: A, and B, F and H, which are alike."""
SHOWN_LOADS = (0.5, 0.75, 1.0)
"""Loads for which the readings of a sound cage are stated."""


class LimitKind(StrEnum):
    """What a limit is of; each has its words in the report."""

    UNBALANCE_FORM = "unbalance_form"
    UNBALANCE_RANDOM = "unbalance_random"
    INSULATION_MIN = "insulation_min"
    INSULATION_VOLTAGE = "insulation_voltage"
    POLARIZATION_MIN = "polarization_min"
    POLARIZATION_CEILING = "polarization_ceiling"
    DISSIPATION_NEW = "dissipation_new"
    RUNOUT = "runout"
    AIR_GAP = "air_gap"
    SINGLE_PHASE_VOLTAGE = "single_phase_voltage"
    SINGLE_PHASE_VARIATION = "single_phase_variation"
    CORE_FLUX = "core_flux"
    CORE_RISE = "core_rise"
    CORE_SPOT = "core_spot"
    BALANCE = "balance"
    NO_LOAD_VOLTAGE = "no_load_voltage"
    NO_LOAD_CURRENT = "no_load_current"
    NO_LOAD_EXPECTED = "no_load_expected"
    VIBRATION_FREE = "vibration_free"
    VIBRATION_RIGID = "vibration_rigid"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopLimit:
    """One limit in numbers."""

    kind: LimitKind
    values: tuple[float, ...]
    """SI units, mm and mm/s where the field of the limits says so."""
    form: str = ""
    """Which of several published forms it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """What is measured in the plant after the repair, and has to be seen."""

    bars_max: float
    """Largest open-bar equivalent of the whole interval."""
    least_load_fraction: float
    within_days: float
    points: tuple[ExpectedPoint, ...]
    """What a sound cage and one open bar read on this motor, by load."""
    vibration_mm_s: tuple[float, float] | None
    """Zone boundary A/B on rigid and flexible foundation; None below the power it is for."""
    baseline_record_s: float
    """Length of the running record for which the detection limits hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairSpecification:
    """What a shop is asked."""

    motor: Motor
    subjects: frozenset[Subject]
    steps: tuple[Step, ...]
    limits: Mapping[Check, tuple[ShopLimit, ...]]
    levels: tuple[TestLevel, ...]
    """Overvoltage and surge tests that this repair may ask for, all published forms."""
    holds: tuple[Hold, ...]
    questions: tuple[Question, ...]
    """Of the return sheet."""
    burn_out_degc: float


def specify(
    motor: Motor, subjects: Iterable[Subject], limits: Limits | None = None
) -> RepairSpecification:
    """Return what a shop is asked for a motor that is sent for these subjects."""
    limits, asked = limits or load_limits(), frozenset(subjects)
    plate = motor.nameplate
    stressed = plate.rated_voltage_v > limits.plan.dissipation_from_v
    steps = steps_for(asked, dissipation=stressed and motor.winding.construction != "random")
    return RepairSpecification(
        motor=motor,
        subjects=asked,
        steps=steps,
        limits=limits_for(motor, (step.check for step in steps), limits),
        levels=_levels(motor, asked),
        holds=holds_for(asked),
        questions=questions_for(steps),
        burn_out_degc=limits.shop.burn_out_degc,
    )


def limits_for(
    motor: Motor, checks: Iterable[Check], limits: Limits | None = None
) -> Mapping[Check, tuple[ShopLimit, ...]]:
    """Return the limits of these checks in numbers for a motor."""
    limits = limits or load_limits()
    return {check: tuple(_limits(check, motor, limits)) for check in checks}


def questions_for(steps: Iterable[Step]) -> tuple[Question, ...]:
    """Return the questions of a return sheet: what the checks answer, and all that is counted."""
    answered = {key for step in steps for key in step.answers}
    always = (Section.JOB, Section.COUNTED, Section.WINDING, Section.BEARINGS)
    return tuple(q for q in QUESTIONS if q.section in always or q.key in answered)


def limit_rule(kind: LimitKind) -> Rule | None:
    """Return where a limit comes from, where that is not the standard of its method."""
    return _OWN_RULES.get(kind)


_OWN_RULES: Mapping[LimitKind, Rule] = {
    LimitKind.INSULATION_VOLTAGE: Rule("IEEE 43-2000 Table 1", Standing.SECONDARY),
    LimitKind.POLARIZATION_MIN: Rule("IEEE 43 Table 2", Standing.SECONDARY),
    LimitKind.POLARIZATION_CEILING: Rule("IEEE 43 Table 2", Standing.SECONDARY),
    LimitKind.SINGLE_PHASE_VARIATION: Rule("", Standing.SECONDARY),
    LimitKind.SINGLE_PHASE_VOLTAGE: Rule("", Standing.SECONDARY),
    LimitKind.NO_LOAD_VOLTAGE: Rule("NEMA MG 1-12.45", Standing.SECONDARY),
    LimitKind.CORE_SPOT: Rule("IEEE 56", Standing.MEMORY),
    LimitKind.NO_LOAD_CURRENT: Rule("", Standing.PRACTICE),
    LimitKind.NO_LOAD_EXPECTED: Rule("", Standing.JUDGEMENT),
    LimitKind.DISSIPATION_NEW: Rule(DISSIPATION_SOURCE.partition(",")[0], Standing.MEMORY),
}


def _limits(check: Check, motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield the limits of a check in numbers for this motor."""
    computed = _COMPUTED.get(check)
    if computed is not None:
        yield from computed(motor, limits)
    yield from _fixed(check, limits.shop)


def _unbalance(motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield the largest unbalance of the winding resistances; both where nobody knows which."""
    construction, own = motor.winding.construction, limits.winding
    if construction != "random":
        yield ShopLimit(kind=LimitKind.UNBALANCE_FORM, values=(own.unbalance_form,))
    if construction != "form" and not motor.winding.concentric:
        yield ShopLimit(kind=LimitKind.UNBALANCE_RANDOM, values=(own.unbalance_random,))


def _insulation(motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield test voltage and minima of the insulation."""
    rated_v, winding = motor.nameplate.rated_voltage_v, motor.winding
    voltage = insulation_test_voltage_v(rated_v)
    yield ShopLimit(kind=LimitKind.INSULATION_VOLTAGE, values=voltage)
    span = limits.insulation.changeover_span_years
    for kind in winding_kinds(winding.construction, winding.built_year, rated_v, span):
        least = minimum_insulation_ohm(kind, rated_v)
        yield ShopLimit(kind=LimitKind.INSULATION_MIN, values=(least.value,), form=kind.value)
    if winding.construction != "random":
        stated = motor.nameplate.thermal_class
        for letter in CLASSES_OF_ANY if stated is None else (stated,):
            index = minimum_polarization_index(letter)
            if not isinstance(index, NotKnown):
                values = (index.value,)
                yield ShopLimit(kind=LimitKind.POLARIZATION_MIN, values=values, form=letter)
        ceiling = (POLARIZATION_CEILING_OHM,)
        yield ShopLimit(kind=LimitKind.POLARIZATION_CEILING, values=ceiling)


def _single_phase(motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield voltage and guidance of the single-phase rotation test."""
    rated_v, own = motor.nameplate.rated_voltage_v, limits.shop
    low, high = (part * rated_v for part in own.single_phase_voltage)
    yield ShopLimit(kind=LimitKind.SINGLE_PHASE_VOLTAGE, values=(low, high))
    yield ShopLimit(kind=LimitKind.SINGLE_PHASE_VARIATION, values=own.single_phase_variation)


def _balance(motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield grade and permissible residual unbalance per mass of rotor, ``G / omega``.

    In g mm per kg, which is micrometres: a grade of 2.5 mm/s at 1500 r/min leaves 15.9.
    """
    grade = limits.shop.balance_grade_mm_s
    omega = motor.nameplate.synchronous_speed_rpm * 2.0 * math.pi / 60.0
    yield ShopLimit(kind=LimitKind.BALANCE, values=(grade, 1e3 * grade / omega))


def _no_load(motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield how even the no-load run has to be, and what the nameplate lets expect."""
    own = limits.shop
    yield ShopLimit(kind=LimitKind.NO_LOAD_VOLTAGE, values=(own.voltage_unbalance,))
    yield ShopLimit(kind=LimitKind.NO_LOAD_CURRENT, values=(own.no_load_current_unbalance,))
    current = no_load_current_a(motor)
    values = (current.value, current.low, current.high)
    yield ShopLimit(kind=LimitKind.NO_LOAD_EXPECTED, values=values)


def _dissipation(motor: Motor, limits: Limits) -> Iterator[ShopLimit]:
    """Yield the reference of new windings; it is the same for every motor."""
    del motor, limits
    values = (NEW_DISSIPATION_MAX, NEW_TIP_UP_MAX)
    yield ShopLimit(kind=LimitKind.DISSIPATION_NEW, values=values)


_COMPUTED: Mapping[Check, Callable[[Motor, Limits], Iterator[ShopLimit]]] = {
    Check.RESISTANCE: _unbalance,
    Check.INSULATION: _insulation,
    Check.DISSIPATION: _dissipation,
    Check.SINGLE_PHASE: _single_phase,
    Check.BALANCE: _balance,
    Check.NO_LOAD: _no_load,
}


def _fixed(check: Check, own: ShopLimits) -> Iterator[ShopLimit]:
    """Yield limits that are numbers of the file, the same for every motor."""
    numbers: Mapping[Check, Mapping[LimitKind, tuple[float, ...]]] = {
        Check.SHAFT_RUNOUT: {LimitKind.RUNOUT: (own.shaft_runout_mm,)},
        Check.AIR_GAP: {LimitKind.AIR_GAP: (own.air_gap_deviation,)},
        Check.CORE_LOSS: {
            LimitKind.CORE_FLUX: (own.core_test_flux_t,),
            LimitKind.CORE_RISE: (own.core_loss_rise,),
            LimitKind.CORE_SPOT: (own.core_hot_spot_k,),
        },
        Check.VIBRATION: {
            LimitKind.VIBRATION_FREE: own.housing_vibration_free_mm_s,
            LimitKind.VIBRATION_RIGID: own.housing_vibration_rigid_mm_s,
        },
    }
    for kind, values in numbers.get(check, {}).items():
        yield ShopLimit(kind=kind, values=values)


def no_load_current_a(motor: Motor) -> Estimate:
    """Return the line current at rated voltage without load, A rms, by the motor's circuit."""
    from cagewise.machine.estimate import circuit_ensemble

    plate = motor.nameplate
    circuit = circuit_ensemble(motor, N_DRAWS)
    slip = np.full(N_DRAWS, NEARLY_SYNCHRONOUS)
    state = circuit.at(slip, 2.0 * math.pi * plate.rated_frequency_hz)
    current = np.abs(state.stator_current(plate.rated_phase_voltage_peak_v))
    return Estimate.from_draws(current / math.sqrt(2.0))


def _levels(motor: Motor, subjects: frozenset[Subject]) -> tuple[TestLevel, ...]:
    """Return overvoltage and surge levels: of a new winding if it may become one."""
    if not {Subject.WINDING, Subject.INSULATION} & subjects:
        return ()
    rewound = Subject.WINDING in subjects
    wanted = ("acceptance_", "surge_new", "impulse_") if rewound else ()
    kept = ("maintenance_", "surge_in_service") if Subject.INSULATION in subjects else ()
    return tuple(
        level
        for level in advise_test_levels(motor)
        if level.in_scope is not False and level.name.startswith((*wanted, *kept))
    )


def accept(motor: Motor, limits: Limits | None = None) -> Acceptance:
    """Return what is measured in the plant afterwards."""
    limits = limits or load_limits()
    own, repair = limits.shop, limits.repair
    power = motor.nameplate.rated_power_w
    medium = own.running_vibration_medium_mm_s if power >= MEDIUM_FROM_W else None
    expectation = expect(motor, limits=limits)
    points = tuple(p for p in expectation.points if p.load_fraction in SHOWN_LOADS)
    return Acceptance(
        bars_max=repair.accepted_bars_max,
        least_load_fraction=repair.least_load_fraction,
        within_days=repair.largest_age_days,
        points=points,
        vibration_mm_s=own.running_vibration_large_mm_s if power > LARGE_FROM_W else medium,
        baseline_record_s=max(point.detection.record_s for point in points),
    )
