"""What is true of a cage, in open bars: from the network of its bars and rings.

Written for the study alone: it shares no code with the readings that it judges.
"""

from __future__ import annotations

import cmath
import math
from typing import Any

import numpy as np

from cagewise.simulation import MachineGeometry
from cagewise.simulation.machine.geometry import VACUUM_PERMEABILITY_H_PER_M
from truth.population import Scene
from truth.simulated import Simulated


def by_design(scene: Scene) -> dict[str, Any]:
    """Return what is true of a cage before anything is simulated."""
    return {
        "hypothesis": scene.hypothesis,
        "open_bars": round(open_bars(scene), 4),
        "n_open": len(scene.open_bars),
    }


def open_bars(scene: Scene) -> float:
    """Return how many adjacent open bars the cage of a scene is equivalent to.

    Adjacent open bars are their number. Otherwise a bar of resistance factor r is short of the part
    :func:`lost_part` of what an open one is short of, and the bars add as phasors of the doubled
    electrical angle (kernel K2, docs/theory/kernels.md).
    """
    if scene.open_bars and scene.scenario != "apart":
        return float(len(scene.open_bars))
    geometry = Simulated(scene).machine.geometry
    plate = scene.plate
    slip = scene.load * (1.0 - plate.speed_rpm * plate.poles / (120.0 * plate.frequency_hz))
    behind = behind_bar(geometry, slip * plate.frequency_hz)
    lost = {bar: lost_part(r, behind) for bar, r in scene.resistance_factors().items()}
    lost |= dict.fromkeys(scene.open_bars, 1.0)
    step = 2.0 * math.pi * scene.poles / plate.bars
    return float(abs(sum(part * np.exp(1j * step * bar) for bar, part in lost.items())))


def lost_part(factor: float, behind: complex) -> float:
    """Return the current that a bar of this resistance factor loses, over that of an open one.

    By Thevenin, with the rest of the cage behind the bar: ``|(r - 1) / (r + k)|``; negative for a
    bar of less resistance than the others.
    """
    return math.copysign(abs((factor - 1.0) / (factor + behind)), factor - 1.0)


def behind_bar(geometry: MachineGeometry, slip_frequency_hz: float) -> complex:
    """Return the impedance of the rest of the cage, seen from the ends of a bar, over the bar's.

    To either side of the bar runs a ladder of bars and of pitches with two ring segments each and
    the field that the current round a pitch drives through the gap. A ladder with the series part
    ``q`` has ``z = q + z / (1 + z)``, and both sides are parallel. The stator, which keeps out
    waves as long as a pole, is left out: it hardly sees one bar.
    """
    omega = 2.0 * math.pi * slip_frequency_hz
    pitch_m = 2.0 * math.pi * geometry.radius_m / geometry.rotor_bars
    gap_h = VACUUM_PERMEABILITY_H_PER_M * geometry.length_m * pitch_m / geometry.gap_m
    pitch = complex(
        2.0 * geometry.ring_resistance_ohm, omega * (2.0 * geometry.ring_leakage_h + gap_h)
    )
    q = pitch / complex(geometry.bar_resistance_ohm, omega * geometry.bar_leakage_h)
    return 0.25 * (q + cmath.sqrt(q * q + 4.0 * q))
