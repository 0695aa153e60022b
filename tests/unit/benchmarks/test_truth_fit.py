"""The fit of the fusion: the same densities as the fusion's own, and no vain promises."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cagewise.evidence.fusion.fuse import fuse
from cagewise.evidence.fusion.heard import Heard
from cagewise.evidence.fusion.parameters import JUDGED, FusionParameters, Provenance
from cagewise.evidence.fusion.patterns import DamagePattern, Family, Prior
from cagewise.evidence.fusion.posterior import Channels, LoadBand, SourceKind, Stratum
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate
from truth import fit
from truth.batch import Batch
from truth.fit import Coordinates, calibrated_by, fitted, made_by, strata
from truth.packed import STORED, results
from truth.stored import Case, cases

STRATUM = Stratum(channels=Channels.VOLTAGES_AND_CURRENTS, load=LoadBand.HEAVY).with_sources(
    [SourceKind.RUNNING]
)
NAMES = {
    IndependenceClass.RUNNING_FUNDAMENTAL: "direct_component",
    IndependenceClass.RUNNING_HARMONIC: "harmonic_lines",
    IndependenceClass.START: "start_side_line_track",
    IndependenceClass.STANDSTILL_PATTERN: "position_pattern",
    IndependenceClass.STANDSTILL_MEAN: "mean_inductance",
}


def reading(of: IndependenceClass, value: float, spread: float = 0.3) -> Heard:
    bars = Estimate(value, value * math.exp(-1.96 * spread), value * math.exp(1.96 * spread))
    return Heard(name=NAMES[of], independence_class=of, bars=bars, limit_bars=0.2)


def case(pattern: DamagePattern, *readings: Heard, number: int = 1, weight: float = 1.0) -> Case:
    bars = {DamagePattern.SOUND: 0.02, DamagePattern.PARTIAL: 0.5, DamagePattern.ONE: 1.0}
    return Case(
        number=number,
        half=number % 2,
        scenario="",
        normal=True,
        pattern=pattern,
        open_bars=bars.get(pattern, 2.0),
        readings=readings,
        refused=(),
        stratum=STRATUM,
        state="sound" if pattern is DamagePattern.SOUND else "defective",
        part_of_visit=False,
        weight=weight,
    )


def mixed_cases() -> list[Case]:
    """Return cases of every pattern with every class, some with contradicting readings."""
    rng = np.random.default_rng(2)
    found = []
    for pattern in DamagePattern:
        for _ in range(3):
            chosen = [of for of in NAMES if rng.random() < 0.7]
            values = np.exp(rng.normal(0.0, 1.5, len(chosen)))
            spreads = rng.uniform(0.02, 0.8, len(chosen))
            readings = [reading(*each) for each in zip(chosen, values, spreads, strict=True)]
            found.append(case(pattern, *readings, weight=float(rng.uniform(0.3, 1.0))))
    apart = [reading(IndependenceClass.RUNNING_FUNDAMENTAL, x, 0.05) for x in (0.1, 2.0)]
    return [*found, case(DamagePattern.ONE, *apart)]


@pytest.mark.parametrize("seed", [None, 3])
def test_densities_over_arrays_are_those_of_the_fusion(seed: int | None) -> None:
    """1e-9 of the sum: both are the same double-precision sums in another order."""
    chosen, parameters = mixed_cases(), FusionParameters()
    if seed is not None:
        coordinates = Coordinates(tuple(Family), FusionParameters())
        vector = np.random.default_rng(seed).normal(0.0, 1.0, coordinates.size)
        parameters = coordinates.parameters(vector)
    one_by_one = sum(
        c.weight * fuse(c.readings, Prior(), parameters).log_density(c.pattern) for c in chosen
    )
    assert Batch(chosen).told(parameters) == pytest.approx(one_by_one, rel=1e-9)


def test_the_fit_finds_a_bias_and_a_width_that_the_readings_have() -> None:
    """Readings of one open bar that are 1.4 times too high and spread half as wide as they say:
    bias ln 1.4 = 0.34, inflation near a half; some twenty readings outweigh the judged values."""
    rng = np.random.default_rng(5)
    of = IndependenceClass.RUNNING_FUNDAMENTAL
    chosen = [
        case(DamagePattern.ONE, reading(of, float(1.4 * math.exp(rng.normal(0.0, 0.15)))))
        for _ in range(120)
    ]
    model = fitted(chosen).families[Family.DIRECT]
    assert model.bias == pytest.approx(math.log(1.4), abs=0.12)
    assert model.inflation < 0.9
    assert model.inflation < JUDGED[Family.DIRECT].inflation
    assert model.readings == 120


def test_a_record_read_with_fewer_channels_too_is_no_second_motor() -> None:
    rows = results([STORED])
    twice = {row["case"]["number"] for row in rows if row["case"]["channels"] != "V and I"}
    of = [c for c in cases(rows) if c.number in twice and c.readings and not c.part_of_visit]
    for number in {c.number for c in of}:
        assert sum(c.weight for c in of if c.number == number) == pytest.approx(1.0)


def test_rates_and_guard_are_of_unseen_scenes_of_the_other_half() -> None:
    of = IndependenceClass.RUNNING_FUNDAMENTAL
    good = reading(of, 1.0)
    fitted_on = [case(DamagePattern.ONE, good, number=n) for n in (2, 400)]
    seen = [replace(case(DamagePattern.SOUND, good, number=7), state="suspect")]
    reported = [case(DamagePattern.SOUND, reading(of, 0.02), number=n) for n in (225, 401)]
    calibrated = calibrated_by([*fitted_on, *seen, *reported], 224, Provenance(date="today"))

    rates = {r.stratum: r for r in calibrated.strata}
    assert set(rates) == {STRATUM, replace(STRATUM, load=LoadBand.ANY)}
    assert (rates[STRATUM].false_calls.events, rates[STRATUM].false_calls.cases) == (0, 2)
    made = calibrated.provenance
    assert (made.cases, made.fitted_on, made.reported_on) == (5, 2, 2)


def test_rates_at_any_load_are_those_of_all_loads_together() -> None:
    good = reading(IndependenceClass.RUNNING_FUNDAMENTAL, 1.0)
    chosen = [case(DamagePattern.ONE, good), case(DamagePattern.SOUND, good)]
    light = replace(STRATUM, load=LoadBand.LIGHT)
    unknown = replace(STRATUM, load=LoadBand.UNKNOWN)
    chosen += [replace(chosen[0], stratum=light), replace(chosen[1], stratum=unknown)]
    rates = {r.stratum: r for r in strata(chosen)}

    together = rates[replace(STRATUM, load=LoadBand.ANY)]
    assert (together.false_calls.cases, together.missed.cases) == (2, 2)
    assert len(rates) == 4


def test_what_no_commit_can_make_again_is_not_written() -> None:
    assert made_by([{"version": "0.1.0 b"}, {"version": "0.1.0 a"}]) == "0.1.0 a, 0.1.0 b"
    with pytest.raises(ValueError, match="not committed"):
        made_by([{"version": "0.1.0 b-dirty"}])


def test_a_dry_fit_writes_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(fit, "TARGET", tmp_path / "calibration.toml")
    monkeypatch.setattr(fit, "REFERENCE", tmp_path / "subset.toml")
    monkeypatch.setattr(fit, "fitted", lambda _: FusionParameters())
    assert fit.main(["--dry"]) == 0
    assert "half 1 (reported on)" in capsys.readouterr().out
    assert not list(tmp_path.iterdir())
