"""How long a direct start takes: the run-up of the equivalent circuit against its load.

Quasi-steady: at every slip the motor gives the torque of its circuit, whose cage resists more and
leaks less the faster its current alternates. Equations: ``docs/theory/starting-duty.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cagewise.machine.cage.plausible import plausible_inertia
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.locked_rotor import code_letter_current_a
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.nameplate_draws import LEAKAGE_GROWTH, LOCKED_ROTOR_POWER_FACTOR
from cagewise.quantities import Estimate, NotKnown, RealArray

SPEED_REACHED = 0.95
"""Part of rated speed that ends a start: the current has fallen to its running level there."""
LOAD_AT_RATED_SPEED = (0.5, 1.0)
"""Range of the load torque at rated speed over rated torque; it rises with the square of the speed,
as of pumps and fans (and as NEMA MG 1-12.54 assumes)."""
VOLTAGE_WHILE_STARTING = (0.9, 1.0)
"""Range of the terminal voltage over rated voltage: it sags under the starting current."""
SKIN_EXPONENT = (0.5, 2.0)
"""Range of the power of slip with which the cage goes from its running to its standstill values:
the square root where the current is crowded into the top of the bar, the square where it begins."""
LARGEST_RESISTANCE_RATIO = 6.0
"""Largest rotor resistance at standstill over running: copper bars 60 mm deep at 50 Hz (a deep bar
resists in proportion to its depth over the depth of penetration, 9 to 10 mm)."""
N_SLIPS = 400
"""Steps of the integral: halving them moves the time by less than 0.1 %."""
N_DRAWS = 200
"""Draws of motor, load and supply."""
FEWEST_STARTING = 0.25
"""Part of the draws that must get up to speed; with fewer the model does not fit the drive."""
_SEED = 11


@dataclass(frozen=True, slots=True, kw_only=True)
class StandstillCage:
    """How the circuit changes between running and standstill; arrays of shape (n_draws,)."""

    resistance_ratio: RealArray
    """Rotor resistance at standstill over running."""
    leakage_ratio: RealArray
    """Both leakages at standstill over running."""
    exponent: RealArray
    """Power of the slip with which they change in between."""

    def at(self, circuit: EquivalentCircuit, slip: float) -> EquivalentCircuit:
        """Return the circuit as it is at a slip."""
        part = slip**self.exponent
        leakage = 1.0 + (self.leakage_ratio - 1.0) * part
        return replace(
            circuit,
            rotor_resistance_ohm=np.asarray(
                circuit.rotor_resistance_ohm * (1.0 + (self.resistance_ratio - 1.0) * part)
            ),
            stator_leakage_h=np.asarray(circuit.stator_leakage_h * leakage),
            rotor_leakage_h=np.asarray(circuit.rotor_leakage_h * leakage),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RunUp:
    """What is accelerated, by which voltage, against which load; arrays () or (n_draws,)."""

    inertia_kg_m2: RealArray
    """Total, at the motor shaft."""
    voltage_peak_v: RealArray
    """Phase to neutral."""
    constant_torque_nm: RealArray
    square_torque_nm: RealArray
    """At synchronous speed, of the part that rises with the square of the speed."""
    last_slip: float
    """Slip at which the start is over."""


def run_up_time_s(
    circuit: EquivalentCircuit, cage: StandstillCage, run: RunUp, plate: Nameplate
) -> RealArray:
    """Return ``J omega_s`` times the integral of ``ds / (T - T_load)``, NaN where it sticks."""
    slips = np.linspace(run.last_slip, 1.0, N_SLIPS + 1)
    omega = 2.0 * math.pi * plate.rated_frequency_hz
    surplus = np.stack([_surplus_nm(cage.at(circuit, s), run, s, omega, plate) for s in slips])
    sticks = np.any(surplus <= 0.0, axis=0)
    integral = np.trapezoid(1.0 / np.where(surplus > 0.0, surplus, np.inf), slips, axis=0)
    time = run.inertia_kg_m2 * omega / plate.pole_pairs * integral
    return np.asarray(np.where(sticks, np.nan, time))


def expected_start_s(motor: Motor) -> Estimate | NotKnown:
    """Return how long a direct start of this motor takes, as far as the motor file knows.

    The interval holds what is open: circuit, cage at standstill, voltage, load, inertia of the
    rotor. Without the inertia of the load it would span a decade, so it is not stated.
    """
    if motor.drive_train.load_inertia_kg_m2 is None:
        return NotKnown("the inertia of the load is not in the motor file (load_inertia_kg_m2)")
    plate = motor.nameplate
    rng = np.random.default_rng(_SEED)
    circuit = circuit_ensemble(motor, N_DRAWS)
    square = rng.uniform(*LOAD_AT_RATED_SPEED, N_DRAWS) * plate.rated_torque_nm
    voltage = rng.uniform(*VOLTAGE_WHILE_STARTING, N_DRAWS) * plate.rated_phase_voltage_peak_v
    run = RunUp(
        inertia_kg_m2=plausible_inertia(motor, N_DRAWS),
        voltage_peak_v=voltage,
        constant_torque_nm=np.zeros(N_DRAWS),
        square_torque_nm=square / (1.0 - plate.rated_slip) ** 2,
        last_slip=1.0 - SPEED_REACHED * (1.0 - plate.rated_slip),
    )
    times = run_up_time_s(circuit, standstill_cage(plate, circuit, rng), run, plate)
    known = times[np.isfinite(times)]
    if known.size < FEWEST_STARTING * N_DRAWS:
        return NotKnown("the model of this motor does not bring this load up to speed")
    return Estimate.from_draws(known)


def standstill_cage(
    plate: Nameplate, circuit: EquivalentCircuit, rng: np.random.Generator
) -> StandstillCage:
    """Draw standstill values that fit the locked-rotor current and power factor.

    The current follows from the code letter where there is one, else from the leakage.
    """
    n = int(circuit.rotor_resistance_ohm.size)
    omega = 2.0 * math.pi * plate.rated_frequency_hz
    running_ohm = omega * (circuit.stator_leakage_h + circuit.rotor_leakage_h)
    cosine = rng.uniform(*LOCKED_ROTOR_POWER_FACTOR, n)
    sine = np.sqrt(1.0 - cosine**2)
    standing_ohm = running_ohm / rng.uniform(*LEAKAGE_GROWTH, n)
    band = code_letter_current_a(plate)
    if band is not None:
        standing_ohm = plate.rated_phase_voltage_v / rng.uniform(*band, n) * sine
    low, high = (math.log(end) for end in SKIN_EXPONENT)
    resistance = standing_ohm * cosine / sine - circuit.stator_resistance_ohm
    return StandstillCage(
        resistance_ratio=np.clip(
            resistance / circuit.rotor_resistance_ohm, 1.0, LARGEST_RESISTANCE_RATIO
        ),
        leakage_ratio=np.asarray(standing_ohm / running_ohm),
        exponent=np.exp(rng.uniform(low, high, n)),
    )


def _surplus_nm(
    circuit: EquivalentCircuit, run: RunUp, slip: float, omega: float, plate: Nameplate
) -> RealArray:
    """Return the torque that accelerates."""
    state = circuit.at(slip, omega)
    # the torque goes with the square of the voltage, whose draws are not those of one voltage
    one_volt = state.electromagnetic_torque(1.0, plate.pole_pairs)
    load = run.constant_torque_nm + run.square_torque_nm * (1.0 - slip) ** 2
    return np.asarray(one_volt * run.voltage_peak_v**2 - load)
