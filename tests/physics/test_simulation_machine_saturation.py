"""Bent iron and leakage: one stored energy, and what the motor does with it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError, SimulationError
from cagewise.quantities import RealArray
from cagewise.simulation import (
    Damage,
    Eccentricity,
    GapShape,
    LeakageSaturation,
    Load,
    MainSaturation,
    Saturation,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
    simulate_start,
)
from cagewise.simulation.equations.model import CoupledModel, stator_axis_inductance_h
from cagewise.simulation.machine.saturation import Bends, leakage_flux, solve_bent
from cagewise.simulation.runs.run import machine_under_load
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, advance, evaluate, fastest_advance
from support.slip_locked import SlipLockedLines

STEP_S = 5e-5
SUPPLY = Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=50.0)
MAIN = MainSaturation.at_voltage(
    1.25, line_voltage_rms_v=SUPPLY.line_voltage_rms_v, frequency_hz=50.0
)
"""R3K's effective gap contains a factor of 1.25."""
LEAKAGE = LeakageSaturation(knee_rms_a=15.0, lost_h=2.5e-3)
BOTH = Saturation(main=MAIN, leakage=LEAKAGE)
PLAIN = Setup(geometry=reference_motor_r3k(orders=(1, 5, 7)), supply=SUPPLY)
CASES = [
    replace(PLAIN, saturation=BOTH, damage=Damage(open_bars=(3, 4))),
    replace(PLAIN, saturation=BOTH, eccentricity=Eccentricity(static=0.2, dynamic=0.1)),
    replace(
        PLAIN,
        saturation=BOTH,
        eccentricity=Eccentricity(static=0.2, dynamic=0.1),
        gap=GapShape(),
        damage=Damage(open_bars=(7,)),
    ),
]


def _drive(n_steps: int) -> RealArray:
    angle = 2.0 * np.pi * 50.0 * 0.5 * STEP_S * np.arange(2 * n_steps + 1) + 0.7
    return np.column_stack((380.0 * np.cos(angle), 380.0 * np.sin(angle), np.zeros(angle.size)))


def _state(model: CoupledModel) -> RealArray:
    """Return a state far in saturation: flux 1.4 times rated, current 9 times rated."""
    fluxes = 0.02 * np.random.default_rng(5).standard_normal(model.decay_per_s.size)
    return np.concatenate(([0.3, 150.0, 0.9, -1.1], fluxes))


def _slope(model: CoupledModel, place: int, step: float) -> float:
    """Return dW / d state[place], five points."""
    energies = []
    for k in (-2, -1, 1, 2):
        state = _state(model)
        state[place] += k * step
        energies.append(evaluate(model, state).energy_j)
    return (energies[0] - 8.0 * energies[1] + 8.0 * energies[2] - energies[3]) / (12.0 * step)


@pytest.mark.parametrize("setup", CASES)
def test_currents_and_torque_are_slopes_of_one_energy(setup: Setup) -> None:
    """T = -dW/dtheta, i = dW/dl_s, a = dW/dx: nothing is created by the approximation."""
    model = machine_under_load(setup)
    now = evaluate(model, _state(model))
    assert now.torque_nm == pytest.approx(-_slope(model, 0, 1e-4), rel=1e-7)
    for axis in range(2):
        assert now.stator_a[axis] == pytest.approx(_slope(model, 2 + axis, 1e-4), rel=1e-7)
    assert now.modes[2] == pytest.approx(_slope(model, 6, 1e-4), rel=1e-6)
    bent = np.hypot(*now.stator_a)
    straight = evaluate(machine_under_load(replace(setup, saturation=None)), _state(model))
    assert bent > 1.01 * np.hypot(*straight.stator_a)


@pytest.mark.parametrize("setup", CASES)
def test_compiled_steps_equal_numpy_steps(setup: Setup) -> None:
    pytest.importorskip("numba")
    model = machine_under_load(setup)
    outs = []
    for stepper in (advance, fastest_advance()[0]):
        out = np.empty((100, N_OBSERVED))
        stepper(model, _drive(100), STEP_S, np.zeros(model.n_states), out)
        outs.append(out)
    assert outs[0] == pytest.approx(outs[1], abs=1e-10 * np.abs(outs[0]).max())


