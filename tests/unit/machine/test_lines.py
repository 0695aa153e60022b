"""Lines: sequence, order and place derived independently by summing waves over a winding."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.machine.lines import (
    LineFamily,
    bar_count_ladder,
    cage_rules,
    characteristic_lines,
    line_rules,
    sequence,
    slot_rules,
)
from cagewise.machine.motor import DriveTrain
from cagewise.machine.motor_file import load_motor
from cagewise.quantities import space_vector

EXAMPLES = Path(__file__).resolve().parents[3] / "examples" / "motors"
R3K = load_motor(EXAMPLES / "workshop-motor-3kw.toml")
R3K_SLIP = 0.0436


def linked_space_vector(order: int, angular_hz: float) -> tuple[float, float]:
    """Return (signed frequency, size) of the space vector that a field wave links.

    The wave is ``cos(order theta - 2 pi angular_hz t)``, theta the electrical angle; the winding
    has three coil sides per pole and phase, written out conductor by conductor.
    """
    time_s = np.arange(4000) / 4000.0
    coils_per_group = 3
    slot_rad = np.pi / (3 * coils_per_group)
    phases = []
    for phase in range(3):
        linkage = np.zeros_like(time_s)
        for slot in range(coils_per_group):
            start = 2.0 * np.pi / 3.0 * phase + slot * slot_rad
            # flux through a full-pitch coil: integral of the wave from start to start + pi
            for edge, sign in ((start + np.pi, 1.0), (start, -1.0)):
                linkage += sign * np.sin(order * edge - 2.0 * np.pi * angular_hz * time_s) / order
        phases.append(linkage)
    spectrum = np.fft.fft(space_vector(*phases)) / time_s.size
    peak = int(np.argmax(np.abs(spectrum)))
    frequency = np.fft.fftfreq(time_s.size, 1.0 / 4000.0)[peak]
    return float(frequency), float(np.abs(spectrum[peak]))


@pytest.mark.parametrize("order", [1, 2, 3, 4, 5, 7, 9, 11, 13, 15, 17, -1, -2, -5, -7, -15, -17])
def test_sequence_of_a_winding_order(order: int) -> None:
    frequency, size = linked_space_vector(order, 37.0)
    if sequence(order) == 0:
        assert size < 1e-12
    else:
        assert size > 1e-3
        assert frequency == pytest.approx(37.0 * sequence(order))


def test_cage_lines_follow_from_waves_on_the_rotor() -> None:
    """A wave of order h on the rotor that turns with +-s f there is seen by the stator at
    h (1 - s) f +- s f; every cage rule must give that line with the winding's sequence."""
    supply_hz, slip = 50.0, 0.04
    for rule in cage_rules(2):
        order = rule.winding_order
        assert order is not None
        assert rule.kernel is not None
        forwards = rule.kernel == order - 1
        rotor_hz = slip * supply_hz if forwards else -slip * supply_hz
        stator_hz = order * (1.0 - slip) * supply_hz + rotor_hz
        frequency, _ = linked_space_vector(order, stator_hz)
        assert float(rule.frequency_hz(supply_hz, slip, 2)) == pytest.approx(frequency, abs=1e-9)


def test_fifth_is_negative_and_seventh_positive_sequence() -> None:
    lines = characteristic_lines(R3K, 50.0, 0.04)
    assert lines.find("5-4s").frequency_hz == pytest.approx(-(5.0 - 0.16) * 50.0)
    assert lines.find("5-6s").frequency_hz == pytest.approx(-(5.0 - 0.24) * 50.0)
    assert lines.find("7-6s").frequency_hz == pytest.approx((7.0 - 0.24) * 50.0)
    assert lines.find("7-8s").frequency_hz == pytest.approx((7.0 - 0.32) * 50.0)


