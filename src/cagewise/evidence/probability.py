"""The seam of the calibrated fusion: from findings to a posterior, and to the one number.

A probability of a defect needs the errors of each class, their correlation, and how often cages
are defective, from motors whose truth is known. The study of ``benchmarks/truth`` has simulated
ones; where it has none, or too few, no number is given (docs/theory/fusion.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from cagewise.evidence.findings import Finding
from cagewise.evidence.fusion.fuse import Fused, credible_bars, fuse, guarded, shape_share
from cagewise.evidence.fusion.heard import SOURCE_OF, heard_of
from cagewise.evidence.fusion.parameters import Calibrated, shipped
from cagewise.evidence.fusion.patterns import (
    DEFAULT_PREVALENCE,
    PREVALENCE_RANGE,
    DamagePattern,
    Prior,
)
from cagewise.evidence.fusion.posterior import LEAST_CASES, Posterior, Stratum, StratumRates
from cagewise.quantities import NotKnown

PREVALENCE_SPREAD = (
    PREVALENCE_RANGE[0] / DEFAULT_PREVALENCE,
    PREVALENCE_RANGE[1] / DEFAULT_PREVALENCE,
)
"""How far the prevalence is varied about a stated one: as far as surveys spread about ours."""

NO_MOTOR = "the study has no motor of this kind ({kind})"
FEW_MOTORS = (
    "the study has only {sound} sound and {damaged} damaged motors of this kind ({kind}) where "
    "{least} of each are needed"
)


class Calibration(Protocol):
    """Turns findings into a posterior; made from motors whose truth is known."""

    def posterior(self, findings: Sequence[Finding], stratum: Stratum) -> Posterior | NotKnown:
        """Return what all readings say together, or why nothing can be said."""
        ...


class NotCalibrated:
    """No calibration at all."""

    def posterior(self, findings: Sequence[Finding], stratum: Stratum) -> Posterior | NotKnown:
        """Return that nothing is known, whatever the findings."""
        del findings
        return NotKnown(NO_MOTOR.format(kind=stratum))


@dataclass(frozen=True, slots=True)
class TruthStudy:
    """The calibration by the study on motors of known truth."""

    prior: Prior = field(default_factory=Prior)
    calibrated: Calibrated = field(default_factory=shipped)

    def posterior(self, findings: Sequence[Finding], stratum: Stratum) -> Posterior | NotKnown:
        """Return what all readings say together.

        Parameters
        ----------
        findings
            Of one record or of all sources of a visit; those that are not valid carry no
            information.
        stratum
            Channels and load; the kinds of sources are taken from the findings.
        """
        readings = heard_of(findings)
        if not readings:
            return NotKnown("no reading of the cage is valid")
        fused = fuse(readings, self.prior, self.calibrated.parameters)
        kinds = [SOURCE_OF[reading.independence_class] for reading in readings]
        own = stratum.with_sources(kinds)
        made = _posterior(fused, self.prior, self.calibrated.rates_of(own), self.calibrated)
        return replace(made, stratum=own)


def probability_of(posterior: Posterior | NotKnown) -> float | NotKnown:
    """Return the probability of a defect, or why none is given."""
    if isinstance(posterior, NotKnown):
        return posterior
    if not posterior.calibrated:
        return NotKnown(posterior.not_calibrated_because)
    return posterior.probability_of_defect


def prevalence_range(prior: Prior) -> tuple[float, float]:
    """Return the least and the most common that defects may be before anything is measured."""
    low, high = (prior.prevalence * factor for factor in PREVALENCE_SPREAD)
    return low, high


def probability_interval(posterior: Posterior | NotKnown) -> tuple[float, float] | None:
    """Return the probability of a defect at both ends of how common defects may be.

    None where no probability is given.
    """
    if isinstance(posterior, NotKnown) or not posterior.calibrated:
        return None
    low, high = (posterior.at_prevalence(share) for share in prevalence_range(posterior.prior))
    return min(low, posterior.probability_of_defect), max(high, posterior.probability_of_defect)


def _posterior(
    fused: Fused, prior: Prior, rates: StratumRates, calibrated: Calibrated
) -> Posterior:
    """Return the posterior from the weights of the states, in the stratum of its rates."""
    states, sound = fused.states, fused.states.sound
    guard = calibrated.parameters.guard
    weights = guarded(fused.by_state, sound, prior, guard)
    by_pattern = np.bincount(states.pattern, weights=weights, minlength=len(DamagePattern))
    why_not = _why_not(rates)
    return Posterior(
        probabilities={p: float(x) for p, x in zip(DamagePattern, by_pattern, strict=True)},
        open_bars=credible_bars(weights, states),
        prior=prior,
        calibrated=not why_not,
        not_calibrated_because=why_not,
        stratum=rates.stratum,
        rates_stratum=rates.stratum,
        false_call_rate=rates.false_calls,
        missed_rate=rates.missed,
        undecided_rate=rates.undecided,
        guard=guard,
        guarded=bool(abs(float(weights[~sound].sum()) - fused.defect) > 1e-9),
        heard=tuple(reading.name for of_class in fused.heard for reading in of_class[:1]),
        shape_share=shape_share(fused),
    )


def _why_not(rates: StratumRates) -> str:
    """Return why a stratum does not count as calibrated, as a clause; empty when it does."""
    sound, damaged = rates.false_calls.cases, rates.missed.cases
    if sound + damaged == 0:
        return NO_MOTOR.format(kind=rates.stratum)
    if rates.enough:
        return ""
    return FEW_MOTORS.format(sound=sound, damaged=damaged, kind=rates.stratum, least=LEAST_CASES)
