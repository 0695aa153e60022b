"""The odds of an agreement, against hand-made readings whose answer is known by arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cagewise.indicators.running.slip_families import Family, Readings
from cagewise.indicators.running.slip_lines import LineTable
from cagewise.indicators.running.slip_search import VISIBLE, search_slip

WINDOW = (0.01, 0.05)
NEAR = 1e-4


def readings(
    family: Family,
    slips: list[float],
    *,
    deviation: float = 1e-5,
    nats: list[float] | None = None,
    span: float = 0.1,
) -> Readings:
    """Return readings of one family."""
    n = len(slips)
    strength = np.full(n, 100.0) if nats is None else np.array(nats)
    return Readings(
        family=family,
        lines=LineTable(np.array(slips), np.full(n, deviation), np.zeros(n), strength),
        origin=np.ones(n),
        slope=np.full(n, -2.0),
        rotor_bars=np.zeros(n, dtype=np.intp),
        log_prior=np.zeros(n),
        follow_nats=np.zeros(n),
        span=span,
    )


def test_two_sharp_lines_that_agree_are_worth_what_the_formula_says() -> None:
    families = [readings(Family.SLOT, [0.03]), readings(Family.ECCENTRICITY, [0.03])]
    search = search_slip(families, WINDOW, NEAR)
    best = search.candidates[0]
    peak = VISIBLE * 0.1 / (math.sqrt(2.0 * math.pi) * 1e-5) + (1.0 - VISIBLE)
    assert best.evidence_nats == pytest.approx(2.0 * math.log(peak), rel=1e-9)
    # Against a flat background over the window in which neither family shows a line.
    joint = best.evidence_nats + math.log(math.sqrt(2.0 * math.pi) * 1e-5 / math.sqrt(2.0))
    nothing = math.log(WINDOW[1] - WINDOW[0]) + 2.0 * math.log(1.0 - VISIBLE)
    assert search.log_odds == pytest.approx(joint - nothing, rel=1e-9)
    assert best.families == (Family.SLOT, Family.ECCENTRICITY)


def test_one_line_alone_is_worth_little_however_strong() -> None:
    families = [
        readings(Family.SLOT, [0.03], nats=[1e9]),
        readings(Family.ECCENTRICITY, []),
        readings(Family.POLE_PASS, []),
    ]
    search = search_slip(families, WINDOW, NEAR)
    # One stray per span of 0.1 is expected anyway; the window is 0.04 of it.
    assert search.log_odds == pytest.approx(math.log(0.1 / 0.04), abs=0.01)


def test_agreement_beats_strength() -> None:
    families = [
        readings(Family.SLOT, [0.02, 0.03], nats=[1e6, 50.0]),
        readings(Family.ECCENTRICITY, [0.03], nats=[50.0]),
    ]
    search = search_slip(families, WINDOW, NEAR)
    assert search.candidates[0].slip == pytest.approx(0.03)
    assert search.candidates[1].slip == pytest.approx(0.02)


def test_strays_cost_what_their_number_says() -> None:
    rng = np.random.default_rng(3)
    strays = list(rng.uniform(-0.05, 0.05, 20))
    quiet = [readings(Family.SLOT, [0.03]), readings(Family.ECCENTRICITY, [0.03])]
    busy = [readings(Family.SLOT, [0.03, *strays]), readings(Family.ECCENTRICITY, [0.03])]
    loss = (
        search_slip(quiet, WINDOW, NEAR).candidates[0].evidence_nats
        - search_slip(busy, WINDOW, NEAR).candidates[0].evidence_nats
    )
    assert loss == pytest.approx(math.log(21.0), abs=0.01)
    weak = [
        readings(Family.SLOT, [0.03, *strays], nats=[100.0] + [5.0] * 20),
        readings(Family.ECCENTRICITY, [0.03]),
    ]
    assert search_slip(weak, WINDOW, NEAR).candidates[0].evidence_nats == pytest.approx(
        search_slip(quiet, WINDOW, NEAR).candidates[0].evidence_nats
    )


def test_lines_that_miss_each_other_do_not_agree() -> None:
    families = [readings(Family.SLOT, [0.03]), readings(Family.ECCENTRICITY, [0.0302])]
    search = search_slip(families, WINDOW, NEAR)
    assert {len(c.supports) for c in search.candidates} == {1}
    assert search.log_odds < 1.0


def test_lines_outside_the_window_are_no_candidates_but_count_as_strays() -> None:
    inside = [readings(Family.SLOT, [0.03]), readings(Family.ECCENTRICITY, [0.03])]
    outside = [
        readings(Family.SLOT, [0.03, 0.07, -0.02]),
        readings(Family.ECCENTRICITY, [0.03, 0.07]),
    ]
    one, two = search_slip(inside, WINDOW, NEAR), search_slip(outside, WINDOW, NEAR)
    assert [c.slip for c in two.candidates] == pytest.approx([c.slip for c in one.candidates])
    lost = math.log(3.0) + math.log(2.0)
    assert two.candidates[0].evidence_nats == pytest.approx(
        one.candidates[0].evidence_nats - lost, abs=1e-3
    )


def test_no_line_at_all() -> None:
    search = search_slip([readings(Family.SLOT, [])], WINDOW, NEAR)
    assert search.candidates == ()
    assert search.log_odds == -math.inf


def test_the_odds_are_honest() -> None:
    """Random strays in two families: agreements above L happen at most about exp(-L) as often."""
    rng = np.random.default_rng(11)
    n_trials, odds = 4000, []
    for _ in range(n_trials):
        families = [
            readings(
                family,
                list(rng.uniform(-0.05, 0.05, rng.poisson(4))),
                deviation=deviation,
                nats=None,
            )
            for family, deviation in ((Family.SLOT, 1e-5), (Family.ECCENTRICITY, 1e-4))
        ]
        search = search_slip(families, WINDOW, NEAR)
        if search.candidates and len(search.candidates[0].supports) == 2:
            odds.append(search.log_odds)
    for level in (2.0, 3.0, 4.0):
        # 4000 trials: the counts have deviations of 23, 14 and 9.
        limit = n_trials * math.exp(-level)
        assert np.sum(np.array(odds) > level) <= limit + 3.0 * math.sqrt(limit)
