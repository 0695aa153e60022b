"""What adjacent open bars would show on this motor, and back: a reading as open bars."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from cagewise.machine.cage.ensemble import (
    HARMONIC_LINES,
    SIDE_LINES,
    CageEnsemble,
    OperatingDraws,
    Response,
)
from cagewise.machine.cage.patterns import adjacent, cracked, spaced
from cagewise.machine.cage.solution import Line
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

__all__ = [
    "APART_BARS",
    "COUNTS",
    "CRACK_BARS",
    "HARMONIC_LINES",
    "SIDE_LINES",
    "CageExpectation",
    "expect_readings",
    "expect_small_damage",
    "readings_of",
]

COUNTS = (1, 2, 3, 4)
"""Adjacent open bars that are solved; more are not told apart from four."""
CRACK_FACTOR = 5.0
"""Factor on the resistance of the cracked bar that is solved. Up to here the lines beside the 5th
and 7th harmonic grow in proportion to the current that the bar has lost (docs/theory)."""
CRACK_BARS = (CRACK_FACTOR - 1.0) / CRACK_FACTOR
"""What that bar is worth in open bars: the part of its current that it has lost."""
APART_DEGREES = 90.0
"""Electrical degrees between two open bars that hide from the side lines (kernel K2)."""
APART_BARS = 2.0
"""What these two are worth beside the 5th and 7th harmonic."""
_UNSEEN_BARS = 1e3
"""Stands for the bars that a reading would need where the response of every number vanishes."""


@dataclass(frozen=True, slots=True)
class CageExpectation:
    """Readings expected of 1, 2, 3, 4 adjacent open bars; arrays (len(COUNTS), n_draws)."""

    direct_component: RealArray
    """|d| / |I_r|, per unit: d the direct component, I_r the referred rotor current."""
    harmonic_lines: dict[Line, RealArray]
    """|line| / |I_1|, per unit, of the lines beside the 5th and 7th harmonic."""
    side_lines: dict[Line, RealArray]
    """|line| / |I_1|, per unit, of (1 -+ 2s) f, at the inertias this drive may have."""
    cracked_lines: dict[Line, RealArray] = field(default_factory=dict)
    """The harmonic lines of one bar that has lost :data:`CRACK_BARS` of its current, (n_draws,)."""
    apart_lines: dict[Line, RealArray] = field(default_factory=dict)
    """The harmonic lines of two open bars 90 electrical degrees apart, (n_draws,)."""

    @classmethod
    def of(
        cls,
        responses: tuple[Response, ...],
        crack: Response | None = None,
        apart: Response | None = None,
    ) -> CageExpectation:
        """Return the expectation from the responses of 1, 2, 3, 4 adjacent open bars."""
        return cls(
            direct_component=np.stack([r.direct_ratio for r in responses]),
            harmonic_lines={
                line: np.stack([r.lines[line] for r in responses]) for line in HARMONIC_LINES
            },
            side_lines={line: np.stack([r.lines[line] for r in responses]) for line in SIDE_LINES},
            cracked_lines=_harmonic_lines(crack),
            apart_lines=_harmonic_lines(apart),
        )

    @property
    def _counts(self) -> tuple[int, ...]:
        """Adjacent open bars of the responses."""
        return COUNTS[: self.direct_component.shape[0]]

    def direct_component_bars(self, ratio: RealArray) -> RealArray:
        """Return open-bar equivalents, shape (n_draws,), of measured |d| / |I_r| (n_draws,).

        Linear up to one bar (half the reading is half a bar), interpolated above, and held to the
        slope of the last step beyond four.
        """
        return bars_of_response(self.direct_component, ratio, self._counts)

    def side_line_bars(self, line: Line, ratio: RealArray) -> RealArray:
        """Return open-bar equivalents of measured |line| / |I_1|, as the inertia may be."""
        return bars_of_response(self.side_lines[line], ratio, self._counts)

    def harmonic_line_bars(self, line: Line, ratio: RealArray) -> RealArray:
        """Return the smallest number of adjacent open bars that gives this |line| / |I_1|.

        See :func:`smallest_count`: kernels K4, K6, K8 do not grow steadily with the number. Below
        one bar the current that the bar has lost counts: these lines see less of a crack than its
        part of the direct component would say.
        """
        counts = self._counts
        if not self.cracked_lines:
            return smallest_count(self.harmonic_lines[line], ratio, counts)
        response = np.vstack([self.cracked_lines[line], self.harmonic_lines[line]])
        return smallest_count(response, ratio, (CRACK_BARS, *counts))


def _harmonic_lines(response: Response | None) -> dict[Line, RealArray]:
    """Return the harmonic lines of a response, none of none."""
    return {} if response is None else {line: response.lines[line] for line in HARMONIC_LINES}


def expect_readings(
    motor: Motor,
    circuit: EquivalentCircuit,
    *,
    slip: RealArray | float,
    frequency_hz: float,
    voltage_v: float,
    seen_bars: tuple[int, ...] = (),
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
    seen_bars
        Numbers of bars to which the slot lines of a record point; empty where there is no record.
    """
    n_draws = int(circuit.rotor_resistance_ohm.size)
    point = OperatingDraws.of(
        motor, n_draws, slip=slip, frequency_hz=frequency_hz, voltage_v=voltage_v
    )
    return readings_of(CageEnsemble(motor, circuit, point, seen_bars))


