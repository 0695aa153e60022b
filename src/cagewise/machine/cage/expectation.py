"""What adjacent open bars would show on this motor, and back: a reading as open bars.

The direct component and the harmonic cage lines hardly depend on inertia, so the speed is held
constant here and one solution per pattern is enough.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.machine.cage.clocks import QUICK
from cagewise.machine.cage.plausible import plausible_cages
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    FIFTH_SIX,
    SEVENTH_EIGHT,
    SEVENTH_SIX,
    Damage,
    Line,
    OperatingCondition,
    solve_cage,
)
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

COUNTS = (1, 2, 3, 4)
"""Adjacent open bars that are solved; more are not told apart from four."""
HARMONIC_LINES: tuple[Line, ...] = (FIFTH_FOUR, FIFTH_SIX, SEVENTH_SIX, SEVENTH_EIGHT)


@dataclass(frozen=True, slots=True)
class CageExpectation:
    """Readings expected of 1, 2, 3, 4 adjacent open bars; arrays (len(COUNTS), n_draws)."""

    direct_component: RealArray
    """|d| / |I_r|, per unit: d the direct component, I_r the referred rotor current."""
    harmonic_lines: dict[Line, RealArray]
    """|line| / |I_1|, per unit, of the lines beside the 5th and 7th harmonic."""

    def direct_component_bars(self, ratio: RealArray) -> RealArray:
        """Return open-bar equivalents, shape (n_draws,), of measured |d| / |I_r| (n_draws,).

        Linear up to one bar (half the reading is half a bar), interpolated above, and held to the
        slope of the last step beyond four.
        """
        return _invert(self.direct_component, ratio)

    def harmonic_line_bars(self, line: Line, ratio: RealArray) -> RealArray:
        """Return the smallest number of adjacent open bars that gives this |line| / |I_1|.

        These lines do not grow steadily with the number of bars (kernels K4, K6, K8), so the
        reading is compared with the largest response up to each count.
        """
        return _invert(np.maximum.accumulate(self.harmonic_lines[line], axis=0), ratio)


def expect_readings(
    motor: Motor,
    circuit: EquivalentCircuit,
    *,
    slip: RealArray | float,
    frequency_hz: float,
    voltage_v: float,
) -> CageExpectation:
    """Return what adjacent open bars would show, for every draw of the circuit ensemble.

    Parameters
    ----------
    motor, circuit
        The motor and an ensemble of shape (n_draws,).
    slip
        Per unit, shape () or (n_draws,).
    frequency_hz, voltage_v
        Supply; the voltage is phase-to-neutral, peak.
    """
    n_draws = int(circuit.rotor_resistance_ohm.size)
    slips = np.broadcast_to(np.asarray(slip, dtype=np.float64), (n_draws,))
    direct = np.empty((len(COUNTS), n_draws))
    lines = {line: np.empty((len(COUNTS), n_draws)) for line in HARMONIC_LINES}
    for group in plausible_cages(motor, circuit):
        condition = OperatingCondition(
            slip=slips[group.members],
            frequency_rad_s=2.0 * np.pi * frequency_hz,
            voltage_v=voltage_v,
            inertia_kg_m2=np.array(np.inf),
        )
        for row, count in enumerate(COUNTS):
            solution = solve_cage(group.model, Damage.adjacent_open(count), condition, QUICK)
            direct[row, group.members] = solution.direct_ratio
            for line in HARMONIC_LINES:
                lines[line][row, group.members] = np.abs(solution.relative(line))
    return CageExpectation(direct, lines)


def _invert(response: RealArray, reading: RealArray) -> RealArray:
    """Return where ``response`` (counts, draws), zero at no bar, meets a reading."""
    counts = np.array([0.0, *COUNTS])
    levels = np.maximum.accumulate(np.vstack([np.zeros(response.shape[1]), response]), axis=0)
    step = np.clip(np.sum(levels <= reading, axis=0) - 1, 0, len(COUNTS) - 1)
    draw = np.arange(response.shape[1])
    low, high = levels[step, draw], levels[step + 1, draw]
    rise = np.where(high > low, high - low, np.inf)
    return np.asarray(counts[step] + (reading - low) / rise)
