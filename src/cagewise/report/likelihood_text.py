"""How probable a cage defect is, how often the study was wrong, and which damage is likeliest.

A probability is worked out from how readings err; a rate was counted. Both are stated only where
the study of motors of known truth covers the kind of visit (docs/theory/fusion.md, section 5).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from cagewise.decision.agreement import difference
from cagewise.decision.examination import Examination
from cagewise.decision.verdict import State
from cagewise.evidence.explanations import LEAST_DAMAGE_BARS
from cagewise.evidence.fusion.patterns import DamagePattern, Prior
from cagewise.evidence.fusion.posterior import LEAST_CASES, Posterior, Rate
from cagewise.evidence.probability import prevalence_range, probability_interval
from cagewise.quantities import NotKnown
from cagewise.report import likelihood_wording as words
from cagewise.report import numbers
from cagewise.report.language import decimal, retell, say

LEAST_SHOWN = 0.01
"""Patterns less probable than this are not listed."""
ALMOST_ALL = 0.99
"""A pattern as probable as this needs no list beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternRow:
    """One pattern of damage and its probability."""

    label: str
    probability: float
    sound: bool

    @property
    def percent(self) -> str:
        """The probability as written: whole percent."""
        return f"{100.0 * self.probability:.0f}"


def stated_posterior(examination: Examination) -> Posterior | None:
    """Return the posterior where numbers of it may be stated."""
    posterior = examination.evidence.posterior
    if isinstance(posterior, NotKnown) or not posterior.calibrated:
        return None
    return posterior


def probability(examination: Examination) -> str:
    """Return the probability with prior and range, or that there is none and why."""
    posterior = examination.evidence.posterior
    if isinstance(posterior, NotKnown):
        return say(words.NO_PROBABILITY, reason=retell(posterior.reason))
    interval = probability_interval(posterior)
    if interval is None:
        template = words.NO_PROBABILITY if counted(examination) else words.NO_RATE
        return say(template, reason=retell(posterior.not_calibrated_because))
    low, high = interval
    said = posterior.probability_of_defect
    template = words.PROBABILITY_CAPPED if posterior.guarded else words.PROBABILITY
    return say(
        template,
        value=numbers.percent_of(percent(said)),
        most=say(words.MOST) if said > posterior.prior.prevalence else say(words.LEAST),
        low=percent(low),
        high=percent(high),
        kin=_kin(posterior.prior),
    )


def counted(examination: Examination) -> str:
    """Return how often the study was wrong about motors recorded like this one.

    Which rate comes first depends on what was decided. Nothing where no rate can be quoted.
    """
    posterior = examination.evidence.posterior
    if isinstance(posterior, NotKnown):
        return ""
    kind = retell(str(posterior.rates_stratum))
    first, *others = _rates(posterior, examination.verdict.state)
    if all(rate.rate.cases < LEAST_CASES for rate in (first, *others)):
        return ""
    said = [_rate(first.rate, first.full, first.few, kind)]
    said += [_rate(other.rate, other.short, other.few_short, kind) for other in others]
    worked_out = [say(words.WORKED_OUT)] if posterior.calibrated else []
    return " ".join([*worked_out, *said, say(words.SIMULATED)])


def probability_lines(examination: Examination) -> list[str]:
    """Return the paragraphs below the verdict."""
    said = (probability(examination), differing(examination), counted(examination))
    return [paragraph for paragraph in said if paragraph]


def differing(examination: Examination) -> str:
    """Return why state and probability do not say the same; nothing where they do."""
    found = difference(examination.verdict, examination.evidence)
    posterior = stated_posterior(examination)
    if found is None or posterior is None:
        return ""
    damage = {p: x for p, x in posterior.probabilities.items() if p is not DamagePattern.SOUND}
    likeliest = max(damage, key=lambda p: damage[p])
    sound = posterior.probabilities[DamagePattern.SOUND]
    shape = posterior.shape_share * sound
    return say(
        words.DIFFERING[found],
        pattern=say(words.PATTERN[likeliest]),
        share=percent(damage[likeliest]),
        shape=percent(shape),
        error=percent(sound - shape),
        rare=percent(posterior.prior.probabilities()[DamagePattern.APART]),
    )


def pattern_rows(examination: Examination) -> list[PatternRow]:
    """Return the patterns that count, the likeliest first; none where one is all but certain."""
    posterior = stated_posterior(examination)
    if posterior is None:
        return []
    ranked = sorted(posterior.probabilities.items(), key=lambda item: -item[1])
    if ranked[0][1] >= ALMOST_ALL:
        return []
    rows = [
        PatternRow(label=say(words.PATTERN[p]), probability=x, sound=p is DamagePattern.SOUND)
        for p, x in ranked
        if x >= LEAST_SHOWN
    ]
    rest = 1.0 - sum(row.probability for row in rows)
    if rest >= LEAST_SHOWN:
        rows.append(PatternRow(label=say(words.OTHERS), probability=rest, sound=False))
    return rows


