"""What a damage would show on every cage that this motor may have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from cagewise.machine.cage.balance import OperatingCondition
from cagewise.machine.cage.clocks import QUICK
from cagewise.machine.cage.loading import slip_at_torque
from cagewise.machine.cage.patterns import DamageOfCage
from cagewise.machine.cage.plausible import CageDraws, plausible_cages, plausible_inertia
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    FIFTH_SIX,
    LOWER,
    SEVENTH_EIGHT,
    SEVENTH_SIX,
    SUPPLY,
    UPPER,
    CageSolution,
    Line,
    solve_cage,
)
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

SIDE_LINES: tuple[Line, ...] = (LOWER, UPPER)
HARMONIC_LINES: tuple[Line, ...] = (FIFTH_FOUR, FIFTH_SIX, SEVENTH_SIX, SEVENTH_EIGHT)
LINES = SIDE_LINES + HARMONIC_LINES


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingDraws:
    """Where the motor runs; arrays of shape (n_draws,)."""

    slip: RealArray
    frequency_hz: float
    voltage_v: float
    """Phase to neutral, peak."""
    inertia_kg_m2: RealArray
    """Total inertia at the shaft."""

    @classmethod
    def of(
        cls,
        motor: Motor,
        n_draws: int,
        *,
        slip: RealArray | float,
        frequency_hz: float,
        voltage_v: float,
    ) -> OperatingDraws:
        """Return an operating point with the inertias that this motor may have."""
        slips = np.broadcast_to(np.asarray(slip, dtype=np.float64), (n_draws,))
        return cls(
            slip=slips,
            frequency_hz=frequency_hz,
            voltage_v=voltage_v,
            inertia_kg_m2=plausible_inertia(motor, n_draws),
        )


@dataclass(frozen=True, slots=True)
class Response:
    """What one damage shows, per draw; arrays of shape (n_draws,)."""

    direct_ratio: RealArray
    """|d| / |I_r|: direct component over referred rotor current."""
    lines: Mapping[Line, RealArray]
    """|line| / |I_1| of :data:`LINES`."""
    slip: RealArray
    """Mean slip; NaN where a draw cannot carry the load."""
    current_a: RealArray
    """|I_1|, A peak."""


class CageEnsemble:
    """The cages that a motor may have, at one operating point."""

    def __init__(
        self,
        motor: Motor,
        circuit: EquivalentCircuit,
        point: OperatingDraws,
        seen_bars: tuple[int, ...] = (),
    ) -> None:
        self.point = point
        self.n_draws = int(circuit.rotor_resistance_ohm.size)
        self._groups = plausible_cages(motor, circuit, seen_bars=seen_bars)
        self.rotor_bars: RealArray = np.concatenate(
            [
                np.full(g.members.stop - g.members.start, float(g.model.rotor_bars))
                for g in self._groups
            ]
        )

    def at_slip(self, damage_of: DamageOfCage) -> Response:
        """Return the response with the slip as given: that of the damaged motor, measured."""
        parts = []
        for group in self._groups:
            damage = damage_of(group.model.rotor_bars, group.model.pole_pairs)
            solution = solve_cage(group.model, damage, self._condition(group), QUICK)
            parts.append((solution, self.point.slip[group.members]))
        return _collected(parts)

    def at_torque_of_sound_cage(self, damage_of: DamageOfCage) -> Response:
        """Return the response when the damaged motor carries what the sound one did at this slip.

        A damaged cage needs more slip: 4 % more for one open bar in 32, a quarter for four.
        """
        parts = []
        for group in self._groups:
            damage = damage_of(group.model.rotor_bars, group.model.pole_pairs)
            condition = self._condition(group)
            sound = group.model.circuit().at(condition.slip, condition.frequency_rad_s)
            torque = sound.electromagnetic_torque(self.point.voltage_v, group.model.pole_pairs)
            slip = slip_at_torque(group.model, damage, torque, condition)
            found = np.where(np.isfinite(slip), slip, condition.slip)
            solution = solve_cage(group.model, damage, replace(condition, slip=found), QUICK)
            parts.append((solution, slip))
        return _collected(parts)

    def _condition(self, group: CageDraws) -> OperatingCondition:
        """Return the operating condition of one group."""
        point = self.point
        return OperatingCondition(
            slip=point.slip[group.members],
            frequency_rad_s=2.0 * np.pi * point.frequency_hz,
            voltage_v=point.voltage_v,
            inertia_kg_m2=point.inertia_kg_m2[group.members],
        )


def _collected(parts: list[tuple[CageSolution, RealArray]]) -> Response:
    """Return the responses of all groups in the order of the draws."""
    return Response(
        direct_ratio=np.concatenate([s.direct_ratio for s, _ in parts]),
        lines={
            line: np.concatenate([np.abs(s.relative(line)) for s, _ in parts]) for line in LINES
        },
        slip=np.concatenate([slip for _, slip in parts]),
        current_a=np.concatenate([np.abs(s.stator[SUPPLY]) for s, _ in parts]),
    )
