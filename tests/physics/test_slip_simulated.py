"""Slip of the simulated reference motor, which shares no code with what reads it.

R3K, 32 bars, four poles (docs/theory/simulation.md): slot lines, eccentricity lines and cage lines
come out of its circuit equations. Targets: 0.1 rpm at steady load, better 0.02 rpm.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.running.operating_point import OperatingPoint, find_operating_point
from cagewise.indicators.running.slip_families import read_families
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording, Role
from cagewise.quantities import Estimate, NotKnown, space_vector
from cagewise.simulation import Eccentricity, Harmonic, Sensors
from support.operating import frame_of, r3k_motor
from support.r3k import FULL_LOAD_NM, HALF_LOAD_NM, QUARTER_LOAD_NM, R3k

MOTOR = r3k_motor()
CIRCUIT = circuit_ensemble(MOTOR)

PLANT = R3k(
    wander_rms_hz=0.01,
    unbalance=0.005,
    harmonics=(Harmonic(order=5, ratio=0.01), Harmonic(order=7, ratio=0.007)),
    eccentricity=Eccentricity(static=0.1, dynamic=0.05),
    sensors=Sensors(
        current_ratio_error=(0.005, -0.003, 0.001),
        current_phase_error_deg=(0.3, -0.2, 0.1),
        current_noise_rms_a=0.005,
        voltage_noise_rms_v=0.3,
        bits=16,
        current_full_scale_a=20.0,
        voltage_full_scale_v=800.0,
    ),
    inertia_factor=10.0,
)
"""A plant's supply and a recorder of 16 bits; steady load."""


def examined(recording: Recording, motor: Motor = MOTOR) -> OperatingPoint:
    """Return the operating point of a recording."""
    return find_operating_point(frame_of(recording), motor, CIRCUIT)


def speed(point: OperatingPoint) -> Estimate:
    """Return the speed, or fail with the reason."""
    assert isinstance(point.speed_rpm, Estimate), point.speed_rpm
    return point.speed_rpm


def slip_error_rpm(point: OperatingPoint, recording: Recording) -> float:
    """Return the error of the slip as speed at 1500 rpm."""
    assert isinstance(point.slip, Estimate), point.slip
    return 1500.0 * abs(point.slip.value - recording.truth["slip"])


def turn_frequency_hz(recording: Recording) -> float:
    """Return the plain mean frequency: the turns of the voltage vector from end to end."""
    ab, bc, ca = (
        channel.samples
        for role in (Role.VOLTAGE_AB, Role.VOLTAGE_BC, Role.VOLTAGE_CA)
        if (channel := recording.find(role)) is not None
    )
    phase = np.unwrap(np.angle(space_vector(ab, bc, ca)))
    # Harmonics of 1 % move the phase by 0.01 rad at either end: 2e-4 Hz over 20 s.
    return (
        float(phase[-1] - phase[0])
        / (2.0 * np.pi)
        / (recording.duration_s - 1.0 / recording.sampling_rate_hz)
    )


@pytest.mark.parametrize("torque_nm", [FULL_LOAD_NM, HALF_LOAD_NM, QUARTER_LOAD_NM])
@pytest.mark.parametrize("fault", ["healthy", "1 bar"])
def test_speed_at_steady_load(torque_nm: float, fault: str) -> None:
    recording = replace(PLANT, fault=fault, load_torque_nm=torque_nm).recording()
    point = examined(recording)
    assert slip_error_rpm(point, recording) < 0.02
    # The supply wanders by 0.3 rpm, and 5 % of the record is lost at its ends.
    found = speed(point)
    true = 30.0 * turn_frequency_hz(recording) * (1.0 - recording.truth["slip"])
    assert found.value == pytest.approx(true, abs=0.06)
    assert found.low < true < found.high
    assert "eccentricity" in point.slip_families


@pytest.mark.parametrize("torque_nm", [FULL_LOAD_NM, HALF_LOAD_NM])
@pytest.mark.parametrize("fault", ["healthy", "1 bar"])
def test_speed_when_the_load_is_restless(torque_nm: float, fault: str) -> None:
    run = replace(PLANT, fault=fault, load_torque_nm=torque_nm, torque_noise_rms_nm=0.25)
    recording = run.recording()
    point = examined(recording)
    # The speed itself wanders by 0.5 to 0.7 rpm (standard deviation); the truth is a mean under a
    # Hann window, the reading a plain one.
    assert slip_error_rpm(point, recording) < 0.1
    assert isinstance(point.slip, Estimate)
    assert point.slip.low < recording.truth["slip"] < point.slip.high


def test_damage_lets_more_families_speak() -> None:
    recording = replace(PLANT, fault="1 bar").recording()
    assert examined(recording).slip_families == (
        "rotor slots",
        "eccentricity",
        "pole pass",
        "cage lines at the 5th and 7th harmonic",
    )


def test_a_centred_sound_rotor_shows_slot_lines_alone_and_that_is_not_enough() -> None:
    recording = replace(PLANT, eccentricity=Eccentricity()).recording()
    point = examined(recording)
    assert isinstance(point.slip, NotKnown)
    # It follows the torque, but any line in a window this wide would be one stray too likely.
    assert "one family of lines alone (rotor slots)" in point.slip.reason
    # The line itself is where the winding rule says: -(16 (1-s) + 1), and nowhere near +-15.
    slots = read_families(frame_of(recording), 2, 32, 0.07)[0]
    strongest = slots.nats.argmax()
    order = float(slots.order[strongest])
    true = recording.truth["slip"]
    assert order == pytest.approx(-(16.0 * (1.0 - true) + 1.0), abs=1e-4)


def currents_only(recording: Recording, *, phases: int) -> SupplyFrame:
    """Return the frame of a recording that has lost its voltages."""
    kept = (Role.CURRENT_A, Role.CURRENT_B, Role.CURRENT_C)[:phases]
    channels = tuple(c for c in recording.channels if c.role in kept)
    return frame_of(replace(recording, channels=channels))


@pytest.mark.parametrize("phases", [1, 3])
def test_currents_alone_read_the_same_speed(phases: int) -> None:
    recording = replace(PLANT, fault="1 bar").recording()
    point = find_operating_point(currents_only(recording, phases=phases), MOTOR, CIRCUIT)
    assert slip_error_rpm(point, recording) < 0.02
    assert point.active_power_w is None
    assert isinstance(point.load_fraction, Estimate)


def test_speed_without_the_number_of_bars() -> None:
    recording = replace(PLANT, fault="1 bar").recording()
    point = examined(recording, r3k_motor(bars=None))
    assert slip_error_rpm(point, recording) < 0.02
    assert point.rotor_bars in (None, 32)
    assert 32 in point.rotor_bars_candidates


@pytest.mark.parametrize("torque_nm", [FULL_LOAD_NM, HALF_LOAD_NM, QUARTER_LOAD_NM])
def test_load_fraction_of_a_motor_without_friction(torque_nm: float) -> None:
    recording = replace(PLANT, load_torque_nm=torque_nm).recording()
    load = examined(recording).load_fraction
    assert isinstance(load, Estimate)
    true = recording.truth["shaft_power_w"] / MOTOR.nameplate.rated_power_w
    # The simulated motor has neither friction nor core loss, 4 to 8 % of rated power in a real one
    # of this size, so the power balance reads it low by that much.
    assert true - 0.08 < load.value < true + 0.02
    assert load.low - 0.06 < true < load.high + 0.06
