"""Insulation resistance, polarization index, absorption ratio: limits, exemptions, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.indicators.reading import IndependenceClass, Part, Reading
from cagewise.indicators.winding.insulation import read_insulation
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.machine.motor import Motor, Winding
from cagewise.machine.winding_limits import (
    INSULATIONS,
    WindingKind,
    insulation_factor,
    winding_kinds,
)
from cagewise.measurement import InsulationResistanceTest, Place, TestSheet
from cagewise.quantities import NotKnown
from support.winding_scenes import (
    BEFORE,
    INVENTED,
    TODAY,
    by_name,
    curve,
    motor,
    says,
    value_of,
)

RISING = (300.0, 450.0, 700.0, 1000.0, 1600.0, 2100.0)
"""Megohm at 15, 30, 60, 120, 300 and 600 s: index 3, ratio 1.556 and 2.333."""


def sheet(
    test: InsulationResistanceTest | None = None, degc: float | None = 40.0, **changes: object
) -> TestSheet:
    base = TestSheet(
        motor_tag="P-1",
        measured_on=TODAY,
        provenance=INVENTED,
        winding_temperature_degc=degc,
        ambient_temperature_degc=25.0,
        relative_humidity=0.5,
        insulation=(test or curve(RISING),),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def read(
    measured: TestSheet, about: Motor | None = None, earlier: tuple[TestSheet, ...] = ()
) -> dict[str, Reading]:
    return by_name(read_insulation(measured, earlier, about or motor(), InsulationLimits()))


@given(st.sampled_from(INSULATIONS))
def test_no_correction_at_40_degc(insulation: str) -> None:
    assert insulation_factor(40.0, insulation) == pytest.approx(1.0, rel=1e-15)


@given(st.floats(10.0, 85.0), st.floats(10.0, 85.0))
def test_corrections_rise_with_temperature_and_the_old_one_is_steeper(
    one: float, two: float
) -> None:
    low, high = sorted((one, two))
    factors = {}
    for kind in INSULATIONS:
        at_low, at_high = insulation_factor(low, kind), insulation_factor(high, kind)
        assert not isinstance(at_low, NotKnown)
        assert not isinstance(at_high, NotKnown)
        assert at_low <= at_high
        factors[kind] = at_high / at_low
    assert factors["thermoplastic"] >= factors["thermosetting"] * (1.0 - 1e-12)


def test_reading_in_full() -> None:
    reading = read(sheet())["insulation_resistance"]
    assert value_of(reading).value == pytest.approx(700.0, rel=1e-12)
    assert reading.unit == "megohm"
    assert reading.part is Part.INSULATION
    assert reading.independence_class is IndependenceClass.INSULATION_DIRECT
    assert reading.limit is not None
    assert reading.limit.value == 100.0
    assert "IEEE 43-2013" in reading.limit.source
    assert "secondary" in reading.limit.source
    assert reading.details["least_discharge_s"] == 2400.0


@pytest.mark.parametrize(
    ("insulation", "degc", "expected"),
    [("thermoplastic", 20.0, 25.0), ("thermosetting", 20.0, 76.2), ("thermoplastic", 70.0, 800.0)],
)
def test_correction_by_kind_of_insulation(insulation: str, degc: float, expected: float) -> None:
    """100 megohm: 25.0 or 76.2 at 20 degC (IEEE 43-2013 cl. 6.3)."""
    about = motor(Winding(construction="form", built_year=1998, insulation=insulation))
    reading = read(sheet(curve([100.0] * 6), degc), about)["insulation_resistance"]
    assert value_of(reading).value == pytest.approx(expected, rel=1e-3)


def test_unknown_insulation_lists_both_and_takes_the_lower() -> None:
    about = motor(Winding(construction="form", built_year=1998))
    reading = read(sheet(curve([100.0] * 6), 20.0), about)["insulation_resistance"]
    value = value_of(reading)
    assert value.value == pytest.approx(25.0, rel=1e-12)
    assert value.low < 25.0
    assert value.high > 76.2
    assert says(reading, "25 megohm if thermoplastic")
    assert says(reading, "76.22 megohm if thermosetting")
    assert reading.details["at_40_degc_thermosetting_megohm"] == pytest.approx(76.22, abs=0.01)


def test_interval_holds_an_error_of_the_temperature() -> None:
    limits = InsulationLimits()
    about = motor(Winding(construction="form", built_year=1998, insulation="thermoplastic"))
    value = value_of(read(sheet(curve([100.0] * 6), 30.0), about)["insulation_resistance"])
    warmer = 100.0 * 0.5 ** ((40.0 - 30.0 - limits.temperature_error_k) / 10.0)
    assert value.high > warmer
    assert value.high == pytest.approx(
        50.0 * np.exp(np.hypot(np.log(1.05), 0.1 * np.log(2.0) * limits.temperature_error_k)),
        rel=1e-9,
    )


@pytest.mark.parametrize("degc", [5.0, 90.0])
def test_outside_the_range_of_the_formula(degc: float) -> None:
    dry = sheet(degc=degc, relative_humidity=0.05)
    assert "10 to 85 degC" in read(dry)["insulation_resistance"].reason
    old = motor(Winding(construction="form", built_year=1998, insulation="thermoplastic"))
    assert says(read(dry, old)["insulation_resistance"], "far beyond")
    unknown = motor(Winding(construction="form", built_year=1998))
    assert not read(dry, unknown)["insulation_resistance"].valid


def test_without_temperature_uncorrected_only() -> None:
    reading = read(sheet(degc=None))["insulation_resistance"]
    assert not reading.valid
    assert "temperature is not given" in reading.reason
    assert reading.value is None
    assert reading.details["measured_1_min_megohm"] == 700.0


@pytest.mark.parametrize(("degc", "word"), [(12.0, "below"), (15.0, "near")])
def test_near_the_dew_point_nothing_is_valid(degc: float, word: str) -> None:
    """Air of 25 degC and 50 % has its dew point at 13.9 degC."""
    for reading in read(sheet(degc=degc)).values():
        assert not reading.valid
        assert word in reading.reason
        assert "dew point" in reading.reason


def test_unmeasured_air_is_said() -> None:
    found = read(sheet(relative_humidity=None))
    assert found["insulation_resistance"].valid
    assert says(found["insulation_resistance"], "dew point")


@pytest.mark.parametrize(
    ("rated_v", "test_v", "word"),
    [
        (4160.0, 500.0, "too low"),
        (4160.0, 5000.0, "too high"),
        (460.0, 1000.0, "too high"),
        (4160.0, 2500.0, ""),
        (4160.0, 2700.0, ""),
    ],
)
def test_test_voltage_is_compared_with_the_rating(rated_v: float, test_v: float, word: str) -> None:
    """1000 to 2500 V for 4 160 V, 500 V for 460 V: IEEE 43-2000 Table 1 (secondary)."""
    about = motor(rated_voltage_v=rated_v)
    reading = read(sheet(curve(RISING, test_voltage_v=test_v)), about)["insulation_resistance"]
    assert reading.valid
    assert says(reading, "the test voltage of") == bool(word)
    assert not word or says(reading, word)


@pytest.mark.parametrize(
    ("construction", "year", "rated_v", "kinds"),
    [
        ("form", 1998, 4160.0, {WindingKind.FORM}),
        ("form", 1955, 4160.0, {WindingKind.OLD}),
        ("form", 1971, 4160.0, {WindingKind.OLD, WindingKind.FORM}),
        ("form", 1998, 480.0, {WindingKind.RANDOM_OR_LOW}),
        ("random", 1998, 480.0, {WindingKind.RANDOM_OR_LOW}),
        ("random", 1955, 480.0, {WindingKind.OLD, WindingKind.RANDOM_OR_LOW}),
        (None, 1998, 4160.0, {WindingKind.FORM, WindingKind.RANDOM_OR_LOW}),
        (None, None, 480.0, {WindingKind.OLD, WindingKind.RANDOM_OR_LOW}),
        (None, None, 4160.0, {WindingKind.OLD, WindingKind.FORM, WindingKind.RANDOM_OR_LOW}),
    ],
)
def test_rows_of_the_table_that_may_apply(
    construction: str | None, year: int | None, rated_v: float, kinds: set[WindingKind]
) -> None:
    """Rows as worded in IEEE 43-2013 Table 3 (secondary); "about 1970" is 1967 to 1973 here."""
    assert set(winding_kinds(construction, year, rated_v, 3)) == kinds


@pytest.mark.parametrize(
    ("megohm", "limit", "words"),
    [
        (150.0, 100.0, "strictest limit is kept"),
        (50.0, None, "valid, but the limit is not known"),
        (3.0, 5.0, "even the mildest limit is not kept"),
    ],
)
def test_limit_of_an_unknown_winding(megohm: float, limit: float | None, words: str) -> None:
    about = motor(Winding(insulation="thermosetting"))
    reading = read(sheet(curve([megohm] * 6)), about)["insulation_resistance"]
    assert reading.valid
    assert (reading.limit and reading.limit.value) == limit
    assert says(reading, words)
    assert says(reading, "form- or random-wound is not known, the year of the winding is not known")


@pytest.mark.parametrize(
    ("tested", "factor"),
    [("winding to earth", 1.0), ("phase b, others earthed", 2.0), ("phase b, others guarded", 3.0)],
)
def test_minimum_of_one_phase(tested: str, factor: float) -> None:
    """Twice, or with guards three times that of the whole: IEEE 43 cl. 12.3 (from memory)."""
    reading = read(sheet(curve(RISING, tested=tested)))["insulation_resistance"]
    assert reading.limit is not None
    assert reading.limit.value == 100.0 * factor


def test_other_phases_unknown_leaves_the_limit_open() -> None:
    test = curve([150.0] * 6, tested="phase b")
    reading = read(sheet(test))["insulation_resistance"]
    assert reading.limit is None
    assert says(reading, "how the other phases were connected is not known")


def test_switchboard_reads_the_cable_too() -> None:
    reading = read(sheet(place=Place.SWITCHBOARD))["insulation_resistance"]
    assert says(reading, "at least this resistance")


def test_polarization_index() -> None:
    reading = read(sheet())["polarization_index"]
    value = value_of(reading)
    assert value.value == pytest.approx(3.0, rel=1e-12)
    assert reading.limit is not None
    assert reading.limit.value == 2.0


@pytest.mark.parametrize(
    ("times_s", "missing"),
    [
        ((15.0, 30.0, 70.0, 120.0, 300.0, 600.0), "1 min (nearest: 70 s)"),
        ((15.0, 30.0, 60.0, 120.0, 300.0, 480.0), "10 min (nearest: 480 s)"),
    ],
)
def test_wrong_times_are_named_and_not_interpolated(
    times_s: tuple[float, ...], missing: str
) -> None:
    reading = read(sheet(curve(RISING, times_s)))["polarization_index"]
    assert not reading.valid
    assert reading.value is None
    assert missing in reading.reason


def test_times_within_tolerance_are_taken_as_read() -> None:
    times_s = (15.0, 30.0, 61.0, 120.0, 300.0, 590.0)
    assert value_of(read(sheet(curve(RISING, times_s)))["polarization_index"]).value == 3.0


@pytest.mark.parametrize(
    ("about", "megohm", "words"),
    [
        (motor(Winding(construction="random", built_year=1998)), 1.0, "random-wound"),
        (motor(), 10.0, "exceeds 5 GOhm"),
    ],
)
def test_index_is_not_applicable_rather_than_failed(
    about: Motor, megohm: float, words: str
) -> None:
    """Random-wound: EASA article on IEEE 43-2013 cl. 5.4; 5 GOhm: Table 2 (secondary)."""
    test = curve([megohm * 700.0] * 6)
    reading = read(sheet(test), about)["polarization_index"]
    assert not reading.valid
    assert reading.limit is None
    assert reading.reason.startswith("not applicable")
    assert words in reading.reason


@pytest.mark.parametrize(
    ("about", "degc", "words"),
    [
        (motor(Winding(built_year=1998, insulation="thermosetting")), 40.0, "if random-wound"),
        (motor(), None, "temperature is not given"),
        (motor(Winding(construction="form", built_year=1998)), 60.0, "that is not known"),
    ],
)
def test_index_without_a_known_limit(about: Motor, degc: float | None, words: str) -> None:
    test = curve(3.0 * np.array(RISING))
    reading = read(sheet(test, degc), about)["polarization_index"]
    assert value_of(reading).value == pytest.approx(3.0, rel=1e-12)
    assert reading.limit is None
    assert says(reading, "valid, but the limit is not known")
    assert says(reading, words)


@pytest.mark.parametrize(
    ("thermal_class", "index", "limit"),
    [("A", 1.6, 1.5), ("F", 1.6, 2.0), (None, 1.6, None), (None, 3.0, 2.0), ("E", 1.6, None)],
)
def test_index_by_thermal_class(
    thermal_class: str | None, index: float, limit: float | None
) -> None:
    """1.5 for A, 2.0 for B, F, H, no other class: IEEE 43 Table 2 (secondary)."""
    test = curve([100.0, 110.0, 700.0, 800.0, 900.0, index * 700.0])
    reading = read(sheet(test), motor(thermal_class=thermal_class))["polarization_index"]
    assert (reading.limit and reading.limit.value) == limit


@pytest.mark.parametrize(
    ("insulation", "year", "warned"),
    [
        ("thermoplastic", 1960, True),
        ("thermosetting", 1998, False),
        (None, 1998, False),
        (None, None, True),
    ],
)
def test_very_high_index_matters_only_for_old_insulation(
    insulation: str | None,
    year: int | None,
    warned: bool,  # noqa: FBT001  # a column of the table
) -> None:
    """Above 8: older text of IEEE 43 (secondary)."""
    about = motor(Winding(construction="form", built_year=year, insulation=insulation))
    test = curve([100.0, 110.0, 120.0, 130.0, 900.0, 1200.0])
    reading = read(sheet(test), about)["polarization_index"]
    assert value_of(reading).value == 10.0
    assert says(reading, "brittle") == warned


@pytest.mark.parametrize(
    ("times_s", "ratio", "title"),
    [
        ((15.0, 30.0, 60.0), 700.0 / 450.0, "60 s over 30 s"),
        ((15.0, 45.0, 60.0), 700.0 / 300.0, "60 s over 15 s"),
    ],
)
def test_absorption_ratio_says_which_pair(
    times_s: tuple[float, ...], ratio: float, title: str
) -> None:
    reading = read(sheet(curve(RISING[:3], times_s)))["absorption_ratio"]
    assert value_of(reading).value == pytest.approx(ratio, rel=1e-12)
    assert title in reading.title
    assert reading.limit is None
    assert says(reading, "no limit")


def test_absorption_ratio_without_its_times() -> None:
    reading = read(sheet(curve([700.0], [60.0])))["absorption_ratio"]
    assert not reading.valid
    assert "30 s" in reading.reason
    assert "15 s" in reading.reason


def test_resistance_that_falls_with_time_is_a_finding() -> None:
    found = read(sheet(curve([300.0, 450.0, 700.0, 600.0, 350.0, 500.0])))
    reading = found["insulation_resistance_fall"]
    assert value_of(reading).value == pytest.approx(50.0, rel=1e-9)
    assert value_of(reading).low > 0.0
    assert says(reading, "from 60 s to 300 s")
    steady = read(sheet())["insulation_resistance_fall"]
    assert value_of(steady).value == 0.0
    assert not says(steady, "fell from")


def test_scatter_is_not_a_fall() -> None:
    """At most 5 % of flat runs with the stated scatter are called; 3 binomial deviations."""
    rng = np.random.default_rng(3)
    runs, called = 300, 0
    for _ in range(runs):
        scatter = 1.0 + InsulationLimits().repeat_error / 1.96 * rng.standard_normal(6)
        reading = read(sheet(curve(700.0 * scatter)))["insulation_resistance_fall"]
        called += says(reading, "fell from")
    assert called / runs < 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / runs)


def test_change_against_earlier_tests_at_another_temperature() -> None:
    """A thermoplastic insulation reads half as much 10 K warmer: nothing changed."""
    about = motor(Winding(construction="form", built_year=1960, insulation="thermoplastic"))
    past = sheet(curve(2.0 * np.array(RISING)), 30.0, measured_on=BEFORE)
    reading = read(sheet(), about, (past,))["insulation_resistance_change"]
    assert value_of(reading).value == pytest.approx(1.0, rel=1e-12)
    unknown = motor(Winding(construction="form", built_year=1960))
    both = value_of(read(sheet(), unknown, (past,))["insulation_resistance_change"])
    assert both.low < 0.6
    assert both.high > 0.95


def test_change_leaves_out_wet_and_other_tests() -> None:
    wet = sheet(degc=12.0, measured_on=BEFORE)
    assert "no earlier test" in read(sheet(), None, (wet,))["insulation_resistance_change"].reason
    other = sheet(curve(RISING, tested="phase a, others earthed"), measured_on=BEFORE)
    assert "insulation_resistance_change" not in read(sheet(), None, (other,))


def test_every_test_of_the_sheet_is_read_under_its_title() -> None:
    both = sheet(
        insulation=(
            curve(RISING, tested="phase a, others earthed"),
            curve(RISING, tested="phase b, others earthed"),
        )
    )
    found = read_insulation(both, (), motor(), InsulationLimits())
    titles = [r.title for r in found if r.name == "insulation_resistance"]
    assert len(titles) == 2
    assert "phase a" in titles[0]
    assert "phase b" in titles[1]


@pytest.mark.parametrize("bad", [np.nan, np.inf, 0.0, -5.0])
def test_readings_that_are_no_resistance_are_refused(bad: float) -> None:
    """An instrument off its scale must not turn into a number or stop the examination."""
    found = read(sheet(curve([bad] * 6)))
    assert not any(reading.valid for reading in found.values())
    assert "not a positive number" in found["insulation_resistance"].reason
