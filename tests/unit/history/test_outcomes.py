"""Calls against what was found, on calls whose quality is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.decision.verdict import State
from cagewise.history.limits import PlantLimits
from cagewise.history.outcomes import Outcome, report_calls
from cagewise.quantities import Estimate, NotKnown

LIMITS = PlantLimits()
HIT = Outcome(
    state=State.DEFECTIVE,
    defective=True,
    because_of_call=False,
    probability=0.9,
    damage_bars=Estimate(1.2, 0.8, 1.6),
    found_bars=1.0,
)
SOUND = Outcome(state=State.SOUND, defective=False, because_of_call=False, probability=0.02)


def drawn(count: int, seed: int, *, honest: bool = True) -> list[Outcome]:
    """Calls whose probabilities are true, or all turned half way to certainty."""
    random = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        chance = float(random.choice([0.03, 0.3, 0.9]))
        said = chance if honest else (0.005 if chance < 0.5 else 0.995)
        found.append(
            replace(
                SOUND,
                probability=said,
                state=State.DEFECTIVE if said > 0.5 else State.SOUND,
                defective=bool(random.uniform() < chance),
            )
        )
    return found


def test_no_outcomes_is_a_report() -> None:
    report = report_calls([], LIMITS)

    assert report.outcomes == 0
    assert report.bands == ()
    assert report.brier == NotKnown("too few: 0 motors with a probability, of at least 10")
    assert isinstance(report.right_warnings, NotKnown)
    assert isinstance(report.surprising, NotKnown)


def test_too_few_is_a_result_with_its_number() -> None:
    report = report_calls([HIT] * 9, LIMITS)

    assert report.right_warnings == NotKnown("too few: 9 motors that we warned of, of at least 10")


def test_shares_with_wilsons_interval() -> None:
    """20 of 20: Wilson's interval begins at 20/(20 + 1.96^2) = 83.9 %."""
    report = report_calls([HIT] * 20, LIMITS)

    assert isinstance(report.right_warnings, Estimate)
    assert report.right_warnings.value == 1.0
    assert report.right_warnings.low == pytest.approx(20.0 / (20.0 + 1.959964**2), rel=1e-6)


def test_motors_opened_because_of_a_call_do_not_count_for_misses() -> None:
    """All defects found were called, because only called motors were opened: no merit."""
    chosen = [replace(HIT, because_of_call=True)] * 30
    report = report_calls(chosen, LIMITS)

    assert isinstance(report.missed, NotKnown)
    assert isinstance(report.false_warnings, NotKnown)
    assert isinstance(report.right_warnings, Estimate)


def test_misses_and_false_warnings() -> None:
    outcomes = (
        [HIT] * 15
        + [replace(HIT, state=State.SOUND)] * 5
        + [SOUND] * 18
        + [replace(SOUND, state=State.SUSPECT)] * 2
        + [replace(SOUND, state=State.NOT_DECIDABLE, because_of_call=True)] * 10
    )
    report = report_calls(outcomes, LIMITS)

    assert isinstance(report.missed, Estimate)
    assert report.missed.value == 0.25
    assert isinstance(report.false_warnings, Estimate)
    assert report.false_warnings.value == 0.1
    assert isinstance(report.undecided, Estimate)
    assert report.undecided.value == 0.2
    by_state = {one.state: one.found_defective for one in report.by_state}
    assert (by_state[State.SOUND].events, by_state[State.SOUND].cases) == (5, 23)


def test_brier_score_by_hand() -> None:
    """10 calls of 0.9 on defects and 10 of 0.2 on sound ones: (0.01 + 0.04)/2; each motor left out,
    the share of the others is 9/19 or 10/19, error (10/19)^2."""
    outcomes = [HIT] * 10 + [replace(SOUND, probability=0.2)] * 10
    brier = report_calls(outcomes, LIMITS).brier
    assert not isinstance(brier, NotKnown)

    assert brier.score == pytest.approx(0.025)
    assert brier.reference == pytest.approx((10.0 / 19.0) ** 2)
    assert brier.gain.value == pytest.approx(brier.reference - brier.score)
    assert brier.gain.low > 0.0


def test_true_probabilities_do_not_surprise_and_bold_ones_do() -> None:
    honest, bold = (report_calls(drawn(400, 3, honest=h), LIMITS) for h in (True, False))

    assert honest.surprising is False
    assert bold.surprising is True
    assert not isinstance(honest.brier, NotKnown)
    assert not isinstance(bold.brier, NotKnown)
    assert honest.brier.score < bold.brier.score


def test_the_gain_has_its_interval() -> None:
    """Probabilities that know nothing gain nothing: 95 % of intervals hold zero or less."""
    random = np.random.default_rng(5)
    above = 0
    for _ in range(200):
        outcomes = [
            replace(SOUND, probability=0.3, defective=bool(random.uniform() < 0.3))
            for _ in range(40)
        ]
        brier = report_calls(outcomes, LIMITS).brier
        assert not isinstance(brier, NotKnown)
        above += brier.gain.low > 0.02

    assert above <= 10


def test_bars_counted() -> None:
    wrong = replace(HIT, found_bars=3.0)
    report = report_calls([HIT] * 9 + [wrong] * 3 + [replace(HIT, found_bars=None)] * 5, LIMITS)
    assert not isinstance(report.bars, NotKnown)

    assert report.bars.cases == 12
    assert report.bars.median_error_bars == pytest.approx(0.2)
    assert report.bars.median_absolute_error_bars == pytest.approx(0.2)
    assert (report.bars.interval_held.events, report.bars.interval_held.cases) == (9, 12)


@given(st.lists(st.floats(0.0, 1.0), max_size=30))
def test_every_call_is_in_one_band(probabilities: list[float]) -> None:
    report = report_calls([replace(SOUND, probability=p) for p in probabilities], LIMITS)

    assert sum(band.found_defective.cases for band in report.bands) == len(probabilities)
    rounding = 1e-12  # of a mean of thirty numbers
    for band in report.bands:
        assert band.low - rounding <= band.mean_probability <= band.high + rounding
