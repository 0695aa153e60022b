"""Gaps of any shape: modified winding functions against point-by-point sums, and their lines."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.measurement import Recording, Role
from cagewise.quantities import RealArray, decibel
from cagewise.simulation import (
    Damage,
    Eccentricity,
    GapShape,
    Load,
    PermeanceWave,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
)
from cagewise.simulation.equations.model import CoupledModel, assemble
from cagewise.simulation.equations.shaped_gap import assemble_shaped, gap_operator
from cagewise.simulation.machine.permeance import wave_numbers
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, advance, evaluate, fastest_advance
from support.dense_gap import DenseGap
from support.dense_machine import dense_start
from support.r3k import FULL_LOAD_NM, TENTH_LOAD_NM
from support.slip_locked import SlipLockedLines

STEP_S = 5e-5
MIXED = Eccentricity(static=0.2, dynamic=0.1)
DUCTS = GapShape(rotor=(PermeanceWave(order=4, amplitude=0.1, phase_rad=0.3),))
OVAL_BORE = GapShape(stator=(PermeanceWave(order=2, amplitude=0.05, phase_rad=1.0),))
CASES = [
    (Damage(open_bars=(3, 4)), MIXED, GapShape()),
    (Damage(), Eccentricity(), DUCTS),
    (Damage(open_bars=(7,)), MIXED, replace(DUCTS, stator=OVAL_BORE.stator)),
]
MOTOR = reference_motor_r3k(orders=(1, 5, 7, 17))
FEW_BARS = replace(reference_motor_r3k(orders=(1, 5)), rotor_bars=14)
"""For the slow sums."""
TWO_POLE = replace(MOTOR, pole_pairs=1, orders=(1, 5))
"""Here eccentricity couples with the field that has no poles."""


def _drive(n_steps: int) -> RealArray:
    """Return a hard switch-on against a load of 5 N m, power-invariant."""
    angle = 2.0 * np.pi * 50.0 * 0.5 * STEP_S * np.arange(2 * n_steps + 1) + 0.7
    return np.column_stack((380.0 * np.cos(angle), 380.0 * np.sin(angle), np.full(angle.size, 5.0)))


def _state(model: CoupledModel) -> RealArray:
    """Return some state in the middle of a transient."""
    fluxes = 0.02 * np.random.default_rng(5).standard_normal(model.decay_per_s.size)
    return np.concatenate(([0.3, 150.0, 0.5, -0.7], fluxes))


@pytest.mark.parametrize(("damage", "eccentricity", "shape"), CASES)
def test_waves_give_the_currents_of_the_loops(
    damage: Damage, eccentricity: Eccentricity, shape: GapShape
) -> None:
    """Start from rest; the dense machine integrates over the gap point by point."""
    n_steps = 12
    drive = _drive(n_steps)
    model = assemble_shaped(FEW_BARS, damage, eccentricity, shape)
    fast = np.empty((n_steps, N_OBSERVED))
    advance(model, drive, STEP_S, np.zeros(model.n_states), fast)
    slow = dense_start(DenseGap(FEW_BARS, damage, eccentricity, shape), drive, STEP_S, 5.0)
    for column in range(5):
        scale = np.abs(slow[:, column]).max()
        # terms of the permeance below 1e-7 are left out
        assert np.abs(fast[:, column] - slow[:, column]).max() < 1e-6 * scale


@pytest.mark.parametrize("pole_pairs", [1, 2])
@pytest.mark.parametrize(("damage", "eccentricity", "shape"), CASES)
def test_torque_is_the_slope_of_the_energy_at_constant_flux(
    damage: Damage, eccentricity: Eccentricity, shape: GapShape, pole_pairs: int
) -> None:
    """T = -dW/dtheta at constant linkages; five-point difference."""
    machine = MOTOR if pole_pairs == 2 else TWO_POLE
    model = assemble_shaped(machine, damage, eccentricity, shape)
    state, h = _state(model), 1e-4

    def energy(angle: float) -> float:
        return evaluate(model, np.concatenate(([angle], state[1:]))).energy_j

    slope = 8.0 * (energy(0.3 + h) - energy(0.3 - h)) - (energy(0.3 + 2 * h) - energy(0.3 - 2 * h))
    assert evaluate(model, state).torque_nm == pytest.approx(-slope / (12.0 * h), rel=1e-7)


@pytest.mark.parametrize(("damage", "eccentricity", "shape"), CASES)
def test_compiled_steps_equal_numpy_steps(
    damage: Damage, eccentricity: Eccentricity, shape: GapShape
) -> None:
    pytest.importorskip("numba")
    model = assemble_shaped(MOTOR, damage, eccentricity, shape)
    outs = []
    for stepper in (advance, fastest_advance()[0]):
        out = np.empty((100, N_OBSERVED))
        stepper(model, _drive(100), STEP_S, np.zeros(model.n_states), out)
        outs.append(out)
    assert outs[0] == pytest.approx(outs[1], abs=1e-10 * np.abs(outs[0]).max())


def test_a_uniform_gap_is_the_plain_machine() -> None:
    """Without eccentricity or waves: the plain model's numbers."""
    damage = Damage(open_bars=(3,))
    outs = []
    for model in (
        assemble(MOTOR, damage, Eccentricity()),
        assemble_shaped(MOTOR, damage, Eccentricity(), GapShape()),
    ):
        out = np.empty((100, N_OBSERVED))
        fastest_advance()[0](model, _drive(100), STEP_S, np.zeros(model.n_states), out)
        outs.append(out)
    assert outs[0] == pytest.approx(outs[1], abs=1e-10 * np.abs(outs[0]).max())


