"""Prove by physics that each channel is what it is said to be, or ask.

A name is a guess. What cannot be guessed is physics: three currents add up to zero, voltages and
currents turn the same way, an induction motor always absorbs reactive power, and by how much its
current lags follows from the nameplate. Every assignment of the currents is scored; a wrong one
is answered by an error that prints the option which would be right, never used
(docs/theory/channel-roles.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cagewise.conditioning.assignments import (
    MOST_RESIDUAL,
    Pairing,
    self_consistent,
    sequences,
)
from cagewise.conditioning.findings import FindingCode, QualityFinding, Severity
from cagewise.conditioning.lag_window import MOTOR_LAG_DEG, expected_lag_deg
from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.role_currents import (
    RESIDUAL_MENTIONED,
    prove_currents_alone,
    residual_finding,
)
from cagewise.conditioning.role_fit import Comparison, compare, named_pairing, voltage_assignment
from cagewise.conditioning.role_magnitudes import Magnitudes, judge_magnitudes
from cagewise.conditioning.role_proposal import ask_for_roles
from cagewise.conditioning.role_survey import RolePhasors, role_phasors
from cagewise.conditioning.role_wording import ORDER_NAMES, options, role_error, what_is_wrong
from cagewise.conditioning.steady import Stretch, find_steady_stretches
from cagewise.conditioning.survey import Survey, survey_recording
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Recording,
)

GENERATING_LAG_DEG = (MOTOR_LAG_DEG[0], 180.0)
"""What is accepted on confirmation: a machine driven by its load still absorbs reactive power."""
NO_LOAD_LAG_DEG = 88.0
"""A larger lag leaves no active power worth a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleProof:
    """What is known about the roles of a recording, and how."""

    recording: Recording
    """The recording, with the check in its provenance."""
    proven: bool
    """True when no other assignment of these channels fits; False when the names had to decide or
    nothing could be checked: then a finding says which, and what else would fit."""
    statements: tuple[str, ...]
    """What was found to be so, each with its numbers."""
    findings: tuple[QualityFinding, ...]
    sequence: int
    """+1 when the supply turns a-b-c as named, -1 for a-c-b, 0 when it cannot be told."""
    lag_deg: float | None
    """Lag of the current behind the phase voltage, None without voltages."""
    assignments_tested: int
    assignments_fitting: int
    """How many of them could be this motor; 1 in a proof."""


@dataclass(frozen=True, slots=True)
class _Case:
    """Everything a proof starts from."""

    recording: Recording
    survey: Survey
    found: RolePhasors
    nameplate: Nameplate
    limits: QualityLimits
    confirmed: bool


def prove_roles(
    recording: Recording,
    nameplate: Nameplate,
    limits: QualityLimits | None = None,
    *,
    confirmed: bool = False,
    survey: Survey | None = None,
    stretches: tuple[Stretch, ...] | None = None,
) -> RoleProof:
    """Check the roles of a recording against each other and against the nameplate.

    Parameters
    ----------
    recording
        Recording with roles as named or guessed.
    nameplate
        Rated values of the motor.
    limits
        Limits of opinion on magnitudes.
    confirmed
        The user was asked and insists: what is merely unlike the nameplate is then a finding
        instead of an error. What contradicts physics remains an error.
    survey, stretches
        Block values and steady stretches of the same recording, if they are at hand.

    Raises
    ------
    ChannelRoleError
        If the roles as named are wrong, or no role is named; the remedy prints the options.
    """
    limits = limits or QualityLimits()
    survey = survey or survey_recording(recording)
    if stretches is None:
        stretches = find_steady_stretches(recording, limits, survey=survey)
    found = role_phasors(survey, stretches[0] if stretches else None)
    if not survey.rows(CURRENT_ROLES):
        raise ask_for_roles(survey, found, nameplate)
    case = _Case(recording, survey, found, nameplate, limits, confirmed)
    if not found.currents or set(found.dead) & set(survey.rows(CURRENT_ROLES)):
        return _unchecked(case, "a current holds no fundamental")
    if not found.voltages:
        return _currents_only(case)
    return _with_voltages(case)


