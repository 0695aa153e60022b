"""What could make the lines at the pole-pass distance, ranked by the same evidence.

The fusion gives the cage its weight. What it leaves to a sound cage is divided among the other
causes by what speaks for each; a cause that nothing at hand can weigh is named and not ranked
(docs/theory/fusion.md, section 7).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from cagewise.evidence.cage import SEPARATING_READING
from cagewise.evidence.findings import Evidence, Finding, Ground, Hypothesis, Support
from cagewise.evidence.fusion.patterns import RANGES, DamagePattern
from cagewise.evidence.fusion.posterior import Posterior
from cagewise.evidence.limits import ExplanationLimits
from cagewise.indicators.reading import IndependenceClass
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.lines import CharacteristicLines, LineFamily, characteristic_lines
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate, NotKnown

LINE_WIDTH_HZ = 0.05
"""Lines nearer than this are one: three resolution cells of a record of 60 s."""
LEAST_DAMAGE_BARS = RANGES[DamagePattern.PARTIAL][0]
"""Where the patterns of damage begin, open bars by kernel K2."""
TOO_STRONG = frozenset(
    {
        Ground.DAMAGE_ESTABLISHED,
        Ground.EXPLAINED_BY_SPEED,
        Ground.SPEED_NOT_EXCLUDED,
        Ground.SHAPE_OF_ROTOR,
        Ground.SUPPLY_NOT_EXCLUDED,
    }
)
"""Grounds of readings that are larger than a sound cage makes, whatever made them."""
_JUDGED = ExplanationLimits()


class Cause(StrEnum):
    """What could make the lines."""

    CAGE = "cage"
    """The cage is damaged."""
    UNEVEN_CAGE = "uneven_cage"
    """The bars of a sound cage differ a little: casting, joints, slots."""
    WRONG_READING = "wrong_reading"
    """The reading is wrong for a reason that is not on this list: slip, sensor, motor model."""
    LOAD_OSCILLATION = "load_oscillation"
    """The load swings at the pole-pass frequency."""
    COUPLED_LINE = "coupled_line"
    """A line of the driven machine, belt or gear that the motor file names stands there."""
    ROTOR_SHAPE = "rotor_shape"
    """Axial ducts, spider arms, flats, as many as poles."""
    SUPPLY_MODULATION = "supply_modulation"
    CONVERTER_LOOP = "converter_loop"
    """The regulator of a converter moves lines between voltage and current."""
    ECCENTRICITY = "eccentricity"
    """Eccentricity or mechanical unbalance: lines once per turn."""


class ExplanationGround(StrEnum):
    """Why a cause has its weight."""

    READINGS = "readings"
    """The fusion of all readings."""
    NOT_READ = "not_read"
    """No reading of the cage can be weighed."""
    NOTHING_TO_EXPLAIN = "nothing_to_explain"
    """No line stands at the pole-pass distance that a sound cage would not make by itself."""
    TOO_STRONG = "too_strong"
    """The lines are stronger than a sound cage makes them."""
    FINDINGS_FOR = "findings_for"
    """The direct component, the power or the voltage speaks for it."""
    FINDINGS_AGAINST = "findings_against"
    """One of them speaks against it."""
    NOT_SEPARATED = "not_separated"
    """Nothing at hand speaks for or against it."""
    RATIO_NEAR = "ratio_near"
    """A shaft ratio of the motor file puts a line there."""
    RATIOS_ELSEWHERE = "ratios_elsewhere"
    """No shaft ratio of the motor file does."""
    RATIOS_NOT_GIVEN = "ratios_not_given"
    """The motor file names no shaft ratio."""
    PLACE_NOT_KNOWN = "place_not_known"
    """The slip is not known, so the place of the lines is not."""
    VOLTAGE_NOT_MEASURED = "voltage_not_measured"
    NO_CONVERTER = "no_converter"
    """The motor is not fed by a converter."""
    CONVERTER = "converter"
    """It is, and the readings do not tell the regulator from the cage."""
    ONCE_PER_TURN_ELSEWHERE = "once_per_turn_elsewhere"
    """Lines once per turn stand elsewhere."""
    ONCE_PER_TURN_NEAR = "once_per_turn_near"
    """At this slip they fall on the pole-pass lines."""


class SeparatingTest(StrEnum):
    """What would tell a cause from the cage."""

    SECOND_CLASS = "second_class"
    """A start record or a position test: other data, other errors."""
    STEADY_LOAD = "steady_load"
    """Record with voltages at a load that is held steady, or uncoupled."""
    CHANGE_LOAD = "change_load"
    """Record at another load: lines of the drive train follow the shaft, the cage follows slip."""
    TWO_LOADS_OR_START = "two_loads_or_start"
    """Two loads (bars follow the rotor current, shape follows the flux), or a start."""
    VOLTAGES = "voltages"
    """Two line voltages recorded with the currents."""
    MAINS_RUN = "mains_run"
    """Record on the mains, or with the voltages at fixed frequency without the speed loop."""
    VIBRATION = "vibration"
    """Vibration once per turn, and a record at another slip."""


_TESTS = {
    Cause.CAGE: SeparatingTest.SECOND_CLASS,
    Cause.UNEVEN_CAGE: SeparatingTest.SECOND_CLASS,
    Cause.WRONG_READING: SeparatingTest.SECOND_CLASS,
    Cause.LOAD_OSCILLATION: SeparatingTest.STEADY_LOAD,
    Cause.COUPLED_LINE: SeparatingTest.CHANGE_LOAD,
    Cause.ROTOR_SHAPE: SeparatingTest.TWO_LOADS_OR_START,
    Cause.SUPPLY_MODULATION: SeparatingTest.VOLTAGES,
    Cause.CONVERTER_LOOP: SeparatingTest.MAINS_RUN,
    Cause.ECCENTRICITY: SeparatingTest.VIBRATION,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One cause with its weight."""

    cause: Cause
    weight: float | NotKnown
    """Probability that this makes the lines, as far as it can be weighed; all known weights sum to
    1 where a line stands. Only that of the cage comes from the fusion; how the rest is shared out
    is judgement (:class:`ExplanationLimits`)."""
    ground: ExplanationGround
    test: SeparatingTest
    """What would separate it."""
    numbers: Mapping[str, float] = field(default_factory=dict)
    """Numbers for the sentence: ``distance_hz`` of the nearest line of the drive train."""
    line: str = ""
    """Name of that line in the motor file."""


