"""An examination in sentences: the catalogue's templates filled with this examination's numbers."""

from __future__ import annotations

from datetime import date

from cagewise.conditioning.findings import EVERYTHING, FindingCode
from cagewise.decision.agreement import difference
from cagewise.decision.examination import Examination, RecordExamination
from cagewise.decision.recommendation import ActBy, NextMeasurement, NextStep
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.evidence.findings import Evidence, Finding, Ground, Hypothesis, Support
from cagewise.indicators.reading import Method, Part, Reading
from cagewise.machine.motor import Motor
from cagewise.quantities import NotKnown
from cagewise.report import measures, numbers, wording
from cagewise.report.language import retell, say


def title(examination: Examination) -> str:
    """Return the motor in one line."""
    return motor_title(examination.motor)


def motor_title(motor: Motor) -> str:
    """Return a motor in one line: tag, description, power, voltage, poles."""
    plate = motor.nameplate
    facts = [
        motor.tag,
        motor.description,
        measures.shaft_power(plate.rated_power_w),
        numbers.plain_digits(plate.rated_voltage_v, "V"),
        say(wording.POLES, poles=plate.poles),
    ]
    return " · ".join(fact for fact in facts if fact)


def state(verdict: Verdict) -> str:
    """Return part and state, as in "Rotor cage: suspect"."""
    said = say(wording.STATE[verdict.state])
    if verdict.open_bars_only:
        said = say(wording.OPEN_BARS_ONLY, state=said)
    return say(wording.PART_AND_STATE, part=say(wording.PART), state=said)


def verdict(examination: Examination) -> str:
    """Return the one-sentence verdict."""
    return verdict_of(examination.verdict, _why_nothing(examination), measured(examination))


def reason_in_verdict(examination: Examination) -> str:
    """Return the reason why nothing was read, if the verdict says it; else nothing."""
    undecided = examination.verdict.state is State.NOT_DECIDABLE
    return _why_nothing(examination) if undecided else ""


def explanation(examination: Examination) -> str:
    """Return what makes the lines, where they stand and it is not the cage; else nothing.

    Nothing, too, where a crack is more probable than none: then it is not said to be another cause.
    """
    verdict, evidence = examination.verdict, examination.evidence
    if verdict.state is not State.SOUND or difference(verdict, evidence) is not None:
        return ""
    causes = {f.hypothesis for f in examination.evidence.findings if f.support is Support.FOR}
    if Hypothesis.SUPPLY_MODULATION in causes:
        return say(wording.EXPLAINED_BY_SUPPLY)
    return say(wording.EXPLAINED_BY_LOAD) if Hypothesis.LOAD_OSCILLATION in causes else ""


def grounds(examination: Examination) -> list[str]:
    """Return the sentences below the verdict: what explains it, what lacked, how many agree."""
    said = (explanation(examination), shortfall(examination), counts(examination))
    return [sentence for sentence in said if sentence]


def shortfall(examination: Examination) -> str:
    """Return what the leading recording lacked, where nothing could be decided; else nothing."""
    if examination.verdict.state is not State.NOT_DECIDABLE:
        return ""
    lead = examination.leading
    if lead is None:
        return ""
    stopping = [f for f in lead.quality if f.blocks >= EVERYTHING]
    if stopping and stopping[0].code is not FindingCode.TOO_SHORT:
        return retell(stopping[0].remedy)  # a longer or faster record would not help
    needs = [need for step in examination.recommendation.next_steps if (need := _need(step, lead))]
    return say(wording.SHORTFALL, needs="; ".join(needs)) if needs else ""


def _need(step: NextStep, lead: RecordExamination) -> str:
    """Return what the next recording should have, beside what this one had."""
    if step.kind is NextMeasurement.HIGHER_LOAD:
        point = lead.operating_point
        wanted = f"{100.0 * step.numbers['load_fraction']:.0f}"
        if isinstance(point, NotKnown) or isinstance(point.load_fraction, NotKnown):
            return say(wording.SHORTFALL_LOAD_UNKNOWN, wanted=wanted)
        was = f"{100.0 * max(point.load_fraction.value, 0.0):.0f}"
        return say(wording.SHORTFALL_LOAD, wanted=wanted, was=was)
    if step.kind is NextMeasurement.LONGER_RECORD:
        first_s, last_s = lead.stretch_s or (0.0, lead.duration_s)
        return say(
            wording.SHORTFALL_LENGTH,
            wanted=f"{step.numbers['seconds_s']:.0f}",
            was=numbers.significant(last_s - first_s),
        )
    if step.kind is NextMeasurement.HIGHER_RATE:
        return say(
            wording.SHORTFALL_RATE,
            wanted=f"{step.numbers['rate_hz']:g}",
            was=f"{lead.sampling_rate_hz:g}",
        )
    return say(wording.SHORTFALL_OTHER.get(step.kind, ""))


def verdict_of(judged: Verdict, stopped: str, measured: str = "") -> str:
    """Return the sentence of any verdict, of a visit or of one recording.

    Parameters
    ----------
    judged
        The verdict.
    stopped
        Why nothing was read; empty when something was.
    measured
        What was examined, in words; empty for one recording.
    """
    damage = ""
    if judged.damage_bars is not None:
        bars = judged.damage_bars
        damage = say(
            wording.DAMAGE,
            value=numbers.bars(bars.value),
            low=numbers.bars_down(bars.low),
            high=numbers.bars_up(bars.high),
        )
    bound = "" if judged.bound_bars is None else numbers.bars_up(judged.bound_bars)
    hidden = say(wording.HIDDEN_BARS, bound=bound) if bound else say(wording.HIDDEN_ANY)
    return say(
        wording.VERDICT[judged.ground],
        bound=bound,
        damage=damage,
        hidden=hidden,
        stopped=retell(stopped) or say(wording.NOTHING_VALID),
        records=measured or say(wording.RECORDS_ONE),
    )


