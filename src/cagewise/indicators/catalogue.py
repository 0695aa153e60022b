"""All cage indicators of the running motor, read on one steady stretch."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.cage_limits import CageLimits
from cagewise.indicators.operating_point import OperatingPoint
from cagewise.indicators.reading import Reading
from cagewise.indicators.spectrum import Spectrum
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor


@dataclass(frozen=True, slots=True, kw_only=True)
class CageReadings:
    """The cage indicators of one stretch and the spectra they were read on."""

    readings: tuple[Reading, ...]
    """Side lines, direct component, envelope, power lines, harmonic lines; always all of them,
    those that could not be read with their reason."""
    spectra: tuple[Spectrum, ...]
    """For the figures."""


def read_cage(
    frame: SupplyFrame,
    point: OperatingPoint,
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: CageLimits,
) -> CageReadings:
    """Read every cage indicator of the running motor.

    Parameters
    ----------
    frame
        Current and voltage in the frame of the supply phase.
    point
        Supply frequency, slip and load, found independently of the side lines.
    motor
        Nameplate, number of bars, sensors.
    circuit
        Equivalent circuit, one or an ensemble that expresses its uncertainty.
    limits
        Validity limits.
    """
    del frame, point, motor, circuit, limits
    return CageReadings(readings=(), spectra=())
