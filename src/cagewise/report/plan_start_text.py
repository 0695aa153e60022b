"""The next start on the page of the plan: what to record, how often the motor may be started."""

from __future__ import annotations

from cagewise.decision.start_plan import StartPlan, StartRecordPlan
from cagewise.decision.starting_duty import Proviso, StartingDuty, Stated, Succession
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import measures, number_wording, numbers
from cagewise.report import plan_wording as words
from cagewise.report.facts import Fact
from cagewise.report.language import retell, say
from cagewise.report.page import Page


def write_start(page: Page, plan: StartPlan) -> None:
    """Write the section of the next start."""
    page.heading(say(words.START_TITLE))
    if isinstance(plan.record, NotKnown):
        page.paragraph(say(words.START_REFUSED, reason=retell(plan.record.reason)))
        if isinstance(plan.duty.succession, NotKnown):
            page.paragraph(say(words.DUTY_REFUSED, reason=retell(plan.duty.succession.reason)))
        return
    page.fact_table([*record_facts(plan.record, plan.duty), *duty_facts(plan.duty)])
    sentences = [say(words.NO_START), say(words.NO_START_ON_DOUBT)]
    if isinstance(plan.duty.rest_s, NotKnown):
        sentences.append(say(words.COOLING))
    for sentence in sentences:
        page.paragraph(sentence, first=f"{page.symbols.bullet} ")


def record_facts(record: StartRecordPlan, duty: StartingDuty) -> list[Fact]:
    """Return what to record, labelled."""
    label = words.START_FACTS
    rate = say(words.START_RATE, rate=f"{record.sampling_rate_hz:g}", bits=record.bits)
    peak = numbers.round_figure(record.current_range_peak_a)
    readable = say(words.READABLE[record.readable], least=f"{record.least_start_s:.2g}")
    return [
        (say(label["channels"]), say(words.START_CHANNELS)),
        (say(label["rate"]), rate),
        (say(label["range"]), say(words.START_RANGE, peak=peak)),
        (say(label["length"]), _length(record, duty)),
        (say(label["readable"]), readable),
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
                facts.append((say(label[name]), say(words.NOT_KNOWN, reason=retell(value.reason))))
            said.add(value.reason)
        else:
            facts.append((say(label[name]), _known(name, value, duty)))
    return facts


def _known(name: str, value: Succession | Stated | Estimate, duty: StartingDuty) -> str:
    """Return one known part of the duty in words."""
    if isinstance(value, Succession):
        return _succession(value)
    if isinstance(value, Estimate):
        margin = say(words.MARGIN, margin=_spread(value))
        return margin if value.low >= 1.0 else say(words.MARGIN_LOW, margin=margin)
    if name == "per_hour":
        return say(words.PER_HOUR, starts=f"{value.value:.2g}", source=retell(value.source))
    if name == "rest":
        return say(words.REST, seconds=f"{value.value:.0f}", source=retell(value.source))
    cold = duty.stall_cold_s
    if isinstance(cold, NotKnown):
        return say(words.STALL, seconds=f"{value.value:g}", source=retell(value.source))
    return say(
        words.STALL_COLD,
        seconds=f"{value.value:g}",
        cold=f"{cold.value:g}",
        source=retell(value.source),
    )


def _succession(found: Succession) -> str:
    """Return the starts in succession and what they stand on."""
    limit = found.load_inertia_limit_kg_m2
    inertia = "" if limit is None else measures.measure(limit, measures.Quantity.INERTIA, 2)
    starts = say(
        words.SUCCESSION, cold=found.from_ambient, hot=found.from_rated, source=retell(found.source)
    )
    provisos = [say(words.PROVISO[p], inertia=inertia) for p in Proviso if p in found.provided]
    return starts + say(words.PROVIDED, provisos="; ".join(provisos))


def _length(record: StartRecordPlan, duty: StartingDuty) -> str:
    """Return how long to record, and why."""
    whole, before = f"{record.record_s:.0f}", f"{record.pre_trigger_s:g}"
    if isinstance(duty.start_s, NotKnown):
        return say(
            words.START_LENGTH_UNKNOWN,
            record=whole,
            before=before,
            reason=retell(duty.start_s.reason),
        )
    return say(
        words.START_LENGTH,
        record=whole,
        before=before,
        start=_spread(duty.start_s),
        source=say(words.SOURCES[duty.start_source]),
        after=f"{record.after_s:g}",
    )


def _spread(estimate: Estimate) -> str:
    """Return the interval, or the value where there is none."""
    low, high = (numbers.significant(end, 2) for end in (estimate.low, estimate.high))
    return low if low == high else say(number_wording.RANGE, low=low, high=high)