def test_energy_is_conserved() -> None:
    model, drive = machine_under_load(CASES[0]), _drive(400)
    out = np.empty((400, N_OBSERVED))
    fastest_advance()[0](model, drive, STEP_S, np.zeros(model.n_states), out)
    current, speed, torque, loss, stored = out[:, :2], out[:, 3], out[:, 4], out[:, 5], out[:, 6]
    used = model.stator_resistance_ohm * np.sum(current**2, axis=1) + loss + torque * speed
    supplied = np.trapezoid(np.sum(drive[0:-1:2, :2] * current, axis=1), dx=STEP_S)
    balance = np.trapezoid(used, dx=STEP_S) + stored[-1] - stored[0]
    assert supplied == pytest.approx(balance, rel=3e-5)


def test_factor_one_and_nothing_lost_is_the_plain_machine() -> None:
    none = Saturation(
        main=replace(MAIN, factor=1.0), leakage=LeakageSaturation(knee_rms_a=15.0, lost_h=0.0)
    )
    outs = []
    for setup in (PLAIN, replace(PLAIN, saturation=none)):
        out = np.empty((100, N_OBSERVED))
        model = machine_under_load(setup)
        advance(model, _drive(100), STEP_S, np.zeros(model.n_states), out)
        outs.append(out)
    assert outs[0] == pytest.approx(outs[1], abs=1e-12 * np.abs(outs[0]).max())


@pytest.mark.parametrize("voltage", [0.6, 1.0, 1.15])
def test_no_load_current_follows_the_characteristic(voltage: float) -> None:
    """i = l / L_u + c l^7 at the gap's flux linkage, which is the voltage's less the leakage's.

    Fundamental alone; the iron's current is a sinusoid because its flux vector has constant length.
    """
    setup = replace(
        PLAIN,
        geometry=reference_motor_r3k(orders=(1,)),
        supply=replace(SUPPLY, line_voltage_rms_v=voltage * SUPPLY.line_voltage_rms_v),
        saturation=Saturation(main=MAIN),
    )
    machine = setup.geometry
    gap_h = stator_axis_inductance_h(machine) - machine.stator_leakage_h
    flux, omega = MAIN.rated_flux_vs, 100.0 * math.pi
    low, high = 0.0, 2.0 * flux
    for _ in range(60):  # bisection for the gap's flux at this voltage
        linked = 0.5 * (low + high)
        current = linked / (1.25 * gap_h) + 0.2 / gap_h * linked * (linked / flux) ** 6
        terminal = complex(machine.stator_resistance_ohm * current, 0.0)
        terminal += 1j * omega * (linked + machine.stator_leakage_h * current)
        short = abs(terminal) < voltage * 220.0 * math.sqrt(2.0)
        low, high = (linked, high) if short else (low, linked)
    truth = simulate(setup, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=1.5).truth
    assert truth["current_rms_a"] == pytest.approx(current / math.sqrt(2.0), rel=1e-4)


def test_at_rated_flux_it_is_the_machine_of_its_geometry() -> None:
    """The factor holds at the voltage's flux; part of that is leakage, so a bit less current."""
    currents = [
        simulate(setup, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=1.5).truth[
            "current_rms_a"
        ]
        for setup in (PLAIN, replace(PLAIN, saturation=Saturation(main=MAIN)))
    ]
    assert currents[1] == pytest.approx(currents[0], rel=0.05)
    assert currents[1] < currents[0]


def test_saturated_leakage_raises_the_starting_current_and_not_the_running_one() -> None:
    running, starting = [], []
    for saturation in (None, Saturation(leakage=LEAKAGE)):
        setup = replace(PLAIN, saturation=saturation, load=Load(torque_nm=20.0))
        truth = simulate(setup, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=1.0).truth
        running.append(truth["current_rms_a"])
        heavy = reference_motor_r3k(orders=(1, 5, 7), inertia_factor=10.0)
        stuck = replace(setup, geometry=heavy, load=Load(friction_nm=200.0))
        starting.append(
            simulate_start(stuck, duration_s=0.4, sampling_rate_hz=2500.0).truth[
                "starting_current_rms_a"
            ]
        )
    assert running[1] == pytest.approx(running[0], rel=1e-3)
    # all of the 2.5 of 10.2 mH gone would give 1.25 (R and X in quadrature: less)
    assert 1.05 < starting[1] / starting[0] < 1.2


