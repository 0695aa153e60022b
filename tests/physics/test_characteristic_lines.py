"""Lines of the simulated 3 kW motor stand where the rules say, and turn the way they say.

The simulation knows currents and windings bar by bar and nothing of lines.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from cagewise.machine.lines import CharacteristicLines, LineFamily, characteristic_lines
from cagewise.machine.motor_file import load_motor
from cagewise.quantities import ComplexArray, space_vector
from cagewise.simulation import (
    Damage,
    Eccentricity,
    Load,
    Setup,
    Supply,
    reference_motor_r3k,
    trajectory,
)

MOTOR = load_motor(
    Path(__file__).resolve().parents[2] / "examples" / "motors" / "workshop-motor-3kw.toml"
)
SUPPLY_HZ = 50.0
RATE_HZ = 5000.0
DURATION_S = 4.0


@pytest.fixture(scope="module")
def current() -> tuple[ComplexArray, CharacteristicLines]:
    """Current of a motor with one open bar and mixed eccentricity, and its lines at true slip."""
    setup = Setup(
        geometry=reference_motor_r3k(orders=(1, 5, 7, 11, 13, 17, 19, 29, 31)),
        supply=Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=SUPPLY_HZ),
        load=Load(torque_nm=15.0),
        damage=Damage(open_bars=(0,)),
        eccentricity=Eccentricity(static=0.2, dynamic=0.1),
    )
    path = trajectory(setup, duration_s=DURATION_S, sampling_rate_hz=RATE_HZ)
    shaft_hz = (path.angle_rad[-1] - path.angle_rad[0]) / (path.time_s[-1] - path.time_s[0])
    slip = 1.0 - 2.0 * shaft_hz / (2.0 * math.pi) / SUPPLY_HZ
    return space_vector(*path.currents_a), characteristic_lines(MOTOR, SUPPLY_HZ, slip)


def level_db(current: ComplexArray, frequency_hz: float) -> float:
    """Return the level of a signed line against the fundamental (four-term cosine window)."""
    n = np.arange(current.size)
    turn = 2.0 * np.pi * n / current.size
    window = 0.35875 - 0.48829 * np.cos(turn) + 0.14128 * np.cos(2 * turn)
    window -= 0.01168 * np.cos(3 * turn)

    def amplitude(at_hz: float) -> float:
        return float(np.abs(np.mean(current * window * np.exp(-2j * np.pi * at_hz / RATE_HZ * n))))

    return 20.0 * math.log10(amplitude(frequency_hz) / amplitude(SUPPLY_HZ))


@pytest.mark.parametrize(
    "name",
    [
        "lower_side_line",
        "upper_side_line",
        "5-4s",
        "5-6s",
        "7-6s",
        "7-8s",
        "11-10s",
        "11-12s",
        "13-12s",
        "13-14s",
        "shaft_1_lower",
        "shaft_1_upper",
        "slot_+1_nu1",
        "slot_-2_nu1",
        "slot_+1_nu1_ecc-1",
        "slot_+1_nu1_ecc+1",
    ],
)
def test_line_stands_at_its_place_and_turns_its_way(
    current: tuple[ComplexArray, CharacteristicLines], name: str
) -> None:
    """At least 20 dB above the opposite sign, and above the places 2 Hz to either side."""
    samples, lines = current
    line = lines.find(name)
    assert line.rule.expected
    here = level_db(samples, line.frequency_hz)
    assert here > -100.0
    assert here > level_db(samples, -line.frequency_hz) + 20.0
    assert here > level_db(samples, line.frequency_hz - 2.0) + 20.0
    assert here > level_db(samples, line.frequency_hz + 2.0) + 20.0


def test_slot_lines_that_are_not_expected_are_absent(
    current: tuple[ComplexArray, CharacteristicLines],
) -> None:
    """715 and 1580 Hz: orders 15 and 33 link no current in three wires."""
    samples, lines = current
    for name in ("slot_-1_nu1", "slot_+2_nu1"):
        line = lines.find(name)
        assert line.rule.family is LineFamily.ROTOR_SLOT
        assert not line.rule.expected
        for sign in (-1.0, 1.0):
            assert level_db(samples, sign * line.frequency_hz) < -140.0
