"""How the motor ran, how good the recording is and where it came from, as labelled facts."""

from __future__ import annotations

from datetime import datetime

from cagewise.conditioning.findings import QualityFinding
from cagewise.decision.examination import Examination, RecordExamination
from cagewise.decision.verdict import State
from cagewise.indicators.cage.context import LOWEST_LEVEL_DBC
from cagewise.indicators.reading import Part, Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.measurement import Provenance
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import numbers, wording
from cagewise.report.language import retell, say

Fact = tuple[str, str]
"""Label and value."""

SHOWN_CHECKSUM_DIGITS = 16
"""Digits of a checksum that are shown; the JSON carries all."""


def operating_facts(record: RecordExamination) -> list[Fact]:
    """Return how the motor ran."""
    point = record.operating_point
    if isinstance(point, NotKnown):
        said = point.reason == record.stopped
        text = (
            say(wording.NOT_KNOWN_AS_SAID)
            if said
            else say(wording.NOT_KNOWN, reason=retell(point.reason))
        )
        return [(say(wording.FACT["operating_point"]), text)]
    facts = [(say(wording.FACT["load"]), quantity_in_words(point.load_fraction, "%", 100.0))]
    if isinstance(point.slip, NotKnown):
        said = any(point.slip.reason in reading.reason for reading in record.readings)
        undecided = record.verdict.state is State.NOT_DECIDABLE
        text = quantity_in_words(point.slip, "%")
        text = say(wording.NOT_KNOWN_AS_SAID) if said and undecided else text
        facts.append((say(wording.FACT["slip"]), text))
    else:
        facts += [
            (say(wording.FACT["speed"]), quantity_in_words(point.speed_rpm, "r/min")),
            (say(wording.FACT["slip"]), quantity_in_words(point.slip, "%", 100.0)),
            (say(wording.FACT["pole_pass"]), quantity_in_words(point.pole_pass_frequency_hz, "Hz")),
        ]
    facts += [
        (say(wording.FACT["supply"]), _supply(point)),
        (say(wording.FACT["current"]), f"{numbers.significant(point.line_current_rms_a)} A"),
    ]
    if point.line_voltage_rms_v is not None:
        volts = numbers.significant(point.line_voltage_rms_v)
        facts.append((say(wording.FACT["voltage"]), f"{volts} V"))
    if point.active_power_w is not None:
        facts.append((say(wording.FACT["power"]), _power(point)))
    facts.append((say(wording.FACT["rotor_bars"]), _bars(point)))
    return facts


def reading_facts(examination: Examination) -> list[Fact]:
    """Return the valid readings of the cage as they were measured."""
    return [
        (retell(reading.title), reading_value(reading))
        for source in examination.shown
        for reading in source.readings
        if reading.valid and reading.part is Part.CAGE
    ]


def reading_value(reading: Reading) -> str:
    """Return a reading in its own unit with its interval; empty when it was not made."""
    if reading.value is None:
        return ""
    in_level = reading.unit.startswith(say(wording.LEVEL_UNIT))
    if in_level and reading.value.low <= LOWEST_LEVEL_DBC:  # a line of zero is within the interval
        high = numbers.significant(reading.value.high, 2)
        return say(wording.NO_MORE_THAN, high=high, unit=retell(reading.unit))
    return numbers.with_interval(reading.value, reading.unit)


def recording_facts(record: RecordExamination) -> list[Fact]:
    """Return what was recorded."""
    facts = [
        (
            say(wording.FACT["length"]),
            say(
                wording.LENGTH,
                seconds=numbers.significant(record.duration_s),
                rate=f"{record.sampling_rate_hz:.6g}",
            ),
        ),
        (
            say(wording.FACT["channels"]),
            say(
                wording.CHANNELS,
                currents=_count(wording.CURRENTS, record.currents_measured),
                voltages=_count(wording.VOLTAGES, record.voltages_measured),
            ),
        ),
    ]
    if record.stretch_s is not None:
        first, last = record.stretch_s
        text = say(wording.STRETCH, first=f"{first:.1f}", last=f"{last:.1f}")
        facts.append((say(wording.FACT["stretch"]), text))
    if record.roles:
        text = ", ".join(f"{channel} = {retell(role.value)}" for channel, role in record.roles)
        check = say(wording.ROLES_PROVEN) if record.roles_proven else say(wording.ROLES_NAMED)
        facts.append((say(wording.FACT["roles"]), say(wording.ROLES, roles=text, check=check)))
    return facts