def explain(
    evidence: Evidence,
    motor: Motor,
    point: OperatingPoint | NotKnown,
    limits: ExplanationLimits = _JUDGED,
) -> tuple[Explanation, ...]:
    """Return all causes, the likeliest first, then those that cannot be weighed, then the rest.

    Parameters
    ----------
    evidence
        Of one running record or of a visit.
    motor
        Gives the shaft ratios of the driven machine and how the motor is fed.
    point
        Operating point of the leading running record.
    limits
        How findings tilt the weights.
    """
    posterior = evidence.posterior
    if isinstance(posterior, NotKnown):
        found = [_made(cause, posterior, ExplanationGround.NOT_READ) for cause in Cause]
        return tuple(found)
    cage = _made(Cause.CAGE, posterior.probability_of_defect, ExplanationGround.READINGS)
    if not _needs_a_cause(evidence):
        nothing = ExplanationGround.NOTHING_TO_EXPLAIN
        return (cage, *(_made(cause, 0.0, nothing) for cause in Cause if cause is not Cause.CAGE))
    others = _others(evidence, motor, point, limits)
    return tuple(sorted((cage, *_divided(others, posterior)), key=_rank))


def _tilts(limits: ExplanationLimits) -> Mapping[Support, float]:
    """Return the relative weight of a cause by what the findings say of it."""
    return {
        Support.FOR: 1.0,
        Support.CANNOT_TELL: limits.weight_cannot_tell,
        Support.AGAINST: limits.weight_against,
    }


def _made(
    cause: Cause,
    weight: float | NotKnown,
    ground: ExplanationGround,
    *,
    line: str = "",
    numbers: Mapping[str, float] | None = None,
) -> Explanation:
    """Return an explanation with its test."""
    return Explanation(
        cause=cause,
        weight=weight,
        ground=ground,
        test=_TESTS[cause],
        numbers=numbers or {},
        line=line,
    )