def readings_of(ensemble: CageEnsemble) -> CageExpectation:
    """Return what adjacent open bars would show on the cages that a motor may have."""
    return CageExpectation.of(
        tuple(ensemble.at_slip(adjacent(count)) for count in COUNTS),
        crack=ensemble.at_slip(cracked(CRACK_FACTOR)),
        apart=ensemble.at_slip(spaced(APART_DEGREES)),
    )


def expect_small_damage(
    motor: Motor,
    circuit: EquivalentCircuit,
    *,
    slip: RealArray | float,
    frequency_hz: float,
    voltage_v: float,
) -> CageExpectation:
    """Return what a crack and one open bar would show, as :func:`expect_readings` in less time.

    Larger readings are scaled up from one bar.
    """
    n_draws = int(circuit.rotor_resistance_ohm.size)
    point = OperatingDraws.of(
        motor, n_draws, slip=slip, frequency_hz=frequency_hz, voltage_v=voltage_v
    )
    ensemble = CageEnsemble(motor, circuit, point)
    crack = ensemble.at_slip(cracked(CRACK_FACTOR))
    return CageExpectation.of((ensemble.at_slip(adjacent(1)),), crack=crack)


def smallest_count(
    response: RealArray, reading: RealArray, counts: tuple[float, ...] = COUNTS
) -> RealArray:
    """Return the smallest number of adjacent open bars that gives a reading, shape (n_draws,).

    Parameters
    ----------
    response
        Of ``counts`` adjacent open bars, shape (len(counts), n_draws).
    reading
        In the same unit, shape (n_draws,).
    counts
        Growing.

    A response need not grow steadily with the number of bars, so the reading is compared with the
    largest one up to each count. Above the largest of all it is scaled up from there: no number of
    adjacent bars gives such a reading. A coil of 0.8 of a pole pitch makes no 5th order at all:
    where every response vanishes, no reading but zero is possible.
    """
    largest = response.max(axis=0)
    of_largest = np.array(counts, dtype=np.float64)[response.argmax(axis=0)]
    least = of_largest * np.abs(reading) / _UNSEEN_BARS
    some = np.maximum(largest, np.maximum(least, np.finfo(np.float64).tiny))
    beyond = of_largest * reading / some
    return np.where(reading > largest, beyond, bars_of_response(response, reading, counts))


def bars_of_response(
    response: RealArray, reading: RealArray, counts: tuple[float, ...] = COUNTS
) -> RealArray:
    """Return where ``response`` (counts, draws), zero at no bar, meets a reading (draws,), in bars.

    Linear up to the first count, between counts, and beyond the last with the slope of the last
    step.
    """
    places = np.array([0.0, *counts])
    levels = np.maximum.accumulate(np.vstack([np.zeros(response.shape[1]), response]), axis=0)
    step = np.clip(np.sum(levels <= reading, axis=0) - 1, 0, len(counts) - 1)
    draw = np.arange(response.shape[1])
    low, high = levels[step, draw], levels[step + 1, draw]
    rise = np.where(high > low, high - low, np.inf)
    width = places[step + 1] - places[step]
    bars = places[step] + width * (reading - low) / rise
    return np.where(reading > 0.0, bars, 0.0)