def quality_lines(record: RecordExamination) -> list[Fact]:
    """Return the quality findings, worst first: severity in words, sentence with remedy."""
    order = ("blocking", "caution", "note")
    found = sorted(record.quality, key=lambda finding: order.index(finding.severity.value))
    alike: dict[tuple[str, str], list[QualityFinding]] = {}
    for finding in found:
        alike.setdefault((finding.code.value, finding.severity.value), []).append(finding)
    return [
        (say(wording.SEVERITY[group[0].severity]), _said_once(group)) for group in alike.values()
    ]


def _said_once(group: list[QualityFinding]) -> str:
    """Return findings of one kind as one text: the first in full, the channels of the others."""
    first, *others = group
    parts = [numbers.sentence(retell(first.message)), retell(first.remedy)]
    names = [name for finding in others for name in finding.channels]
    if names:
        parts.insert(1, say(wording.ALSO, others=", ".join(names)))
    elif others:
        parts += [numbers.sentence(retell(finding.message)) for finding in others]
    return " ".join(part for part in parts if part)


def provenance_facts(examination: Examination) -> list[Fact]:
    """Return where every number comes from."""
    facts = []
    for label, source, when in _measured(examination):
        parts = [source.source, retell(source.format_name), *([when] if when else [])]
        if source.sha256:
            parts.append(f"sha256 {source.sha256[:SHOWN_CHECKSUM_DIGITS]}")
        facts.append((label, ", ".join(parts)))
        facts += [
            (say(wording.FACT["note"]), numbers.sentence(retell(note))) for note in source.notes
        ]
    facts += [(say(wording.FACT["earlier"]), name) for name in _compared_with(examination)]
    facts.append((say(wording.FACT["program"]), f"cagewise {examination.version}"))
    return facts


def _measured(examination: Examination) -> list[tuple[str, Provenance, str]]:
    """Return what was examined: label, where it came from, when it was measured; each once."""
    recordings: dict[Provenance, datetime | None] = {}
    recordings |= {record.provenance: record.start_time for record in examination.records}
    recordings |= {start.provenance: start.start_time for start in examination.starts}
    rows = [
        (
            say(wording.FACT["recording"]),
            source,
            when.isoformat(sep=" ", timespec="seconds") if when else "",
        )
        for source, when in recordings.items()
    ]
    sheets = [s.sheet for s in examination.sheets]
    rows += [(say(wording.FACT["sheet"]), s.provenance, s.measured_on.isoformat()) for s in sheets]
    return rows


def _compared_with(examination: Examination) -> list[str]:
    """Return the names of the earlier measurements that were compared with, each once."""
    of_starts = [name for start in examination.starts for name in start.earlier]
    of_sheets = [name for sheet in examination.sheets for name in sheet.earlier]
    aside = {one.source for one in examination.set_aside}
    return [name for name in dict.fromkeys((*of_starts, *of_sheets)) if name not in aside]


def _count(words: tuple[str, str, str], n: int) -> str:
    """Return a number of things in words."""
    return say(words[min(n, 2)], n=n)


def quantity_in_words(quantity: Estimate | NotKnown, unit: str, factor: float = 1.0) -> str:
    """Return a quantity with its interval, or why it is not known."""
    if isinstance(quantity, NotKnown):
        return say(wording.NOT_KNOWN, reason=retell(quantity.reason))
    return numbers.with_interval(quantity, unit, factor)


def _supply(point: OperatingPoint) -> str:
    """Return supply frequency and its wander."""
    frequency = f"{point.supply_frequency_hz.value:.3f}"
    wander = numbers.significant(point.supply_frequency_wander_hz * 1e3, 2)
    return say(wording.SUPPLY, frequency=frequency, wander=wander)


def _power(point: OperatingPoint) -> str:
    """Return active power and power factor."""
    text = numbers.power(point.active_power_w or 0.0)
    if point.power_factor is not None:
        text += say(wording.POWER_FACTOR, value=f"{point.power_factor:.2f}")
    return text


def _bars(point: OperatingPoint) -> str:
    """Return the number of rotor bars as far as it is known."""
    if point.rotor_bars is not None:
        return str(point.rotor_bars)
    if point.rotor_bars_candidates:
        return say(
            wording.BARS_CANDIDATES,
            candidates=", ".join(str(n) for n in point.rotor_bars_candidates),
        )
    return say(wording.BARS_UNKNOWN)
