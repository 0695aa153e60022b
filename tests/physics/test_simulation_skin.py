"""Displaced currents: sections of a bar against the diffusion formula, in the bar and in the motor.

Formula: a rectangular bar in a slot has the impedance ``R z coth z``, ``z^2 = j w mu0 sigma h^2``
(textbook of electrical machines, from memory; checked here against the diffusion equation).
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.simulation import (
    Damage,
    DeepBar,
    DoubleCageBar,
    Eccentricity,
    Load,
    MachineGeometry,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
    start_trajectory,
)
from cagewise.simulation.equations.model import assemble
from cagewise.simulation.equations.steady import SteadyState, steady_state, steady_state_under_load
from cagewise.simulation.machine.reference import CAGE_CONDUCTIVITY_S_PER_M
from cagewise.simulation.runs.starting import Start
from cagewise.simulation.stepping import runge_kutta
from support.slip_locked import SlipLockedLines

OMEGA = 100.0 * math.pi
PEAK_V = 220.0 * math.sqrt(2.0)
SUPPLY = Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=50.0)
PLAIN = reference_motor_r3k(orders=(1, 5, 7))
DEEP = DeepBar(height_m=14e-3, conductivity_s_per_m=CAGE_CONDUCTIVITY_S_PER_M)
"""As high as the leakage of R3K's bars allows: one depth of penetration at 50 Hz."""
DOUBLE = DoubleCageBar(outer_conductance_share=0.3, inner_leakage_h=0.4e-6)
SLIPS = (0.02, 0.2, 0.5, 1.0)


def _steady(machine: MachineGeometry, slip: float, damage: Damage | None = None) -> SteadyState:
    model = assemble(machine, damage or Damage(), Eccentricity())
    return steady_state(model, PEAK_V, OMEGA, slip)


@pytest.mark.parametrize(
    ("sections", "depths", "error"),
    [(2, 1.0, 1.3e-4), (2, 2.0, 0.01), (3, 2.0, 4e-5), (3, 4.0, 0.008), (5, 4.0, 2e-6)],
)
def test_sections_follow_the_diffusion_formula(sections: int, depths: float, error: float) -> None:
    bar = replace(DEEP, sections=sections)
    omega = 2.0 * depths**2 / bar.diffusion_time_s
    z = (1.0 + 1.0j) * depths
    exact = z / cmath.tanh(z)
    found = bar.network(1.0, bar.diffusion_time_s / 3.0).impedance_ohm(omega)
    assert abs(found - exact) < error * abs(exact)


def test_the_diffusion_formula_is_that_of_many_layers() -> None:
    """400 layers in parallel, each linking the slot flux above it: 1e-5 of the impedance."""
    n, omega = 400, 2.0 * 2.0**2 / DEEP.diffusion_time_s
    layer = np.arange(1, n + 1)
    # flux above the higher of two layers: mu0 (h - y) / b per length; in units of R: T / n ...
    linked = DEEP.diffusion_time_s / n * (n - np.maximum(layer[:, None], layer[None, :]) + 0.5)
    linked[np.diag_indices(n)] -= DEEP.diffusion_time_s / n * (0.5 - 1.0 / 3.0)
    impedance = n * np.eye(n) + 1j * omega * linked
    currents = np.linalg.solve(impedance, np.ones(n))
    z = cmath.sqrt(1j * omega * DEEP.diffusion_time_s)
    exact = z / cmath.tanh(z)
    assert abs(1.0 / currents.sum() - exact) < 1e-5 * abs(exact)


@pytest.mark.parametrize("slip", SLIPS)
def test_a_motor_of_deep_bars_has_the_analytic_impedance_at_every_slip(slip: float) -> None:
    """The same machine with plain bars of the impedance at slip frequency: same phasors."""
    z = cmath.sqrt(1j * slip * OMEGA * DEEP.diffusion_time_s)
    own = PLAIN.bar_resistance_ohm * z / cmath.tanh(z)
    tip = PLAIN.bar_leakage_h - PLAIN.bar_resistance_ohm * DEEP.diffusion_time_s / 3.0
    fixed = replace(
        PLAIN,
        bar_resistance_ohm=own.real,
        bar_leakage_h=tip + own.imag / (slip * OMEGA),
    )
    deep, analytic = _steady(replace(PLAIN, bar=DEEP), slip), _steady(fixed, slip)
    assert deep.current_a == pytest.approx(analytic.current_a, rel=1e-6)
    assert deep.torque_nm == pytest.approx(analytic.torque_nm, rel=1e-6)
    if slip == 1.0:  # it matters: the plain machine differs
        plain = _steady(PLAIN, slip)
        assert abs(plain.torque_nm - deep.torque_nm) > 0.01 * deep.torque_nm


@pytest.mark.parametrize("slip", SLIPS)
def test_a_double_cage_has_its_impedance_at_every_slip(slip: float) -> None:
    """Outer and inner bar in parallel behind the common leakage."""
    share = DOUBLE.outer_conductance_share
    outer = PLAIN.bar_resistance_ohm / share
    omega = slip * OMEGA
    inner = PLAIN.bar_resistance_ohm / (1.0 - share) + 1j * omega * DOUBLE.inner_leakage_h
    common = PLAIN.bar_leakage_h - (1.0 - share) ** 2 * DOUBLE.inner_leakage_h
    both = outer * inner / (outer + inner) + 1j * omega * common
    fixed = replace(PLAIN, bar_resistance_ohm=both.real, bar_leakage_h=both.imag / omega)
    double = _steady(replace(PLAIN, bar=DOUBLE), slip)
    assert double.current_a == pytest.approx(_steady(fixed, slip).current_a, rel=1e-9)


