"""All cage indicators of the running motor, read on one steady stretch."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.cage import (
    direct_reading,
    envelope,
    harmonic_lines,
    power_lines,
    side_lines,
)
from cagewise.indicators.cage.context import Head, cage_context
from cagewise.indicators.cage.spectra import cage_spectra
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.reading import Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import NotKnown

HEADS: tuple[Head, ...] = (
    direct_reading.HEAD,
    *side_lines.HEADS,
    *envelope.HEADS,
    *power_lines.HEADS,
    harmonic_lines.HEAD,
)
"""Every cage indicator, in the order of the readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CageReadings:
    """The cage indicators of one stretch and the spectra they were read on."""

    readings: tuple[Reading, ...]
    """One for each of :data:`HEADS`; those that could not be read carry their reason."""
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
    context = cage_context(frame, point, motor, circuit, limits)
    if isinstance(context, NotKnown):
        return CageReadings(
            readings=tuple(head.refused(context.reason) for head in HEADS),
            spectra=cage_spectra(frame, None),
        )
    return CageReadings(
        readings=(
            direct_reading.read_direct_component(context),
            *side_lines.read_side_lines(context),
            *envelope.read_envelope(context),
            *power_lines.read_power_lines(context),
            harmonic_lines.read_harmonic_lines(context),
        ),
        spectra=cage_spectra(frame, context),
    )
