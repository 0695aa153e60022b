"""Starts of the simulated reference motor: end, time, current, and what open bars do to them.

The witness steps through time bar by bar; what is expected comes from steady solutions at fixed
slips.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cagewise.conditioning.start_fall import AT_SPEED
from cagewise.conditioning.starts import find_starts
from cagewise.indicators.start.comparison_limits import StartComparisonLimits
from cagewise.indicators.start.current import initial_current
from cagewise.indicators.start.expected import N_DRAWS, ExpectedStart, expect_start
from cagewise.indicators.start.facts import StartFacts, start_facts
from cagewise.indicators.start.time_to_speed import start_time
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.run_up import StandstillCage
from cagewise.quantities import Estimate
from cagewise.simulation import (
    DeepBar,
    DoubleCageBar,
    LeakageSaturation,
    Load,
    Start,
    simulate_start,
    start_trajectory,
)
from cagewise.simulation.machine.saturation import Saturation
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from support.operating import r3k_circuit, r3k_motor
from support.r3k import FAULTS
from support.start_scenes import (
    FAN,
    LIGHT,
    NO_LOAD,
    RATE_HZ,
    SWITCH_ON_S,
    SYNCHRONOUS_RAD_S,
    VOLTAGE_V,
    Scene,
    simulated,
    with_only,
)

MOTOR = r3k_motor()
CIRCUIT = r3k_circuit()
LIMITS = StartComparisonLimits()
ALIKE = StandstillCage(
    resistance_ratio=np.ones(N_DRAWS), leakage_ratio=np.ones(N_DRAWS), exponent=np.ones(N_DRAWS)
)
"""The simulated bars have no skin effect unless they are given a shape."""
REFERENCE = Scene(inertia_factor=60.9, load=LIGHT, duration_s=2.2)
"""1.123 s to 95 % of synchronous speed, as printed in the reference list."""
PRINTED_RATIOS = {"1 bar": 1.027, "2 adjacent": 1.086, "2 at 90": 1.052}
"""Reference list of the methods survey, section 4 (computed for this project)."""


@cache
def _facts(scene: Scene) -> StartFacts:
    recording = simulated(scene)
    (start,) = find_starts(recording)
    return start_facts(recording, start, MOTOR)


def _value(estimate: object) -> float:
    assert isinstance(estimate, Estimate), estimate
    return estimate.value


def _slip_at_speed(running_a: float, initial_a: float, voltage_pu: float) -> float:
    """Return the slip at which the circuit draws a tenth of the fall above the running current."""
    slips = np.geomspace(1.0, 1e-3, 4000)
    state = CIRCUIT.at(slips, 100.0 * math.pi)
    peak = math.sqrt(2.0 / 3.0) * VOLTAGE_V * voltage_pu
    current = np.abs(state.stator_current(peak)) / math.sqrt(2.0)
    threshold = running_a + AT_SPEED * (initial_a - running_a)
    return float(np.interp(threshold, current[::-1], slips[::-1]))


@pytest.mark.parametrize(
    ("load", "voltage_pu"),
    [(NO_LOAD, 1.0), (LIGHT, 1.0), (FAN, 0.95), (FAN, 1.0), (Load(friction_nm=12.0), 1.0)],
)
def test_at_speed_is_where_the_circuit_says(load: Load, voltage_pu: float) -> None:
    """Slip at our instant is that of the circuit: 0.04 to 0.08, within 0.006.

    The lag is that of the rotor flux, a few milliseconds.
    """
    scene = Scene(inertia_factor=60.0, load=load, duration_s=2.4, voltage_v=VOLTAGE_V * voltage_pu)
    facts = _facts(scene)
    path = start_trajectory(
        scene.setup(), Start(switch_on_s=SWITCH_ON_S, phase_rad=0.0), duration_s=1.8,
        sampling_rate_hz=RATE_HZ,
    )  # fmt: skip
    place = GUARD_SAMPLES + round((SWITCH_ON_S + _value(facts.time_to_speed_s)) * RATE_HZ)
    slip = 1.0 - float(np.mean(path.speed_rad_s[place - 50 : place + 50])) / SYNCHRONOUS_RAD_S
    assert isinstance(facts.running_current_rms_a, float)
    expected = _slip_at_speed(
        facts.running_current_rms_a, _value(facts.initial_current_rms_a), voltage_pu
    )
    assert slip == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize(
    ("load", "low", "high"),
    [(NO_LOAD, 0.0, 0.02), (LIGHT, 0.0, 0.02), (Load(friction_nm=12.0), -0.04, 0.0),
     (FAN, -0.13, -0.06)],
)  # fmt: skip
@pytest.mark.parametrize("inertia_factor", [40.0, 90.0])
def test_bias_against_95_percent_of_speed(
    load: Load, low: float, high: float, inertia_factor: float
) -> None:
    """Light loads +0 to 2 %; a fan of rated torque -6 to -13 %, since this motor then runs at
    95.6 % of synchronous speed and hardly reaches the mark.
    """
    scene = Scene(
        inertia_factor=inertia_factor, load=load, duration_s=1.8 if inertia_factor < 50.0 else 3.2
    )
    truth = simulated(scene).truth["time_to_speed_s"]
    assert low < _value(_facts(scene).time_to_speed_s) / truth - 1.0 < high


def test_noise_and_one_current_leave_the_time_alone() -> None:
    """1 % of the starting current."""
    quiet = _value(_facts(REFERENCE).time_to_speed_s)
    sensors = replace(REFERENCE.sensors, current_noise_rms_a=0.37, voltage_noise_rms_v=2.2)
    noisy = replace(REFERENCE, sensors=sensors)
    assert _value(_facts(noisy).time_to_speed_s) == pytest.approx(quiet, rel=0.005)
    for channel in simulated(noisy).channels[:3]:
        single = with_only(simulated(noisy), channel.role)
        (start,) = find_starts(single)
        one = start_facts(single, start, MOTOR)
        assert _value(one.time_to_speed_s) == pytest.approx(quiet, rel=0.01)


@pytest.mark.parametrize(("load", "tolerance"), [(LIGHT, 0.006), (FAN, 0.02)])
@pytest.mark.parametrize("voltage_pu", [0.95, 1.05])
def test_the_square_of_the_voltage_normalises(
    load: Load, voltage_pu: float, tolerance: float
) -> None:
    """5 % move the time by 10 %; what the square leaves is within 0.6 % light, 2 % with a fan."""
    scene = replace(REFERENCE, load=load)
    other = replace(scene, voltage_v=VOLTAGE_V * voltage_pu)
    plain = _value(_facts(other).time_to_speed_s) / _value(_facts(scene).time_to_speed_s)
    assert abs(plain - 1.0) > 0.08
    ratio = _value(_facts(other).normalised_time_s) / _value(_facts(scene).normalised_time_s)
    assert ratio == pytest.approx(1.0, abs=tolerance)
    current = _value(_facts(other).initial_current_pu) / _value(_facts(scene).initial_current_pu)
    assert current == pytest.approx(1.0, abs=0.006)


def _mean_over_phases(fault: str) -> tuple[float, float]:
    """Return time and initial current, mean over the place of the damage when switching on."""
    facts = [_facts(replace(REFERENCE, fault=fault, phase_rad=x)) for x in (0.0, 0.8, 1.6, 2.4)]
    times = [_value(f.normalised_time_s) for f in facts]
    return float(np.mean(times)), float(np.mean([_value(f.initial_current_pu) for f in facts]))


@pytest.mark.parametrize("fault", PRINTED_RATIOS)
def test_measured_times_show_the_printed_ratios(fault: str) -> None:
    """1.027, 1.086, 1.052 to 95 % of speed; to our mark 0.8 % less at most."""
    ratio = _mean_over_phases(fault)[0] / _mean_over_phases("healthy")[0]
    assert ratio == pytest.approx(PRINTED_RATIOS[fault], abs=0.008)


@cache
def _expected() -> ExpectedStart:
    expected = expect_start(MOTOR, CIRCUIT, running_current_rms_a=3.95, standstill=ALIKE)
    assert isinstance(expected, ExpectedStart)
    return expected


@pytest.mark.parametrize(("number", "fault"), [(1, "1 bar"), (2, "2 adjacent"), (4, "4 adjacent")])
def test_expectation_against_the_time_domain(number: int, fault: str) -> None:
    """Steady solutions at fixed slips against starts stepped through time, exact circuit.

    Times: within a third of the rise; the load is drawn from the running current, heavier than the
    simulated one, and the beat moves the mark by 0.5 %. Currents: within 0.3 % for one and two
    bars; with four they beat in the cycles that are read (2.5 %).
    """
    sound_s, sound_pu = _mean_over_phases("healthy")
    time_s, current_pu = _mean_over_phases(fault)
    rise = float(np.median(_expected().time_ratio[number - 1])) - 1.0
    assert rise == pytest.approx(time_s / sound_s - 1.0, rel=0.32)
    drop = float(np.median(_expected().current_ratio[number - 1]))
    assert drop == pytest.approx(current_pu / sound_pu, abs=0.003 if number < 4 else 0.025)


def test_one_open_bar_of_32_lowers_the_initial_current_by_2_7_percent() -> None:
    sound, broken = _mean_over_phases("healthy")[1], _mean_over_phases("1 bar")[1]
    assert 1.0 - broken / sound == pytest.approx(0.027, abs=0.002)


BARS: dict[str, DeepBar | DoubleCageBar] = {
    "deep bars": DeepBar(height_m=14e-3, conductivity_s_per_m=26.7e6),
    "double cage": DoubleCageBar(outer_conductance_share=0.3, inner_leakage_h=0.4e-6),
}
SATURATION = Saturation(leakage=LeakageSaturation(knee_rms_a=15.0, lost_h=2.5e-3))


@cache
def _special(kind: str, fault: str) -> StartFacts:
    setup = REFERENCE.setup()
    setup = replace(setup, damage=FAULTS[fault])
    if kind in BARS:
        setup = replace(setup, geometry=replace(setup.geometry, bar=BARS[kind]))
    else:
        setup = replace(setup, saturation=SATURATION)
    recording = simulate_start(
        setup, Start(switch_on_s=SWITCH_ON_S), duration_s=1.9, sampling_rate_hz=RATE_HZ
    )
    (start,) = find_starts(recording)
    return start_facts(recording, start, MOTOR)


@pytest.mark.parametrize("kind", [*BARS, "saturated leakage"])
def test_what_the_expectation_leaves_out_hardly_matters(kind: str) -> None:
    """Two bars: +7 to +10 % of the time, -8 to -8.5 % of the current, whatever the bars are."""
    sound, broken = _special(kind, "healthy"), _special(kind, "2 adjacent")
    assert 1.07 < _value(broken.time_to_speed_s) / _value(sound.time_to_speed_s) < 1.10
    ratio = _value(broken.initial_current_rms_a) / _value(sound.initial_current_rms_a)
    assert 0.915 < ratio < 0.922


def _history() -> tuple[StartFacts, ...]:
    """Four sound starts at four voltages."""
    made = ((1.0, 0.0), (0.98, 1.0), (1.015, 2.0), (1.01, 0.4))
    return tuple(
        _facts(replace(REFERENCE, voltage_v=VOLTAGE_V * v, phase_rad=phase)) for v, phase in made
    )


@pytest.mark.parametrize(
    ("fault", "bars"), [("healthy", 0), ("1 bar", 1), ("2 adjacent", 2), ("4 adjacent", 4)]
)
def test_readings_count_the_bars(fault: str, bars: int) -> None:
    """Circuit estimated from the nameplate: intervals hold the truth, neither cries wolf."""
    facts = _facts(replace(REFERENCE, fault=fault, phase_rad=0.7, voltage_v=0.99 * VOLTAGE_V))
    circuit = circuit_ensemble(MOTOR, 200)
    for read in (start_time, initial_current):
        reading = read(facts, _history(), MOTOR, circuit, LIMITS)
        assert reading.valid
        equivalent, chance = reading.open_bar_equivalent, reading.false_alarm_probability
        assert equivalent is not None
        assert chance is not None
        assert equivalent.low <= bars <= equivalent.high
        assert equivalent.value == pytest.approx(bars, abs=0.6)
        assert (chance < 0.01) == (bars >= 2)


def test_bars_a_quarter_wave_apart_do_not_hide() -> None:
    """Kernel K0: both readings see them, where the side lines do not."""
    facts = _facts(replace(REFERENCE, fault="2 at 90", phase_rad=0.7))
    circuit = circuit_ensemble(MOTOR, 200)
    for read in (start_time, initial_current):
        equivalent = read(facts, _history(), MOTOR, circuit, LIMITS).open_bar_equivalent
        assert equivalent is not None
        assert equivalent.low > 0.0
        assert equivalent.value == pytest.approx(1.3, abs=0.4)


@pytest.mark.parametrize("running_a", [3.95, 6.3])
def test_a_heavier_load_makes_the_voltage_count_for_more(running_a: float) -> None:
    """Exponent -2 without load; -2.3 where up to half of rated torque is constant."""
    expected = expect_start(MOTOR, CIRCUIT, running_current_rms_a=running_a, standstill=ALIKE)
    assert isinstance(expected, ExpectedStart)
    exponent = float(np.median(expected.time_per_voltage))
    assert exponent == pytest.approx(-2.04 if running_a < 5.0 else -2.3, abs=0.1)
