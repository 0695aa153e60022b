"""The next start on the page of the plan: what to record, how often the motor may be started."""

from __future__ import annotations

from cagewise.decision.start_plan import StartPlan, StartRecordPlan
from cagewise.decision.starting_duty import Proviso, StartingDuty, Stated, Succession
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import numbers
from cagewise.report import plan_wording as words
from cagewise.report.facts import Fact
from cagewise.report.page import Page


def write_start(page: Page, plan: StartPlan) -> None:
    """Write the section of the next start."""
    page.heading(words.START_TITLE)
    if isinstance(plan.record, NotKnown):
        page.paragraph(words.START_REFUSED.format(reason=plan.record.reason))
        if isinstance(plan.duty.succession, NotKnown):
            page.paragraph(words.DUTY_REFUSED.format(reason=plan.duty.succession.reason))
        return
    page.fact_table([*record_facts(plan.record, plan.duty), *duty_facts(plan.duty)])
    sentences = [words.NO_START, words.NO_START_ON_DOUBT]
    if isinstance(plan.duty.rest_s, NotKnown):
        sentences.append(words.COOLING)
    for sentence in sentences:
        page.paragraph(sentence, first=f"{page.symbols.bullet} ")


def record_facts(record: StartRecordPlan, duty: StartingDuty) -> list[Fact]:
    """Return what to record, labelled."""
    label = words.START_FACTS
    rate = words.START_RATE.format(rate=f"{record.sampling_rate_hz:g}", bits=record.bits)
    peak = numbers.round_figure(record.current_range_peak_a)
    readable = words.READABLE[record.readable].format(least=f"{record.least_start_s:.2g}")
    return [
        (label["channels"], words.START_CHANNELS),
        (label["rate"], rate),
        (label["range"], words.START_RANGE.format(peak=peak)),
        (label["length"], _length(record, duty)),
        (label["readable"], readable),
    ]


def duty_facts(duty: StartingDuty) -> list[Fact]:
    """Return how often the motor may be started, labelled.

    One reason for many is said once; a margin that is not known goes with what it is made of.
    """
    label = words.START_FACTS
    facts: list[Fact] = []
    said: set[str] = set()
    for name, value in (
        ("succession", duty.succession),
        ("per_hour", duty.starts_per_hour),
        ("rest", duty.rest_s),
        ("stall", duty.stall_hot_s),
        ("margin", duty.stall_margin),
    ):
        if isinstance(value, NotKnown):
            if value.reason not in said and name != "margin":
                facts.append((label[name], words.NOT_KNOWN.format(reason=value.reason)))
            said.add(value.reason)
        else:
            facts.append((label[name], _known(name, value, duty)))
    return facts


def _known(name: str, value: Succession | Stated | Estimate, duty: StartingDuty) -> str:
    """Return one known part of the duty in words."""
    if isinstance(value, Succession):
        return _succession(value)
    if isinstance(value, Estimate):
        margin = words.MARGIN.format(margin=_spread(value))
        return margin if value.low >= 1.0 else words.MARGIN_LOW.format(margin=margin)
    if name == "per_hour":
        return words.PER_HOUR.format(starts=f"{value.value:.2g}", source=value.source)
    if name == "rest":
        return words.REST.format(seconds=f"{value.value:.0f}", source=value.source)
    cold = duty.stall_cold_s
    if isinstance(cold, NotKnown):
        return words.STALL.format(seconds=f"{value.value:g}", source=value.source)
    return words.STALL_COLD.format(
        seconds=f"{value.value:g}", cold=f"{cold.value:g}", source=value.source
    )


def _succession(found: Succession) -> str:
    """Return the starts in succession and what they stand on."""
    limit = found.load_inertia_limit_kg_m2
    inertia = "" if limit is None else numbers.significant(limit, 2)
    starts = words.SUCCESSION.format(
        cold=found.from_ambient, hot=found.from_rated, source=found.source
    )
    provisos = [words.PROVISO[p].format(inertia=inertia) for p in Proviso if p in found.provided]
    return starts + words.PROVIDED.format(provisos="; ".join(provisos))


def _length(record: StartRecordPlan, duty: StartingDuty) -> str:
    """Return how long to record, and why."""
    whole, before = f"{record.record_s:.0f}", f"{record.pre_trigger_s:g}"
    if isinstance(duty.start_s, NotKnown):
        return words.START_LENGTH_UNKNOWN.format(
            record=whole, before=before, reason=duty.start_s.reason
        )
    return words.START_LENGTH.format(
        record=whole,
        before=before,
        start=_spread(duty.start_s),
        source=words.SOURCES[duty.start_source],
        after=f"{record.after_s:g}",
    )


def _spread(estimate: Estimate) -> str:
    """Return the interval, or the value where there is none."""
    low, high = (numbers.significant(end, 2) for end in (estimate.low, estimate.high))
    return low if low == high else f"{low} to {high}"
