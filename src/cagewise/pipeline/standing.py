"""One test sheet: position test, mean inductance, winding and insulation."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.decision.examination import Settings, SheetExamination
from cagewise.evidence.parts import weigh_for_parts
from cagewise.evidence.weigh import weigh
from cagewise.indicators.standstill.mean_inductance import read_mean_inductance
from cagewise.indicators.standstill.positions import read_positions
from cagewise.indicators.winding.insulation import read_insulation
from cagewise.indicators.winding.resistance import read_winding
from cagewise.indicators.winding.turns import read_turns
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Motor
from cagewise.measurement import TestSheet


def examine_sheet(
    motor: Motor, sheet: TestSheet, settings: Settings, earlier: Sequence[TestSheet]
) -> SheetExamination:
    """Examine the tests of one sheet, beside those of earlier sheets of the motor."""
    limits = settings.limits
    circuit = circuit_ensemble(motor)
    positions = read_positions(sheet, motor, circuit, limits.position) if sheet.positions else None
    readings = [*positions.readings] if positions else []
    if positions:
        readings.append(
            read_mean_inductance(
                sheet, earlier, motor, circuit, limits.mean_inductance, limits.position
            )
        )
    readings += read_winding(sheet, motor, limits.winding, earlier=earlier)
    readings += read_insulation(sheet, earlier, motor, limits.insulation)
    readings += read_turns(sheet, earlier, motor, limits.turns)
    return SheetExamination(
        sheet=sheet,
        positions=positions,
        earlier=tuple(old.provenance.source for old in earlier),
        readings=tuple(readings),
        evidence=weigh(
            readings, limits.evidence, voltages_measured=True, calibration=settings.study
        ),
        findings=weigh_for_parts(readings, limits.evidence),
    )
