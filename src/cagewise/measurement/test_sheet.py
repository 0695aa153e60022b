"""What was measured on the motor at rest: typed readings of one occasion, nothing guessed.

SI units; ``nan`` never stands for a missing reading: what was not measured is ``None`` or absent.
Arrays are read-only and in the order in which the readings were taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from types import MappingProxyType
from typing import ClassVar

import numpy as np

from cagewise.measurement.recording import Provenance
from cagewise.quantities import RealArray


class TerminalPair(StrEnum):
    """Two line terminals of the motor; b-c follows a-b in phase order."""

    AB = "ab"
    BC = "bc"
    CA = "ca"


class Place(StrEnum):
    """Where the instrument was connected: the cable belongs to what is measured, or not."""

    TERMINALS = "motor terminals"
    SWITCHBOARD = "switchboard"


@dataclass(frozen=True, slots=True, kw_only=True)
class WindingResistance:
    """Direct-current resistance between line terminals, four-wire."""

    line_resistance_ohm: Mapping[TerminalPair, float]
    """As measured, at :attr:`winding_temperature_degc`; one entry per pair that was measured."""
    winding_temperature_degc: float | None = None
    """Of the winding; the sheet's temperature if None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionSeries:
    """Readings of one pair of terminals at one frequency against the angle of the shaft.

    At least one of the three quantities is present; all arrays have the shape of the angles. A last
    reading at the angle of the first is the check that nothing drifted.
    """

    pair: TerminalPair
    frequency_hz: float
    """Of the test voltage."""
    shaft_angle_rad: RealArray
    """Mechanical angle of the shaft from an arbitrary mark, positive in the direction of turning,
    shape (n,), in the order of measuring."""
    resistance_ohm: RealArray | None = None
    """Series resistance at the test frequency."""
    inductance_h: RealArray | None = None
    """Series inductance at the test frequency."""
    impedance_ohm: RealArray | None = None
    """Modulus of the impedance, where only voltage and current were read."""
    test_current_rms_a: float | None = None
    """Level of the test; a trend needs it equal."""
    winding_temperature_degc: float | None = None

    def __post_init__(self) -> None:
        arrays = [
            a for a in (self.resistance_ohm, self.inductance_h, self.impedance_ohm) if a is not None
        ]
        if not arrays or any(a.shape != self.shaft_angle_rad.shape for a in arrays):
            message = "a position series needs readings, as many as angles"
            raise ValueError(message)
        for array in (*arrays, self.shaft_angle_rad):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class InsulationResistanceTest:
    """Insulation resistance against time at one direct voltage."""

    test_voltage_v: float
    time_s: RealArray
    """After the voltage was applied, ascending, shape (n,)."""
    resistance_ohm: RealArray
    """Insulation resistance at these times, as measured, shape (n,)."""
    tested: str = "winding to earth"
    """What was between the leads: the whole winding, or one phase with the others earthed."""
    winding_temperature_degc: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepVoltageTest:
    """Current against stepped direct voltage (controlled overvoltage test)."""

    voltage_v: RealArray
    """Ascending, shape (n,)."""
    current_a: RealArray
    """At the end of each step, shape (n,)."""
    step_s: float | None = None
    """Time at each step."""
    tested: str = "winding to earth"


@dataclass(frozen=True, slots=True, kw_only=True)
class DissipationTest:
    """Dielectric dissipation factor and capacitance against alternating voltage."""

    voltage_rms_v: RealArray
    """Phase-to-earth test voltage, ascending, shape (n,)."""
    dissipation_factor: RealArray | None = None
    """tan delta, per unit, shape (n,)."""
    capacitance_f: RealArray | None = None
    """To earth, shape (n,)."""
    frequency_hz: float | None = None
    tested: str = "winding to earth"


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnTest:
    """Voltage at the pairs of terminals after a steep front, recorded for comparison."""

    time_s: RealArray
    """Uniform, shape (n,)."""
    voltage_v: Mapping[TerminalPair, RealArray]
    """One waveform per pair, shape (n,); at least two."""
    peak_voltage_v: float | None = None
    """Applied crest."""


_NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class TestSheet:
    """All readings of one occasion on one motor at rest."""

    __test__: ClassVar[bool] = False
    """Not a test case, whatever its name says to a collector of tests."""

    motor_tag: str
    measured_on: date
    provenance: Provenance
    place: Place = Place.TERMINALS
    winding_temperature_degc: float | None = None
    """Of the winding, unless a test states its own."""
    ambient_temperature_degc: float | None = None
    """Dry-bulb temperature of the air at the motor."""
    relative_humidity: float | None = None
    """Per unit."""
    rotor_demagnetised: bool | None = None
    """Whether a falling alternating voltage demagnetised the rotor before."""
    resistance: WindingResistance | None = None
    positions: tuple[PositionSeries, ...] = ()
    insulation: tuple[InsulationResistanceTest, ...] = ()
    steps: tuple[StepVoltageTest, ...] = ()
    dissipation: tuple[DissipationTest, ...] = ()
    turns: TurnTest | None = None
    remark: str = ""
    truth: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    """What a simulation knows about itself; empty for measurements. Never read by indicators."""

    @property
    def dew_point_degc(self) -> float | None:
        """Dew point of the air by the Magnus formula, None when the air was not measured.

        Constants 17.62 and 243.12 degC (World Meteorological Organization, Guide to Instruments
        and Methods of Observation, WMO-No. 8, annex 4.B; from memory).
        """
        if self.ambient_temperature_degc is None or not self.relative_humidity:
            return None
        air = self.ambient_temperature_degc
        gamma = np.log(self.relative_humidity) + 17.62 * air / (243.12 + air)
        return float(243.12 * gamma / (17.62 - gamma))
