"""The checks of a repair shop as tables: what, how, good if, by which standard."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from cagewise.decision.repair_specification import (
    LimitKind,
    RepairSpecification,
    ShopLimit,
    limit_rule,
)
from cagewise.decision.shop_checks import RULES, Check, Rule, Stage, Standing, Step
from cagewise.decision.test_levels import SourceStatus, TestLevel
from cagewise.machine.winding_limits import THERMOSETTING, insulation_factor
from cagewise.quantities import NotKnown
from cagewise.report import numbers
from cagewise.report.language import retell, say
from cagewise.report.papers import repair_specification_wording as own
from cagewise.report.papers import shop_check_wording as words
from cagewise.report.papers.paper import Block, Column, Heading, Paragraph, Table, Tone

HALL_DEGC = (10.0, 20.0, 30.0, 40.0)
"""Temperatures of a hall for which the factor to 40 degC is printed."""
_PERCENT = frozenset(
    {
        LimitKind.UNBALANCE_FORM,
        LimitKind.UNBALANCE_RANDOM,
        LimitKind.AIR_GAP,
        LimitKind.CORE_RISE,
        LimitKind.NO_LOAD_VOLTAGE,
        LimitKind.NO_LOAD_CURRENT,
    }
)
_OHM = frozenset({LimitKind.INSULATION_MIN, LimitKind.POLARIZATION_CEILING})
_VOLTS = frozenset({LimitKind.INSULATION_VOLTAGE, LimitKind.SINGLE_PHASE_VOLTAGE})
_SPECIAL = frozenset(
    {
        LimitKind.SINGLE_PHASE_VARIATION,
        LimitKind.BALANCE,
        LimitKind.NO_LOAD_EXPECTED,
        LimitKind.DISSIPATION_NEW,
    }
)
_ORDINALS = ("first", "second", "third")
_STANDING = {
    SourceStatus.READ: Standing.CHECKED,
    SourceStatus.SECONDARY: Standing.SECONDARY,
    SourceStatus.MEMORY: Standing.MEMORY,
}


def stage_blocks(specification: RepairSpecification, stage: Stage) -> Iterator[Block]:
    """Yield the checks of one stage."""
    steps = [step for step in specification.steps if step.stage is stage]
    yield Heading(text=say(own.STAGE[stage]))
    yield Paragraph(text=say(own.STAGE_NOTE[stage]))
    shares = (0.45, 1.3, 3.2, 2.9, 1.9)
    yield Table(
        columns=tuple(
            Column(head=say(head), share=share)
            for head, share in zip(own.HEADS, shares, strict=True)
        ),
        rows=tuple(
            (
                say(own.NUMBER, part=own.PART[stage], number=number),
                step_name(step),
                say(words.METHOD[stage, step.check]),
                " ".join(_good(specification, step)),
                "; ".join(rule_text(rule) for rule in RULES[step.check]),
            )
            for number, step in enumerate(steps, start=1)
        ),
    )
    if stage is Stage.REPAIRED and specification.levels:
        yield from level_blocks(specification.levels)


def step_name(step: Step) -> str:
    """Return what is checked, marked where it settles the matter."""
    name = say(words.NAME[step.check])
    return say(words.SETTLES, name=name) if step.settles else name


def _good(specification: RepairSpecification, step: Step) -> Iterator[str]:
    """Yield what counts as good."""
    for rule, together in groupby(specification.limits[step.check], lambda x: limit_rule(x.kind)):
        said = " ".join(limit_text(limit) for limit in together)
        if rule is not None:
            said = say(words.LIMIT_WITH_RULE, limit=said, rule=rule_text(rule))
        yield said
    if step.check is Check.INSULATION and step.stage is Stage.ARRIVAL:
        yield _correction()
    if (step.stage, step.check) in words.GOOD:
        yield say(words.GOOD[step.stage, step.check])


def limit_text(limit: ShopLimit) -> str:
    """Return a limit in words with its numbers."""
    return say(words.LIMIT[limit.kind], **_places(limit))


def _places(limit: ShopLimit) -> dict[str, str]:
    """Return what fills the places of the words of a limit."""
    values, kind = limit.values, limit.kind
    if kind in _PERCENT:
        return {"percent": f"{100.0 * values[0]:g}"}
    if kind in _OHM:
        return {"value": numbers.plain(values[0], "ohm"), "form": say(limit.form)}
    if kind in _VOLTS:
        low, high = (f"{each:.0f}" for each in values)
        return {"volts": low if low == high else say(words.SPAN, low=low, high=high)}
    if kind in _SPECIAL:
        return _special(limit)
    places = {name: f"{value:g}" for name, value in zip(_ORDINALS, values, strict=False)}
    return {**places, "value": places["first"], "form": limit.form}


def _special(limit: ShopLimit) -> dict[str, str]:
    """Return the places of limits whose numbers are scaled or rounded each in its own way."""
    values, kind = limit.values, limit.kind
    if kind is LimitKind.SINGLE_PHASE_VARIATION:
        return {"low": f"{100.0 * values[0]:g}", "high": f"{100.0 * values[1]:g}"}
    if kind is LimitKind.BALANCE:
        return {"grade": f"{values[0]:g}", "per_kg": numbers.significant(values[1], 3)}
    if kind is LimitKind.NO_LOAD_EXPECTED:
        value, low, high = (numbers.significant(each, 2) for each in values)
        return {"value": value, "low": low, "high": high}
    first, second = (f"{1e3 * each:g}" for each in values)
    return {"first": first, "second": second}


def _correction() -> str:
    """Return the factors that bring a reading to 40 degC."""
    factors = [insulation_factor(at, THERMOSETTING) for at in HALL_DEGC]
    known = [f"{each:.2f}" for each in factors if not isinstance(each, NotKnown)]
    temperatures = " / ".join(f"{at:.0f}" for at in HALL_DEGC)
    return say(words.CORRECTED, factors=" / ".join(known), temperatures=temperatures)


def rule_text(rule: Rule) -> str:
    """Return a standard and how it was had."""
    standing = say(words.STANDING[rule.standing])
    if not rule.standard:
        return standing
    return say(words.RULE, standard=rule.standard, standing=standing)


def level_blocks(levels: tuple[TestLevel, ...]) -> Iterator[Block]:
    """Yield the test voltages."""
    yield Heading(text=say(own.VOLTAGES), level=2)
    yield Table(
        columns=tuple(Column(head=say(head)) for head in own.VOLTAGE_HEADS),
        rows=tuple(
            (
                _capital(say(level.title)),
                _volts(level),
                retell(level.form),
                rule_text(Rule(level.source, _STANDING[level.status])),
            )
            for level in levels
        ),
    )
    yield Paragraph(text=say(own.VOLTAGES_NOTE), tone=Tone.NOTE)


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _volts(level: TestLevel) -> str:
    """Return the voltage of a test."""
    low, high = f"{level.low_v:.0f}", f"{level.high_v:.0f}"
    if low == high:
        return say(own.VOLTS, low=low, kind=say(level.kind.value))
    return say(own.VOLTS_SPAN, low=low, high=high, kind=say(level.kind.value))
