"""The test of impedance against rotor position: all its readings, and what a figure needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cagewise.indicators.reading import Reading
from cagewise.indicators.standstill.expected import StandstillScale, standstill_scale
from cagewise.indicators.standstill.fit import PairFit
from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.pattern import (
    SIGNAL_OF,
    PatternFits,
    fit_pattern,
    pattern_fault,
)
from cagewise.indicators.standstill.position_pattern import (
    NAME,
    PatternContext,
    read_pattern,
    refused,
    rotation_details,
)
from cagewise.indicators.standstill.series import PAIR_ORDER, PairReadings, in_frequencies
from cagewise.indicators.standstill.unbalance import (
    read_unbalance,
    refused_unbalance,
    unbalance_refusal,
)
from cagewise.machine.cage.standstill import SHIFT_OF_THE_NEXT_PAIR_RAD
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.measurement.test_sheet import TerminalPair, TestSheet
from cagewise.quantities import NotKnown, RealArray

GRID = 181
"""Points of a drawn curve over one electrical turn: every two degrees, both ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionCurve:
    """One quantity of one pair for a figure; per cent about the mean, electrical degrees."""

    pair: TerminalPair
    frequency_hz: float
    quantity: str
    """``"inductance"``, ``"resistance"`` or ``"impedance"``."""
    angle_deg: RealArray
    """Electrical angles of the readings within one turn, shape (n,), in the order of reading."""
    measured_percent: RealArray
    """Readings less drift and the waves of an eccentric shaft, shape (n,)."""
    grid_deg: RealArray
    """Electrical angles of the curves, shape (GRID,)."""
    fitted_percent: RealArray
    """Orders 2 and 4 and the slot ripple that was told apart, shape (GRID,)."""
    one_open_bar_percent: RealArray
    """What one open bar would show (the middle one of the cages this motor may have), laid so that
    its order 2 has the phase that the rotor's pattern has, shape (GRID,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionResult:
    """Everything read from a test of impedance against position."""

    readings: tuple[Reading, ...]
    """The pattern at the frequency next to the rated one, the patterns at other frequencies
    ("position_pattern_200_hz"), the unbalance of the phases; empty when no series was entered."""
    curves: tuple[PositionCurve, ...]
    """Of every pair and quantity that could be fitted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _OneFrequency:
    """What one frequency gave."""

    pattern: Reading
    unbalance: Reading
    curves: tuple[PositionCurve, ...]


def read_positions(
    sheet: TestSheet, motor: Motor, circuit: EquivalentCircuit, limits: PositionLimits
) -> PositionResult:
    """Read impedance against rotor position.

    Parameters
    ----------
    sheet
        Position series of one to three pairs of terminals at one or more frequencies.
    motor
        Poles, number of bars, winding.
    circuit
        Equivalent circuit, one or an ensemble that expresses its uncertainty.
    limits
        Validity limits.
    """
    groups = in_frequencies(sheet.positions, motor.nameplate.pole_pairs)
    if not groups:
        return PositionResult(readings=(), curves=())
    rated = motor.nameplate.rated_frequency_hz
    order = sorted(groups, key=lambda frequency: abs(math.log(frequency / rated)))
    names = [NAME, *(f"{NAME}_{f:g}_hz".replace(".", "_") for f in order[1:])]
    found = [
        _read_frequency(name, groups[frequency], sheet, (motor, circuit, limits))
        for name, frequency in zip(names, order, strict=True)
    ]
    unbalance = next((f.unbalance for f in found if f.unbalance.valid), found[0].unbalance)
    return PositionResult(
        readings=(
            *(
                replace(f.pattern, title=f"{f.pattern.title}, {frequency:g} Hz")
                for f, frequency in zip(found, order, strict=True)
            ),
            unbalance,
        ),
        curves=tuple(curve for f in found for curve in f.curves),
    )


def _read_frequency(
    name: str,
    pairs: Sequence[PairReadings],
    sheet: TestSheet,
    about: tuple[Motor, EquivalentCircuit, PositionLimits],
) -> _OneFrequency:
    """Read the pairs of one frequency."""
    motor, circuit, limits = about
    fits = fit_pattern(pairs, motor, circuit, limits)
    if isinstance(fits, NotKnown):
        details = dict(item for pair in pairs for item in rotation_details(pair))
        return _OneFrequency(
            pattern=refused(name, fits.reason, details),
            unbalance=refused_unbalance(unbalance_refusal(pairs, fits.reason)),
            curves=(),
        )
    signals = {fits.signal, *(SIGNAL_OF[quantity] for quantity in fits.fits)}
    scale = standstill_scale(motor, circuit, fits.frequency_hz, signals)
    context = PatternContext(fits=fits, scale=scale, motor=motor, sheet=sheet, limits=limits)
    return _OneFrequency(
        pattern=read_pattern(name, context, pattern_fault(fits, limits)),
        unbalance=read_unbalance(fits),
        curves=tuple(_curve(fit, fits, scale) for of in fits.fits.values() for fit in of),
    )


def _curve(fit: PairFit, fits: PatternFits, scale: StandstillScale) -> PositionCurve:
    """Return what a figure shows of one fit."""
    readings = fit.readings
    measured = readings.values[fit.quantity] / fit.mean - 1.0
    grid = np.linspace(0.0, 2.0 * math.pi, GRID)
    return PositionCurve(
        pair=readings.pair,
        frequency_hz=fits.frequency_hz,
        quantity=str(fit.quantity),
        angle_deg=np.degrees(readings.electrical_angle_rad % (2.0 * math.pi)),
        measured_percent=100.0 * (measured - fit.aside),
        grid_deg=np.degrees(grid),
        fitted_percent=100.0 * fit.curve(grid),
        one_open_bar_percent=100.0 * _one_open_bar(fit, fits, scale, grid),
    )


def _one_open_bar(
    fit: PairFit, fits: PatternFits, scale: StandstillScale, grid: RealArray
) -> RealArray:
    """Return the pattern of one open bar, turned to the place of what was found."""
    signal = SIGNAL_OF[fit.quantity]
    curve = scale.typical_one_bar(signal, grid[:-1])
    own = np.angle(np.sum(curve * np.exp(-2j * grid[:-1]))) / 2.0
    cosine, sine = fits.rotor[fit.quantity].of(2)
    place = math.atan2(-sine, cosine) / 2.0
    late = PAIR_ORDER.index(fit.readings.pair) * SHIFT_OF_THE_NEXT_PAIR_RAD
    angle = (grid - late + place - own) % (2.0 * math.pi)
    return np.asarray(np.interp(angle, grid, np.append(curve, curve[0])))