def test_slot_lines_follow_from_waves_through_the_slots() -> None:
    """The field wave times the slot permeance ``cos(k n (x - w_r t))``, seen by the stator."""
    supply_hz, slip, pole_pairs, bars = 50.0, 0.04, 2, 32
    shaft_hz = (1.0 - slip) * supply_hz / pole_pairs
    for rule in slot_rules(pole_pairs, bars):
        if rule.family is not LineFamily.ROTOR_SLOT or not rule.name.endswith("nu1"):
            continue
        multiple = int(rule.name.split("_")[1])
        order = 1 + multiple * bars // pole_pairs
        assert rule.winding_order == order
        wave_hz = supply_hz + multiple * bars * shaft_hz
        frequency, size = linked_space_vector(order, wave_hz)
        assert rule.expected == (size > 1e-6)
        if rule.expected:
            assert float(rule.frequency_hz(supply_hz, slip, pole_pairs)) == pytest.approx(frequency)


@given(
    supply_hz=st.floats(20.0, 80.0),
    slip=st.floats(0.0005, 0.1),
    pole_pairs=st.integers(1, 6),
    per_pole=st.integers(5, 15),
)
def test_lines_scale_with_the_supply_and_stand_still_at_its_side(
    supply_hz: float, slip: float, pole_pairs: int, per_pole: int
) -> None:
    """Twice the supply frequency at the same slip doubles every line."""
    for rule in line_rules(pole_pairs, 2 * pole_pairs * per_pole):
        single = float(rule.frequency_hz(supply_hz, slip, pole_pairs))
        double = float(rule.frequency_hz(2.0 * supply_hz, slip, pole_pairs))
        assert double == pytest.approx(2.0 * single, rel=1e-9, abs=1e-9)


def test_hertz_per_rpm() -> None:
    """Slot lines move by n / 60 Hz per rpm, pole-pass lines by 2 p / 60."""
    names = {rule.name: rule for rule in line_rules(2, 32)}
    assert abs(names["slot_+1_nu1"].shaft_multiple) / 60.0 == pytest.approx(0.5333, abs=1e-4)
    assert abs(names["lower_side_line"].shaft_multiple) / 60.0 == pytest.approx(0.0667, abs=1e-4)


def test_names_are_unique_and_bars_are_optional() -> None:
    rules = line_rules(2, 32, {"belt": 0.31})
    names = [rule.name for rule in rules]
    assert len(names) == len(set(names))
    without = characteristic_lines(
        replace(R3K, cage=replace(R3K.cage, rotor_bars=None)), 50.0, 0.04
    )
    assert without.family(LineFamily.ROTOR_SLOT) == ()
    with pytest.raises(KeyError):
        without.find("slot_+1_nu1")


def test_drive_train_lines() -> None:
    motor = replace(R3K, drive_train=DriveTrain(shaft_ratios={"vanes": 5.0}))
    lines = characteristic_lines(motor, 50.0, 0.04)
    assert lines.find("drive_vanes_upper").frequency_hz == pytest.approx(50.0 + 5.0 * 24.0)
    assert lines.find("drive_vanes_lower").frequency_hz == pytest.approx(50.0 - 5.0 * 24.0)


def test_ladder_contains_the_true_number_of_bars() -> None:
    line_hz = characteristic_lines(R3K, 50.0, R3K_SLIP).find("slot_+1_nu1").frequency_hz
    candidates = bar_count_ladder(line_hz, 50.0, 2, (0.0, 0.085), range(16, 81))
    exact = [c for c in candidates if c.rotor_bars == 32]
    assert exact
    assert exact[0].slip == pytest.approx(R3K_SLIP, rel=1e-9)
    # a 4-pole 3 kW motor has a window of 127 rpm: the line alone does not settle the number
    assert len({c.rotor_bars for c in candidates}) > 1


def test_ladder_settles_the_number_on_a_large_motor() -> None:
    """Slip window 1.3 %, step 1 / 58 = 1.7 %: only one number of bars remains per supply order."""
    motor = load_motor(EXAMPLES / "refiner-pump-315kw.toml")
    motor = replace(motor, cage=replace(motor.cage, rotor_bars=60))
    line_hz = characteristic_lines(motor, 50.0, 0.0075).find("slot_+1_nu1").frequency_hz
    principal = {
        c.rotor_bars
        for c in bar_count_ladder(line_hz, 50.0, 2, (0.0, 0.013))
        if c.rule.name == "slot_+1_nu1"
    }
    assert principal == {60}