def _with_voltages(case: _Case) -> RoleProof:
    """Prove voltages and currents against each other."""
    found, phasors = case.found, case.found.phasors
    named = named_pairing(case.recording, found)
    voltage, current = sequences(named.voltage, phasors), sequences(named.current, phasors)
    mended = sequences(voltage_assignment(named, found), phasors)
    sizes = _magnitudes(case, abs(mended.main))
    _require_kind_of_voltage(case, sizes)
    expected = MOTOR_LAG_DEG
    if sizes.current_as_rated(case.limits):
        flux = sizes.flux if sizes.voltage_as_rated(case.limits) else 1.0
        expected = expected_lag_deg(sizes.current, flux, case.nameplate)
    comparison = compare(named, found, expected)
    findings = [*_side_findings(case), *_magnitude_findings(case, sizes)]
    if current.residual_part > RESIDUAL_MENTIONED and current.residual_part < MOST_RESIDUAL:
        findings.append(residual_finding(current.residual_part))
    unbalanced = current.residual_part < MOST_RESIDUAL and not self_consistent(
        current, current=True, line=False
    )
    if unbalanced and not comparison.possible:
        return _unchecked(case, "the currents are too unbalanced to tell their order", findings)
    findings += _verdict(case, named, comparison, expected)
    fitting = comparison.expected or comparison.possible
    order = voltage.order or current.order
    return RoleProof(
        recording=case.recording.with_step("roles checked by physics"),
        proven=len(fitting) == 1 and comparison.named.within(expected),
        statements=_statements(case, comparison, order, sizes),
        findings=(*findings, *_sequence_note(order)),
        sequence=order,
        lag_deg=comparison.named.lag_deg,
        assignments_tested=comparison.tested,
        assignments_fitting=len(fitting),
    )


def _verdict(
    case: _Case, named: Pairing, comparison: Comparison, expected: tuple[float, float]
) -> list[QualityFinding]:
    """Return the findings on an acceptable naming; raise on one that is not."""
    as_named = comparison.named
    fitting = comparison.expected or comparison.possible
    phasors = case.found.phasors
    others = [
        options(fit.pairing.nearest(named, phasors), named, case.recording)
        for fit in fitting
        if fit.pairing.key() != named.key()
    ]
    if as_named.within(expected):
        return [_ambiguous(others, case.nameplate)] if others else []
    accepted = GENERATING_LAG_DEG if case.confirmed else MOTOR_LAG_DEG
    if as_named.within(accepted) and (case.confirmed or not comparison.expected):
        return [_unusual(as_named.lag_deg, expected, others)]
    voltage, current = sequences(named.voltage, phasors), sequences(named.current, phasors)
    agree = (
        self_consistent(voltage, current=False, line=case.found.line),
        self_consistent(current, current=True, line=False),
    )
    what = what_is_wrong(voltage, current, as_named.lag_deg, agree)
    if as_named.consistent:
        what += f" where this motor should lag by {expected[0]:.0f} to {expected[1]:.0f}"
    raise role_error(what, others, case.recording)


def _require_kind_of_voltage(case: _Case, sizes: Magnitudes) -> None:
    """Raise when line and phase voltages were mistaken for each other."""
    line = case.found.line
    if (
        case.confirmed
        or sizes.voltage_as_rated(case.limits)
        or not sizes.other_kind(case.limits, line=line)
    ):
        return
    pool = PHASE_VOLTAGE_ROLES if line else LINE_VOLTAGE_ROLES
    places = [
        (row, pool[case.found.voltage_roles.index(case.recording.channels[row].role)])
        for row in case.found.voltages
    ]
    remedy = " ".join(
        f'--role "{case.recording.channels[row].name}={role.value}"' for row, role in places
    )
    kinds = ("line", "phase-to-neutral") if line else ("phase-to-neutral", "line")
    raise role_error(
        f"the {kinds[0]} voltages as named are {sizes.voltage_level:.2f} times the rated ones; "
        f"they have the size of {kinds[1]} voltages",
        [remedy],
        case.recording,
    )


def _currents_only(case: _Case) -> RoleProof:
    """Prove currents among themselves."""
    current = sequences(named_pairing(case.recording, case.found).current, case.found.phasors)
    alone = prove_currents_alone(case.recording, case.found, confirmed=case.confirmed)
    findings = [
        *_side_findings(case),
        *_magnitude_findings(case, _magnitudes(case, None)),
        *alone.findings,
        *_sequence_note(current.order),
    ]
    share = min(float(case.survey.line_share[row]) for row in case.found.currents)
    sine = f"{100.0 * share:.1f} % of the alternating power of every current is in the supply line."
    return RoleProof(
        recording=case.recording.with_step("roles checked by physics"),
        proven=alone.proven,
        statements=(sine, *alone.statements),
        findings=tuple(findings),
        sequence=current.order,
        lag_deg=None,
        assignments_tested=alone.tested,
        assignments_fitting=alone.fitting,
    )


def _unchecked(case: _Case, why: str, findings: list[QualityFinding] | None = None) -> RoleProof:
    """Return that nothing could be checked; the quality findings say what that means."""
    finding = QualityFinding(
        code=FindingCode.ROLE_UNCHECKED,
        severity=Severity.CAUTION,
        message=f"The channel roles could not be checked: {why}.",
        remedy="They are used as named.",
    )
    return RoleProof(
        recording=case.recording,
        proven=False,
        statements=(),
        findings=(*(findings if findings is not None else _side_findings(case)), finding),
        sequence=0,
        lag_deg=None,
        assignments_tested=0,
        assignments_fitting=0,
    )


