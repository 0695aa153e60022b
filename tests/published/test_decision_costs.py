"""Worked examples of textbooks on decisions, and the rule that the method survey quotes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.decision.costs import decide_costs
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import CostQuestion
from cagewise.decision.costs_value import (
    expected_costs,
    odds_rule,
    value_of_perfect_information,
    value_of_sample_information,
)
from cagewise.decision.limits import load_limits
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.machine.motor import Criticality

WINDOWS = load_limits().decision
CENT = 1e-9
"""The examples are exact decimals; only rounding of doubles is left."""


def test_pull_above_the_odds_of_the_costs() -> None:
    """P/(1 - P) = C_false/C_miss: 9 % at a ratio of 10, 2 % at 50 (textbook rule)."""
    assert round(100.0 * odds_rule(1.0, 10.0)) == 9
    assert round(100.0 * odds_rule(1.0, 50.0)) == 2
    assert odds_rule(1.0, 10.0) == pytest.approx(1.0 / 11.0, rel=1e-12)


def test_the_odds_rule_is_the_bayes_threshold_of_detection_theory() -> None:
    """Van Trees, Detection, Estimation, and Modulation Theory I, 1968, eq. (2.19), from memory:
    decide for H1 above ``eta = P0 (C10 - C00) / (P1 (C01 - C11))``."""
    false_cost, miss_cost, p1 = 3.0, 24.0, 0.2
    eta = (1.0 - p1) * false_cost / (p1 * miss_cost)
    posterior = p1 * eta / (p1 * eta + (1.0 - p1))

    assert odds_rule(false_cost, miss_cost) == pytest.approx(posterior, rel=1e-12)


@pytest.mark.parametrize(("ratio", "threshold"), [(10.0, 1.0 / 11.0), (50.0, 1.0 / 51.0)])
def test_a_missed_defect_that_is_sure_to_fail_is_pulled_by_the_odds_rule(
    ratio: float, threshold: float
) -> None:
    """Without time to lose and without measurements the full working is the textbook rule.

    Failure certain before any further visit, repair at once, further measurements dearer than a
    pull: only keeping and pulling are left.
    """
    windows = replace(WINDOWS, defective_normal_days=(0.0, 0.0))
    limits = CostLimits(hazard_per_month=100.0, visit_part=5.0, better_part=5.0)
    decision = decide_costs(
        CostQuestion(
            probability=0.5,
            verdict=_suspect(),
            criticality=Criticality(false_pull_cost=20e3, miss_cost=20e3 * ratio),
        ),
        limits,
        windows,
    )
    keep, plan = decision.probability_spans

    assert (keep.action, plan.action) == (CostAction.KEEP, CostAction.PLAN_REPAIR)
    assert keep.high == pytest.approx(threshold, rel=1e-9)
    assert decision.odds_rule_probability == pytest.approx(threshold, rel=1e-12)


def test_the_oil_wildcatter() -> None:
    """Raiffa, Decision Analysis, 1968, chapters 2 and 7 (from memory): dry 0.5, wet 0.3, soaking
    0.2; drilling costs 70 000 $, brings 0, 120 000 and 270 000 $; soundings as in his table."""
    prior = (0.5, 0.3, 0.2)
    costs = ((70.0, -50.0, -200.0), (0.0, 0.0, 0.0))  # drill, do not; thousands of dollars
    soundings = ((0.6, 0.3, 0.1), (0.3, 0.4, 0.4), (0.1, 0.3, 0.5))  # none, open, closed structure

    assert expected_costs(prior, costs) == pytest.approx((-20.0, 0.0), abs=CENT)
    assert value_of_perfect_information(prior, costs) == pytest.approx(35.0, abs=CENT)
    # 22 500 $ is the worth of the venture with the sounding, which costs 10 000 $
    worth = value_of_sample_information(prior, costs, soundings)
    assert 20.0 + worth - 10.0 == pytest.approx(22.5, abs=CENT)


def test_the_prototype_example_of_drilling_or_selling() -> None:
    """Hillier and Lieberman, Introduction to Operations Research, chapter on decision analysis
    (from memory): oil 0.25; drilling brings 700 or -100, selling the land 90; the survey is
    favourable 0.6 of the time with oil and 0.2 without, and costs 30 (thousands of dollars)."""
    prior = (0.75, 0.25)  # dry, oil
    costs = ((100.0, -700.0), (-90.0, -90.0))
    survey = ((0.2, 0.6), (0.8, 0.4))

    assert expected_costs(prior, costs) == pytest.approx((-100.0, -90.0), abs=CENT)
    assert value_of_perfect_information(prior, costs) == pytest.approx(142.5, abs=CENT)
    assert value_of_sample_information(prior, costs, survey) == pytest.approx(53.0, abs=CENT)


def test_a_newsvendor_orders_the_critical_fractile() -> None:
    """Textbook newsvendor (Arrow, Harris and Marschak, Econometrica 19, 1951; from memory): with
    cost of underage ``c_u`` and of overage ``c_o`` the best order is the quantile
    ``c_u / (c_u + c_o)`` of the demand; one more copy is the odds rule once more."""
    underage, overage = 3.0, 1.0
    demands = range(100)  # each as likely as the next
    prior = [1.0 / len(demands)] * len(demands)
    costs = [[underage * max(d - q, 0) + overage * max(q - d, 0) for d in demands] for q in demands]
    expected = expected_costs(prior, costs)
    best = min(demands, key=lambda q: expected[q])

    not_sold_at_best = sum(1 for d in demands if d <= best) / len(demands)
    not_sold_one_below = sum(1 for d in demands if d < best) / len(demands)
    fractile = 1.0 - odds_rule(overage, underage)
    assert not_sold_one_below <= fractile <= not_sold_at_best


def _suspect() -> Verdict:
    return Verdict(
        state=State.SUSPECT,
        ground=StateGround.TOO_FEW_AGREE,
        methods_agreeing=1,
        classes_agreeing=1,
        removal_supported=False,
    )
