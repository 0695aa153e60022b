"""Probability and rates in words: never a number without the cases it stands on."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from cagewise.decision.examination import Examination
from cagewise.evidence.fusion.patterns import DamagePattern, Prior
from cagewise.evidence.fusion.posterior import LEAST_CASES, Posterior, Rate, StratumRates
from cagewise.indicators.reading import Reading
from cagewise.quantities import Estimate
from cagewise.report import likelihood_text as text
from cagewise.report import likelihood_wording as words
from support.examinations import (
    INVENTED_KIND,
    INVENTED_RATES,
    damaged,
    examination,
    reading,
    record,
    sound,
    study_with,
    suspicious,
    unreadable,
)


def shown(
    readings: tuple[Reading, ...],
    *,
    rates: StratumRates = INVENTED_RATES,
    prior: Prior | None = None,
    guard: float = 0.02,
) -> Examination:
    study = study_with(rates, prior, guard=guard)
    return examination(record(readings, study=study), study=study)


def rates(sound_cases: int, damaged_cases: int, all_cases: int = 0) -> StratumRates:
    return StratumRates(
        stratum=INVENTED_KIND,
        false_calls=Rate(events=min(2, sound_cases), cases=sound_cases),
        missed=Rate(events=0, cases=damaged_cases),
        undecided=Rate(events=0, cases=all_cases or sound_cases + damaged_cases),
    )


def posterior_of(visit: Examination) -> Posterior:
    assert isinstance(visit.evidence.posterior, Posterior)
    return visit.evidence.posterior


def with_posterior(visit: Examination, **changes: object) -> Examination:
    changed = replace(posterior_of(visit), **changes)  # type: ignore[arg-type]  # its fields
    return replace(visit, evidence=replace(visit.evidence, posterior=changed))


def test_the_probability_carries_its_prior_and_the_range_of_it() -> None:
    visit = shown(suspicious())
    value = f"{100.0 * posterior_of(visit).probability_of_defect:.0f} %"

    assert text.probability(visit).startswith(f"Probability of a cage defect: {value} (")
    assert "where 1 to 3 % of such motors have one; 2 % is assumed" in text.probability(visit)


def test_a_stated_prevalence_is_said_to_be_stated_and_varied_as_far() -> None:
    said = text.probability(shown(suspicious(), prior=Prior(prevalence=0.1)))

    assert "where 5 to 15 % of such motors have one; 10 % was stated" in said


@pytest.mark.parametrize(
    ("readings", "side"), [(damaged(), "the most that"), (sound(), "the least that")]
)
def test_the_guard_is_said(readings: tuple[Reading, ...], side: str) -> None:
    """What the outlier shares of the model would claim beyond it is not printed."""
    visit = shown(readings, guard=0.1)

    assert posterior_of(visit).guarded
    assert (
        f"{100.0 * posterior_of(visit).probability_of_defect:.2g} %, {side} the study supports"
        in text.probability(visit)
    )
    assert "not counted" in text.counted(visit)


@pytest.mark.parametrize(
    ("readings", "first", "then"),
    [
        (damaged(), "312 sound simulated", "140 with an open bar"),
        (suspicious(), "312 sound simulated", "140 with an open bar"),
        (sound(), "140 simulated motors with an open bar", "312 sound ones"),
    ],
    ids=["defective", "suspect", "sound"],
)
def test_the_rate_that_matters_for_the_state_comes_first(
    readings: tuple[Reading, ...], first: str, then: str
) -> None:
    said = text.counted(shown(readings))

    assert said.index(first) < said.index(then)
    assert "(running, V and I, load 50 % and more)" in said
    assert words.SIMULATED in said


def test_rates_have_their_wilson_intervals_rounded_outwards() -> None:
    """1 of 312: 0.321 % (0.057 to 1.794 %); 0 of 140: at most z^2 / (n + z^2) = 2.671 %."""
    said = text.counted(shown(damaged()))

    assert "1 was called suspect or defective: 0.32 % (0.05 to 1.8 %, 95 %)" in said
    assert "none was called sound: 0 % (0 to 2.7 %, 95 %)" in said


def test_what_was_not_decided_quotes_how_often_that_happens() -> None:
    wide = (reading("direct_component", (0.0, 0.4, 1.6), limit=1.2, false_alarm=0.4),)
    said = text.counted(shown(wide))

    assert "Of 520 simulated motors" in said
    assert "9 were left undecided: 1.7 %" in said


@pytest.mark.parametrize(("sound_cases", "damaged_cases"), [(0, 0), (7, 4), (19, 19)])
def test_too_few_cases_give_neither_probability_nor_rate(
    sound_cases: int, damaged_cases: int
) -> None:
    visit = shown(damaged(), rates=rates(sound_cases, damaged_cases))
    said = text.probability(visit)

    assert text.counted(visit) == ""
    assert said.startswith("No probability and no false-call rate can be stated, because the study")
    assert str(INVENTED_KIND) in said
    numbers_said = f"{sound_cases} sound and {damaged_cases} damaged" if sound_cases else "no motor"
    assert numbers_said in said
    assert not text.pattern_rows(visit)
    assert not text.open_bars(visit)


def test_one_rate_with_cases_is_quoted_and_the_other_says_how_few_it_has() -> None:
    visit = shown(damaged(), rates=rates(200, 1))

    assert text.probability(visit).startswith("No probability is stated, because the study has")
    said = text.counted(visit)
    assert "Of 200 sound simulated motors" in said
    assert "an open bar is missed cannot be said: the study has only 1." in said
    assert "worked out" not in said


@pytest.mark.parametrize("cases", [LEAST_CASES, 1000])
@pytest.mark.parametrize("readings", [damaged(), suspicious(), sound()])
def test_every_rate_stands_beside_its_number_of_cases(
    readings: tuple[Reading, ...], cases: int
) -> None:
    said = text.counted(shown(readings, rates=rates(cases, cases)))
    sentences = [s for s in re.split(r"(?<=[.]) ", said) if "%, 95 %" in s]

    assert len(sentences) == 2
    assert all(f"Of {cases} " in sentence for sentence in sentences)


def test_nothing_read_is_no_number_at_all() -> None:
    visit = shown(unreadable())

    assert text.probability_lines(visit) == [
        "No probability is stated, because no reading of the cage is valid."
    ]
    assert text.pattern_line(visit) == ""


def test_patterns_are_ranked_and_sum_to_one() -> None:
    rows = text.pattern_rows(shown(suspicious()))
    chances = [row.probability for row in rows if row.label != words.OTHERS]

    assert chances == sorted(chances, reverse=True)
    assert all(chance >= text.LEAST_SHOWN for chance in chances)
    assert sum(row.probability for row in rows) == pytest.approx(1.0, abs=text.LEAST_SHOWN)


def test_what_is_spread_thinly_is_gathered() -> None:
    few = dict.fromkeys(DamagePattern, 0.008) | {DamagePattern.ONE: 0.96}
    visit = with_posterior(shown(damaged()), probabilities=few)
    rows = text.pattern_rows(visit)

    assert [row.label for row in rows] == [words.PATTERN[DamagePattern.ONE], words.OTHERS]
    assert rows[-1].percent == "4"


def test_one_pattern_by_far_needs_no_list_and_a_sound_one_no_word() -> None:
    most = dict.fromkeys(DamagePattern, 0.001)
    open_bar = with_posterior(shown(damaged()), probabilities=most | {DamagePattern.ONE: 0.995})
    assert text.pattern_rows(open_bar) == []
    assert text.pattern_line(open_bar) == "By far the likeliest: one bar open (99.5 %)."
    assert text.pattern_line(shown(sound())) == ""


def test_an_interval_that_begins_at_a_sound_cage_says_why() -> None:
    visit = shown(damaged())
    wide = with_posterior(visit, open_bars=Estimate(1.1, 0.05, 1.4))
    sharp = with_posterior(visit, open_bars=Estimate(1.1, 0.9, 1.4))

    assert "begins at a sound cage" in text.open_bars(wide)
    assert (
        text.open_bars(sharp)
        == "Open bars, all readings weighed: 1.1 (0.90 to 1.4), 95 % credible."
    )


@pytest.mark.parametrize(
    ("probability", "written"),
    [
        (0.0, "0"), (0.0005, "0.05"), (0.001, "0.1"), (0.0032, "0.32"), (0.024, "2.4"),
        (0.134, "13"), (0.972, "97"), (0.995, "99.5"), (0.999, "99.9"), (1.0, "100"),
    ],
)  # fmt: skip
def test_percentages_show_two_digits_that_carry_something(probability: float, written: str) -> None:
    assert text.percent(probability) == written
