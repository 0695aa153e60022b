"""What adjacent open bars would show on this motor, and back: a reading as open bars."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.machine.cage.ensemble import (
    HARMONIC_LINES,
    SIDE_LINES,
    CageEnsemble,
    OperatingDraws,
    Response,
)
from cagewise.machine.cage.patterns import adjacent
from cagewise.machine.cage.solution import Line
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

__all__ = ["COUNTS", "HARMONIC_LINES", "SIDE_LINES", "CageExpectation", "expect_readings"]

COUNTS = (1, 2, 3, 4)
"""Adjacent open bars that are solved; more are not told apart from four."""


@dataclass(frozen=True, slots=True)
class CageExpectation:
    """Readings expected of 1, 2, 3, 4 adjacent open bars; arrays (len(COUNTS), n_draws)."""

    direct_component: RealArray
    """|d| / |I_r|, per unit: d the direct component, I_r the referred rotor current."""
    harmonic_lines: dict[Line, RealArray]
    """|line| / |I_1|, per unit, of the lines beside the 5th and 7th harmonic."""
    side_lines: dict[Line, RealArray]
    """|line| / |I_1|, per unit, of (1 -+ 2s) f, at the inertias this drive may have."""

    @classmethod
    def of(cls, responses: tuple[Response, ...]) -> CageExpectation:
        """Return the expectation from the responses of 1, 2, 3, 4 adjacent open bars."""
        return cls(
            direct_component=np.stack([r.direct_ratio for r in responses]),
            harmonic_lines={
                line: np.stack([r.lines[line] for r in responses]) for line in HARMONIC_LINES
            },
            side_lines={line: np.stack([r.lines[line] for r in responses]) for line in SIDE_LINES},
        )

    def direct_component_bars(self, ratio: RealArray) -> RealArray:
        """Return open-bar equivalents, shape (n_draws,), of measured |d| / |I_r| (n_draws,).

        Linear up to one bar (half the reading is half a bar), interpolated above, and held to the
        slope of the last step beyond four.
        """
        return bars_of_response(self.direct_component, ratio)

    def side_line_bars(self, line: Line, ratio: RealArray) -> RealArray:
        """Return open-bar equivalents of measured |line| / |I_1|, as the inertia may be."""
        return bars_of_response(self.side_lines[line], ratio)

    def harmonic_line_bars(self, line: Line, ratio: RealArray) -> RealArray:
        """Return the smallest number of adjacent open bars that gives this |line| / |I_1|.

        See :func:`smallest_count`: kernels K4, K6, K8 do not grow steadily with the number.
        """
        return smallest_count(self.harmonic_lines[line], ratio)


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
        Per unit, shape () or (n_draws,): that of the motor as it is, damaged or not.
    frequency_hz, voltage_v
        Supply; the voltage is phase-to-neutral, peak.
    """
    n_draws = int(circuit.rotor_resistance_ohm.size)
    point = OperatingDraws.of(
        motor, n_draws, slip=slip, frequency_hz=frequency_hz, voltage_v=voltage_v
    )
    ensemble = CageEnsemble(motor, circuit, point)
    return CageExpectation.of(tuple(ensemble.at_slip(adjacent(count)) for count in COUNTS))


def smallest_count(response: RealArray, reading: RealArray) -> RealArray:
    """Return the smallest number of adjacent open bars that gives a reading, shape (n_draws,).

    Parameters
    ----------
    response
        Of 1, 2, 3, 4 adjacent open bars, shape (len(COUNTS), n_draws).
    reading
        In the same unit, shape (n_draws,).

    A response need not grow steadily with the number of bars, so the reading is compared with the
    largest one up to each count. Above the largest of all it is scaled up from there: no number of
    adjacent bars gives such a reading.
    """
    largest = response.max(axis=0)
    count_of_largest = np.array(COUNTS, dtype=np.float64)[response.argmax(axis=0)]
    beyond = count_of_largest * reading / largest
    return np.where(reading > largest, beyond, bars_of_response(response, reading))


def bars_of_response(response: RealArray, reading: RealArray) -> RealArray:
    """Return where ``response`` (counts, draws), zero at no bar, meets a reading (draws,), in bars.

    Linear up to one bar, between counts, and beyond four with the slope of the last step.
    """
    counts = np.array([0.0, *COUNTS])
    levels = np.maximum.accumulate(np.vstack([np.zeros(response.shape[1]), response]), axis=0)
    step = np.clip(np.sum(levels <= reading, axis=0) - 1, 0, len(COUNTS) - 1)
    draw = np.arange(response.shape[1])
    low, high = levels[step, draw], levels[step + 1, draw]
    rise = np.where(high > low, high - low, np.inf)
    return np.asarray(counts[step] + (reading - low) / rise)
