"""Where the motor meets its supply: the stepper that a run uses, and the voltages it leaves.

The machine is stepped on a stiff source. A source impedance joins the stator's own; a weak grid or
a regulator is put round the stepper, and knows afterwards what was at the motor's terminals.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

from cagewise.simulation.plant.supply import SourceImpedance
from cagewise.simulation.runs.attachment import Attachment, WeakGrid
from cagewise.simulation.runs.course import Setup, Trajectory
from cagewise.simulation.runs.regulator import Regulator
from cagewise.simulation.stepping.runge_kutta import Advance, fastest_advance


@dataclass(frozen=True, slots=True)
class Terminals:
    """What stands between a stiff source and the motor in one run."""

    stiff: Setup
    """What is stepped: the machine on a stiff source."""
    advance: Advance
    """The stepper, with what is put round it."""
    stepper: str
    """Its name: ``"numba"``, ``"numpy"`` or ``"given"``."""
    _attachment: Attachment | None

    @classmethod
    def of(cls, setup: Setup, advance: Advance | None) -> Self:
        """Return the terminals of ``setup``; ``advance`` is the fastest installed if None."""
        stepper = "given"
        if advance is None:
            advance, stepper = fastest_advance()
        attachment = _attached(setup, advance)
        return cls(behind_source(setup), attachment or advance, stepper, attachment)

    def course(self, path: Trajectory) -> Trajectory:
        """Return the course with the voltages at the motor's terminals."""
        return self._attachment.at_terminals(path) if self._attachment else path


def _attached(setup: Setup, advance: Advance) -> Attachment | None:
    """Return what is put round the stepper, if anything."""
    if setup.supply.control is not None:
        return Regulator(advance, setup, setup.supply.control)
    return WeakGrid(advance, setup.supply.source) if setup.supply.source else None


def behind_source(setup: Setup) -> Setup:
    """Return the setup on a stiff source whose impedance is part of the stator.

    Exact, because the impedance is linear.
    """
    source, machine = setup.supply.source, setup.geometry
    if not source:
        return setup
    series = replace(
        machine,
        stator_resistance_ohm=machine.stator_resistance_ohm + source.resistance_ohm,
        stator_leakage_h=machine.stator_leakage_h + source.inductance_h,
    )
    return replace(setup, geometry=series, supply=replace(setup.supply, source=SourceImpedance()))
