"""Winding resistance: star and delta, temperature, unbalance, change, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.indicators.reading import IndependenceClass, Part, Reading
from cagewise.indicators.winding.limits import WindingLimits
from cagewise.indicators.winding.resistance import (
    delta_phases,
    read_winding,
    star_phases,
    unbalance,
)
from cagewise.machine.motor import Motor, Winding
from cagewise.measurement import Place, TerminalPair, TestSheet, WindingResistance
from support.winding_scenes import (
    BEFORE,
    INVENTED,
    TODAY,
    by_name,
    motor,
    resistances,
    says,
    value_of,
)

phases = st.tuples(*[st.floats(0.01, 100.0)] * 3)


def sheet(*lines: float, degc: float | None = 25.0, **changes: object) -> TestSheet:
    base = TestSheet(
        motor_tag="P-1",
        measured_on=TODAY,
        provenance=INVENTED,
        winding_temperature_degc=degc,
        resistance=resistances(lines or (1.02, 1.03, 1.01)),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def read(
    measured: TestSheet, about: Motor | None = None, earlier: tuple[TestSheet, ...] = ()
) -> dict[str, Reading]:
    return by_name(read_winding(measured, about or motor(), WindingLimits(), earlier=earlier))


@given(phases)
def test_star_returns_from_its_lines(star: tuple[float, float, float]) -> None:
    a, b, c = star
    lines = np.array([a + b, b + c, c + a])
    # the smaller phase is a difference of the lines: its error is theirs
    assert star_phases(lines) == pytest.approx(np.array(star), rel=1e-9, abs=1e-14 * lines.sum())


@given(phases)
def test_delta_returns_from_its_lines(delta: tuple[float, float, float]) -> None:
    ab, bc, ca = delta
    lines = np.array([ab * (bc + ca), bc * (ab + ca), ca * (ab + bc)]) / (ab + bc + ca)
    # conditioning: the star in between loses the digits of the ratio of the phases, squared
    lost = (max(delta) / min(delta)) ** 2
    assert delta_phases(lines) == pytest.approx(np.array(delta), rel=1e-14 * lost + 1e-12)


@given(phases, st.floats(1e-3, 1e3))
def test_unbalance_does_not_depend_on_the_scale(
    lines: tuple[float, float, float], scale: float
) -> None:
    given_lines = np.array(lines)
    assert unbalance(scale * given_lines) == pytest.approx(unbalance(given_lines), abs=1e-13)


def test_reading_in_full() -> None:
    found = read(sheet())
    reading = found["winding_resistance"]
    assert value_of(reading).value == pytest.approx(1.02, rel=1e-12)
    assert reading.unit == "ohm"
    assert reading.part is Part.WINDING
    assert reading.independence_class is IndependenceClass.WINDING_RESISTANCE
    assert reading.method is None
    assert reading.limit is None
    names = [f"wye_phase_{phase}_at_25_degc_ohm" for phase in "abc"]
    assert [reading.details[n] for n in names] == pytest.approx([0.50, 0.52, 0.51], rel=1e-12)


@pytest.mark.parametrize(("conductor", "constant"), [("copper", 234.5), ("aluminium", 225.0)])
def test_correction_shows_its_constant(conductor: str, constant: float) -> None:
    about = motor(Winding(construction="form", conductor=conductor))
    reading = read(sheet(degc=60.0), about)["winding_resistance"]
    expected = 1.02 * (constant + 25.0) / (constant + 60.0)
    assert value_of(reading).value == pytest.approx(expected, rel=1e-12)
    assert reading.details["conductor_constant_degc"] == constant
    assert says(reading, f"{constant:g} degC of {conductor}")


def test_unknown_connection_shows_both() -> None:
    reading = read(sheet(), motor(connection=None))["winding_resistance"]
    assert sum(key.startswith("wye_phase") for key in reading.details) == 3
    assert sum(key.startswith("delta_phase") for key in reading.details) == 3
    assert says(reading, "connection is not known")


def test_without_temperature_only_the_unbalance_is_valid() -> None:
    found = read(sheet(degc=None))
    assert not found["winding_resistance"].valid
    assert "temperature" in found["winding_resistance"].reason
    assert found["winding_resistance"].value is None
    assert found["winding_resistance"].details["measured_bc_ohm"] == 1.03
    assert value_of(found["resistance_unbalance"]).value == pytest.approx(0.980, abs=5e-4)


def test_own_temperature_of_the_test_comes_first() -> None:
    own = sheet(degc=25.0, resistance=resistances((1.0, 1.0, 1.0), degc=60.0))
    assert value_of(read(own)["winding_resistance"]).value < 0.9


def test_missing_pair_is_named() -> None:
    some = WindingResistance(line_resistance_ohm={TerminalPair.AB: 1.0, TerminalPair.CA: 1.0})
    found = read(sheet(resistance=some))
    for reading in found.values():
        assert not reading.valid
        assert "pair bc" in reading.reason
        assert "measured_ab_ohm" in reading.details


def test_impossible_triple_is_refused() -> None:
    for reading in read(sheet(1.0, 1.0, 2.5)).values():
        assert not reading.valid
        assert "other two together" in reading.reason


@pytest.mark.parametrize(
    ("construction", "concentric", "lines", "limit", "words"),
    [
        ("form", False, (1.02, 1.03, 1.01), 1.0, ""),
        ("random", False, (1.02, 1.03, 1.01), 2.0, ""),
        ("random", True, (1.0, 1.0, 1.1), None, "concentric"),
        ("form", True, (1.0, 1.0, 1.1), 1.0, ""),
        (None, False, (1.0, 1.0, 1.001), 1.0, "strictest limit is kept"),
        (None, False, (1.0, 1.0, 1.024), None, "the limit is not known"),
        (None, False, (1.0, 1.0, 1.1), 2.0, "even the mildest limit is not kept"),
    ],
)
def test_limit_of_unbalance(
    construction: str | None,
    concentric: bool,  # noqa: FBT001  # a column of the table
    lines: tuple[float, float, float],
    limit: float | None,
    words: str,
) -> None:
    about = motor(Winding(construction=construction, concentric=concentric))
    reading = read(sheet(*lines), about)["resistance_unbalance"]
    assert (reading.limit and reading.limit.value) == limit
    assert not words or says(reading, words)
    if limit is not None:
        assert reading.limit is not None
        assert "AR100" in reading.limit.source
        assert "secondary" in reading.limit.source


def test_interval_of_unbalance_covers() -> None:
    """95 % of the intervals hold the truth, balanced or not; binomial margin of 3 deviations."""
    rng = np.random.default_rng(7)
    limits = WindingLimits()
    runs = 600
    for truth in (np.ones(3), np.array([1.0, 1.0, 1.02])):
        held = 0
        for _ in range(runs):
            noise = limits.resistance_error / 1.96 * rng.standard_normal(3)
            reading = read(sheet(*(truth * (1.0 + noise))))["resistance_unbalance"]
            value = value_of(reading)
            held += value.low <= 100.0 * unbalance(truth) <= value.high
        assert held / runs > 0.95 - 3.0 * np.sqrt(0.05 * 0.95 / runs)


def test_switchboard_says_that_the_cable_is_in_it() -> None:
    found = read(sheet(place=Place.SWITCHBOARD))
    assert all(says(reading, "cannot be told") for reading in found.values())
    assert not any(says(reading, "switchboard") for reading in read(sheet()).values())


def test_change_of_pattern_needs_no_temperature() -> None:
    past = sheet(1.0, 1.0, 1.0, degc=None, measured_on=BEFORE)
    found = read(sheet(1.3, 1.3, 1.339, degc=None), earlier=(past,))
    pattern = found["resistance_unbalance_change"]
    assert value_of(pattern).value == pytest.approx(100.0 * (1.339 / (3.939 / 3) - 1.0), rel=1e-9)
    assert value_of(pattern).low > 0.0
    assert not found["winding_resistance_change"].valid


def test_change_of_the_mean_is_taken_at_one_temperature() -> None:
    hot = (234.5 + 75.0) / (234.5 + 20.0)
    past = sheet(1.0, 1.0, 1.0, degc=20.0, measured_on=BEFORE)
    reading = read(sheet(hot, hot, hot, degc=75.0), earlier=(past,))["winding_resistance_change"]
    assert value_of(reading).value == pytest.approx(0.0, abs=1e-10)
    wrong = read(sheet(hot, hot, hot, degc=20.0), earlier=(past,))["winding_resistance_change"]
    assert value_of(wrong).low > 20.0
    assert wrong.details["temperature_that_explains_degc"] == pytest.approx(75.0, rel=1e-12)


@pytest.mark.parametrize(
    "past",
    [
        sheet(1.0, 1.0, 1.0, measured_on=BEFORE, place=Place.SWITCHBOARD),
        sheet(1.0, 1.0, 1.0, measured_on=BEFORE.replace(year=1990)),
        sheet(1.0, 1.0, 1.0, measured_on=TODAY.replace(year=2025)),
        sheet(measured_on=BEFORE, resistance=None),
    ],
)
def test_what_is_not_compared(past: TestSheet) -> None:
    """Another place, a sheet from before the winding was made, a later one, one without."""
    assert set(read(sheet(), earlier=(past,))) == {"winding_resistance", "resistance_unbalance"}


def test_nothing_measured_is_nothing_read() -> None:
    assert read_winding(sheet(resistance=None), motor(), WindingLimits()) == ()