def test_energy_is_conserved() -> None:
    """Electrical input = losses + work + stored energy; the trapezoid rule errs by 1e-5."""
    model = assemble_shaped(MOTOR, *CASES[2])
    drive, n_steps = _drive(400), 400
    out = np.empty((n_steps, N_OBSERVED))
    fastest_advance()[0](model, drive, STEP_S, np.zeros(model.n_states), out)
    current, speed, torque, loss, stored = out[:, :2], out[:, 3], out[:, 4], out[:, 5], out[:, 6]
    used = model.stator_resistance_ohm * np.sum(current**2, axis=1) + loss + torque * speed
    supplied = np.trapezoid(np.sum(drive[0:-1:2, :2] * current, axis=1), dx=STEP_S)
    balance = np.trapezoid(used, dx=STEP_S) + stored[-1] - stored[0]
    assert supplied == pytest.approx(balance, rel=3e-5)


def test_the_series_is_the_closed_form_of_an_eccentric_gap() -> None:
    """Static alone: 1 / sqrt(1 - e^2), then 2 b^m cos m phi with b = (1 - sqrt(1 - e^2)) / e."""
    e = 0.3
    mean, terms = GapShape().series(Eccentricity(static=e))
    root = math.sqrt(1.0 - e * e)
    assert mean == pytest.approx(1.0 / root, rel=1e-12)
    middle = (terms.shape[1] - 1) // 2
    for m in range(5):
        # fixed in the stator: exp(j m (chi + theta))
        assert terms[m, middle + m] == pytest.approx(((1.0 - root) / e) ** m, rel=1e-9)
        assert np.count_nonzero(terms[m]) == 1


def test_the_operator_has_no_field_without_poles() -> None:
    """Two poles, eccentric: M f gives no net flux, so it is lower than plain multiplication."""
    model = assemble_shaped(TWO_POLE, Damage(), MIXED, GapShape())
    operator, _ = gap_operator(model, 0.4)
    assert operator == pytest.approx(operator.T, abs=1e-14)
    assert np.linalg.eigvalsh(operator).min() > 0.0
    poles = [int(number) for number in model.wave_numbers]
    assert 0 not in poles
    mean = 1.0 / math.sqrt(1.0 - 0.2**2 - 0.1**2 - 2.0 * 0.02 * math.cos(0.4))
    first = 2 * poles.index(1)
    pair = operator[first, first] + operator[first + 1, first + 1]
    # 2 P_0 less 2 |P_1|^2 / P_0 (in units of the mean over all angles)
    assert pair < 2.0 * mean / GapShape().series(MIXED)[0]


def test_fields_that_are_followed() -> None:
    assert wave_numbers((2, 10), (1,), 1) == (2, 10, 1, 3, 9, 11)
    assert wave_numbers((2,), (4,), 1) == (2, 6)  # 2 - 4 is two again, turning backwards
    assert wave_numbers((1,), (1,), 2) == (1, 2, 3)  # not 0
    assert wave_numbers((2,), (), 3) == (2,)


@cache
def _run(eccentricity: Eccentricity, shape: GapShape | None) -> Recording:
    """Full load, the fundamental winding order: 5 and 7 move the lines by 0.2 dB."""
    setup = Setup(
        geometry=reference_motor_r3k(orders=(1,)),
        supply=Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=50.0),
        load=Load(torque_nm=FULL_LOAD_NM),
        eccentricity=eccentricity,
        gap=shape,
    )
    return simulate(setup, duration_s=2.0, sampling_rate_hz=1250.0, settling_s=1.5)


