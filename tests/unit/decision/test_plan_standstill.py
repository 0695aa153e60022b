"""The plan of the position test and of the winding tests (docs/theory/plan.md)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.decision.standstill_plan import (
    UNKNOWNS_PER_PAIR,
    smallest_amplitude,
    standstill_plan,
)
from cagewise.decision.winding_plan import winding_plan
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.standstill import position_pattern
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor, Winding
from cagewise.measurement.cautions import TestKind
from support.cage_models import reference_cage
from support.examinations import motor

PUMP = motor(cage=Cage(rotor_bars=58))


def test_repeatability_and_positions_set_the_smallest_amplitude() -> None:
    once = smallest_amplitude(0.002, 46, 1e-3)

    assert smallest_amplitude(0.004, 46, 1e-3) == pytest.approx(2.0 * once)
    assert smallest_amplitude(0.002, 184, 1e-3) == pytest.approx(once / 2.0, rel=0.02)
    # standard deviation sqrt(2/N) sigma of 24 positions and 0.2 %: 0.058 % (derived), by sqrt 3
    assert smallest_amplitude(0.002, 24, 1e-3) > 3.0 * 0.00058 / math.sqrt(3.0)


def found_part(amplitude: float, chance: float, rng: np.random.Generator) -> float:
    """Return the part of simulated tests, three pairs of 24 positions, that the F-test finds.

    The pairs' patterns are already turned back onto each other; orders 2 and 4 are four waves.
    """
    from scipy.special import fdtri

    positions, n_tests, sigma = 24, 4000, 0.002
    angle = 2.0 * np.pi * np.arange(positions) / positions
    waves = np.concatenate([[np.cos(q * angle), np.sin(q * angle)] for q in (2, 4)])
    readings = amplitude * np.cos(2.0 * angle) + sigma * rng.standard_normal(
        (3, n_tests, positions)
    )
    fitted = np.mean(readings @ (waves.T * 2.0 / positions), axis=0)
    freedom = 3 * (positions + 1 - UNKNOWNS_PER_PAIR)
    variance = sigma**2 * rng.chisquare(freedom, n_tests) / freedom
    statistic = np.sum(fitted**2, axis=1) / 4.0 / (variance * 2.0 / (3 * positions))
    return float(np.mean(statistic > fdtri(4, freedom, 1.0 - chance)))


def test_ninety_five_of_a_hundred_tests_find_the_smallest_amplitude() -> None:
    rng = np.random.default_rng(2)
    smallest = smallest_amplitude(0.002, 24, 1e-3)

    assert found_part(smallest, 1e-3, rng) >= 0.95
    assert found_part(0.6 * smallest, 1e-3, rng) < 0.9


def test_smallest_damage_of_the_reference_rotor() -> None:
    """One open bar of 32 makes order 2 of 3.6 % of the mean (computed for the reference motor)."""
    pattern = position_pattern(reference_cage(), Damage.adjacent_open(1), 50.0)
    one_bar = float(pattern.inductance_amplitude_h(2)[0] / pattern.mean_inductance_h[0])
    subject = motor(cage=Cage(rotor_bars=32))
    planned = standstill_plan(subject, circuit_ensemble(subject, 60))
    positions = len(planned.advice.shaft_angles_deg)

    assert one_bar == pytest.approx(0.036, abs=0.001)
    linear = smallest_amplitude(0.002, positions, 1e-3) / one_bar
    assert 0.4 * linear < planned.instrument_bars.value < 2.5 * linear  # another motor, same bars
    assert planned.bars.value >= planned.instrument_bars.value


def test_a_worse_bridge_hides_more_but_never_less_than_a_sound_rotor_shows() -> None:
    circuit = circuit_ensemble(PUMP, 40)
    good, bad = (standstill_plan(PUMP, circuit, repeatability=sigma) for sigma in (0.0002, 0.02))

    assert bad.instrument_bars.value > 20.0 * good.instrument_bars.value
    assert bad.bars.value == pytest.approx(bad.instrument_bars.value)
    assert good.bars.value > 3.0 * good.instrument_bars.value


def test_all_pairs_two_frequencies_and_the_returns_are_counted() -> None:
    planned = standstill_plan(PUMP, circuit_ensemble(PUMP, 20))

    assert len(planned.pairs) == 3
    assert planned.frequencies_hz == (50.0, 200.0)
    assert planned.readings == (len(planned.advice.shaft_angles_deg) + 1) * 6


def rated(voltage_v: float, current_a: float, construction: str | None = None) -> Motor:
    plate = replace(PUMP.nameplate, rated_voltage_v=voltage_v, rated_current_a=current_a)
    return motor(nameplate=plate, winding=Winding(construction=construction))


def test_winding_tests_follow_voltage_and_construction() -> None:
    low = winding_plan(rated(690.0, 255.0, "random"))
    high = winding_plan(rated(6000.0, 29.3, "form"))

    assert low.tests == (TestKind.RESISTANCE, TestKind.INSULATION)
    assert set(high.tests) == {
        TestKind.RESISTANCE,
        TestKind.INSULATION,
        TestKind.STEP_VOLTAGE,
        TestKind.DISSIPATION,
        TestKind.TURN,
    }


def test_levels_for_new_windings_and_out_of_scope_are_left_out() -> None:
    for subject in (rated(690.0, 255.0), rated(6000.0, 29.3, "form")):
        for level in winding_plan(subject).levels:
            assert level.in_scope is not False
            assert "new" not in level.title
            assert not level.name.startswith(("acceptance", "impulse"))


def test_both_forms_of_the_maintenance_level_are_kept_and_their_difference_said() -> None:
    """The two published forms differ (quoted in two texts): both shown with the form used."""
    planned = winding_plan(rated(6000.0, 29.3, "form"))
    forms = {level.form for level in planned.levels if level.name.startswith("maintenance_direct")}

    assert len(forms) == 2
    assert any("do not agree" in remark for remark in planned.remarks)
    assert not any("lock out" in remark for remark in planned.remarks)  # said by the cautions
