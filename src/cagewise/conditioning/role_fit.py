"""Score every assignment of currents to the voltages: which of them is an induction motor."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.assignments import (
    Assignment,
    Pairing,
    Place,
    Sequences,
    all_assignments,
    self_consistent,
    sequences,
)
from cagewise.conditioning.lag_window import MOTOR_LAG_DEG
from cagewise.conditioning.role_survey import RolePhasors
from cagewise.measurement import CURRENT_ROLES, LINE_VOLTAGE_ROLES, Recording


@dataclass(frozen=True, slots=True)
class Fit:
    """What one assignment would mean."""

    pairing: Pairing
    consistent: bool
    """Near-balanced three-phase sets that turn the same way."""
    lag_deg: float
    """Lag of the current behind the phase voltage, in (-180, 180]; NaN without voltage."""

    def within(self, window_deg: tuple[float, float]) -> bool:
        """Return whether the assignment is consistent and its lag inside the window."""
        return self.consistent and window_deg[0] <= self.lag_deg <= window_deg[1]


@dataclass(frozen=True, slots=True)
class Comparison:
    """The assignment as named beside all others."""

    named: Fit
    tested: int
    """How many assignments were scored."""
    possible: tuple[Fit, ...]
    """Consistent assignments in which the machine is a motor."""
    expected: tuple[Fit, ...]
    """Those that also fit the nameplate of this motor."""


def named_pairing(recording: Recording, found: RolePhasors) -> Pairing:
    """Return the roles as the recording has them."""
    places = {row: Place(row, channel.role) for row, channel in enumerate(recording.channels)}
    return Pairing(
        tuple(places[row] for row in found.voltages), tuple(places[row] for row in found.currents)
    )


def compare(named: Pairing, found: RolePhasors, expected_deg: tuple[float, float]) -> Comparison:
    """Score every assignment against the voltages.

    The voltages keep their names if these make a three-phase set; otherwise they get the names
    nearest to them that do. Renaming voltages and currents together changes nothing, so all of
    reality is covered by trying the currents alone.
    """
    voltage = voltage_assignment(named, found)
    fits = [
        _fit(Pairing(voltage, current), found.phasors)
        for current in all_assignments(found.currents, CURRENT_ROLES)
    ]
    different = {fit.pairing.key(): fit for fit in fits if fit.within(MOTOR_LAG_DEG)}
    possible = tuple(different.values())
    return Comparison(
        named=_fit(named, found.phasors),
        tested=len(fits),
        possible=possible,
        expected=tuple(fit for fit in possible if fit.within(expected_deg)),
    )


def voltage_assignment(named: Pairing, found: RolePhasors) -> Assignment:
    """Return the assignment of voltages that changes least and makes a three-phase set."""
    if _voltages_agree(named.voltage, found.phasors):
        return named.voltage
    options = [
        option
        for option in all_assignments(found.voltages, found.voltage_roles)
        if _voltages_agree(option, found.phasors)
    ]
    if not options:
        return named.voltage
    return min(options, key=lambda v: sum(a != b for a, b in zip(v, named.voltage, strict=True)))


def _voltages_agree(assignment: Assignment, phasors: Mapping[int, complex]) -> bool:
    """Return whether voltages so named make a three-phase set."""
    line = assignment[0].role in LINE_VOLTAGE_ROLES
    return self_consistent(sequences(assignment, phasors), current=False, line=line)


def _fit(pairing: Pairing, phasors: Mapping[int, complex]) -> Fit:
    """Return what a pairing would mean."""
    voltage = sequences(pairing.voltage, phasors)
    current = sequences(pairing.current, phasors)
    consistent = (
        _voltages_agree(pairing.voltage, phasors)
        and self_consistent(current, current=True, line=False)
        and voltage.order * current.order >= 0
    )
    return Fit(pairing, consistent, lag_deg(voltage, current))


def lag_deg(voltage: Sequences, current: Sequences) -> float:
    """Return the lag of the current behind the phase voltage in the prevailing sequence."""
    order = voltage.order or current.order or 1
    ratio = voltage.of_order(order) * np.conj(current.of_order(order))
    return math.degrees(math.atan2(ratio.imag, ratio.real))