def _magnitudes(case: _Case, voltage_peak_v: float | None) -> Magnitudes:
    """Return sizes relative to the nameplate; that of the current does not depend on its wiring."""
    plate = case.nameplate
    peaks_a = [abs(case.found.phasors[row]) for row in case.found.currents]
    current_peak_a = math.sqrt(sum(peak_a**2 for peak_a in peaks_a) / len(peaks_a))
    frequency_hz = case.survey.frequency_hz
    return Magnitudes(
        frequency=frequency_hz / plate.rated_frequency_hz
        if isinstance(frequency_hz, float)
        else 1.0,
        current=current_peak_a / math.sqrt(2.0) / plate.rated_current_a,
        voltage=None
        if voltage_peak_v is None
        else voltage_peak_v / plate.rated_phase_voltage_peak_v,
    )


def _magnitude_findings(case: _Case, sizes: Magnitudes) -> list[QualityFinding]:
    """Return the findings on magnitudes."""
    first = (case.found.currents[0], *case.found.voltages[:1])
    channels = [case.recording.channels[row] for row in first]
    examples = [f"{channel.name}={channel.role.value}" for channel in channels]
    return list(judge_magnitudes(sizes, case.nameplate, case.limits, (examples[0], examples[-1])))


def _side_findings(case: _Case) -> list[QualityFinding]:
    """Return findings on channels that are left aside."""
    if not case.found.stray:
        return []
    names = tuple(case.recording.channels[row].name for row in case.found.stray)
    return [
        QualityFinding(
            code=FindingCode.CHANNEL_UNUSED,
            severity=Severity.NOTE,
            channels=names,
            message=f"{', '.join(names)}: a sine at the supply frequency without a role, not used.",
            remedy='Say what it is with --role "NAME=ROLE", or "NAME=other".',
        )
    ]


def _sequence_note(order: int) -> list[QualityFinding]:
    """Return a note when the supply turns a-c-b."""
    if order >= 0:
        return []
    return [
        QualityFinding(
            code=FindingCode.NEGATIVE_SEQUENCE,
            severity=Severity.NOTE,
            message="The phases follow each other as a-c-b: the motor turns the other way, or the "
            "phases are named in that order. Nothing that is read depends on it.",
        )
    ]


def _ambiguous(others: list[str], nameplate: Nameplate) -> QualityFinding:
    """Return the finding that the names decided."""
    known = nameplate.power_factor is not None
    narrower = "" if known else " The rated power factor in the motor file may settle it."
    return QualityFinding(
        code=FindingCode.ROLE_AMBIGUOUS,
        severity=Severity.CAUTION,
        message="The roles as named fit, but they are not the only ones that do; the names "
        f"decided. What would fit as well: {'; or '.join(others)}.",
        value=float(len(others)),
        unit="other assignments",
        remedy="Check the clamps once: the direction of each, and that its phase is that of the "
        f"voltage.{narrower}",
    )


def _unusual(lag_deg: float, expected: tuple[float, float], others: list[str]) -> QualityFinding:
    """Return the finding that the lag is unlike this motor."""
    also = f" What would fit as well: {'; or '.join(others)}." if others else ""
    return QualityFinding(
        code=FindingCode.ROLE_UNUSUAL,
        severity=Severity.CAUTION,
        message=f"The current lags by {lag_deg:.0f} degrees; by its nameplate this motor should "
        f"lag by {expected[0]:.0f} to {expected[1]:.0f}.{also}",
        value=lag_deg,
        unit="deg",
        remedy="Check the clamps, and whether capacitors are connected behind them.",
    )


def _statements(
    case: _Case, comparison: Comparison, order: int, sizes: Magnitudes
) -> tuple[str, ...]:
    """Return what was found to be so."""
    voltage_kind = "line" if case.found.line else "phase-to-neutral"
    fitting = len(comparison.expected or comparison.possible)
    lag = comparison.named.lag_deg
    drawn = "active and reactive power" if 0.0 <= lag < NO_LOAD_LAG_DEG else "reactive power"
    if lag < 0.0:
        drawn = "active power"
    sizes_of_voltage = f"{sizes.voltage_level:.2f} of what belongs to the frequency"
    return (
        f"{len(case.found.voltages)} {voltage_kind} voltages, {sizes_of_voltage}.",
        f"{len(case.found.currents)} currents, {sizes.current:.2f} of the rated one.",
        f"Voltages and currents both turn {ORDER_NAMES[order]}.",
        f"The current lags its phase voltage by {lag:.1f} degrees: the machine draws {drawn}.",
        f"Of {comparison.tested} assignments of the currents, {fitting} could be this motor.",
    )
