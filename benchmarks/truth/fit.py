"""Fit the fusion to motors of known truth: ``python benchmarks/truth/fit.py``.

Takes the stored results, or files of ``run.py`` that are named. Half 0 of the parameter space gives
the parameters by maximum likelihood (weak penalties hold those that few cases speak on near their
judged values; cases of one scene share its weight). Rates of strata, guard, calibration and
coverage come from the scenes of half 1 that nobody saw while building: what was fitted or tuned on
a motor flatters it. Writes ``src/cagewise/evidence/calibration.toml``, and ``subset.toml`` for CI;
``--dry`` only prints.

The shares of rotors whose shape makes the lines, and of damage that mixes cracked and open bars,
stay our judgement: they are statements on the motors of plants. The fit is made with what the
design of the study gives it of either.
"""

from __future__ import annotations

import argparse
import math
import sys
import tomllib
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from scipy.optimize import minimize

from cagewise.evidence.fusion.fuse import LEAST_GUARD
from cagewise.evidence.fusion.heard import Heard, leading
from cagewise.evidence.fusion.parameters import (
    JUDGED,
    Calibrated,
    FamilyModel,
    FusionParameters,
    Provenance,
    calibrated_from,
    document_of,
)
from cagewise.evidence.fusion.patterns import Family
from cagewise.evidence.fusion.posterior import (
    LoadBand,
    Rate,
    SourceKind,
    Stratum,
    StratumRates,
)
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, RealArray
from truth.batch import Batch
from truth.packed import STORED, Row, results
from truth.scores import in_study, report, wrong_and_sure
from truth.stored import CALLED, CLEARED, FIRST_UNSEEN, OPEN, REPORTED, Case, cases
from truth.subset import REFERENCE, numbers, of_subset, reference_text

TARGET = Path(__file__).resolve().parents[2] / "src/cagewise/evidence/calibration.toml"
LEAST_READINGS = 8
"""Readings of a family in half 0 from which its own numbers are fitted."""
DESIGNED = ("shape_outlier", "mixed_share")
"""Statements on the motors of plants, which stay our judgement. The study has shares of its own:
fitted with those of plants, its ducts would count as faults of the direct component, and its whole
bars as a bias of the 5th and 7th."""
FARTHEST_SD = 8.0
"""Distance from the judged values at which the search ends, in units of their spread."""
PENALTY_SD = {"inflation": 0.5, "bias": 0.15, "outlier": 1.0}
"""Spread of the judged values: of the logarithm, the logarithm, the log-odds."""
SHARED_PENALTY_SD = {
    "natural_bars": 0.7,
    "shared_sd": 0.7,
    "floor_share": 0.7,
    "record_outlier": 1.0,
}


class Coordinates:
    """Parameters as one vector about their judged values, in units of their spread."""

    def __init__(self, families: Sequence[Family], start: FusionParameters) -> None:
        self.families = tuple(families)
        self.start = start

    @property
    def size(self) -> int:
        """Number of parameters."""
        return len(SHARED_PENALTY_SD) + len(PENALTY_SD) * len(self.families)

    def parameters(self, vector: RealArray) -> FusionParameters:
        """Return the parameters of a vector."""
        shared = {}
        for x, (name, sd) in zip(vector, SHARED_PENALTY_SD.items(), strict=False):
            judged = getattr(self.start, name)
            shared[name] = min(judged * math.exp(sd * float(x)), 1.0)
        families = dict(JUDGED)
        rest = vector[len(shared) :].reshape(len(self.families), len(PENALTY_SD))
        for family, row in zip(self.families, rest, strict=True):
            families[family] = _family(JUDGED[family], row)
        return replace(self.start, families=families, **shared)


def _family(judged: FamilyModel, row: RealArray) -> FamilyModel:
    """Return the model of a family from its part of the vector."""
    inflation, bias, outlier = (
        float(x) * sd for x, sd in zip(row, PENALTY_SD.values(), strict=True)
    )
    odds = judged.outlier / (1.0 - judged.outlier) * math.exp(outlier)
    return replace(
        judged,
        inflation=judged.inflation * math.exp(inflation),
        bias=judged.bias + bias,
        outlier=odds / (1.0 + odds),
    )


def fitted(chosen: Sequence[Case]) -> FusionParameters:
    """Return the parameters under which these cases are likeliest."""
    spoken = [reading for case in chosen for (reading, *_) in leading(case.readings)]
    counts = Counter(reading.family for reading in spoken)
    chosen_families = [f for f in Family if counts[f] >= LEAST_READINGS]
    as_designed = replace(in_study(FusionParameters()), mixed_share=0.0)
    coordinates = Coordinates(chosen_families, as_designed)
    batch = Batch(chosen)

    def misfit(vector: RealArray) -> float:
        return 0.5 * float(vector @ vector) - batch.told(coordinates.parameters(vector))

    found = minimize(
        misfit,
        np.zeros(coordinates.size),
        method="L-BFGS-B",
        bounds=[(-FARTHEST_SD, FARTHEST_SD)] * coordinates.size,
        options={"eps": 1e-3, "ftol": 1e-7, "maxfun": 100_000},
    )
    parameters = coordinates.parameters(found.x)
    families = dict(parameters.families)
    for family in coordinates.families:
        readings = [reading for reading in spoken if reading.family is family]
        families[family] = _with_typical(families[family], readings)
    judged = {name: getattr(FusionParameters(), name) for name in DESIGNED}
    return replace(parameters, families=families, **judged)


