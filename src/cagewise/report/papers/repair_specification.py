"""The repair specification: what a shop receives with the motor."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cagewise.decision.cautions import TestKind, grouped_cautions
from cagewise.decision.expect import ExpectedPoint
from cagewise.decision.shop_checks import Check, Stage, Subject
from cagewise.decision.verdict import State
from cagewise.history.missing import MEASURED_AFTER, RepairKind
from cagewise.indicators.reading import Part
from cagewise.machine.cage.solution import LOWER
from cagewise.machine.motor import Cage, Winding
from cagewise.quantities import Estimate
from cagewise.report import numbers, sentences
from cagewise.report.language import current, retell, say
from cagewise.report.likelihood_text import percent
from cagewise.report.papers import repair_specification_wording as words
from cagewise.report.papers.paper import (
    Block,
    Box,
    Cards,
    Column,
    Facts,
    Heading,
    Items,
    Paper,
    PaperSize,
    Paragraph,
    Shape,
    Signatures,
    Table,
    Tone,
    Verdict,
)
from cagewise.report.papers.repair_facts import RepairFacts, RepairFinding
from cagewise.report.papers.repair_return_sheet import map_blocks, return_blocks
from cagewise.report.papers.shop_check_blocks import stage_blocks

SHAPE = {
    State.SOUND: Shape.HOLLOW,
    State.SUSPECT: Shape.HALF,
    State.DEFECTIVE: Shape.FILLED,
    State.NOT_DECIDABLE: Shape.CROSS,
}
KIND_OF: dict[Subject, RepairKind] = {
    Subject.CAGE: RepairKind.CAGE,
    Subject.WINDING: RepairKind.REWIND,
    Subject.INSULATION: RepairKind.REWIND,
    Subject.BEARINGS: RepairKind.BEARINGS,
}
"""Kind of repair that a subject leads to."""
_TESTS = {
    Check.RESISTANCE: TestKind.RESISTANCE,
    Check.INSULATION: TestKind.INSULATION,
    Check.DISSIPATION: TestKind.DISSIPATION,
    Check.TURNS: TestKind.TURN,
}


def repair_specification(facts: RepairFacts, size: PaperSize = PaperSize.A4) -> Paper:
    """Return the paper, in the language of the moment."""
    motor = facts.specification.motor
    return Paper(
        title=say(words.TITLE),
        subtitle=sentences.motor_title(motor),
        day=facts.day,
        blocks=tuple(_blocks(facts)),
        foot=say(words.FOOT, tag=motor.tag, day=facts.day, version=facts.program_version),
        language=current(),
        size=size,
        keywords=tuple(say(each) for each in words.KEYWORDS),
    )


def _blocks(facts: RepairFacts) -> Iterator[Block]:
    """Yield the paper, part by part."""
    specification = facts.specification
    yield _cards(facts)
    yield Box(title=say(words.FIRST_TITLE), items=tuple(map(say, words.FIRST)))
    yield _holds(facts)
    yield from _motor(facts)
    yield from _why(facts)
    yield from stage_blocks(specification, Stage.ARRIVAL)
    yield from stage_blocks(specification, Stage.OPENED)
    yield from map_blocks(specification.motor.cage.rotor_bars)
    yield from _repair(facts)
    yield from stage_blocks(specification, Stage.REPAIRED)
    yield from _site(facts)
    yield from _cautions(facts)
    yield Heading(text=say(words.STATUS_TITLE), level=2)
    yield Items(items=tuple(map(say, words.STATUS)))
    yield from return_blocks(specification)
    yield Signatures(roles=tuple(map(say, words.SIGNATURES)))


def subjects_of(facts: RepairFacts) -> tuple[Subject, ...]:
    """Return what the motor is sent for, in a fixed order."""
    return tuple(each for each in Subject if each in facts.specification.subjects)


def _cards(facts: RepairFacts) -> Cards:
    """Return who, why, what first, what back."""
    subjects = subjects_of(facts)
    back = words.BACK if Subject.CAGE in subjects else words.BACK_OTHER
    return Cards(
        cards=(
            (say(words.QUESTION_MOTOR), sentences.motor_title(facts.specification.motor)),
            (say(words.QUESTION_WHY), " ".join(say(words.SENT[each]) for each in subjects)),
            (say(words.QUESTION_DO), " ".join(say(words.DO[each]) for each in subjects)),
            (say(words.QUESTION_BACK), say(back)),
        )
    )


def _holds(facts: RepairFacts) -> Box:
    """Return the hold points."""
    burn_out = f"{facts.specification.burn_out_degc:.0f}"
    return Box(
        title=say(words.HOLD_TITLE),
        items=tuple(say(words.HOLD[hold], burn_out=burn_out) for hold in facts.specification.holds),
    )


def _motor(facts: RepairFacts) -> Iterator[Block]:
    """Yield what is known of the motor."""
    motor, label = facts.specification.motor, words.MOTOR_FACTS
    plate = motor.nameplate
    connection = "" if plate.connection is None else f", {say(words.VALUE[plate.connection])}"
    speed = say(
        words.SPEED,
        speed=f"{plate.rated_speed_rpm:g}",
        poles=plate.poles,
        frequency=f"{plate.rated_frequency_hz:g}",
    )
    bearings = ", ".join(each.designation for each in motor.bearings if each.designation)
    rows = [
        ("tag", motor.tag),
        ("description", motor.description or motor.drive_train.description),
        ("power", numbers.power(plate.rated_power_w)),
        ("voltage", f"{plate.rated_voltage_v:g} V{connection}"),
        ("current", f"{plate.rated_current_a:g} A"),
        ("speed", speed),
        ("starting", say(words.VALUE[plate.starting.value])),
        ("thermal_class", plate.thermal_class or say(words.NOT_STATED)),
        ("cage", _known(words.CAGE_FACTS, _of(motor.cage, words.CAGE_FACTS))),
        ("slots", _known(words.SLOT_FACTS, _of(motor.cage, words.SLOT_FACTS))),
        ("winding", _known(words.WINDING_FACTS, _of(motor.winding, words.WINDING_FACTS))),
        ("bearings", bearings or say(words.BEARINGS_UNKNOWN)),
        ("case", "" if facts.case is None else f"{facts.case}: {facts.title}"),
    ]
    yield Heading(text=say(words.MOTOR_TITLE))
    yield Facts(rows=tuple((say(label[name]), value) for name, value in rows if value))


def _known(parts: Mapping[str, str], values: Mapping[str, object]) -> str:
    """Return what is known of cage or winding, and that the rest is asked."""
    known = {name: value for name, value in values.items() if value is not None}
    said = [say(parts[name], value=_shown(value)) for name, value in known.items()]
    if len(known) < len(parts):
        said.append(say(words.REST_UNKNOWN if said else words.UNKNOWN))
    return "; ".join(said)


def _of(holder: Cage | Winding, parts: Mapping[str, str]) -> dict[str, object]:
    """Return what a part of the motor says of these names."""
    return {name: getattr(holder, name) for name in parts}


def _shown(value: object) -> str:
    """Return a word of a motor file, or a number."""
    return say(words.VALUE[value]) if isinstance(value, str) else str(value)


def _why(facts: RepairFacts) -> Iterator[Block]:
    """Yield why the motor is sent."""
    yield Heading(text=say(words.WHY_TITLE))
    yield Items(items=tuple(say(words.SENT[each]) for each in subjects_of(facts)))
    finding = facts.finding
    if finding is None:
        yield Paragraph(text=say(words.NOT_EXAMINED))
        return
    yield Paragraph(text=say(words.EXAMINED, day=finding.day))
    yield _verdict(say(words.PART_NAME[Part.CAGE.value]), finding.state, finding.statement)
    for part, state, statement in finding.parts:
        yield _verdict(say(words.PART_NAME.get(part, part)), state, statement)
    if Subject.CAGE in facts.specification.subjects:
        yield from _bars(finding)
    if finding.not_excluded and Subject.CAGE in facts.specification.subjects:
        yield Box(
            title=say(words.NOT_EXCLUDED),
            items=tuple(
                say(
                    words.REMARK,
                    what=numbers.sentence(retell(what)),
                    remedy=numbers.sentence(retell(remedy)),
                ).strip()
                for what, remedy in finding.not_excluded
            ),
        )


def _verdict(part: str, state: State, statement: str) -> Verdict:
    word = say(words.PART_STATE, part=part, state=say(words.STATE[state]))
    return Verdict(shape=SHAPE[state], word=word, sentence=retell(statement))


def _bars(finding: RepairFinding) -> Iterator[Block]:
    """Yield the damage in open bars, how sure it is, and that its place is not known."""
    damage, said = finding.damage_bars, []
    if damage is not None:
        said.append(
            say(
                words.BARS,
                bars=numbers.bars(damage.value),
                low=numbers.bars_down(damage.low),
                high=numbers.bars_up(damage.high),
            )
        )
    elif finding.bound_bars is not None:
        said.append(say(words.BARS_AT_MOST, bars=numbers.bars_up(finding.bound_bars)))
    if finding.probability is not None:
        said.append(say(words.PROBABILITY, percent=percent(finding.probability)))
    yield Paragraph(text=" ".join((*said, say(words.LOCATION))))


def _repair(facts: RepairFacts) -> Iterator[Block]:
    """Yield how the repair is to be made."""
    yield Heading(text=say(words.REPAIR_TITLE))
    items = (text for each in subjects_of(facts) for text in words.REPAIR[each])
    yield Items(items=tuple(map(say, items)))


def _site(facts: RepairFacts) -> Iterator[Block]:
    """Yield what is measured in the plant, and what a sound cage reads."""
    accepted = facts.acceptance
    yield Heading(text=say(words.SITE_TITLE))
    yield Paragraph(
        text=say(
            words.SITE,
            seconds=f"{accepted.baseline_record_s:.0f}",
            load=f"{100.0 * accepted.least_load_fraction:.0f}",
            days=f"{accepted.within_days:.0f}",
        )
    )
    kinds = dict.fromkeys(KIND_OF[each] for each in subjects_of(facts))
    classes = dict.fromkeys(one for kind in kinds for one in MEASURED_AFTER[kind])
    listed = "; ".join(say(words.SITE_CLASS[one]) for one in classes)
    yield Items(
        items=(
            say(words.SITE_ACCEPTED, bars=f"{accepted.bars_max:g}"),
            say(words.SITE_CLASSES, classes=listed),
        )
    )
    yield Table(
        columns=tuple(Column(head=say(head)) for head in words.SITE_HEADS),
        rows=tuple(_point(point) for point in accepted.points),
        caption=say(words.SITE_CAPTION),
    )
    if facts.specification.motor.cage.rotor_bars is None:
        yield Paragraph(text=say(words.SITE_NOTE), tone=Tone.NOTE)
    if accepted.vibration_mm_s is not None:
        rigid, flexible = (f"{each:g}" for each in accepted.vibration_mm_s)
        yield Paragraph(text=say(words.SITE_VIBRATION, rigid=rigid, flexible=flexible))


def _point(point: ExpectedPoint) -> tuple[str, ...]:
    """Return what is read at one load."""
    by_count = {damage.open_bars: damage for damage in point.damages}
    return (
        f"{100.0 * point.load_fraction:.0f} %",
        f"{numbers.significant(100.0 * by_count[0].slip.value, 2)} %",
        say(words.BELOW_LEVEL, high=f"{by_count[0].levels_dbc[LOWER].high:.0f}"),
        _level(by_count[1].levels_dbc[LOWER]),
        say(words.BARS_SHOWN, bars=numbers.bars_up(point.detection.direct_bars.high)),
    )


def _level(level: Estimate) -> str:
    value, low, high = (f"{each:.0f}" for each in (level.value, level.low, level.high))
    return say(words.LEVEL, value=value, low=low, high=high)


def _cautions(facts: RepairFacts) -> Iterator[Block]:
    """Yield what can hurt somebody."""
    asked = (step.check for step in facts.specification.steps)
    tests = dict.fromkeys(_TESTS[check] for check in asked if check in _TESTS)
    texts = (c.text for group in grouped_cautions(tests) for c in group.cautions)
    yield Heading(text=say(words.CAUTIONS_TITLE))
    every = dict.fromkeys((*words.SHOP_CAUTIONS, *texts))
    yield Box(title=say(words.CAUTIONS_BOX), items=tuple(map(say, every)), tone=Tone.DANGER)
