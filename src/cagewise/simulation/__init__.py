"""Time-domain physics of machine, supply, load, faults and sensors: an independent witness."""

from cagewise.simulation.bars import DeepBar, DoubleCageBar
from cagewise.simulation.course import Setup, Trajectory
from cagewise.simulation.damage import Damage, Eccentricity
from cagewise.simulation.geometry import MachineGeometry
from cagewise.simulation.load import Load, Shaft
from cagewise.simulation.reference import reference_motor_r3k
from cagewise.simulation.run import simulate, trajectory
from cagewise.simulation.sensors import Sensors
from cagewise.simulation.starting import Start, simulate_start, start_trajectory
from cagewise.simulation.supply import Harmonic, Modulation, Supply

__all__ = [
    "Damage",
    "DeepBar",
    "DoubleCageBar",
    "Eccentricity",
    "Harmonic",
    "Load",
    "MachineGeometry",
    "Modulation",
    "Sensors",
    "Setup",
    "Shaft",
    "Start",
    "Supply",
    "Trajectory",
    "reference_motor_r3k",
    "simulate",
    "simulate_start",
    "start_trajectory",
    "trajectory",
]