def _with_typical(model: FamilyModel, readings: Sequence[Heard]) -> FamilyModel:
    """Return the model with how wide its readings usually are."""
    widths = [
        math.log(r.bars.high / r.bars.low) / (2.0 * NORMAL_COVERAGE_FACTOR)
        for r in readings
        if r.bars.low > 0.0
    ]
    return replace(
        model,
        typical_sd=float(np.median(widths)) if widths else model.typical_sd,
        typical_limit_bars=float(np.median([r.limit_bars for r in readings])),
        readings=len(readings),
    )


def guard_of(parameters: FusionParameters, chosen: Sequence[Case]) -> float:
    """Return how near to certainty the study lets a probability come.

    The upper 95 % limit of how often a probability beyond :data:`~truth.scores.SURE` was on the
    wrong side; never below a thousandth.
    """
    wrong, sure = wrong_and_sure(parameters, chosen)
    return min(0.1, max(LEAST_GUARD, Rate(events=wrong, cases=sure).interval[1]))


def strata(chosen: Sequence[Case]) -> tuple[StratumRates, ...]:
    """Return the rates of every stratum in which something was read, and those of any load."""
    found: dict[Stratum, list[Case]] = {}
    for case in chosen:
        if case.readings:
            found.setdefault(case.stratum, []).append(case)
            if SourceKind.RUNNING in case.stratum.sources:
                found.setdefault(replace(case.stratum, load=LoadBand.ANY), []).append(case)
    return tuple(_rates(stratum, found[stratum]) for stratum in sorted(found, key=str))


def _rates(stratum: Stratum, of_stratum: Sequence[Case]) -> StratumRates:
    sound = [c for c in of_stratum if c.is_sound]
    damaged = [c for c in of_stratum if c.pattern in OPEN]
    undecided = [c.state not in {CLEARED, *CALLED} for c in of_stratum]
    return StratumRates(
        stratum=stratum,
        false_calls=Rate(events=sum(c.state in CALLED for c in sound), cases=len(sound)),
        missed=Rate(events=sum(c.state == CLEARED for c in damaged), cases=len(damaged)),
        undecided=Rate(events=sum(undecided), cases=len(undecided)),
    )


def made_by(rows: Sequence[Row]) -> str:
    """Return the versions that examined these rows.

    Raises
    ------
    ValueError
        If one of them was not committed: nobody could make its numbers again.
    """
    versions = sorted({row["version"] for row in rows})
    if loose := [version for version in versions if version.endswith("-dirty")]:
        message = f"examined by sources that were not committed: {', '.join(loose)}"
        raise ValueError(message)
    return ", ".join(versions)


def calibrated_by(chosen: Sequence[Case], first: int, provenance: Provenance) -> Calibrated:
    """Return the calibration by all cases; rates are those of scenes from the first on."""
    fitted_on = [c for c in chosen if c.half != REPORTED and c.readings and not c.part_of_visit]
    reported = [c for c in chosen if c.half == REPORTED and c.number >= first]
    parameters = fitted(fitted_on)
    read = [c for c in reported if c.readings and not c.part_of_visit]
    return Calibrated(
        parameters=replace(parameters, guard=guard_of(parameters, read)),
        strata=strata(reported),
        provenance=replace(
            provenance,
            cases=sum(not c.part_of_visit for c in chosen),
            fitted_on=len(fitted_on),
            reported_on=sum(not c.part_of_visit for c in reported),
        ),
    )


def write(calibrated: Calibrated, rows: Sequence[Row]) -> None:
    """Write the calibration, and what it makes of the subset that runs in CI."""
    text, made = document_of(calibrated), calibrated.provenance
    as_shipped = calibrated_from(tomllib.loads(text))  # with the digits of the file
    TARGET.write_text(text, encoding="utf-8")
    subset = numbers(of_subset(rows), as_shipped.parameters)
    REFERENCE.write_text(reference_text(subset, made.date, made.version), encoding="utf-8")


def main(arguments: Sequence[str]) -> int:
    """Fit, report and write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("results", nargs="*", type=Path, default=[STORED])
    parser.add_argument("--dry", action="store_true", help="print only")
    parser.add_argument("--from", dest="first", type=int, default=FIRST_UNSEEN)
    options = parser.parse_args(arguments)
    rows = results(options.results)
    chosen = cases(rows)
    provenance = Provenance(
        date=datetime.now(tz=UTC).date().isoformat(),
        version=made_by(rows) if not options.dry else "",
        command=" ".join(("python benchmarks/truth/fit.py", *_told(options.results))),
    )
    calibrated = calibrated_by(chosen, options.first, provenance)
    shown = [c for c in chosen if c.half != REPORTED or c.number >= options.first]
    sys.stdout.writelines(f"{line}\n" for line in report(calibrated, shown))
    if not options.dry:
        write(calibrated, rows)
    return 0


def _told(files: Sequence[Path]) -> list[str]:
    """Return the names of results other than the stored ones."""
    return [file.name for file in files if file != STORED]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
