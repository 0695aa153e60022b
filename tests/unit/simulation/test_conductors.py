"""Temperature and height of conductors; the frequency ramp of a converter."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.simulation import FrequencyRamp, Supply, reference_motor_r3k
from cagewise.simulation.machine.bars import DeepBar
from cagewise.simulation.machine.conductors import (
    LEAKAGE_IN_THE_CONDUCTOR,
    at_temperature,
    resistance_ratio,
    with_deep_bars,
)
from cagewise.simulation.plant.supply import SupplyRun


def test_resistance_follows_the_temperature() -> None:
    """Trade page on temperature rise: 1 K at 20 degC is 1/254.5 of copper; 1/245 of aluminium
    (225, IEC 60034-1)."""
    assert resistance_ratio("copper", 20.0, 21.0) - 1.0 == pytest.approx(1.0 / 254.5, rel=1e-9)
    assert resistance_ratio("aluminium", 20.0, 21.0) - 1.0 == pytest.approx(1.0 / 245.0, rel=1e-9)
    with pytest.raises(InputError, match="-240 degC is impossible"):
        resistance_ratio("copper", 20.0, -240.0)


def test_deep_bars_are_plain_for_direct_current() -> None:
    """Resistance and leakage stay; at 50 Hz R z coth z and the tip."""
    plain = reference_motor_r3k()
    deep = with_deep_bars(plain, "cast")
    still = deep.bar_network.impedance_ohm(0.01)
    assert still.real == pytest.approx(plain.bar_resistance_ohm, rel=1e-6)
    assert still.imag / 0.01 == pytest.approx(plain.bar_leakage_h, rel=1e-6)
    assert isinstance(deep.bar, DeepBar)
    z = cmath.sqrt(100j * math.pi * deep.bar.diffusion_time_s)
    across = plain.bar_resistance_ohm * z / cmath.tanh(z)
    tip = 100j * math.pi * (1.0 - LEAKAGE_IN_THE_CONDUCTOR) * plain.bar_leakage_h
    assert deep.bar_network.impedance_ohm(100.0 * math.pi) == pytest.approx(across + tip, rel=1e-3)
    assert with_deep_bars(deep, "cast") is deep


def test_a_cold_bar_displaces_its_current_more() -> None:
    """Its diffusion time is inverse to its resistance."""
    hot = with_deep_bars(reference_motor_r3k(), "cast")
    cold = at_temperature(hot, 20.0, conductor="copper", construction="cast")
    assert isinstance(hot.bar, DeepBar)
    assert isinstance(cold.bar, DeepBar)
    assert cold.bar_resistance_ohm / hot.bar_resistance_ohm == pytest.approx(245.0 / 320.0)
    assert cold.stator_resistance_ohm / hot.stator_resistance_ohm == pytest.approx(254.5 / 329.5)
    product = cold.bar_resistance_ohm * cold.bar.diffusion_time_s
    assert product == pytest.approx(hot.bar_resistance_ohm * hot.bar.diffusion_time_s)
    same = at_temperature(replace(hot, bar=None), 95.0, conductor="copper", construction="cast")
    assert same == replace(hot, bar=None)


def test_phase_of_the_ramp_is_the_integral_of_its_frequency() -> None:
    ramp = FrequencyRamp(ramp_s=2.0, start_s=0.5, initial_hz=2.0, boost=0.1)
    time = np.linspace(0.0, 4.0, 40001)
    turns = ramp.turns(time, 50.0)
    assert turns[0] == 0.0
    assert np.gradient(turns, time)[1:-1] == pytest.approx(
        ramp.frequency_hz(time, 50.0)[1:-1], abs=2e-3
    )
    assert ramp.level(time, 50.0)[[0, -1]] == pytest.approx([0.1 + 0.9 * 2.0 / 50.0, 1.0])


def test_the_supply_follows_the_ramp() -> None:
    supply = Supply(
        line_voltage_rms_v=400.0, frequency_hz=50.0, ramp=FrequencyRamp(ramp_s=1.0, start_s=0.1)
    )
    run = SupplyRun(supply, 0.0, 3.0, np.random.default_rng(1))
    late = np.linspace(2.0, 2.5, 1001)
    vector = run.space_vector_v(late)
    assert np.abs(vector) == pytest.approx(supply.phase_voltage_peak_v)
    assert np.gradient(np.unwrap(np.angle(vector)), late) == pytest.approx(100.0 * np.pi)


@pytest.mark.parametrize("wrong", [{"ramp_s": 0.0}, {"ramp_s": 1.0, "boost": 1.0}])
def test_impossible_ramps_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        FrequencyRamp(**wrong)