_UNCOUNTED = {
    StateGround.RECORDS_CONFLICT,
    StateGround.SHAPE_EXPLAINS,
    StateGround.SUPPLY_NOT_EXCLUDED,
}
"""Methods were used, but what they say is explained otherwise or contradicted."""


def counts(examination: Examination) -> str:
    """Return how many methods and classes agree; nothing where the verdict says it all."""
    evidence = examination.evidence
    if examination.verdict.ground in _UNCOUNTED:
        return ""
    asked = len(evidence.classes_for) + len(evidence.classes_against)
    if examination.verdict.classes_agreeing:
        return say(
            wording.COUNT_FOR,
            methods=examination.verdict.methods_agreeing,
            classes=examination.verdict.classes_agreeing,
            asked=asked,
        )
    return say(wording.COUNT_NONE) if asked else say(wording.COUNT_UNUSABLE)


def not_measured(examination: Examination) -> str:
    """Return the methods of the six for which nothing was measured; empty when all were."""
    missing = [retell(method.value) for method in methods_missing(examination)]
    return say(wording.NOT_MEASURED, methods="; ".join(missing)) if missing else ""


def methods_missing(examination: Examination) -> list[Method]:
    """Return the methods of the six for which nothing was measured."""
    tried = {finding.method for finding in examination.evidence.findings}
    return [method for method in Method if method not in tried]


def act_by(when: ActBy) -> str:
    """Return the window in words."""
    spans = 0.0 < when.earliest_days < when.latest_days
    if when.earliest is not None and when.latest is not None:
        template = wording.BY_DATES if spans else wording.BY_DATE
        return say(template, earliest=_day(when.earliest), latest=_day(when.latest))
    template = wording.BY_DAYS if spans else wording.BY_DAYS_AT_MOST
    return say(template, earliest=f"{when.earliest_days:g}", latest=f"{when.latest_days:g}")


def ground(finding: Finding) -> str:
    """Return why a finding is what it is."""
    written = {key: _ground_number(key, value) for key, value in finding.numbers.items()}
    if finding.ground is Ground.NOT_READ:
        note = retell(finding.note) or say(wording.NOTHING_VALID)
        return say(wording.GROUND[finding.ground], note=note)
    return say(wording.GROUND[finding.ground], **written)


def competing_reasons(examination: Examination, cause: Hypothesis) -> str:
    """Return what the findings say of a cause other than the cage, in their order."""
    findings = [f for f in examination.shown_findings if f.hypothesis is cause]
    return "; ".join(dict.fromkeys(ground(finding) for finding in findings))


def not_excluded(evidence: Evidence) -> list[tuple[str, str]]:
    """Return what is not excluded and what would exclude it."""
    worded = (wording.BLIND_SPOT[spot] for spot in evidence.blind_spots)
    return [(say(what), say(test)) for what, test in worded]


def next_steps(steps: tuple[NextStep, ...]) -> list[tuple[str, str]]:
    """Return what to measure next and why, most telling first."""
    return [(_next(step, 0), _next(step, 1)) for step in steps]


def record_line(record: RecordExamination) -> str:
    """Return one recording of a visit in one line."""
    return say(
        wording.RECORD_LINE,
        source=record.provenance.source,
        state=say(wording.STATE[record.verdict.state]),
        verdict=verdict_of(record.verdict, _why_unread(record)),
    )


def _why_nothing(examination: Examination) -> str:
    """Return why a visit gave nothing: of the record, or else of the start or the tests."""
    if examination.leading is not None:
        return _why_unread(examination.leading)
    return next((why for source in examination.shown if (why := _why(source.readings))), "")


def _why_unread(record: RecordExamination) -> str:
    """Return why a recording gave nothing: where the chain stopped, or what its readings say."""
    return record.stopped or _why(record.readings)


def _why(readings: tuple[Reading, ...]) -> str:
    """Return the most frequent reason of readings of the cage that are not valid."""
    reasons = [r.reason for r in readings if r.reason and r.part is Part.CAGE]
    return max(reasons, key=reasons.count, default="")


def measured(examination: Examination) -> str:
    """Return what was examined, in words."""
    if examination.sheets:
        return say(wording.MEASUREMENTS)
    return say(wording.RECORDS_MANY) if len(examination.sources) > 1 else say(wording.RECORDS_ONE)


def _next(step: NextStep, which: int) -> str:
    """Return one sentence of a next step with its numbers."""
    filled = {
        "load_percent": f"{100.0 * step.numbers.get('load_fraction', 0.0):.0f}",
        "seconds_s": f"{step.numbers.get('seconds_s', 0.0):.0f}",
        "rate_hz": f"{step.numbers.get('rate_hz', 0.0):.0f}",
    }
    return say(wording.NEXT[step.kind][which], **filled)


def _ground_number(key: str, value: float) -> str:
    """Return a number of a finding as its sentence shows it; bounds round outwards."""
    if key == "low_bars":
        return numbers.bars_down(value)
    if key in ("high_bars", "bound_bars"):
        return numbers.bars_up(value)
    return numbers.bars(value) if key.endswith("_bars") else numbers.significant(value, 2)


def _day(day: date) -> str:
    """Return a date as ISO 8601."""
    return day.isoformat()
