"""A start against earlier ones: statistics in closed form, conditions, wording."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning.starts import StartKind
from cagewise.indicators.reading import IndependenceClass, Method
from cagewise.indicators.start.comparison import compare
from cagewise.indicators.start.comparison_limits import StartComparisonLimits
from cagewise.indicators.start.current import initial_current
from cagewise.indicators.start.expected import ExpectedStart, expect_start
from cagewise.indicators.start.facts import StartFacts
from cagewise.indicators.start.time_to_speed import start_time
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import Estimate, NotKnown, RealArray
from support.operating import r3k_motor

MOTOR = r3k_motor()
CIRCUIT = circuit_ensemble(MOTOR, 120)
LIMITS = StartComparisonLimits()
NONE = NotKnown("no voltage was measured")


def _sure(value: float, relative_sd: float = 0.003) -> Estimate:
    return Estimate.from_standard_deviation(value, relative_sd * value)


def _start(
    time_s: float = 2.0, voltage_pu: float | None = 1.0, current_pu: float = 5.5,
    running_a: float = 5.0,
) -> StartFacts:  # fmt: skip
    known = voltage_pu is not None
    square = 1.0 if voltage_pu is None else voltage_pu**2
    return StartFacts(
        started_at=None,
        kind=StartKind.DIRECT,
        supply_frequency_hz=50.0,
        time_to_speed_s=_sure(time_s),
        mean_voltage_pu=_sure(voltage_pu) if voltage_pu is not None else NONE,
        normalised_time_s=_sure(time_s * square) if known else NONE,
        initial_current_rms_a=_sure(36.0),
        initial_current_pu=_sure(current_pu) if known else NONE,
        running_current_rms_a=running_a,
        current_squared_time_a2s=1000.0,
        time_s=np.zeros(2),
        line_current_rms_a=np.zeros(2),
        currents_measured=3,
    )


def _expected(n: int = 60) -> ExpectedStart:
    """A motor whose start takes 3, 9, 20, 40 % longer."""

    def spread(values: list[float]) -> RealArray:
        return np.repeat(np.array(values)[:, np.newaxis], n, axis=1)

    return ExpectedStart(
        time_ratio=spread([1.03, 1.09, 1.20, 1.40]),
        current_ratio=spread([0.97, 0.92, 0.84, 0.74]),
        initial_current_a=np.full(n, 36.0),
        time_per_voltage=np.full(n, -2.1),
        time_per_resistance=np.full(n, -0.3),
        current_per_resistance=np.full(n, -0.2),
    )


def test_one_earlier_start_rests_on_the_prior() -> None:
    """Two degrees of freedom: t = 4.303; sd = prior x sqrt 2 where readings are exact."""
    exact = Estimate(2.2, 2.2, 2.2)
    comparison = compare(exact, [Estimate(2.0, 2.0, 2.0)], 0.02, LIMITS)
    reach = 4.302653 * 0.02 * math.sqrt(2.0)
    assert comparison.ratio.value == pytest.approx(1.1)
    assert comparison.ratio.low == pytest.approx(1.1 * math.exp(-reach), rel=1e-6)
    assert comparison.ratio.high == pytest.approx(1.1 * math.exp(reach), rel=1e-6)


def test_many_earlier_starts_speak_for_themselves() -> None:
    """200 starts that scatter by 1 % against a prior of 5 %: the interval is that of 1.1 %."""
    rng = np.random.default_rng(3)
    earlier = [_sure(2.0 * math.exp(0.01 * x), 1e-6) for x in rng.standard_normal(200)]
    ratio = compare(_sure(2.0, 1e-6), earlier, 0.05, LIMITS).ratio
    assert math.log(ratio.high / ratio.value) == pytest.approx(1.97 * 0.0112, rel=0.1)


def test_interval_covers_and_chance_is_even() -> None:
    """3000 sound motors with three earlier starts, their scatter drawn from the prior: 95 %.

    The prior is a scaled inverse chi-square with two degrees of freedom.
    """
    rng = np.random.default_rng(4)
    inside, chances = 0, []
    for _ in range(3000):
        scatter = 0.02 * math.sqrt(2.0 / rng.chisquare(2.0))
        values = [_sure(math.exp(scatter * x), 1e-9) for x in rng.standard_normal(4)]
        comparison = compare(values[0], values[1:], 0.02, LIMITS)
        inside += comparison.ratio.low <= 1.0 <= comparison.ratio.high
        chances.append(comparison.chance(+1))
    assert inside / 3000 == pytest.approx(0.95, abs=0.012)  # three standard deviations
    assert np.mean(np.array(chances) < 0.05) == pytest.approx(0.05, abs=0.012)


def test_more_starts_narrow_the_interval() -> None:
    widths = []
    for count in (1, 2, 3, 8):
        reading = start_time(
            _start(), [_start()] * count, MOTOR, CIRCUIT, LIMITS, expected=_expected()
        )
        assert reading.value is not None
        widths.append(reading.value.high - reading.value.low)
        assert any("the interval rests on" in c for c in reading.caveats) == (count < 3)
    assert widths == sorted(widths, reverse=True)


@pytest.mark.parametrize(("ratio", "bars"), [(1.0, 0.0), (1.03, 1.0), (1.09, 2.0), (1.4, 4.0)])
def test_time_becomes_bars(ratio: float, bars: float) -> None:
    reading = start_time(
        _start(2.0 * ratio), [_start()] * 4, MOTOR, CIRCUIT, LIMITS, expected=_expected()
    )
    assert reading.valid
    assert reading.name == "start_time"
    assert (reading.independence_class, reading.method) == (
        IndependenceClass.START, Method.START_UP,
    )  # fmt: skip
    assert reading.value is not None
    assert reading.value.value == pytest.approx(ratio)
    assert reading.open_bar_equivalent is not None
    assert reading.open_bar_equivalent.value == pytest.approx(bars, abs=1e-6)
    assert reading.detection_limit_bars is not None
    assert 1.0 < reading.detection_limit_bars < 4.0


@pytest.mark.parametrize(("ratio", "bars"), [(1.02, 0.0), (0.97, 1.0), (0.84, 3.0)])
def test_current_becomes_bars(ratio: float, bars: float) -> None:
    reading = initial_current(
        _start(current_pu=5.5 * ratio), [_start()] * 4, MOTOR, CIRCUIT, LIMITS,
        expected=_expected(),
    )  # fmt: skip
    assert reading.valid
    assert reading.name == "initial_start_current"
    assert reading.open_bar_equivalent is not None
    assert reading.open_bar_equivalent.value == pytest.approx(bars, abs=1e-6)
    assert reading.value is not None
    assert reading.value.value == pytest.approx(5.5 * ratio)
    assert any("common practice without a source" in caveat for caveat in reading.caveats)


def test_a_shorter_start_is_no_damage() -> None:
    reading = start_time(_start(1.6), [_start()] * 4, MOTOR, CIRCUIT, LIMITS, expected=_expected())
    assert reading.open_bar_equivalent is not None
    assert reading.open_bar_equivalent.value == 0.0
    assert reading.false_alarm_probability is not None
    assert reading.false_alarm_probability > 0.99


def test_without_earlier_starts_the_seconds_are_given() -> None:
    time = start_time(_start(), (), MOTOR, CIRCUIT, LIMITS)
    assert not time.valid
    assert time.reason == "no earlier start of this motor to compare with"
    assert time.details["time_to_speed_s"] == pytest.approx(2.0)
    assert time.details["expected_rise_one_bar_percent"] == pytest.approx(3.0, abs=1.0)
    current = initial_current(_start(), (), MOTOR, CIRCUIT, LIMITS)
    assert not current.valid
    assert current.value is not None
    assert "one open bar lowers it by 2." in current.reason


def test_the_square_of_the_voltage_is_taken_out() -> None:
    earlier = [_start(2.0)] * 4
    low = _start(2.0 / 0.97**2, voltage_pu=0.97)
    reading = start_time(low, earlier, MOTOR, CIRCUIT, LIMITS, expected=_expected())
    assert reading.valid
    assert reading.value is not None
    assert reading.value.value == pytest.approx(1.0)


def test_another_voltage_is_not_compared() -> None:
    low = _start(2.0 / 0.93**2, voltage_pu=0.93)
    reading = start_time(low, [_start()], MOTOR, CIRCUIT, LIMITS, expected=_expected())
    assert not reading.valid
    assert reading.value is None
    assert "93 % of rated and 100 % before" in reading.reason


def test_without_voltages_the_value_stands_but_does_not_count() -> None:
    earlier = [_start()] * 4
    known = start_time(_start(2.3), earlier, MOTOR, CIRCUIT, LIMITS, expected=_expected())
    blind = start_time(
        _start(2.3, voltage_pu=None), earlier, MOTOR, CIRCUIT, LIMITS, expected=_expected()
    )
    assert not blind.valid
    assert "no voltage was measured" in blind.reason
    assert blind.value is not None
    assert known.value is not None
    assert blind.value.high / blind.value.low > 1.2 * known.value.high / known.value.low
    assert not initial_current(
        _start(voltage_pu=None), earlier, MOTOR, CIRCUIT, LIMITS, expected=_expected()
    ).valid


def test_earlier_starts_without_voltages_do_not_count() -> None:
    reading = start_time(
        _start(), [_start(voltage_pu=None)], MOTOR, CIRCUIT, LIMITS, expected=_expected()
    )
    assert "no voltage was measured in the earlier starts" in reading.reason


def test_another_load_is_not_compared() -> None:
    earlier = [_start(running_a=3.5), _start(), _start()]
    some = start_time(_start(), earlier, MOTOR, CIRCUIT, LIMITS, expected=_expected())
    assert some.valid
    assert some.details["earlier_starts_count"] == 2.0
    assert any("1 earlier start left out" in caveat for caveat in some.caveats)
    none = start_time(_start(), earlier[:1], MOTOR, CIRCUIT, LIMITS, expected=_expected())
    assert "another load" in none.reason
    # the current at rest does not know the load
    assert initial_current(
        _start(), earlier[:1], MOTOR, CIRCUIT, LIMITS, expected=_expected()
    ).valid


def test_refused_starts_stay_refused() -> None:
    reason = NotKnown("the voltage rises during the start")
    facts = replace(
        _start(), time_to_speed_s=reason, normalised_time_s=reason, initial_current_pu=reason
    )
    for read in (start_time, initial_current):
        reading = read(facts, [_start()], MOTOR, CIRCUIT, LIMITS)
        assert not reading.valid
        assert reading.reason == reason.reason
        assert reading.value is None
    earlier = start_time(_start(), [facts], MOTOR, CIRCUIT, LIMITS, expected=_expected())
    assert earlier.reason == "none of the earlier starts could be read itself"


def _plate(code_letter: str | None) -> Nameplate:
    return replace(MOTOR.nameplate, code_letter=code_letter)


@pytest.mark.parametrize(("current_pu", "odd"), [(5.5, False), (55.0, True), (0.55, True)])
def test_a_wrong_ratio_is_noticed(current_pu: float, odd: bool) -> None:  # noqa: FBT001 - a case
    """Code letter G: 5.6 to 6.3 kVA/hp, 5.1 to 5.7 times the rated current of this motor."""
    motor = replace(MOTOR, nameplate=_plate("G"))
    reading = initial_current(
        _start(current_pu=current_pu), (), motor, CIRCUIT, LIMITS, expected=_expected()
    )
    assert any("of the code letter: check the ratio" in c for c in reading.caveats) is odd
    assert reading.details["code_letter_low_pu"] == pytest.approx(5.1, abs=0.05)
    assert reading.details["code_letter_high_pu"] == pytest.approx(5.73, abs=0.05)


def test_expectation_is_the_same_for_the_same_motor() -> None:
    one, two = (expect_start(MOTOR, CIRCUIT, running_current_rms_a=5.0) for _ in range(2))
    assert isinstance(one, ExpectedStart)
    assert isinstance(two, ExpectedStart)
    assert np.array_equal(one.time_ratio, two.time_ratio)
    assert np.all(np.diff(one.time_ratio, axis=0) >= 0.0)
    assert np.all(np.diff(one.current_ratio, axis=0) < 0.0)
    assert np.median(one.time_per_voltage) < -2.0