def test_one_section_is_the_plain_bar() -> None:
    one = assemble(replace(PLAIN, bar=replace(DEEP, sections=1)), Damage(), Eccentricity())
    plain = assemble(PLAIN, Damage(), Eccentricity())
    assert one.decay_per_s == pytest.approx(plain.decay_per_s, rel=1e-9)
    assert one.response == pytest.approx(plain.response, rel=1e-9)


@pytest.mark.parametrize("bar", [DEEP, DOUBLE])
def test_open_bars_are_the_limit_of_a_large_resistance(bar: DeepBar | DoubleCageBar) -> None:
    """Merging removes the bar with all its sections; 1e8 times the resistance nearly does."""
    machine = replace(PLAIN, bar=bar)
    for slip in (0.03, 1.0):
        merged = _steady(machine, slip, Damage(open_bars=(3, 4)))
        limit = _steady(machine, slip, Damage(resistance_factors={3: 1e8, 4: 1e8}))
        assert merged.current_a == pytest.approx(limit.current_a, rel=1e-6)
        assert abs(merged.current_a - _steady(machine, slip).current_a) > 1e-2


def test_an_open_outer_bar_leaves_the_inner_one() -> None:
    """All outer bars open: the plain cage of the inner bars with both leakages."""
    share = DOUBLE.outer_conductance_share
    inner = replace(
        PLAIN,
        bar_resistance_ohm=PLAIN.bar_resistance_ohm / (1.0 - share),
        bar_leakage_h=PLAIN.bar_leakage_h + (1.0 - (1.0 - share) ** 2) * DOUBLE.inner_leakage_h,
    )
    every = Damage(open_outer_bars=tuple(range(PLAIN.rotor_bars)))
    for slip in SLIPS:
        found = _steady(replace(PLAIN, bar=DOUBLE), slip, every)
        assert found.torque_nm == pytest.approx(_steady(inner, slip).torque_nm, rel=1e-9)


def test_the_run_settles_at_the_phasor_solution() -> None:
    """Fundamental alone; a cycle of rms against the steady state of the load: 1e-5."""
    machine = replace(reference_motor_r3k(orders=(1,)), bar=DEEP)
    load = Load(torque_nm=20.0)
    truth = simulate(
        Setup(geometry=machine, supply=SUPPLY, load=load), duration_s=0.2, sampling_rate_hz=2500.0
    ).truth
    steady = steady_state_under_load(
        assemble(machine, Damage(), Eccentricity()), PEAK_V, OMEGA, load
    )
    assert truth["slip"] == pytest.approx(steady.slip, rel=1e-4)
    assert truth["current_rms_a"] == pytest.approx(abs(steady.current_a) / math.sqrt(3), rel=1e-4)


def test_a_broken_outer_bar_hides_while_running() -> None:
    """Its side line lies far below that of a bar open throughout: running current is inside."""
    bar = DoubleCageBar(outer_conductance_share=0.2, inner_leakage_h=0.38e-6)
    setup = Setup(geometry=replace(PLAIN, bar=bar), supply=SUPPLY, load=Load(torque_nm=20.2))
    levels = []
    for damage in (Damage(open_bars=(0,)), Damage(open_outer_bars=(0,))):
        recording = simulate(replace(setup, damage=damage), duration_s=6.0, sampling_rate_hz=2500.0)
        levels.append(SlipLockedLines(recording).level_dbc(1, -1))
    assert levels[0] - levels[1] > 8.0
    assert levels[1] > -70.0  # but it is there


def test_both_steppers_step_the_sections_alike() -> None:
    setup = Setup(geometry=replace(PLAIN, bar=DEEP), supply=SUPPLY, damage=Damage(open_bars=(2,)))
    fast, plain = (
        start_trajectory(
            setup, Start(switch_on_s=0.0), duration_s=0.01, sampling_rate_hz=2500.0,
            advance=advance,
        )
        for advance in (None, runge_kutta.advance)
    )  # fmt: skip
    scale = np.abs(fast.currents_a).max()
    assert plain.currents_a == pytest.approx(fast.currents_a, abs=1e-9 * scale)


@pytest.mark.parametrize(
    ("bar", "damage", "message"),
    [
        (replace(DEEP, height_m=0.03), Damage(), "has a leakage of at least"),
        (replace(DOUBLE, inner_leakage_h=1e-6), Damage(), "inner leakage alone"),
        (DEEP, Damage(open_outer_bars=(1,)), "only a double cage"),
        (DOUBLE, Damage(open_outer_bars=(1,), open_bars=(1,)), "either open or"),
        (DOUBLE, Damage(open_outer_bars=(40,)), "open_outer_bars must lie"),
    ],
)
def test_bars_that_cannot_be_are_refused(
    bar: DeepBar | DoubleCageBar, damage: Damage, message: str
) -> None:
    with pytest.raises(InputError, match=message):
        assemble(replace(PLAIN, bar=bar), damage, Eccentricity())


@pytest.mark.parametrize(("height_m", "sections"), [(0.0, 3), (0.01, 0), (0.01, 7), (math.nan, 2)])
def test_impossible_sections_are_refused(height_m: float, sections: int) -> None:
    with pytest.raises(InputError, match="deep bar"):
        DeepBar(height_m=height_m, conductivity_s_per_m=3e7, sections=sections)