def _shaft_lines_dbc(eccentricity: Eccentricity, shape: GapShape | None) -> RealArray:
    """Return the levels in phase a at f - f_r and f + f_r."""
    recording = _run(eccentricity, shape)
    channel = recording.find(Role.CURRENT_A)
    assert channel is not None
    weight = np.hanning(channel.raw.size) ** 2
    turns = np.arange(channel.raw.size) / recording.sampling_rate_hz
    frequency = recording.truth["supply_frequency_hz"] + recording.truth["shaft_frequency_hz"] * (
        np.array([0.0, -1.0, 1.0])
    )
    waves = np.exp(2j * np.pi * np.outer(turns, np.concatenate((frequency, -frequency))))
    found, *_ = np.linalg.lstsq(waves * weight[:, None], channel.samples * weight, rcond=None)
    return np.array([decibel(float(abs(found[k]) / abs(found[0]))) for k in (1, 2)])


def test_lines_a_shaft_frequency_from_the_supply_need_both_eccentricities() -> None:
    for pure in (Eccentricity(static=0.2), Eccentricity(dynamic=0.2)):
        assert np.all(_shaft_lines_dbc(pure, GapShape()) < -150.0)
    once = _shaft_lines_dbc(Eccentricity(static=0.1, dynamic=0.1), GapShape())
    twice = _shaft_lines_dbc(MIXED, GapShape())
    assert np.all((once > -80.0) & (once < -50.0))
    # e_s e_d doubles: 6.02 dB, and the next order in the eccentricities
    assert twice - once == pytest.approx(6.02, abs=0.15)


def test_farther_fields_hardly_matter() -> None:
    """Two and three couplings instead of one move the lines by less than 0.1 dB."""
    near = _shaft_lines_dbc(MIXED, GapShape())
    assert _shaft_lines_dbc(MIXED, GapShape(reach=2)) == pytest.approx(near, abs=0.1)


def test_the_order_zero_approximation_overstates_the_lines() -> None:
    """Fields of p +- 1, damped by the cage, oppose it: it is an upper bound, by 10 and 20 dB."""
    cheap = _shaft_lines_dbc(MIXED, None)
    assert np.all(cheap - _shaft_lines_dbc(MIXED, GapShape()) > 8.0)


@cache
def _pole_pass_lines(order: int, load_nm: float, open_bars: tuple[int, ...] = ()) -> RealArray:
    """Return the levels at (1 -+ 2s) f of R3K with this wave on its rotor."""
    setup = Setup(
        geometry=reference_motor_r3k(orders=(1,)),
        supply=Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=50.0),
        load=Load(torque_nm=load_nm),
        damage=Damage(open_bars=open_bars),
        gap=GapShape(rotor=(PermeanceWave(order=order, amplitude=0.05),)),
    )
    long = load_nm < FULL_LOAD_NM
    recording = simulate(setup, duration_s=12.0 if long else 4.0, sampling_rate_hz=1250.0)
    lines = SlipLockedLines(recording, harmonics=(1,))
    return np.array([lines.level_dbc(1, k) for k in (-1, 1)])


def test_as_many_ducts_as_poles_look_like_broken_bars() -> None:
    """A sound cage with a rotor wave of order 2p has lines at (1 -+ 2s) f, with order 3p none."""
    assert np.all(_pole_pass_lines(4, FULL_LOAD_NM) > -50.0)
    assert np.all(_pole_pass_lines(6, FULL_LOAD_NM) < -200.0)


def test_lines_of_ducts_stay_at_light_load_where_those_of_bars_fall() -> None:
    """Ducts act on the flux, bars on the rotor current: tenth against full load."""
    ducts = _pole_pass_lines(4, TENTH_LOAD_NM) - _pole_pass_lines(4, FULL_LOAD_NM)
    bars = _pole_pass_lines(6, TENTH_LOAD_NM, (0,)) - _pole_pass_lines(6, FULL_LOAD_NM, (0,))
    assert ducts[0] > 0.0
    assert bars[0] < -15.0


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: GapShape(rotor=(PermeanceWave(order=4, amplitude=0.97),)), "leave no gap"),
        (lambda: PermeanceWave(order=0, amplitude=0.1), "order must be at least 1"),
        (lambda: GapShape(reach=4), "reach must lie"),
    ],
)
def test_gaps_that_cannot_be_are_refused(make: object, message: str) -> None:
    assert callable(make)
    with pytest.raises(InputError, match=message):
        make()