def pattern_line(examination: Examination) -> str:
    """Return the likeliest pattern where no list is needed; nothing where it is a sound cage."""
    posterior = stated_posterior(examination)
    if posterior is None:
        return ""
    likeliest = max(posterior.probabilities, key=lambda p: posterior.probabilities[p])
    share = posterior.probabilities[likeliest]
    if share < ALMOST_ALL or likeliest is DamagePattern.SOUND:
        return ""
    return say(words.ALMOST_ALL, pattern=say(words.PATTERN[likeliest]), share=percent(share))


def open_bars(examination: Examination) -> str:
    """Return the credible interval of open bars and why it may begin at a sound cage."""
    posterior = stated_posterior(examination)
    if posterior is None:
        return ""
    bars = posterior.open_bars
    sound = posterior.probabilities[DamagePattern.SOUND]
    begins_sound = bars.low < LEAST_DAMAGE_BARS < bars.value
    template = words.OPEN_BARS_DOWN_TO_SOUND if begins_sound else words.OPEN_BARS
    return say(template, bars=numbers.bars_interval(bars), share=f"{100.0 * sound:.0f}")


@dataclass(frozen=True, slots=True, kw_only=True)
class _RateWords:
    """A rate of the study and its sentences: at the head, after another, and without cases."""

    rate: Rate
    full: str
    short: str
    few: str
    few_short: str


def _rates(posterior: Posterior, state: State) -> list[_RateWords]:
    """Return the rates to quote, the one that matters most for this state first."""
    false_calls = _RateWords(
        rate=posterior.false_call_rate,
        full=words.FALSE_CALLS,
        short=words.FALSE_CALLS_TOO,
        few=words.FEW_FALSE_CALLS,
        few_short=words.FEW_FALSE_CALLS_TOO,
    )
    misses = _RateWords(
        rate=posterior.missed_rate,
        full=words.MISSES,
        short=words.MISSES_TOO,
        few=words.FEW_MISSES,
        few_short=words.FEW_MISSES_TOO,
    )
    if state is State.NOT_DECIDABLE:
        undecided = _RateWords(
            rate=posterior.undecided_rate,
            full=words.UNDECIDED,
            short=words.UNDECIDED,
            few=words.FEW_UNDECIDED,
            few_short=words.FEW_UNDECIDED,
        )
        return [undecided]
    return [misses, false_calls] if state is State.SOUND else [false_calls, misses]


def _rate(rate: Rate, counted: str, few: str, kind: str) -> str:
    """Return a rate in a sentence, never without the number of its cases."""
    if rate.cases < LEAST_CASES:
        cases = say(words.CASES[min(rate.cases, 2)], n=rate.cases)
        return say(few, cases=cases, kind=kind)
    low, high = between(*rate.interval)
    return say(
        counted,
        cases=rate.cases,
        kind=kind,
        events=say(words.EVENTS[min(rate.events, 2)], n=rate.events),
        share=say(words.SHARE, share=percent(rate.events / rate.cases), low=low, high=high),
    )


def _kin(prior: Prior) -> str:
    """Return the clause on how common defects are."""
    assumed = prior.prevalence == Prior().prevalence
    template = words.KIN_ASSUMED if assumed else words.KIN_STATED
    low, high = prevalence_range(prior)
    return say(template, prevalence=percent(prior.prevalence), low=percent(low), high=percent(high))


def percent(probability: float) -> str:
    """Return a probability in percent without the sign: 0.05, 0.3, 2.4, 13, 97, 99.9."""
    return _written(100.0 * probability, round)


def between(low: float, high: float) -> tuple[str, str]:
    """Return the ends of an interval of probabilities in percent, rounded outwards."""
    return _written(100.0 * low, _down), _written(100.0 * high, _up)


def _down(value: float) -> int:
    """Round down; a millionth is forgiven."""
    return math.floor(value + 1e-6)


def _up(value: float) -> int:
    """Round up; a millionth is forgiven."""
    return math.ceil(value - 1e-6)


def _written(value: float, rounded: Callable[[float], int]) -> str:
    """Return a percentage with two digits that carry something."""
    decimals = _decimals(value)
    shown = f"{rounded(value * 10**decimals) / 10**decimals:.{decimals}f}"
    return numbers.trimmed(decimal(shown))


def _decimals(value: float) -> int:
    """Return the decimals: more where the percentage is near 0 or near 100."""
    room = min(value, 100.0 - value)
    if room <= 0.0 or room >= 9.95:
        return 0
    if room >= 0.995:
        return 1 if value < 50.0 else 0
    return 2 if value < 50.0 else 1