def _rank(explanation: Explanation) -> tuple[int, float]:
    """Return the sort key: weighed, not weighable, ruled out."""
    if isinstance(explanation.weight, NotKnown):
        return 1, 0.0
    return (0, -explanation.weight) if explanation.weight > 0.0 else (2, 0.0)


def _needs_a_cause(evidence: Evidence) -> bool:
    """Return whether lines stand at the pole-pass distance that a sound cage would not make.

    Lines whose whole interval lies below the least damage may be those of any cage. Where none is
    in open bars, any line asks for a cause.
    """
    if any(f.support is Support.FOR for cause in _ASKED for f in evidence.about(cause)):
        return True
    lines = _standing(evidence)
    in_bars = [f.bars for f in lines if f.bars is not None]
    if in_bars:
        return any(bars.high >= LEAST_DAMAGE_BARS for bars in in_bars)
    return bool(lines)


_ASKED = (Hypothesis.LOAD_OSCILLATION, Hypothesis.SUPPLY_MODULATION)
"""Causes that have findings of their own."""


def _standing(evidence: Evidence) -> tuple[Finding, ...]:
    """Return the findings on lines beside the supply that stand out of the noise."""
    return tuple(
        f
        for f in evidence.about(Hypothesis.CAGE_DEFECT)
        if f.detected and f.independence_class is IndependenceClass.RUNNING_FUNDAMENTAL
    )


def _divided(others: list[Explanation], posterior: Posterior) -> list[Explanation]:
    """Divide what is left to a sound cage in the ratio of the tilts; the shape has its own part."""
    left = 1.0 - posterior.probability_of_defect
    shape = left * posterior.shape_share
    total = sum(o.weight for o in others if isinstance(o.weight, float))
    divided = [_made(Cause.ROTOR_SHAPE, shape, ExplanationGround.READINGS)]
    for other in others:
        weight = other.weight
        if isinstance(weight, float):
            weight = (left - shape) * weight / total
        divided.append(
            _made(other.cause, weight, other.ground, line=other.line, numbers=other.numbers)
        )
    return divided


def _others(
    evidence: Evidence,
    motor: Motor,
    point: OperatingPoint | NotKnown,
    limits: ExplanationLimits,
) -> list[Explanation]:
    """Return the causes beside damage and shape with their tilts as weights; one is never 0."""
    lines, tilts = _lines(motor, point), _tilts(limits)
    wrong = limits.weight_wrong_reading
    return [
        _made(Cause.WRONG_READING, wrong, ExplanationGround.NOT_SEPARATED),
        _uneven(evidence, tilts),
        *(_by_findings(cause, evidence.about(asked), tilts) for cause, asked in _CAUSES.items()),
        _coupled(motor, lines, tilts),
        _once_per_turn(motor, lines, tilts),
        _converter(motor),
    ]


_CAUSES = {
    Cause.LOAD_OSCILLATION: Hypothesis.LOAD_OSCILLATION,
    Cause.SUPPLY_MODULATION: Hypothesis.SUPPLY_MODULATION,
}


def _uneven(evidence: Evidence, tilts: Mapping[Support, float]) -> Explanation:
    """Ask whether the lines are weak enough for the unevenness of a sound cage."""
    if any(f.ground in TOO_STRONG for f in _standing(evidence)):
        weight = tilts[Support.AGAINST]
        return _made(Cause.UNEVEN_CAGE, weight, ExplanationGround.TOO_STRONG)
    weight = tilts[Support.CANNOT_TELL]
    return _made(Cause.UNEVEN_CAGE, weight, ExplanationGround.NOT_SEPARATED)


def _by_findings(
    cause: Cause, findings: tuple[Finding, ...], tilts: Mapping[Support, float]
) -> Explanation:
    """Weigh a cause by what the findings say of it; the direct component before the power."""
    if any(f.ground is Ground.VOLTAGE_NOT_MEASURED for f in findings):
        reason = NotKnown("no voltage was measured")
        return _made(cause, reason, ExplanationGround.VOLTAGE_NOT_MEASURED)
    told = [f for f in findings if f.support is not Support.CANNOT_TELL]
    told.sort(key=lambda f: f.reading != SEPARATING_READING)
    support = told[0].support if told else Support.CANNOT_TELL
    ground = {
        Support.FOR: ExplanationGround.FINDINGS_FOR,
        Support.AGAINST: ExplanationGround.FINDINGS_AGAINST,
        Support.CANNOT_TELL: ExplanationGround.NOT_SEPARATED,
    }[support]
    return _made(cause, tilts[support], ground)


