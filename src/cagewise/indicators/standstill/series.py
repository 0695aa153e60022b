"""The readings of one pair of terminals as the fit wants them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cagewise.measurement.test_sheet import PositionSeries, TerminalPair
from cagewise.quantities import RealArray

PAIR_ORDER: tuple[TerminalPair, ...] = (TerminalPair.AB, TerminalPair.BC, TerminalPair.CA)
"""Each shows the rotor a third of a pole pair after the one before."""
SAME_ANGLE_RAD = math.radians(0.5)
"""Shaft angles closer than this are the same position written twice."""


class Quantity(StrEnum):
    """What was read at each position."""

    RESISTANCE = "resistance"
    INDUCTANCE = "inductance"
    MODULUS = "impedance"


@dataclass(frozen=True, slots=True, kw_only=True)
class PairReadings:
    """One pair at one frequency; arrays of shape (n,) in the order of reading."""

    pair: TerminalPair
    frequency_hz: float
    pole_pairs: int
    shaft_angle_rad: RealArray
    """Mechanical."""
    values: Mapping[Quantity, RealArray]
    """In ohm and henry: resistance with inductance, or the one that was read."""

    @classmethod
    def of(cls, series: PositionSeries, pole_pairs: int) -> PairReadings:
        """Return the readings of a series; |Z| only where L was not read beside R or alone."""
        values: dict[Quantity, RealArray] = {}
        if series.inductance_h is not None:
            values[Quantity.INDUCTANCE] = series.inductance_h
        if series.resistance_ohm is not None:
            values[Quantity.RESISTANCE] = series.resistance_ohm
        if series.impedance_ohm is not None and series.inductance_h is None:
            values = {Quantity.MODULUS: series.impedance_ohm}
        return cls(
            pair=series.pair,
            frequency_hz=series.frequency_hz,
            pole_pairs=pole_pairs,
            shaft_angle_rad=series.shaft_angle_rad,
            values=values,
        )

    @property
    def name(self) -> str:
        """The pair as a person writes it: ``"a-b"``."""
        return "-".join(self.pair.value)

    @property
    def electrical_angle_rad(self) -> RealArray:
        """Angle of the shaft times p, shape (n,)."""
        return np.asarray(self.pole_pairs * self.shaft_angle_rad)

    @property
    def time(self) -> RealArray:
        """Order of reading from -1/2 to 1/2: what warms up or creeps does so in time."""
        n = self.shaft_angle_rad.size
        return np.linspace(-0.5, 0.5, n) if n > 1 else np.zeros(n)

    @property
    def returned(self) -> bool:
        """Whether the last reading is at the angle of the first."""
        turned = self.shaft_angle_rad[-1] - self.shaft_angle_rad[0]
        off = (turned + math.pi) % (2.0 * math.pi) - math.pi
        return self.shaft_angle_rad.size > 1 and bool(abs(off) < SAME_ANGLE_RAD)

    @property
    def coverage(self) -> tuple[int, float]:
        """Number of different positions, and pole pairs that they cover (at most all)."""
        turn = 2.0 * math.pi
        angles = np.sort(self.shaft_angle_rad % turn)
        gaps = np.diff(np.append(angles, angles[0] + turn))
        gaps = gaps[gaps > SAME_ANGLE_RAD]
        if gaps.size < 2:
            return max(1, int(gaps.size)), 0.0
        covered = turn - float(gaps.max()) + float(np.median(gaps))
        return int(gaps.size), min(covered, turn) * self.pole_pairs / turn

    @property
    def modulus_ohm(self) -> RealArray | None:
        """|Z| at every position; None where it cannot be had."""
        if Quantity.MODULUS in self.values:
            return self.values[Quantity.MODULUS]
        if len(self.values) < 2:
            return None
        omega = 2.0 * math.pi * self.frequency_hz
        reactance = omega * self.values[Quantity.INDUCTANCE]
        return np.hypot(self.values[Quantity.RESISTANCE], reactance)

    @property
    def rotation_index(self) -> float | None:
        """(I_max - I_min) / I_mean of the current at constant voltage, from |Z|."""
        modulus = self.modulus_ohm
        if modulus is None:
            return None
        current = 1.0 / modulus
        return float(np.ptp(current) / np.mean(current))


def in_frequencies(
    series: Sequence[PositionSeries], pole_pairs: int
) -> dict[float, tuple[PairReadings, ...]]:
    """Return the readings by frequency, ascending, the pairs in the order of the phases."""
    frequencies = sorted({s.frequency_hz for s in series})
    return {
        frequency: tuple(
            sorted(
                (PairReadings.of(s, pole_pairs) for s in series if s.frequency_hz == frequency),
                key=lambda readings: PAIR_ORDER.index(readings.pair),
            )
        )
        for frequency in frequencies
    }


def turns(angle_rad: RealArray, orders: Sequence[float]) -> NDArray[np.float64]:
    """Return columns cos(q x), sin(q x) for every order q, shape (n, 2 n_orders)."""
    columns = [f(q * angle_rad) for q in orders for f in (np.cos, np.sin)]
    return np.stack(columns, axis=1) if columns else np.empty((angle_rad.size, 0))
