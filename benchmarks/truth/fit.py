"""Fit the fusion to motors of known truth: ``python benchmarks/truth/fit.py RESULTS.jsonl``.

Half 0 of the parameter space gives the parameters by maximum likelihood (weak penalties hold those
that few cases speak on near their judged values); half 1 gives calibration and coverage. Writes
``src/cagewise/evidence/calibration.toml``; ``--dry`` only prints.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from scipy.optimize import minimize

from cagewise import __version__
from cagewise.evidence.fusion.fuse import LEAST_GUARD, fuse
from cagewise.evidence.fusion.heard import Heard, leading
from cagewise.evidence.fusion.parameters import (
    JUDGED,
    Calibrated,
    FamilyModel,
    FusionParameters,
    Provenance,
    document_of,
)
from cagewise.evidence.fusion.patterns import Family, Prior
from cagewise.evidence.fusion.posterior import Rate, Stratum, StratumRates
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, RealArray
from truth.scores import SURE, report, wrong_and_sure
from truth.stored import CALLED, CLEARED, OPEN, Case, cases

TARGET = Path(__file__).resolve().parents[2] / "src/cagewise/evidence/calibration.toml"
LEAST_READINGS = 8
"""Readings of a family in half 0 from which its own numbers are fitted."""
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

    def __init__(self, families: Sequence[Family]) -> None:
        self.families = tuple(families)
        self.start = FusionParameters()

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
    coordinates = Coordinates([f for f in Family if counts[f] >= LEAST_READINGS])
    prior = Prior()

    def misfit(vector: RealArray) -> float:
        parameters = coordinates.parameters(vector)
        told = sum(fuse(c.readings, prior, parameters).log_density(c.pattern) for c in chosen)
        return 0.5 * float(vector @ vector) - told

    found = minimize(
        misfit, np.zeros(coordinates.size), method="Powell", options={"xtol": 0.02, "ftol": 1e-5}
    )
    parameters = coordinates.parameters(found.x)
    families = dict(parameters.families)
    for family in coordinates.families:
        readings = [reading for reading in spoken if reading.family is family]
        families[family] = _with_typical(families[family], readings)
    return replace(parameters, families=families)


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
    """Return the rates of every stratum in which something was read."""
    found: dict[Stratum, list[Case]] = {}
    for case in chosen:
        if case.readings:
            found.setdefault(case.stratum, []).append(case)
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


def main(arguments: Sequence[str]) -> int:
    """Fit, report and write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("results", type=Path)
    parser.add_argument("--dry", action="store_true")
    options = parser.parse_args(arguments)
    chosen = list(cases(options.results))
    read = [c for c in chosen if c.readings and not c.part_of_visit]
    halves: Mapping[int, list[Case]] = {h: [c for c in read if c.half == h] for h in (0, 1)}
    parameters = fitted(halves[0])
    parameters = replace(parameters, guard=guard_of(parameters, read))
    calibrated = Calibrated(
        parameters=parameters,
        strata=strata(chosen),
        provenance=Provenance(
            date=datetime.now(tz=UTC).date().isoformat(),
            version=__version__,
            command=f"python benchmarks/truth/fit.py {options.results.name}",
            cases=sum(not c.part_of_visit for c in chosen),
            fitted_on=len(halves[0]),
        ),
    )
    sys.stdout.writelines(f"{line}\n" for line in report(calibrated, chosen))
    wrong, sure = wrong_and_sure(parameters, read)
    sys.stdout.write(f"guard {parameters.guard:.4f}: {wrong} of {sure} wrong beyond {SURE:.2f}\n")
    if not options.dry:
        TARGET.write_text(document_of(calibrated), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
