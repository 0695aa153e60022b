"""From readings to evidence: one record, or several records of one visit."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.evidence.beside_harmonics import confirmed_by_start
from cagewise.evidence.blind_spots import blind_spots
from cagewise.evidence.cage import weigh_for_cage
from cagewise.evidence.classes import conflicting, methods_with, pool, precedence, vote
from cagewise.evidence.competing import weigh_competing
from cagewise.evidence.findings import ClassVerdict, Evidence, Finding, Hypothesis, Support
from cagewise.evidence.fusion.posterior import Posterior, Stratum
from cagewise.evidence.limits import EvidenceLimits
from cagewise.evidence.probability import Calibration, TruthStudy, probability_of
from cagewise.indicators.reading import IndependenceClass, Reading

_TRUTH_STUDY = TruthStudy()
_NOT_STATED = Stratum()


def weigh(
    readings: Sequence[Reading],
    limits: EvidenceLimits,
    *,
    voltages_measured: bool,
    calibration: Calibration = _TRUTH_STUDY,
    stratum: Stratum = _NOT_STATED,
) -> Evidence:
    """Return what the readings of one record say.

    Parameters
    ----------
    readings
        Everything that was read, valid or not.
    voltages_measured
        Whether voltages were recorded with the currents.
    calibration
        Makes the posterior; the shipped study of motors of known truth when left out.
    stratum
        Channels and load of the record, for the rates that apply to it; what kind of source it is
        follows from the readings.
    """
    cage = weigh_for_cage(readings, limits, voltages_measured=voltages_measured)
    competing = weigh_competing(readings, cage, limits, voltages_measured=voltages_measured)
    return _evidence((*cage, *competing), vote(cage), calibration, stratum)


def combine(records: Sequence[Evidence], calibration: Calibration = _TRUTH_STUDY) -> Evidence:
    """Return what several records of one visit say together.

    Nothing is averaged. A class is spoken for by the record that tells most; where one record
    speaks for a defect and another against it, the class is in conflict and tells nothing.
    The findings are those of all records, in their order.
    """
    if len(records) == 1:
        return records[0]
    every = [finding for record in records for finding in record.findings]
    heard = [confirmed_by_start(record.findings, every) for record in records]
    findings = tuple(finding for of_record in heard for finding in of_record)
    votes_of_records = [_vote_on_cage(of_record) for of_record in heard]
    verdicts = [
        _vote_over_records(independence_class, votes_of_records)
        for independence_class in IndependenceClass
    ]
    posteriors = [record.posterior for record in records]
    stratum = Stratum.merged(p.stratum for p in posteriors if isinstance(p, Posterior))
    votes = tuple(v for v in verdicts if v is not None)
    return _evidence(findings, votes, calibration, stratum)


def _vote_on_cage(findings: Sequence[Finding]) -> tuple[ClassVerdict, ...]:
    """Return the votes of one record on the cage."""
    return vote([f for f in findings if f.hypothesis is Hypothesis.CAGE_DEFECT])


def _vote_over_records(
    independence_class: IndependenceClass, votes_of_records: Sequence[Sequence[ClassVerdict]]
) -> ClassVerdict | None:
    """Return the vote of one class over several records."""
    votes = [
        v for votes in votes_of_records for v in votes if v.independence_class is independence_class
    ]
    if not votes:
        return None
    supports = {v.support for v in votes}
    if {Support.FOR, Support.AGAINST} <= supports:
        return conflicting(independence_class, votes[0].lead)
    return min(votes, key=precedence)


def _evidence(
    findings: tuple[Finding, ...],
    classes: tuple[ClassVerdict, ...],
    calibration: Calibration,
    stratum: Stratum,
) -> Evidence:
    """Count, pool and name what is not excluded."""
    settled = {c.independence_class for c in classes if c.support is not Support.CANNOT_TELL}
    counted = [
        f
        for f in findings
        if f.hypothesis is Hypothesis.CAGE_DEFECT and f.independence_class in settled
    ]
    posterior = calibration.posterior(findings, stratum)
    return Evidence(
        findings=findings,
        classes=classes,
        methods_for=methods_with(Support.FOR, counted),
        methods_against=methods_with(Support.AGAINST, counted),
        pooled=pool(classes),
        probability=probability_of(posterior),
        blind_spots=blind_spots(findings, classes),
        posterior=posterior,
    )
