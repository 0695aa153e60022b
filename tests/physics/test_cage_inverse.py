"""Readings of known damage, explained without knowing it: the truth is always among the patterns.

Readings come from the reference cage by its full harmonic solution (which agrees with time
stepping, test_cage_against_time_domain); the explanation knows the nameplate and, at most, bars
and slots.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.machine.cage.balance import OperatingCondition
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.ensemble import HARMONIC_LINES, CageEnsemble, OperatingDraws
from cagewise.machine.cage.inverse import (
    CageReadings,
    Explanation,
    SolvedPatterns,
    explain_readings,
    solve_patterns,
)
from cagewise.machine.cage.patterns import PATTERNS
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    LOWER,
    SUPPLY,
    UPPER,
    CageSolution,
    Line,
    solve_cage,
)
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, DriveTrain, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import Estimate
from support.cage_models import reference_cage

SLIP, VOLTAGE_V = 0.045, 220.0 * math.sqrt(2.0)
INERTIA = 4.0 * 5.63e-3
DRAWS = 300
SPREAD = 0.01
PLATE = Nameplate(
    rated_power_w=3000.0,
    rated_voltage_v=380.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1420.0,
    rated_current_a=6.7,
    poles=4,
)


def motor(*, known: bool) -> Motor:
    cage = Cage(rotor_bars=32, stator_slots=36, coil_span_slots=9, construction="cast")
    train = DriveTrain(rotor_inertia_kg_m2=5.63e-3, load_inertia_kg_m2=3.0 * 5.63e-3)
    return Motor(
        tag="M-1",
        nameplate=PLATE,
        cage=cage if known else Cage(),
        drive_train=train if known else DriveTrain(),
    )


def ensemble(*, known: bool = True, slip: float = SLIP) -> CageEnsemble:
    of = motor(known=known)
    point = OperatingDraws.of(of, DRAWS, slip=slip, frequency_hz=50.0, voltage_v=VOLTAGE_V)
    return CageEnsemble(of, circuit_ensemble(of, DRAWS), point)


@cache
def solved(*, known: bool = True) -> SolvedPatterns:
    return solve_patterns(ensemble(known=known))


def truth(damage: Damage) -> CageSolution:
    condition = OperatingCondition(
        slip=np.array(SLIP),
        frequency_rad_s=2.0 * math.pi * 50.0,
        voltage_v=VOLTAGE_V,
        inertia_kg_m2=np.array(INERTIA),
    )
    return solve_cage(reference_cage(), damage, condition)


def about(value: float, relative: float, floor: float = 1e-4) -> Estimate:
    """Return a reading with a relative and an absolute (-80 dBc) half-width."""
    half = relative * value + floor
    return Estimate(value, max(value - half, 0.0), value + half)


def readings(damage: Damage, lines: tuple[Line, ...] = HARMONIC_LINES) -> CageReadings:
    solution = truth(damage)
    return CageReadings(
        direct_ratio=about(float(solution.direct_ratio[0]), 0.03),
        lines={line: about(float(np.abs(solution.relative(line)[0])), 0.05) for line in lines},
    )


def explained(damage: Damage, *, known: bool = True) -> Explanation:
    return explain_readings(solved(known=known), readings(damage), natural_bar_spread=SPREAD)


def names(explanation: Explanation) -> list[str]:
    return [fit.pattern.name for fit in explanation.explaining]


CASES = [
    ("a sound cage", Damage()),
    ("one open bar", Damage.adjacent_open(1)),
    ("two adjacent open bars", Damage.adjacent_open(2)),
    ("three adjacent open bars", Damage.adjacent_open(3)),
    ("two open bars 90 electrical degrees apart", Damage.open_bars((0, 4))),
    ("two open bars 45 electrical degrees apart", Damage.open_bars((0, 2))),
    ("two open bars a pole pitch apart", Damage.open_bars((0, 8))),
    ("one bar cracked to twice its resistance", Damage.cracked({0: 2.0})),
    ("one cut segment of an end ring", Damage(cut_ring_segments=(5,))),
    ("two pairs of open bars 90 electrical degrees apart", Damage.open_bars((0, 1, 4, 5))),
]


@pytest.mark.parametrize(("name", "damage"), CASES, ids=[case[0] for case in CASES])
def test_the_truth_explains_its_readings_and_little_else_does(name: str, damage: Damage) -> None:
    explanation = explained(damage)
    assert explanation.fits[0].pattern.name == name
    assert name in names(explanation)
    assert len(names(explanation)) <= 3


@pytest.mark.parametrize(("name", "damage"), CASES, ids=[case[0] for case in CASES])
def test_the_truth_is_never_excluded_on_a_bare_nameplate(name: str, damage: Damage) -> None:
    assert name in names(explained(damage, known=False))


def test_masked_bars_read_as_a_crack_by_the_direct_component_alone() -> None:
    """Two bars 90 degrees apart: 0.15 bars by the direct component, named by (5 - 4s) f."""
    masked = Damage.open_bars((0, 4))
    alone = explain_readings(solved(), readings(masked, ()), natural_bar_spread=SPREAD)
    assert alone.direct_bars is not None
    assert alone.direct_bars.high < 0.3
    hidden = "two open bars 90 electrical degrees apart"
    assert hidden in names(alone)
    assert explained(masked).fits[0].pattern.name == hidden
    assert not explained(masked).undecided


def test_direct_component_alone_leaves_patterns_undecided() -> None:
    found = explain_readings(
        solved(known=False), readings(Damage.adjacent_open(1), ()), natural_bar_spread=SPREAD
    )
    assert found.undecided
    assert {"one open bar", "one bar cracked to five times its resistance"} <= set(names(found))


def test_a_line_that_is_missing_speaks_against_patterns_that_have_it() -> None:
    one = truth(Damage.adjacent_open(1))
    quiet = CageReadings(
        direct_ratio=about(float(one.direct_ratio[0]), 0.03),
        lines={FIFTH_FOUR: Estimate(0.0, 0.0, 1e-4)},
    )
    found = explain_readings(solved(), quiet, natural_bar_spread=SPREAD)
    assert "one open bar" not in names(found)


def test_readings_that_no_pattern_explains() -> None:
    """A strong (5 - 4s) f line without any direct component or (7 - 8s) f."""
    odd = CageReadings(
        direct_ratio=Estimate(0.0, 0.0, 1e-4),
        lines={FIFTH_FOUR: about(0.3, 0.05), HARMONIC_LINES[3]: Estimate(0.0, 0.0, 1e-4)},
    )
    found = explain_readings(solved(), odd, natural_bar_spread=SPREAD)
    assert found.explaining == ()
    assert not found.undecided


def test_a_sound_but_uneven_cage_is_sound() -> None:
    """Bars that differ by 1 % read as 0.04 bars."""
    uneven = CageReadings(direct_ratio=Estimate(0.0012, 0.0011, 0.0013))
    even = explain_readings(solved(), uneven, natural_bar_spread=0.0)
    assert "a sound cage" not in names(even)
    natural = explain_readings(solved(), uneven, natural_bar_spread=SPREAD)
    assert "a sound cage" in names(natural)


def test_equivalents_bracket_the_truth() -> None:
    found = explain_readings(
        solved(),
        readings(Damage.adjacent_open(2), (LOWER, UPPER, FIFTH_FOUR)),
        natural_bar_spread=SPREAD,
    )
    assert found.direct_bars is not None
    assert found.direct_bars.low < 2.0 < found.direct_bars.high
    for line in (LOWER, UPPER, FIFTH_FOUR):
        assert found.line_bars[line].low < 2.0 < found.line_bars[line].high


def test_likelihoods_are_relative_and_sorted() -> None:
    fits = explained(Damage.adjacent_open(1)).fits
    assert fits[0].likelihood == 1.0
    assert [fit.likelihood for fit in fits] == sorted((f.likelihood for f in fits), reverse=True)
    assert len(fits) == len(PATTERNS)


def test_damaged_motor_needs_more_slip_for_its_load() -> None:
    """The response at the sound cage's torque and that at the slip it leads to are the same."""
    loaded = ensemble().at_torque_of_sound_cage(lambda _n, _p: Damage.adjacent_open(2))
    assert np.all(loaded.slip > 1.04 * SLIP)
    at_rest = ensemble(slip=float(np.median(loaded.slip))).at_slip(
        lambda _n, _p: Damage.adjacent_open(2)
    )
    assert np.median(loaded.direct_ratio) == pytest.approx(
        float(np.median(at_rest.direct_ratio)), rel=0.02
    )


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="nothing was read"):
        CageReadings()
    with pytest.raises(InputError, match="not among the lines"):
        CageReadings(lines={SUPPLY: Estimate(1.0, 0.9, 1.1)})
