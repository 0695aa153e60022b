"""Open bars from the four lines beside the 5th and 7th harmonic together."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.cage.harmonic_bars import (
    COMMON_OFFSET,
    MOST_BARS,
    NATURAL_SPREAD,
    MeasuredLine,
    count_bars,
)
from cagewise.machine.cage.expectation import CRACK_BARS, CageExpectation, expect_readings
from cagewise.machine.cage.solution import FIFTH_FOUR, FIFTH_SIX, SEVENTH_EIGHT, SEVENTH_SIX, Line
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.quantities import Estimate
from support.operating import plant_motor

LINES = (FIFTH_FOUR, FIFTH_SIX, SEVENTH_SIX, SEVENTH_EIGHT)
NOISE_POWER = 1e-11
MOTOR = plant_motor()
DRAWS = 100


def expectation(motor: Motor = MOTOR) -> CageExpectation:
    plate = motor.nameplate
    return expect_readings(
        motor,
        circuit_ensemble(motor, DRAWS),
        slip=plate.rated_slip,
        frequency_hz=plate.rated_frequency_hz,
        voltage_v=plate.rated_phase_voltage_peak_v,
    )


EXPECTED = expectation()


def lines_of(levels: dict[Line, float]) -> tuple[MeasuredLine, ...]:
    return tuple(
        MeasuredLine(
            line=line, power=x**2, noise_power=NOISE_POWER, power_sd=math.sqrt(NOISE_POWER) * x
        )
        for line, x in levels.items()
    )


def counted(levels: dict[Line, float]) -> Estimate:
    return count_bars(lines_of(levels), EXPECTED)


def without(draw: int) -> CageExpectation:
    """Return what is expected of all draws but one."""
    keep = np.arange(DRAWS) != draw
    return CageExpectation(
        direct_component=EXPECTED.direct_component[:, keep],
        harmonic_lines={k: x[:, keep] for k, x in EXPECTED.harmonic_lines.items()},
        side_lines={k: x[:, keep] for k, x in EXPECTED.side_lines.items()},
        cracked_lines={k: x[keep] for k, x in EXPECTED.cracked_lines.items()},
        apart_lines={k: x[keep] for k, x in EXPECTED.apart_lines.items()},
    )


@pytest.mark.parametrize("count", [1, 2, 3])
def test_intervals_hold_the_number_of_bars_of_motors_left_out(count: int) -> None:
    """Each motor in turn is measured and counted by the others, its lines moved as they may be."""
    rng = np.random.default_rng(3)
    inside, widths = [], []
    for draw in range(0, DRAWS, 2):
        common = math.exp(COMMON_OFFSET + 0.15 * rng.standard_normal())
        levels = {
            line: EXPECTED.harmonic_lines[line][count - 1, draw]
            * common
            * math.exp(0.1 * rng.standard_normal())
            for line in LINES
        }
        bars = count_bars(lines_of(levels), without(draw))
        inside.append(bars.low <= count <= bars.high)
        widths.append(math.log(bars.high / max(bars.low, 0.1)))
    # 95 % of 50; three binomial standard deviations fewer are 86 %
    assert np.mean(inside) >= 0.86
    # the largest of single counts had reached from 0.9 to 8 bars for one
    assert np.median(widths) < math.log(8.0 / 0.9)


def test_a_crack_counts_by_the_current_that_the_bar_has_lost() -> None:
    """These lines see 0.2 to 0.7 of what the same loss of current shows at the fundamental."""
    draw = 7
    open_bar = {line: EXPECTED.harmonic_lines[line][0, draw] for line in LINES}
    crack = {line: EXPECTED.cracked_lines[line][draw] for line in LINES}
    assert crack[FIFTH_FOUR] < 0.75 * CRACK_BARS * open_bar[FIFTH_FOUR]
    half = counted({line: 0.5 / CRACK_BARS * x for line, x in crack.items()})
    assert half.low < 0.5 < half.high
    assert half.high < counted(open_bar).high


def test_lines_that_the_winding_takes_away_do_not_lower_the_damage() -> None:
    """Chorded coils weaken the 5th against the 7th order; one open bar stays one open bar."""
    whole = np.array([EXPECTED.harmonic_lines[line][0] for line in LINES])
    fifth_over_seventh = whole[0] / whole[2]
    chorded, full = int(np.argmin(fifth_over_seventh)), int(np.argmax(fifth_over_seventh))
    assert fifth_over_seventh[chorded] < 0.3 * fifth_over_seventh[full]
    for draw in (chorded, full):
        bars = counted(dict(zip(LINES, whole[:, draw], strict=True)))
        assert bars.low < 1.0 < bars.high
        assert bars.low > 0.3


def test_bars_apart_are_no_small_damage() -> None:
    """Two bars 90 electrical degrees apart hide from the side lines, not from these."""
    for draw in (3, 11, 29):
        bars = counted({line: EXPECTED.apart_lines[line][draw] for line in LINES})
        assert bars.high >= 2.0
        assert bars.low >= 0.75


def test_unevenness_of_a_sound_cage_counts_from_zero() -> None:
    levels = {line: 0.02 * EXPECTED.cracked_lines[line][5] for line in LINES}
    bars = counted(levels)
    assert bars.low == 0.0
    # one bar in 44 of half a per cent each, four standard deviations, beside the crack itself
    assert bars.high < 0.2 + 4.0 * NATURAL_SPREAD * math.sqrt(44.0)


def test_four_bars_are_not_told_from_more() -> None:
    levels = {line: EXPECTED.harmonic_lines[line][3, 5] for line in LINES}
    bars = counted(levels)
    assert bars.low <= 4.0
    assert 4.0 < bars.high <= 1.05 * MOST_BARS


def test_a_known_coil_span_narrows_the_count() -> None:
    span = replace(MOTOR, cage=replace(MOTOR.cage, coil_span_slots=10))
    known, unknown = expectation(span), expectation(replace(MOTOR, cage=Cage()))
    levels = {line: float(np.median(known.harmonic_lines[line][0])) for line in LINES}
    widths = [
        math.log(bars.high / bars.low)
        for bars in (count_bars(lines_of(levels), e) for e in (known, unknown))
    ]
    assert widths[0] < widths[1]