def _lines(motor: Motor, point: OperatingPoint | NotKnown) -> CharacteristicLines | None:
    """Return where the lines of the motor stand, None where the slip is not known."""
    if isinstance(point, NotKnown) or not isinstance(point.slip, Estimate):
        return None
    return characteristic_lines(motor, point.supply_frequency_hz.value, point.slip.value)


def _coupled(
    motor: Motor, lines: CharacteristicLines | None, tilts: Mapping[Support, float]
) -> Explanation:
    """Ask whether a line of the driven machine falls on the pole-pass lines."""
    cause = Cause.COUPLED_LINE
    if not motor.drive_train.shaft_ratios:
        unknown = NotKnown("the motor file names no shaft ratios of the driven machine")
        return _made(cause, unknown, ExplanationGround.RATIOS_NOT_GIVEN)
    if lines is None:
        return _made(cause, NotKnown("the slip is not known"), ExplanationGround.PLACE_NOT_KNOWN)
    return _by_place(
        cause,
        _nearest(lines, LineFamily.DRIVE_TRAIN),
        near=(ExplanationGround.RATIO_NEAR, tilts[Support.FOR]),
        elsewhere=ExplanationGround.RATIOS_ELSEWHERE,
    )


def _once_per_turn(
    motor: Motor, lines: CharacteristicLines | None, tilts: Mapping[Support, float]
) -> Explanation:
    """Ask whether lines of whole turns fall on the pole-pass lines.

    What comes as often per turn as the motor has poles is the shape of the rotor and is asked
    there: its lines are those of the cage at every slip.
    """
    cause = Cause.ECCENTRICITY
    if lines is None:
        return _made(cause, NotKnown("the slip is not known"), ExplanationGround.PLACE_NOT_KNOWN)
    return _by_place(
        cause,
        _nearest(lines, LineFamily.ECCENTRICITY, but=2.0 * motor.nameplate.pole_pairs),
        near=(ExplanationGround.ONCE_PER_TURN_NEAR, tilts[Support.CANNOT_TELL]),
        elsewhere=ExplanationGround.ONCE_PER_TURN_ELSEWHERE,
    )


def _by_place(
    cause: Cause,
    nearest: tuple[str, float],
    *,
    near: tuple[ExplanationGround, float],
    elsewhere: ExplanationGround,
) -> Explanation:
    """Return a cause by its nearest line: of the ground and weight of ``near``, or ruled out."""
    name, distance_hz = nearest
    ground, weight = near if distance_hz <= LINE_WIDTH_HZ else (elsewhere, 0.0)
    return _made(cause, weight, ground, line=name, numbers={"distance_hz": distance_hz})


def _nearest(lines: CharacteristicLines, family: LineFamily, but: float = 0.0) -> tuple[str, float]:
    """Return the line of a family that is nearest to a side line of the supply, and how near.

    Lines ``but`` shaft frequencies from the supply are left out.
    """
    sides = [lines.find(f"{side}_side_line").frequency_hz for side in ("lower", "upper")]
    distances = {
        line.rule.name: min(abs(abs(line.frequency_hz) - side) for side in sides)
        for line in lines.family(family)
        if abs(line.rule.shaft_multiple) != but
    }
    name = min(distances, key=lambda key: distances[key])
    return name, distances[name]


def _converter(motor: Motor) -> Explanation:
    """Ask whether a converter feeds the motor."""
    cause = Cause.CONVERTER_LOOP
    if motor.nameplate.starting is Starting.CONVERTER:
        unknown = NotKnown("the regulator moves lines between voltage and current")
        return _made(cause, unknown, ExplanationGround.CONVERTER)
    return _made(cause, 0.0, ExplanationGround.NO_CONVERTER)
