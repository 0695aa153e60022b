"""What the supply does to the simulated machine: unbalance, a weak grid, a soft start."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.measurement import Role
from cagewise.quantities import ComplexArray, RealArray, space_vector
from cagewise.simulation import (
    Damage,
    Harmonic,
    Load,
    Modulation,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate_start,
    start_trajectory,
    trajectory,
)
from cagewise.simulation.machine.two_axis import two_axis_machine
from cagewise.simulation.plant.converter import VectorControl
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.plant.soft_start import (
    SoftStart,
    firing_angle_rad,
    fundamental_ratio,
    harmonic_ratio,
)
from cagewise.simulation.plant.supply import SourceImpedance, SupplyRun
from cagewise.simulation.runs.starting import Start
from cagewise.simulation.runs.terminals import behind_source

RATE_HZ = 5000.0
SETUP = Setup(
    geometry=reference_motor_r3k(orders=(1, 5, 7)),
    supply=Supply(line_voltage_rms_v=381.05, frequency_hz=50.0),
    load=Load(torque_nm=15.0),
)
GRID = SourceImpedance.from_short_circuit(
    power_va=100e3, line_voltage_rms_v=381.05, frequency_hz=50.0, x_over_r=2.0
)
INNER = slice(GUARD_SAMPLES, -GUARD_SAMPLES)


def _vector(three: RealArray) -> ComplexArray:
    return space_vector(three[0], three[1], three[2])


def _line(signal: ComplexArray, time_s: RealArray, frequency_hz: float) -> complex:
    """Return a line of a record of whole cycles of everything in it."""
    return complex(np.mean(signal * np.exp(-2j * np.pi * frequency_hz * time_s)))


@pytest.mark.parametrize(
    ("ab", "bc", "ca", "negative_percent"),
    [
        (460.0, 467.0, 450.0, 2.146),
        (480.0, 476.0, 472.0, 0.970),
        (203.0, 210.0, 212.0, 2.606),
        (243.0, 236.0, 238.0, 1.747),
        (220.0, 216.0, 213.0, 1.877),
    ],
)
def test_supply_from_three_line_voltages(
    ab: float, bc: float, ca: float, negative_percent: float
) -> None:
    """Voltages of published unbalance examples (NEMA MG 1-14.36 and data sheets); V2/V1 by the
    formula of IEC 61000-4-30 clause 5.7, three decimals."""
    supply = Supply.from_line_voltages(ab, bc, ca, 60.0)
    beta = (ab**4 + bc**4 + ca**4) / (ab**2 + bc**2 + ca**2) ** 2
    root = math.sqrt(3.0 - 6.0 * beta)
    formula = math.sqrt((1.0 - root) / (1.0 + root))
    assert supply.unbalance == pytest.approx(formula, rel=1e-9)
    assert 100.0 * supply.unbalance == pytest.approx(negative_percent, abs=5e-4)
    time_s = np.arange(1000) / 60e3
    run = SupplyRun(supply, 0.0, 1.0, np.random.default_rng(0))
    turns = (1.0, np.exp(-2j * np.pi / 3.0), np.exp(2j * np.pi / 3.0))
    a, b, c = ((run.space_vector_v(time_s) * turn).real for turn in turns)
    rms = [math.sqrt(np.mean((x - y) ** 2)) for x, y in ((a, b), (b, c), (c, a))]
    assert rms == pytest.approx([ab, bc, ca], rel=1e-9)


def test_three_voltages_that_close_no_triangle_are_refused() -> None:
    with pytest.raises(InputError, match="triangle"):
        Supply.from_line_voltages(100.0, 100.0, 210.0, 50.0)


def test_unbalance_draws_the_negative_sequence_current_of_a_locked_rotor() -> None:
    """The backward wave meets the two-axis machine (order 1) at slip 2 - s, to 1e-4; the torque
    pulsation at 100 Hz swings the rotor, so a rotor of a thousand times the inertia is taken."""
    geometry = reference_motor_r3k(orders=(1,), inertia_factor=1000.0)
    supply = replace(SETUP.supply, unbalance=0.02)
    path = trajectory(
        replace(SETUP, geometry=geometry, supply=supply),
        duration_s=1.0, sampling_rate_hz=RATE_HZ, settling_s=2.0,
    )  # fmt: skip
    current, voltage = (_vector(x)[INNER] for x in (path.currents_a, path.voltages_v))
    time_s = path.time_s[INNER]
    m, w = two_axis_machine(geometry), 2.0 * math.pi * 50.0
    slip = 1.0 - 2.0 * float(np.mean(path.speed_rad_s[INNER])) / w
    rotor = m.rotor_resistance_ohm / (2.0 - slip) + 1j * w * m.rotor_inductance_h
    impedance = m.stator_resistance_ohm + 1j * w * m.stator_inductance_h
    impedance += (w * m.magnetizing_inductance_h) ** 2 / rotor
    seen = np.conj(_line(voltage, time_s, -50.0)) / np.conj(_line(current, time_s, -50.0))
    assert seen == pytest.approx(impedance, rel=1e-4)


def test_terminal_voltage_behind_a_weak_grid_closes_the_loop() -> None:
    """What enters at the terminals is what the motor alone loses, delivers and stores.

    Over every 0.1 ms, harmonics and damage included, to 1e-5 of the largest flow (Simpson's rule on
    the record). Source resistance and inductance are taken off by hand; a wrong slope of the
    current would show at once.
    """
    supply = replace(SETUP.supply, source=GRID, harmonics=(Harmonic(order=5, ratio=0.03),))
    setup = replace(SETUP, supply=supply, damage=Damage(open_bars=(4,)))
    path = trajectory(setup, duration_s=0.2, sampling_rate_hz=20e3, settling_s=1.0)
    source = trajectory(behind_source(setup), duration_s=0.2, sampling_rate_hz=20e3, settling_s=1.0)
    assert np.allclose(path.currents_a, source.currents_a, rtol=1e-9, atol=1e-9)
    power = np.sum(path.voltages_v * path.currents_a, axis=0)
    resistance = SETUP.geometry.stator_resistance_ohm
    copper = resistance * np.sum(path.currents_a**2, axis=0)
    stored = path.energy_j - 0.5 * GRID.inductance_h * np.sum(path.currents_a**2, axis=0)
    shaft = path.torque_nm * path.speed_rad_s
    flow = power - copper - path.rotor_loss_w - shaft
    h = path.time_s[1] - path.time_s[0]
    # Simpson's rule over pairs of samples
    gained = h / 3.0 * (flow[:-2:2] + 4.0 * flow[1:-1:2] + flow[2::2])
    change = stored[2::2] - stored[:-2:2]
    assert np.abs(gained - change).max() < 1e-5 * np.abs(gained).max()
    assert np.ptp(gained) > 1e-3


def test_weak_grid_lowers_the_voltage_and_carries_the_motors_own_lines() -> None:
    """A stiff supply has no side lines; behind an impedance the motor's currents make them.

    U = -Z I at the line's frequency, to 1e-3.
    """
    setup = replace(SETUP, supply=replace(SETUP.supply, source=GRID), damage=Damage(open_bars=(4,)))
    path = trajectory(setup, duration_s=6.0, sampling_rate_hz=2500.0, settling_s=2.0)
    voltage, current = (_vector(x)[INNER] for x in (path.voltages_v, path.currents_a))
    time_s = path.time_s[INNER]
    slip = 1.0 - 2.0 * float(np.mean(path.speed_rad_s[INNER])) / (100.0 * math.pi)
    weight = np.hanning(time_s.size) ** 2
    weight /= weight.sum()
    for frequency_hz in (50.0 * (1.0 - 2.0 * slip), 50.0 * (1.0 + 2.0 * slip)):
        turn = np.exp(-2j * np.pi * frequency_hz * time_s) * weight
        drop = GRID.resistance_ohm + 2j * math.pi * frequency_hz * GRID.inductance_h
        seen = complex(np.sum(voltage * turn))
        assert seen == pytest.approx(-drop * complex(np.sum(current * turn)), rel=1e-3)
    assert np.sqrt(np.mean(path.voltages_v**2)) < 0.99 * 220.0


def test_a_source_impedance_is_the_short_circuit_power() -> None:
    z = complex(GRID.resistance_ohm, 100.0 * math.pi * GRID.inductance_h)
    assert abs(z) == pytest.approx(381.05**2 / 100e3)
    assert z.imag / z.real == pytest.approx(2.0)
    with pytest.raises(InputError, match="negative"):
        SourceImpedance(resistance_ohm=-1.0)


def test_flicker_modulates_the_current_like_the_voltage() -> None:
    """Slow against every time constant of the machine, the current follows its operating points:
    1 % at 0.1 Hz against steady runs 1 % up and down, to 2 % of the swing."""
    load = Load(quadratic_nm_s2=15.0 / 152.0**2)
    wave = Modulation(amplitude=0.01, frequency_hz=0.1, phase_rad=-math.pi / 2.0)
    slow = replace(SETUP, load=load, supply=replace(SETUP.supply, amplitude_modulation=(wave,)))
    path = trajectory(slow, duration_s=10.0, sampling_rate_hz=1000.0, settling_s=2.0)
    level = np.abs(_vector(path.currents_a))[INNER]
    steady = []
    for factor in (0.99, 1.01):
        supply = replace(SETUP.supply, line_voltage_rms_v=factor * 381.05)
        run = trajectory(
            replace(SETUP, load=load, supply=supply),
            duration_s=0.1, sampling_rate_hz=1000.0, settling_s=2.0,
        )  # fmt: skip
        steady.append(float(np.abs(_vector(run.currents_a)).mean()))
    cycle = level.reshape(-1, 20).mean(axis=1)
    assert sorted((cycle[125], cycle[375])) == pytest.approx(
        sorted(steady), abs=0.02 * abs(steady[1] - steady[0])
    )


@pytest.mark.parametrize("angle_deg", [95.0, 120.0, 150.0])
@pytest.mark.parametrize("order", [1, 5, 7, 11])
def test_phase_control_is_the_fourier_sum_of_its_waveform(angle_deg: float, order: int) -> None:
    """Closed forms against the chopped sine itself (1e-4: 1e5 points round the corners)."""
    angle = math.radians(angle_deg)
    x = 2.0 * np.pi * (np.arange(200_000) + 0.5) / 200_000
    chopped = np.where(np.abs(np.mod(x, np.pi * 2.0) - np.pi) < np.pi - angle, np.sin(x), 0.0)
    other = np.mod(x + np.pi, 2.0 * np.pi)
    chopped += np.where(np.abs(other - np.pi) < np.pi - angle, np.sin(x), 0.0)
    fourier = 2.0 * float(np.mean(chopped * np.sin(order * x)))
    closed = fundamental_ratio if order == 1 else lambda a: harmonic_ratio(order, a)
    assert float(closed(np.asarray(angle))) == pytest.approx(fourier, abs=1e-4)


def test_firing_angle_gives_the_wanted_fundamental() -> None:
    level = np.linspace(0.05, 1.0, 20)
    assert fundamental_ratio(firing_angle_rad(level)) == pytest.approx(level, abs=1e-6)


def test_soft_start_takes_less_current_and_more_time() -> None:
    """The first peaks go with the voltage; the fan is at speed only near the end of the ramp."""
    fan = replace(
        SETUP,
        geometry=reference_motor_r3k(orders=(1, 5, 7), inertia_factor=4.0),
        load=Load(quadratic_nm_s2=15.0 / 152.0**2),
    )
    ramp = SoftStart(initial=0.3, ramp_s=0.8, start_s=0.1)
    soft = replace(fan, supply=replace(fan.supply, soft_start=ramp))
    start = Start(switch_on_s=0.1, phase_rad=0.0)
    direct, gentle = (
        start_trajectory(setup, start, duration_s=1.5, sampling_rate_hz=RATE_HZ)
        for setup in (fan, soft)
    )
    early = (direct.time_s > 0.1) & (direct.time_s < 0.12)
    ratio = np.abs(gentle.currents_a[:, early]).max() / np.abs(direct.currents_a[:, early]).max()
    # the ramp adds 0.0175 in that cycle; harmonics of phase control ride on it
    assert 0.28 < ratio < 0.42
    arrival = [float(p.time_s[np.argmax(p.speed_rad_s > 0.95 * 157.0)]) for p in (direct, gentle)]
    assert arrival[1] > arrival[0] + 0.15
    assert gentle.speed_rad_s[-1] == pytest.approx(direct.speed_rad_s[-1], rel=2e-3)
    assert np.abs(gentle.currents_a).max() < 0.75 * np.abs(direct.currents_a).max()


def test_a_start_pulls_a_weak_grid_down() -> None:
    """Second cycle, rotor nearly at rest: terminal over source voltage is |Z_m / (Z_m + Z_grid)|.

    Z_m of the two-axis machine at slip 1; 2 % (the offsets of switching are still there).
    """
    geometry = reference_motor_r3k(orders=(1,), inertia_factor=50.0)
    setup = replace(
        SETUP, geometry=geometry, load=Load(), supply=replace(SETUP.supply, source=GRID)
    )
    recording = simulate_start(
        setup, Start(switch_on_s=0.02), duration_s=0.2, sampling_rate_hz=RATE_HZ
    )
    channel = recording.find(Role.VOLTAGE_AB)
    assert channel is not None
    volts = channel.samples
    assert np.sqrt(np.mean(volts[:100] ** 2)) == pytest.approx(381.05, rel=1e-3)
    m, w = two_axis_machine(geometry), 100.0 * math.pi
    motor = m.stator_resistance_ohm + 1j * w * m.stator_inductance_h
    rotor = m.rotor_resistance_ohm + 1j * w * m.rotor_inductance_h
    motor += (w * m.magnetizing_inductance_h) ** 2 / rotor
    grid = GRID.resistance_ohm + 1j * w * GRID.inductance_h
    dip = abs(motor / (motor + grid))
    assert dip < 0.92
    seen = np.sqrt(np.mean(volts[200:300] ** 2)) / 381.05
    assert seen == pytest.approx(dip, rel=0.02)
    assert recording.truth["stalled"] == 0.0


def test_impossible_supplies_are_refused() -> None:
    with pytest.raises(InputError, match="soft start"):
        SoftStart(initial=0.0, ramp_s=1.0)
    with pytest.raises(InputError, match="one of soft starter"):
        replace(
            SETUP.supply,
            soft_start=SoftStart(initial=0.3, ramp_s=1.0),
            control=VectorControl(),
        )
    with pytest.raises(InputError, match="forces the voltage"):
        replace(SETUP.supply, source=GRID, control=VectorControl())
