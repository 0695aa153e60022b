"""The simulated machine against an independent drive simulator with the same parameters.

The other program (motulator, MIT licence, a general simulator of drives) holds a two-axis
machine in its gamma form and a stiff mechanical system; only its right-hand side is used,
under a sinusoidal voltage, with an integrator of scipy. Nothing was tuned: its parameters follow
from the dimensions of R3K by the textbook transformation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from motulator.common.model import Subsystem
from motulator.drive.model import Drive, InductionMachine, StiffMechanicalSystem
from motulator.drive.utils import InductionMachineInvGammaPars, InductionMachinePars
from scipy.integrate import solve_ivp

from cagewise.quantities import RealArray, space_vector
from cagewise.simulation import (
    Load,
    Setup,
    Start,
    Supply,
    Trajectory,
    reference_motor_r3k,
    start_trajectory,
    trajectory,
)
from cagewise.simulation.machine.two_axis import two_axis_machine
from cagewise.simulation.plant.recorder import GUARD_SAMPLES

PEAK_V = 311.127
RATE_HZ = 10_000.0
DEMANDED = 0.005
"""Agreement asked of two programs with the same parameters."""
EXACT = 1e-7
"""What remains between two exact integrations of the same equations: tolerances of the solvers."""

SETUP = Setup(
    geometry=reference_motor_r3k(orders=(1,), inertia_factor=2.0),
    supply=Supply(line_voltage_rms_v=PEAK_V * math.sqrt(1.5), frequency_hz=50.0),
    load=Load(viscous_nm_s=20.2 / 150.0),
)


class StiffGrid(Subsystem):  # type: ignore[misc]  # the other program has no types
    """A sinusoidal three-phase voltage in the place of its converter."""

    def set_outputs(self, t: float) -> None:
        self.out.u_cs = PEAK_V * np.exp(2j * np.pi * 50.0 * t)


@dataclass(frozen=True)
class Witness:
    """Samples of the other program, from switching on."""

    current_a: RealArray
    """Of phase a."""
    speed_rad_s: RealArray
    torque_nm: RealArray


@cache
def witness(duration_s: float) -> Witness:
    m = two_axis_machine(SETUP.geometry)
    parameters = InductionMachinePars.from_inv_gamma_model_pars(
        InductionMachineInvGammaPars(
            n_p=2,
            R_s=m.stator_resistance_ohm,
            R_R=m.flux_resistance_ohm,
            L_sgm=m.transient_inductance_h,
            L_M=m.flux_inductance_h,
        )
    )
    machine = InductionMachine(parameters)
    mechanics = StiffMechanicalSystem(J=SETUP.geometry.inertia_kg_m2, B_L=SETUP.load.viscous_nm_s)
    drive = Drive(StiffGrid(), machine, mechanics)
    time_s = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    solved = solve_ivp(
        drive.rhs, (0.0, duration_s), np.array(drive.get_initial_values(), dtype=complex),
        t_eval=time_s, method="DOP853", rtol=1e-9, atol=1e-9,
    )  # fmt: skip
    stator, rotor, speed, _ = solved.y
    current = stator / parameters.L_s - (rotor - stator) / parameters.L_ell
    torque = 1.5 * 2.0 * np.imag(current * np.conj(stator))
    return Witness(current.real, speed.real, torque)


@cache
def started(duration_s: float) -> Trajectory:
    return start_trajectory(
        SETUP, Start(switch_on_s=0.0, phase_rad=0.0), duration_s=duration_s,
        sampling_rate_hz=RATE_HZ,
    )  # fmt: skip


def difference(ours: RealArray, theirs: RealArray) -> float:
    """Return the rms difference over the rms."""
    return float(np.sqrt(np.mean((ours - theirs) ** 2) / np.mean(theirs**2)))


def test_start_transient_is_the_same() -> None:
    """Direct start from rest, 0.5 s, every sample: rms of the difference over rms."""
    theirs, path = witness(0.5), started(0.5)
    inner = slice(GUARD_SAMPLES, -GUARD_SAMPLES)
    assert theirs.speed_rad_s[-1] > 140.0
    for ours, other in (
        (path.currents_a[0, inner], theirs.current_a),
        (path.speed_rad_s[inner], theirs.speed_rad_s),
        (path.torque_nm[inner], theirs.torque_nm),
    ):
        assert difference(ours, other) < EXACT < DEMANDED


def test_steady_run_is_the_same() -> None:
    """Current, speed and torque of a settled run; other way in: from the steady state."""
    path = trajectory(SETUP, duration_s=0.1, sampling_rate_hz=RATE_HZ, settling_s=2.0)
    theirs = witness(1.5)
    last = slice(-1000, None)
    ours_rms = math.sqrt(np.mean(path.currents_a[0, GUARD_SAMPLES:-GUARD_SAMPLES] ** 2))
    theirs_rms = math.sqrt(np.mean(theirs.current_a[last] ** 2))
    assert ours_rms == pytest.approx(theirs_rms, rel=1e-5)
    assert np.mean(path.speed_rad_s) == pytest.approx(np.mean(theirs.speed_rad_s[last]), rel=1e-6)
    assert np.mean(path.torque_nm) == pytest.approx(np.mean(theirs.torque_nm[last]), rel=1e-5)


def test_space_harmonics_stay_within_what_was_demanded() -> None:
    """With all its winding orders the machine is no two-axis machine any more: the cage answers
    orders 5 and 7 near standstill, which lowers the harmonic leakage and brakes. 0.5 %."""
    full = replace(SETUP, geometry=reference_motor_r3k(inertia_factor=2.0))
    path = trajectory(full, duration_s=0.2, sampling_rate_hz=RATE_HZ, settling_s=2.0)
    theirs = witness(1.5)
    last = slice(-1000, None)
    current = np.abs(space_vector(*path.currents_a))
    assert math.sqrt(0.5 * np.mean(current**2)) == pytest.approx(
        math.sqrt(np.mean(theirs.current_a[last] ** 2)), rel=DEMANDED
    )
    assert np.mean(path.speed_rad_s) == pytest.approx(
        np.mean(theirs.speed_rad_s[last]), rel=DEMANDED
    )
    assert np.mean(path.torque_nm) == pytest.approx(np.mean(theirs.torque_nm[last]), rel=DEMANDED)


def test_energy_goes_where_it_came_from() -> None:
    """The whole start: electrical input = copper + cage + stored field + motion + load, to 1e-6.

    Simpson's rule over 5000 samples; all terms from the trajectory.
    """
    path = started(0.5)
    h = 1.0 / RATE_HZ
    inner = slice(GUARD_SAMPLES, GUARD_SAMPLES + 4801)
    weights = np.full(4801, 2.0)
    weights[1::2], weights[[0, -1]] = 4.0, 1.0
    weights *= h / 3.0
    power = np.sum(path.voltages_v * path.currents_a, axis=0)
    copper = 2.2 * np.sum(path.currents_a**2, axis=0)
    load = path.load_torque_nm * path.speed_rad_s
    entered, lost = (
        float(weights @ flow[inner]) for flow in (power, copper + path.rotor_loss_w + load)
    )
    motion = 0.5 * SETUP.geometry.inertia_kg_m2 * path.speed_rad_s**2
    stored = (path.energy_j + motion)[inner]
    assert entered == pytest.approx(lost + stored[-1] - stored[0], rel=1e-6)
    assert entered > 1000.0
