"""Time-domain physics of machine, supply, load, faults and sensors: an independent witness.

``machine`` is what was built and what is wrong with it, ``plant`` what stands round it; their
``equations`` are taken through time by ``stepping``, and ``runs`` make courses and recordings of
it. ``nameplate`` makes a machine for a motor, ``standstill`` measures one at rest.
"""

from cagewise.simulation.machine.bars import DeepBar, DoubleCageBar
from cagewise.simulation.machine.damage import Damage, Eccentricity
from cagewise.simulation.machine.geometry import MachineGeometry
from cagewise.simulation.machine.permeance import GapShape, PermeanceWave
from cagewise.simulation.machine.reference import reference_motor_r3k
from cagewise.simulation.machine.saturation import LeakageSaturation, MainSaturation, Saturation
from cagewise.simulation.plant.converter import FrequencyRamp, PulseWidth, VectorControl
from cagewise.simulation.plant.load import Load, Shaft
from cagewise.simulation.plant.sensors import Sensors
from cagewise.simulation.plant.soft_start import SoftStart
from cagewise.simulation.plant.supply import Harmonic, Modulation, SourceImpedance, Supply
from cagewise.simulation.runs.course import Setup, Trajectory
from cagewise.simulation.runs.record import simulate, simulate_start
from cagewise.simulation.runs.run import trajectory
from cagewise.simulation.runs.starting import Start, start_trajectory

__all__ = [
    "Damage",
    "DeepBar",
    "DoubleCageBar",
    "Eccentricity",
    "FrequencyRamp",
    "GapShape",
    "Harmonic",
    "LeakageSaturation",
    "Load",
    "MachineGeometry",
    "MainSaturation",
    "Modulation",
    "PermeanceWave",
    "PulseWidth",
    "Saturation",
    "Sensors",
    "Setup",
    "Shaft",
    "SoftStart",
    "SourceImpedance",
    "Start",
    "Supply",
    "Trajectory",
    "VectorControl",
    "reference_motor_r3k",
    "simulate",
    "simulate_start",
    "start_trajectory",
    "trajectory",
]
