"""Are the probabilities what they say? Readings drawn from the model, and the shipped file."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from cagewise.evidence.findings import Evidence
from cagewise.evidence.fusion.fuse import credible_bars, fuse
from cagewise.evidence.fusion.heard import Heard, heard
from cagewise.evidence.fusion.likelihood import (
    LEAST_FLOOR_BARS,
    OTHER_KERNELS,
    SHARES_MOTOR_MODEL,
    SHOWS_SHAPE,
    TAIL_DEGREES,
)
from cagewise.evidence.fusion.parameters import (
    Calibrated,
    FusionParameters,
    Provenance,
    calibrated_from,
    document_of,
    shipped,
)
from cagewise.evidence.fusion.patterns import (
    PREVALENCE_RANGE,
    DamagePattern,
    Family,
    Prior,
    states_of,
)
from cagewise.evidence.fusion.posterior import (
    LEAST_CASES,
    Channels,
    LoadBand,
    Posterior,
    Rate,
    SourceKind,
    Stratum,
    StratumRates,
)
from cagewise.evidence.probability import (
    TruthStudy,
    prevalence_range,
    probability_interval,
)
from cagewise.evidence.weigh import combine, weigh
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown
from support.examinations import LIMITS, damaged, sound, start_line, unreadable

EVEN = Prior(prevalence=0.5)
TRUE = FusionParameters()
CLASSES = {
    Family.DIRECT: ("direct_component", IndependenceClass.RUNNING_FUNDAMENTAL),
    Family.HARMONIC: ("harmonic_lines", IndependenceClass.RUNNING_HARMONIC),
    Family.START_LINE: ("start_side_line_track", IndependenceClass.START),
}
STRATUM = Stratum(channels=Channels.VOLTAGES_AND_CURRENTS, load=LoadBand.HEAVY)


def drawn(rng: np.random.Generator, state: int) -> tuple[Heard, ...]:
    """Return readings of one visit as the model says they come about: a shared factor, own errors
    in the logarithm, outliers of one class, and of both classes of a record; a shape of the rotor
    that imitates damage; an unevenness of its own in every kernel."""
    shared = TRUE.shared_sd * rng.standard_normal()
    record_fails = rng.random() < TRUE.record_outlier
    shape = rng.random() < TRUE.shape_outlier
    states, readings = states_of(TRUE.natural_bars, TRUE.mixed_share), []
    uneven = np.where(states.sound, states.weight, 0.0)
    for family, (name, of) in CLASSES.items():
        model, limit, sd = TRUE.families[family], 0.12, 0.15
        common = record_fails and of is not IndependenceClass.START
        floor = max(TRUE.floor_share * limit, LEAST_FLOOR_BARS)
        walk = states.sound[state] and family in OTHER_KERNELS
        own = rng.choice(states.bars.size, p=uneven) if walk else state
        bars = float(states.expected[family][own])
        if shape and of is SHOWS_SHAPE:
            bars = float(states.bars[rng.choice(states.bars.size, p=states.as_damaged)])
            common = False
        bars *= math.exp(shared) if of in SHARES_MOTOR_MODEL else 1.0
        elsewhere = rng.random() < model.outlier and not (shape and of is SHOWS_SHAPE)
        if common or elsewhere:
            bars = (1.0 - 0.992 * rng.random()) ** (-1.0 / 3.0) - 1.0
        y = math.log(min(bars, 4.0) + floor) + model.inflation * sd * rng.standard_t(TAIL_DEGREES)
        ends = [y, y - NORMAL_COVERAGE_FACTOR * sd, y + NORMAL_COVERAGE_FACTOR * sd]
        value, low, high = (math.exp(end) - floor for end in ends)
        one = heard(name, of, Estimate(value, low, high), limit)
        assert one is not None
        readings.append(one)
    return tuple(readings)


def test_probabilities_of_drawn_readings_are_calibrated() -> None:
    """In every tenth the share of defects lies within three standard errors of what was said, and
    credible intervals hold the truth 93 to 97 times in 100 (n = 1500, standard error 0.6 %)."""
    rng, states = np.random.default_rng(3), states_of(TRUE.natural_bars, TRUE.mixed_share)
    said, truth, covered = [], [], []
    for state in rng.choice(states.bars.size, size=1500, p=states.prior(EVEN)):
        found = fuse(drawn(rng, int(state)), EVEN, TRUE)
        bars = credible_bars(found.by_state, states)
        said.append(found.defect)
        truth.append(not states.sound[state])
        inside = states.low[state] + (states.high - states.low)[state] * rng.random()
        covered.append(bars.low <= inside <= bars.high)
    probability, defects = np.array(said), np.array(truth)
    for low in np.linspace(0.0, 0.9, 10):
        inside_bin = (probability >= low) & (probability < low + 0.1 + 1e-9)
        expected = probability[inside_bin]
        error = math.sqrt(float(np.sum(expected * (1.0 - expected))))
        assert abs(float(np.sum(defects[inside_bin] - expected))) <= 3.0 * error + 1.0
    assert np.mean(covered) == pytest.approx(0.95, abs=0.02)


def test_the_file_says_what_it_was_fitted_on_and_reads_back() -> None:
    text = document_of(shipped())

    assert calibrated_from(tomllib.loads(text)) == shipped()
    assert shipped().provenance.cases > 0
    assert shipped().provenance.command.startswith("python benchmarks/truth/fit.py")


def test_shipped_numbers_are_possible() -> None:
    numbers = shipped().parameters
    assert 1e-3 <= numbers.guard <= 0.1
    assert 0.0 < numbers.record_outlier + numbers.shape_outlier < 0.5
    for model in numbers.families.values():
        assert 0.0 < model.outlier < 1.0
        assert model.inflation > 0.0
        assert abs(model.bias) < 0.7


@pytest.mark.parametrize(
    ("events", "cases", "low", "high"),
    [(0, 10, 0.0, 0.278), (5, 10, 0.237, 0.763), (10, 10, 0.722, 1.0), (1, 100, 0.0018, 0.0545)],
)
def test_rates_have_the_interval_of_wilson(
    events: int, cases: int, low: float, high: float
) -> None:
    """Table of Brown, Cai and DasGupta, Statistical Science 16, 2001 (from memory), and by hand:
    0 of 10: z^2 / (n + z^2) = 3.841 / 13.841 = 0.2775."""
    assert Rate(events=events, cases=cases).interval == pytest.approx((low, high), abs=6e-4)


def test_no_case_is_no_rate() -> None:
    assert isinstance(Rate(events=0, cases=0).estimate, NotKnown)


def study(cases: int) -> TruthStudy:
    """Return a study with so many sound and damaged motors in one stratum."""
    stratum = STRATUM.with_sources([SourceKind.RUNNING])
    rates = StratumRates(
        stratum=stratum,
        false_calls=Rate(events=1, cases=cases),
        missed=Rate(events=0, cases=cases),
        undecided=Rate(events=0, cases=2 * cases),
    )
    return TruthStudy(calibrated=Calibrated(strata=(rates,), provenance=Provenance(cases=cases)))


def weighed(cases: int, stratum: Stratum = STRATUM) -> Evidence:
    return weigh(
        damaged(),
        LIMITS.evidence,
        voltages_measured=True,
        calibration=study(cases),
        stratum=stratum,
    )


def test_a_stratum_of_the_study_gives_a_probability_and_its_own_rates() -> None:
    evidence = weighed(LEAST_CASES)

    assert isinstance(evidence.posterior, Posterior)
    assert evidence.posterior.calibrated
    assert evidence.probability == evidence.posterior.probability_of_defect
    assert evidence.posterior.false_call_rate == Rate(events=1, cases=LEAST_CASES)
    assert sum(evidence.posterior.probabilities.values()) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("cases", "stratum"),
    [
        (LEAST_CASES - 1, STRATUM),
        (500, replace(STRATUM, load=LoadBand.LIGHT)),
        (500, replace(STRATUM, channels=Channels.CURRENTS)),
        (500, replace(STRATUM, converter_fed=True)),
        (500, Stratum()),
    ],
)
def test_what_the_study_does_not_cover_has_no_probability_and_says_so(
    cases: int, stratum: Stratum
) -> None:
    evidence = weighed(cases, stratum)

    assert isinstance(evidence.posterior, Posterior)
    assert not evidence.posterior.calibrated
    assert isinstance(evidence.probability, NotKnown)
    few = f"only {cases} sound and {cases} damaged motors" if cases < LEAST_CASES else "no motor"
    assert evidence.probability.reason.startswith(f"the study has {few} of this kind (running")


def test_the_prevalence_is_varied_as_far_as_surveys_spread() -> None:
    assert prevalence_range(Prior()) == pytest.approx(PREVALENCE_RANGE)
    assert prevalence_range(Prior(prevalence=0.2)) == pytest.approx((0.1, 0.3))

    posterior = weighed(LEAST_CASES).posterior
    assert isinstance(posterior, Posterior)
    interval = probability_interval(posterior)
    assert interval is not None
    assert interval[0] <= posterior.probability_of_defect <= interval[1]
    assert probability_interval(weighed(1).posterior) is None


def test_what_was_left_undecided_is_handed_on() -> None:
    posterior = weighed(LEAST_CASES).posterior
    assert isinstance(posterior, Posterior)
    assert posterior.undecided_rate == Rate(events=0, cases=2 * LEAST_CASES)


def counted(stratum: Stratum, cases: int) -> StratumRates:
    """Return rates of a stratum with so many sound and damaged motors."""
    return StratumRates(
        stratum=stratum,
        false_calls=Rate(events=0, cases=cases),
        missed=Rate(events=0, cases=cases),
        undecided=Rate(events=0, cases=2 * cases),
    )


def test_too_few_of_its_own_kind_are_replaced_by_the_nearest_coarser_stratum_that_is_named() -> (
    None
):
    visit = STRATUM.with_sources([SourceKind.RUNNING, SourceKind.START])
    alone = STRATUM.with_sources([SourceKind.RUNNING])
    few, enough = LEAST_CASES - 1, LEAST_CASES

    def quoted(*strata: StratumRates) -> Stratum:
        return Calibrated(strata=strata).rates_of(visit).stratum

    any_load = replace(visit, load=LoadBand.ANY)
    alone_any = replace(alone, load=LoadBand.ANY)
    assert quoted(counted(visit, enough), counted(any_load, 500)) == visit
    assert quoted(counted(visit, few), counted(any_load, enough), counted(alone, 500)) == any_load
    assert quoted(counted(visit, few), counted(alone, enough), counted(alone_any, 500)) == alone
    assert quoted(counted(alone, few), counted(alone_any, enough)) == alone_any
    assert quoted(counted(visit, few), counted(alone, few)) == visit
    assert str(alone_any) == "running, V and I, any load"


def test_other_channels_or_another_supply_are_never_quoted() -> None:
    currents = replace(STRATUM, channels=Channels.CURRENTS).with_sources([SourceKind.RUNNING])
    fed = replace(currents, converter_fed=True)
    other = replace(STRATUM, load=LoadBand.ANY).with_sources([SourceKind.RUNNING])
    calibrated = Calibrated(strata=(counted(other, 500), counted(currents, 500)))

    assert not calibrated.rates_of(fed).enough
    assert not calibrated.rates_of(replace(currents, load=LoadBand.LIGHT)).enough


def test_a_posterior_names_its_own_stratum_and_that_of_its_rates() -> None:
    own = STRATUM.with_sources([SourceKind.RUNNING])
    any_load = replace(own, load=LoadBand.ANY)
    study_of_any = TruthStudy(calibrated=Calibrated(strata=(counted(any_load, 40),)))
    evidence = weigh(
        damaged(),
        LIMITS.evidence,
        voltages_measured=True,
        calibration=study_of_any,
        stratum=STRATUM,
    )

    assert isinstance(evidence.posterior, Posterior)
    assert evidence.posterior.calibrated
    assert evidence.posterior.stratum == own
    assert evidence.posterior.rates_stratum == any_load


def test_the_guard_is_kept_and_told() -> None:
    certain = weigh(
        (*damaged(), start_line((0.9, 1.0, 1.1))),
        LIMITS.evidence,
        voltages_measured=True,
        calibration=study(50),
    ).posterior
    assert isinstance(certain, Posterior)
    assert certain.probability_of_defect == pytest.approx(1.0 - certain.guard)
    assert certain.guarded
    assert certain.probabilities[DamagePattern.SOUND] == pytest.approx(certain.guard)


def test_sources_of_a_visit_make_its_stratum() -> None:
    running = weigh(damaged(), LIMITS.evidence, voltages_measured=True, stratum=STRATUM)
    start = weigh((start_line((0.9, 1.0, 1.1)),), LIMITS.evidence, voltages_measured=True)
    visit = combine([start, running]).posterior

    assert isinstance(visit, Posterior)
    assert visit.stratum == STRATUM.with_sources([SourceKind.START, SourceKind.RUNNING])
    assert visit.heard == ("direct_component", "harmonic_lines", "start_side_line_track")
    assert isinstance(start.posterior, Posterior)
    assert start.posterior.stratum.channels is Channels.NONE


def test_a_record_that_was_not_read_adds_nothing_to_a_visit() -> None:
    """A reading that is not valid carries no information."""
    light = replace(STRATUM, load=LoadBand.LIGHT)
    read = weigh(sound(), LIMITS.evidence, voltages_measured=True, stratum=STRATUM)
    unread = weigh(unreadable(), LIMITS.evidence, voltages_measured=True, stratum=light)

    assert combine([unread, read]).posterior == read.posterior


def test_of_two_records_the_better_channels_then_the_heavier_load_name_the_stratum() -> None:
    running = [SourceKind.RUNNING]
    currents = Stratum(channels=Channels.CURRENTS, load=LoadBand.HEAVY).with_sources(running)
    light = replace(STRATUM, load=LoadBand.LIGHT).with_sources(running)
    heavy = STRATUM.with_sources(running)

    assert Stratum.merged([currents, light]) == light
    assert Stratum.merged([light, heavy]) == heavy


@pytest.mark.parametrize(
    ("currents", "voltages", "channels"),
    [
        (3, 3, Channels.VOLTAGES_AND_CURRENTS),
        (2, 2, Channels.VOLTAGES_AND_CURRENTS),
        (3, 0, Channels.CURRENTS),
        (1, 0, Channels.ONE_CURRENT),
        (0, 3, Channels.NONE),
    ],
)
def test_channels_of_a_record(currents: int, voltages: int, channels: Channels) -> None:
    assert Channels.of(currents, voltages) is channels


def test_bands_of_load() -> None:
    loads = [Estimate(x, 0.9 * x, 1.1 * x) for x in (0.2, 0.3, 0.7)]

    assert [LoadBand.of(x) for x in loads] == [LoadBand.LIGHT, LoadBand.MIDDLE, LoadBand.HEAVY]
    assert LoadBand.of(NotKnown("no slip")) is LoadBand.UNKNOWN