def test_iron_mirrors_the_lower_side_line() -> None:
    """Iron that is softer along the flux than across it turns (1 - 2s) f into (1 + 2s) f.

    With a thousandfold inertia nothing else does: -74 dBc in linear iron.
    """
    setup = replace(
        PLAIN,
        geometry=reference_motor_r3k(orders=(1,), inertia_factor=1000.0),
        load=Load(torque_nm=20.2),
        damage=Damage(open_bars=(0,)),
    )
    upper = []
    for saturation in (None, Saturation(main=MAIN)):
        recording = simulate(
            replace(setup, saturation=saturation), duration_s=4.0, sampling_rate_hz=1250.0
        )
        upper.append(SlipLockedLines(recording, harmonics=(1,)).level_dbc(1, 1))
    assert upper[0] < -70.0
    assert upper[1] > upper[0] + 10.0


def test_the_knee_is_smooth_and_its_energy_the_integral() -> None:
    """Energy = integral of i d psi; slope falls from L to L - L_lost."""
    bends = Bends(leakage_h=5e-3, lost_h=3e-3, knee_a=20.0, iron=0.0, exponent=1.0)
    grid = np.linspace(0.0, 80.0, 8001)
    values = np.array([leakage_flux(bends, float(current)) for current in grid])
    steps = 0.5 * (grid[1:] + grid[:-1]) * np.diff(values[:, 0])
    assert values[1:, 2] == pytest.approx(np.cumsum(steps), rel=1e-4, abs=1e-9)
    assert np.gradient(values[:, 0], grid)[1:-1] == pytest.approx(values[1:-1, 1], rel=1e-5)
    assert values[0] == pytest.approx([0.0, 5e-3, 0.0], rel=5e-3, abs=1e-15)
    assert values[-1, 1] == pytest.approx(2e-3, rel=0.01)


@pytest.mark.parametrize("flux", [1e-6, 0.3, 1.5, 8.0])
def test_the_two_unknowns_are_found_from_anywhere(flux: float) -> None:
    """Nothing, within, above and eight times the rated flux: both equations hold."""
    bends = Bends(leakage_h=5e-3, lost_h=3e-3, knee_a=20.0, iron=3.0, exponent=7.0)
    aa, ab, bb = 0.03, 0.002, 0.025
    linked, b = (flux, -0.4 * flux), (0.1 * flux, 0.2 * flux)
    rest = (linked[0] - b[0], linked[1] - b[1])
    g_a, g_b, s_a, s_b = solve_bent(bends, (aa + 5e-3, ab, bb + 5e-3), rest, linked)
    m_a, m_b = aa * g_a + ab * g_b + b[0], ab * g_a + bb * g_b + b[1]
    size = math.hypot(s_a, s_b)
    psi = leakage_flux(bends, size)[0] / size
    assert (psi * s_a + m_a, psi * s_b + m_b) == pytest.approx(linked, rel=1e-11)
    iron = 3.0 * math.hypot(m_a, m_b) ** 6
    assert (s_a, s_b) == pytest.approx((g_a + iron * m_a, g_b + iron * m_b), rel=1e-11)


def test_a_cage_too_fast_for_the_steps_is_refused() -> None:
    """A joint of ten thousand times a bar's resistance decays in a microsecond."""
    setup = replace(PLAIN, damage=Damage(resistance_factors={0: 1e4}), saturation=BOTH)
    with pytest.raises(SimulationError, match=r"diverged|too coarse"):
        simulate(setup, duration_s=0.2, sampling_rate_hz=2500.0, settling_s=0.1)


def test_saturation_that_cannot_be_is_refused() -> None:
    too_much = Saturation(leakage=replace(LEAKAGE, lost_h=5e-3))
    with pytest.raises(InputError, match=r"cannot take 0\.005 H"):
        machine_under_load(replace(PLAIN, saturation=too_much))
    with pytest.raises(InputError, match="main saturation"):
        replace(MAIN, factor=0.9)
    with pytest.raises(InputError, match="leakage saturation"):
        LeakageSaturation(knee_rms_a=15.0, lost_h=math.nan)
