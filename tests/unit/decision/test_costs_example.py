"""The worked example of the page on the motor file, number by number."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from cagewise.decision.costs_result import CostDecision
from cagewise.quantities import Estimate
from cagewise.report import cost_wording
from support.cost_questions import decide, question

PAGE = (Path(__file__).resolve().parents[3] / "docs" / "motor-file.md").read_text("utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|\n").split("|")]
    for line in PAGE.splitlines()
    if re.match(r"\| \d+ \|", line)
]


def decided(pull: str, failure: str, outage: str) -> CostDecision:
    """Return the decision of one row: one open bar, a chance of 40 %, normal criticality."""
    days = re.search(r"\d+", outage)
    asked = question(
        0.4,
        bars=Estimate(1.0, 1.0, 1.0),
        outage_days=None if days is None else int(days.group()),
    )
    costs = replace(asked.criticality, false_pull_cost=float(pull), miss_cost=float(failure))
    return decide(replace(asked, criticality=costs))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(row[:3]))
def test_every_row_of_the_example_is_what_the_program_works_out(row: list[str]) -> None:
    pull, failure, outage, *costs, cheapest = row
    decision = decided(pull, failure, outage)

    assert cost_wording.NAME[decision.action] == cheapest
    for told, cost in zip(costs, decision.costs, strict=True):
        assert cost.expected is not None
        assert float(told) == pytest.approx(cost.expected, rel=5e-3)  # three digits


def test_the_sum_that_is_spelled_out_is_that_of_the_program() -> None:
    repair = decided("16000", "150000", "none").costs[-1]

    assert len(ROWS) == 4
    assert "4.1 %\nof such cages fail before, 0.041 \u00d7 150000 = 6130" in PAGE
    assert repair.days == 60.0
    assert repair.failure_chance == pytest.approx(0.041, abs=5e-4)
    assert repair.if_defective == pytest.approx(6130.0, abs=5.0)
    assert repair.if_sound == 16000.0
    assert decided("16000", "150000", "in 40 days").costs[-1].if_sound == 8000.0
