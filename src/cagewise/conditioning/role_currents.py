"""Prove currents among themselves, where no voltage tells their direction."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.conditioning.assignments import (
    Pairing,
    all_assignments,
    self_consistent,
    sequences,
)
from cagewise.conditioning.findings import FindingCode, QualityFinding, Severity
from cagewise.conditioning.role_fit import named_pairing
from cagewise.conditioning.role_survey import RolePhasors
from cagewise.conditioning.role_wording import options, role_error
from cagewise.measurement import CURRENT_ROLES, Recording

RESIDUAL_MENTIONED = 0.05
"""Residual over main sequence from which unequal clamps or earth current are mentioned."""


@dataclass(frozen=True, slots=True)
class CurrentProof:
    """What the currents alone say."""

    proven: bool
    statements: tuple[str, ...]
    findings: tuple[QualityFinding, ...]
    tested: int
    fitting: int


def prove_currents_alone(
    recording: Recording, found: RolePhasors, *, confirmed: bool
) -> CurrentProof:
    """Return what two or three currents, or one, prove about themselves.

    Without voltages the order of the phases and a reversal of all clamps together are mere
    naming; what remains to be proven is that no single clamp is reversed.

    Raises
    ------
    ChannelRoleError
        If the currents as named are no three-phase set.
    """
    named = named_pairing(recording, found)
    if len(named.current) == 1:
        return CurrentProof(True, ("One current needs no order and no direction.",), (), 1, 1)
    as_named = sequences(named.current, found.phasors)
    fits = {}
    tested = 0
    for assignment in all_assignments(found.currents, CURRENT_ROLES):
        tested += 1
        if self_consistent(sequences(assignment, found.phasors), current=True, line=False):
            pairing = Pairing((), assignment)
            fits[pairing.key()] = pairing
    others = [
        options(pairing.nearest(named, found.phasors), named, recording)
        for key, pairing in fits.items()
        if key != named.key()
    ]
    if self_consistent(as_named, current=True, line=False):
        statement = (
            f"The three currents add up to {100.0 * as_named.residual_part:.1f} % of a balanced "
            "set: no clamp is reversed."
            if len(named.current) == 3
            else "The two currents are two thirds of a three-phase set: no clamp is reversed."
        )
        return CurrentProof(
            not others, (statement,), _doubts(as_named.residual_part, others), tested, len(fits)
        )
    if as_named.unbalance <= 1.0 and not others:
        finding = QualityFinding(
            code=FindingCode.ROLE_UNCHECKED,
            severity=Severity.CAUTION,
            message="The currents are too unbalanced to check their roles.",
            remedy="They are used as named.",
        )
        if confirmed or as_named.residual_part <= RESIDUAL_MENTIONED:
            return CurrentProof(False, (), (finding,), tested, 0)
    what = "the currents as named do not make a three-phase set"
    raise role_error(what, others, recording)


def _doubts(residual_part: float, others: list[str]) -> tuple[QualityFinding, ...]:
    """Return the findings on an acceptable set."""
    findings = []
    if others:
        findings.append(
            QualityFinding(
                code=FindingCode.ROLE_AMBIGUOUS,
                severity=Severity.CAUTION,
                message="The currents are so unbalanced that another direction of a clamp would "
                f"fit as well: {'; or '.join(others)}.",
                remedy="Check the direction of the clamps.",
            )
        )
    if residual_part > RESIDUAL_MENTIONED:
        findings.append(residual_finding(residual_part))
    return tuple(findings)


def residual_finding(residual_part: float) -> QualityFinding:
    """Return the finding on currents that do not quite add up to zero."""
    return QualityFinding(
        code=FindingCode.RESIDUAL_CURRENT,
        severity=Severity.CAUTION,
        message=f"A third of the sum of the three currents is {100.0 * residual_part:.0f} % of "
        "their size: unequal clamps, or a current to earth.",
        value=residual_part,
        unit="per unit",
        remedy="Check that all clamps have the same ratio and are closed.",
    )
