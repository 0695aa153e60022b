"""The direct component in closed form: each disturbance put in by formula, and taken out."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.cage.catalogue import read_cage
from cagewise.indicators.cage.context import CageContext, cage_context
from cagewise.indicators.cage.point_draws import Fundamental, point_draws
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.reading import Reading
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.quantities import Estimate, decibel
from support.operating import frame_of, plant_circuit, plant_motor, point_of, uncertain
from support.synthetic import Line, Synthetic

SLIP, F_PP = 0.02, 2.0
STATE = plant_circuit().at(SLIP, 2.0 * math.pi * 50.0)
VOLTAGE = 400.0 * math.sqrt(2.0 / 3.0)
CURRENT = complex(STATE.stator_current(VOLTAGE))
TURN = 2j * math.pi * F_PP
RHO = complex(STATE.ripple_ratio(2.0 * math.pi * F_PP, CURRENT))
ROTOR_A = abs(complex(STATE.rotor_current(CURRENT)))
RESIDUE = 2e-5
"""Of the fundamental: the first-order formulas leave the square of the lines, the frame's filter
rings by 3e-6, the noise of the record makes 1e-6 of a line and 5e-6 through the voltage."""


def context_of(
    lower_a: complex,
    upper_a: complex,
    *,
    volts: tuple[complex, complex] = (0.0, 0.0),
    circuit: EquivalentCircuit | None = None,
    **other: object,
) -> CageContext:
    """Return the context of a pair (A, against the supply) and a pair of voltage lines (V)."""
    record = Synthetic(
        sampling_rate_hz=2500.0,
        duration_s=20.0,
        current_rms_a=abs(CURRENT) / math.sqrt(2.0),
        lag_rad=-cmath.phase(CURRENT),
        lines=_lines((lower_a / CURRENT, upper_a / CURRENT)),
        voltage_lines=_lines((volts[0] / VOLTAGE, volts[1] / VOLTAGE)),
        noise_db=-80.0,
    )
    frame = frame_of(replace(record, **other).recording())  # type: ignore[arg-type]  # fields of the record
    context = cage_context(
        frame, point_of(frame, SLIP), plant_motor(), circuit or plant_circuit(), CageLimits()
    )
    assert isinstance(context, CageContext)
    return context


def _lines(relative: tuple[complex, complex]) -> tuple[Line, ...]:
    return tuple(
        Line(level_dbc=decibel(abs(x)), offset_hz=offset, phase_rad=cmath.phase(x))
        for x, offset in zip(relative, (-F_PP, F_PP), strict=True)
        if x
    )


def raw_direct(context: CageContext) -> float:
    """Return |d| over the fundamental, nothing taken off for uncertainty."""
    direct = context.direct
    d = direct.lower - direct.ratio * direct.upper.conj()
    power = float(np.sum(np.abs(d) ** 2)) * direct.bins.energy_scale
    return math.sqrt(power) / context.pair.fundamental_a


@pytest.mark.parametrize("angle", [0.0, 1.0, 2.0, 4.0])
def test_speed_ripple_leaves_nothing(angle: float) -> None:
    upper = 0.02 * abs(CURRENT) * cmath.exp(1j * angle)
    context = context_of(RHO * upper.conjugate(), upper)
    # draws of the discrepancy average to 3 % / sqrt(200) of the pair
    assert raw_direct(context) < 0.03 / math.sqrt(200.0) * 2.0 * 0.02
    assert context.direct.includes_zero


@pytest.mark.parametrize("angle", [0.0, 1.0, 2.0, 4.0])
def test_asymmetry_beside_speed_ripple_is_read_alone(angle: float) -> None:
    d = 0.01 * abs(CURRENT) * cmath.exp(1j * angle)
    upper = 0.02j * abs(CURRENT)
    context = context_of(d + RHO * upper.conjugate(), upper)
    assert raw_direct(context) == pytest.approx(0.01, rel=0.01)
    assert not context.direct.includes_zero


@pytest.mark.parametrize(
    ("modulation", "deviation"), [(0.002, 0.0), (0.0, 0.002), (0.002 + 0.001j, 0.001 + 0.002j)]
)
def test_supply_modulation_leaves_nothing(modulation: complex, deviation: complex) -> None:
    """Voltage ``V0 (1 + m) exp(j delta)`` drives current lines ``Y(+-j g) V`` of its own lines."""
    below = modulation.conjugate() + 1j * deviation.conjugate()
    above = modulation + 1j * deviation
    volts = (VOLTAGE * below, VOLTAGE * above)
    lower = complex(STATE.voltage_response(-TURN)) * volts[0]
    upper = complex(STATE.voltage_response(TURN)) * volts[1]
    context = context_of(lower, upper, volts=volts)
    assert max(abs(lower), abs(upper)) / abs(CURRENT) > 0.003
    direct = context.direct
    for corrected in (direct.lower, direct.upper):
        power = float(np.sum(np.abs(corrected) ** 2)) * direct.bins.energy_scale
        assert math.sqrt(power) / abs(CURRENT) < 2.0 * RESIDUE
    assert raw_direct(context) < 5.0 * RESIDUE


def test_supply_modulation_is_taken_out_of_a_short_record_too() -> None:
    modulation = 0.003
    volts = (VOLTAGE * modulation, VOLTAGE * modulation)
    lower = complex(STATE.voltage_response(-TURN)) * volts[0]
    upper = complex(STATE.voltage_response(TURN)) * volts[1]
    context = context_of(lower, upper, volts=volts, duration_s=3.0)
    assert not context.pair.band.windowed
    assert raw_direct(context) < 0.02 * abs(lower) / abs(CURRENT)


def test_a_circuit_wrong_as_a_whole_corrects_the_supply_as_well() -> None:
    """Only ``Y(P) / Y(0)`` enters: all impedances 20 % too large change nothing."""
    c = plant_circuit()
    larger = EquivalentCircuit(
        stator_resistance_ohm=1.2 * c.stator_resistance_ohm,
        rotor_resistance_ohm=1.2 * c.rotor_resistance_ohm,
        stator_leakage_h=1.2 * c.stator_leakage_h,
        rotor_leakage_h=1.2 * c.rotor_leakage_h,
        magnetizing_inductance_h=1.2 * c.magnetizing_inductance_h,
    )
    volts = (0.003 * VOLTAGE, 0.003 * VOLTAGE)
    lower = complex(STATE.voltage_response(-TURN)) * volts[0]
    upper = complex(STATE.voltage_response(TURN)) * volts[1]
    assert raw_direct(context_of(lower, upper, volts=volts, circuit=larger)) < 5.0 * RESIDUE


def test_phase_error_of_the_clamps_turns_everything_alike() -> None:
    """rho turns by twice the error, as L over conj(U) does: the reading stays."""
    d, upper = 0.01 * abs(CURRENT), 0.02j * abs(CURRENT)
    lower = d + RHO * upper.conjugate()
    turned = cmath.exp(1j * math.radians(3.0))
    straight = raw_direct(context_of(lower, upper))
    # the lines of a record lag with its fundamental
    skewed = raw_direct(context_of(lower, upper, lag_rad=-cmath.phase(CURRENT * turned)))
    assert skewed == pytest.approx(straight, rel=2e-3)


def test_wandering_slip_keeps_the_energy_of_the_direct_component() -> None:
    """L and conj(U) turn with one wandering phase; formed bin by bin their difference keeps it."""
    clean = context_of(0.01 * abs(CURRENT), 0.0)
    wide = replace(clean.point, slip_wander=0.05)
    context = cage_context(clean.frame, wide, clean.motor, plant_circuit(), CageLimits())
    assert isinstance(context, CageContext)
    assert context.pair.band.half_width_hz > clean.pair.band.half_width_hz
    assert raw_direct(context) == pytest.approx(raw_direct(clean), rel=5e-3)


def reading(bars: int | None, circuit: EquivalentCircuit) -> Reading:
    context = context_of(ROTOR_A / 44.0, 0.0, circuit=circuit)
    point = replace(context.point, rotor_bars=bars)
    found = read_cage(context.frame, point, plant_motor(bars=bars), circuit, CageLimits())
    return next(r for r in found.readings if r.name == "direct_component")


def width(found: Reading) -> float:
    bars = found.open_bar_equivalent
    assert bars is not None
    assert bars.low < 1.0 < bars.high
    return bars.high / bars.low


def test_one_forty_fourth_of_the_rotor_current_is_about_one_bar_of_forty_four() -> None:
    known = reading(44, uncertain(plant_circuit()))
    assert known.value is not None
    assert known.value.value == pytest.approx(100.0 / 44.0, rel=0.1)
    assert width(known) < 1.8


def test_an_unknown_number_of_bars_widens_the_answer() -> None:
    circuit = uncertain(plant_circuit())
    assert width(reading(None, circuit)) > 1.5 * width(reading(44, circuit))


def test_a_nameplate_alone_gives_an_answer_too() -> None:
    circuit = circuit_ensemble(plant_motor())
    assert width(reading(44, circuit)) < 3.0


def test_fundamental_narrows_the_rotor_current() -> None:
    """15 % of R_r is 15 % of I_r at a known slip, unless power and slip are believed together."""
    prior = uncertain(plant_circuit())
    slip = Estimate.from_standard_deviation(SLIP, 0.001 * SLIP)
    measured = Fundamental(current_a=CURRENT, voltage_v=VOLTAGE, frequency_hz=50.0)
    matched = point_draws(plant_motor(), prior, slip, measured)
    unmatched = prior.at(SLIP, 2.0 * math.pi * 50.0)
    spread_before = np.std(np.abs(unmatched.rotor_current(CURRENT))) / ROTOR_A
    spread_after = np.std(matched.rotor_current_a) / ROTOR_A
    assert spread_after < 0.5 * spread_before
    # the simulated circuit has no core loss; the prior expects 1.5 % of rated
    assert np.median(matched.rotor_current_a) == pytest.approx(ROTOR_A, rel=0.04)
    predicted = matched.state.stator_current(VOLTAGE)
    assert np.abs(np.median(predicted) / CURRENT) == pytest.approx(1.0, abs=0.03)


def test_without_voltage_the_magnitude_of_the_current_alone_is_believed() -> None:
    slip = Estimate.from_standard_deviation(SLIP, 0.001 * SLIP)
    prior = uncertain(plant_circuit())
    spreads = {}
    for voltage in (VOLTAGE, None):
        measured = Fundamental(current_a=abs(CURRENT), voltage_v=voltage, frequency_hz=50.0)
        if voltage is not None:
            measured = replace(measured, current_a=CURRENT)
        draws = point_draws(plant_motor(), prior, slip, measured)
        spreads[voltage] = np.std(draws.rotor_current_a)
    assert spreads[None] > spreads[VOLTAGE]


def test_reading_is_refused_below_a_tenth_of_the_load() -> None:
    context = context_of(0.01 * abs(CURRENT), 0.0)
    light = replace(context.point, load_fraction=Estimate(0.07, 0.05, 0.09))
    found = read_cage(context.frame, light, plant_motor(), plant_circuit(), CageLimits())
    direct = next(r for r in found.readings if r.name == "direct_component")
    assert not direct.valid
    assert "7 % of rated" in direct.reason
