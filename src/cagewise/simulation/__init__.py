"""Time-domain physics of machine, supply, load, faults and sensors: an independent witness."""

from cagewise.simulation.bars import DeepBar, DoubleCageBar
from cagewise.simulation.converter import PulseWidth, VectorControl
from cagewise.simulation.course import Setup, Trajectory
from cagewise.simulation.damage import Damage, Eccentricity
from cagewise.simulation.geometry import MachineGeometry
from cagewise.simulation.load import Load, Shaft
from cagewise.simulation.permeance import GapShape, PermeanceWave
from cagewise.simulation.record import simulate, simulate_start
from cagewise.simulation.reference import reference_motor_r3k
from cagewise.simulation.run import trajectory
from cagewise.simulation.saturation import LeakageSaturation, MainSaturation, Saturation
from cagewise.simulation.sensors import Sensors
from cagewise.simulation.soft_start import SoftStart
from cagewise.simulation.starting import Start, start_trajectory
from cagewise.simulation.supply import Harmonic, Modulation, SourceImpedance, Supply

__all__ = [
    "Damage",
    "DeepBar",
    "DoubleCageBar",
    "Eccentricity",
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
