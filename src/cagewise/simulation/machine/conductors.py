"""What temperature and height make of the conductors of a machine.

Dimensions made for a nameplate (:mod:`cagewise.simulation.nameplate`) are those of the hot running
motor, and its bars are plain. A start and a test at rest need the day's temperature and bars in
which the current is displaced. ``docs/theory/simulation-visit.md``.
"""

from __future__ import annotations

import math
from dataclasses import replace

from cagewise.errors import InputError
from cagewise.simulation.machine.bars import DeepBar
from cagewise.simulation.machine.geometry import VACUUM_PERMEABILITY_H_PER_M, MachineGeometry

NO_RESISTANCE_DEGC = {"copper": -234.5, "aluminium": -225.0}
"""Temperature at which the straight line of the resistance ends (IEC 60034-1 clause 8.6.2.2, from
memory; 234.5 read in trade texts)."""

CAGE_METAL = {"fabricated": "copper", "cast": "aluminium", None: "aluminium"}
"""Metal of the bars by the construction of the cage; common practice, no source."""

HOT_DEGC = 95.0
"""Temperature to which the resistances behind a nameplate belong: the reference temperature of
the losses of class B windings, at which most motors run (IEEE 112, from memory)."""

LEAKAGE_IN_THE_CONDUCTOR = 0.7
"""Part of a bar's leakage that lies across the conductor and not in the slot's tip: decides how
deep a bar is for its resistance. Common practice, no source."""

HOT_CONDUCTIVITY_S_PER_M = {"copper": 43e6, "aluminium": 26e6}
"""At :data:`HOT_DEGC` (from memory). Only the bar's height follows from it, no impedance."""


def resistance_ratio(metal: str, from_degc: float, to_degc: float) -> float:
    """Return the resistance of a conductor at one temperature over that at another."""
    zero = NO_RESISTANCE_DEGC[metal]
    if min(from_degc, to_degc) <= zero:
        raise InputError(f"{min(from_degc, to_degc):g} degC is impossible", where="temperature")
    return (to_degc - zero) / (from_degc - zero)


def with_resistances(machine: MachineGeometry, stator: float, cage: float) -> MachineGeometry:
    """Return the machine with the resistances of stator and cage multiplied.

    The diffusion time of a deep bar falls as its resistance rises.
    """
    bar = machine.bar
    if isinstance(bar, DeepBar):
        bar = replace(bar, conductivity_s_per_m=bar.conductivity_s_per_m / cage)
    return replace(
        machine,
        stator_resistance_ohm=stator * machine.stator_resistance_ohm,
        bar_resistance_ohm=cage * machine.bar_resistance_ohm,
        ring_resistance_ohm=cage * machine.ring_resistance_ohm,
        bar=bar,
    )


def at_temperature(
    machine: MachineGeometry, degc: float, *, conductor: str, construction: str | None
) -> MachineGeometry:
    """Return the hot machine of a nameplate as it is with winding and cage at ``degc``.

    Parameters
    ----------
    machine
        Resistances at :data:`HOT_DEGC`.
    degc
        Of winding and cage.
    conductor
        Metal of the winding, a key of :data:`NO_RESISTANCE_DEGC`.
    construction
        Of the cage, a key of :data:`CAGE_METAL`.
    """
    return with_resistances(
        machine,
        stator=resistance_ratio(conductor, HOT_DEGC, degc),
        cage=resistance_ratio(CAGE_METAL[construction], HOT_DEGC, degc),
    )


def with_deep_bars(machine: MachineGeometry, construction: str | None) -> MachineGeometry:
    """Return the machine with rectangular bars, resistance and leakage as they are.

    A share of the leakage lies across the conductor, ``R mu0 sigma h^2 / 3``, and this says how
    high it is. At the slip of a running motor nothing changes. A machine whose bars have a shape
    keeps it.
    """
    if machine.bar is not None:
        return machine
    conductivity = HOT_CONDUCTIVITY_S_PER_M[CAGE_METAL[construction]]
    across_h = LEAKAGE_IN_THE_CONDUCTOR * machine.bar_leakage_h
    diffusion_s = 3.0 * across_h / machine.bar_resistance_ohm
    height = math.sqrt(diffusion_s / (VACUUM_PERMEABILITY_H_PER_M * conductivity))
    return replace(machine, bar=DeepBar(height_m=height, conductivity_s_per_m=conductivity))
