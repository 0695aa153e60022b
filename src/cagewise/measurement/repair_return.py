"""What a repair shop gives back: the questions of its sheet, and the answers.

The words of the questions stand in ``report``; here is what an answer may be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from types import MappingProxyType
from typing import TypeAlias

from cagewise.machine.crosscheck import BAR_RANGE

FORMAT = 1
"""Version of the sheet that this program writes, and the newest it reads."""
MARKER = "cagewise repair return"
"""First cell of a sheet in columns; the version stands beside it."""
MOST_BARS = 999
"""Damaged bars that a sheet has room for."""
MOST_PHOTOGRAPHS = 100
LONGEST_ANSWER = 2000
"""Characters."""

Answer: TypeAlias = str | float | int | bool | date


class AnswerKind(StrEnum):
    """What an answer is."""

    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    CHOICE = "choice"
    YES_NO = "yes or no"
    DAY = "day"


class Section(StrEnum):
    """Parts of the sheet, in their order."""

    JOB = "job"
    ARRIVAL = "arrival"
    """As received."""
    FOUND = "found"
    """In the open motor, before cleaning and heating."""
    COUNTED = "counted"
    """What can be counted and read while the motor is open, and not afterwards."""
    WINDING = "winding"
    BEARINGS = "bearings"
    REPAIRED = "repaired"
    """After the repair."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing that the shop is asked."""

    key: str
    """Stable name; its unit is its ending."""
    section: Section
    kind: AnswerKind = AnswerKind.NUMBER
    low: float = 0.0
    """Bounds of numbers: far outside anything built, they keep slips of unit and column out and
    judge nothing (common practice, no source)."""
    high: float = 0.0
    choices: tuple[str, ...] = ()


def _number(section: Section, low: float, high: float, *keys: str) -> tuple[Question, ...]:
    return tuple(Question(key=key, section=section, low=low, high=high) for key in keys)


def _whole(section: Section, low: float, high: float, *keys: str) -> tuple[Question, ...]:
    return tuple(
        Question(key=key, section=section, kind=AnswerKind.WHOLE, low=low, high=high)
        for key in keys
    )


def _text(section: Section, *keys: str) -> tuple[Question, ...]:
    return tuple(Question(key=key, section=section, kind=AnswerKind.TEXT) for key in keys)


def _one_of(section: Section, key: str, *choices: str) -> Question:
    return Question(key=key, section=section, kind=AnswerKind.CHOICE, choices=choices)


def _yes_no(section: Section, *keys: str) -> tuple[Question, ...]:
    return tuple(Question(key=key, section=section, kind=AnswerKind.YES_NO) for key in keys)


def _day(section: Section, *keys: str) -> tuple[Question, ...]:
    return tuple(Question(key=key, section=section, kind=AnswerKind.DAY) for key in keys)


_MATERIALS = ("copper", "brass", "bronze", "aluminium", "other")

QUESTIONS: tuple[Question, ...] = (
    *_text(Section.JOB, "shop", "filled_in_by", "order_number"),
    *_day(Section.JOB, "received_on", "repaired_on"),
    _one_of(Section.JOB, "repair_kind", "cage", "rewind", "bearings", "other"),
    *_text(Section.JOB, "action"),
    *_number(
        Section.ARRIVAL, 1e-6, 1e3, "arrival_ab_ohm", "arrival_bc_ohm", "arrival_ca_ohm"
    ),
    *_number(Section.ARRIVAL, -60.0, 250.0, "arrival_winding_degc"),
    *_number(Section.ARRIVAL, 1e-6, 1e8, "arrival_insulation_megaohm"),
    *_number(Section.ARRIVAL, 0.1, 100.0, "arrival_polarization_index"),
    *_number(Section.ARRIVAL, 0.0, 20.0, "arrival_runout_mm"),
    *_number(Section.ARRIVAL, 0.05, 30.0, "arrival_gap_min_mm", "arrival_gap_max_mm"),
    *_number(Section.ARRIVAL, 1.0, 2e4, "arrival_single_phase_v"),
    *_number(
        Section.ARRIVAL, 1e-3, 1e5, "arrival_single_phase_min_a", "arrival_single_phase_max_a"
    ),
    *_number(
        Section.ARRIVAL, 0.0, 500.0, "arrival_vibration_de_mm_s", "arrival_vibration_nde_mm_s"
    ),
    *_text(Section.ARRIVAL, "arrival_remark"),
    _one_of(Section.FOUND, "cage_found", "damaged", "sound", "not opened"),
    *_whole(Section.FOUND, 0, MOST_BARS, "open_bars"),
    *_text(Section.FOUND, "joints_found"),
    *_yes_no(Section.FOUND, "ring_cracked"),
    *_text(Section.FOUND, "core_found"),
    *_number(Section.FOUND, 0.01, 200.0, "core_loss_found_w_per_kg"),
    *_number(Section.FOUND, 0.0, 500.0, "core_hot_spot_found_k"),
    *_number(Section.FOUND, 0.0, 20.0, "rotor_runout_mm"),
    *_yes_no(Section.FOUND, "shaft_cracked"),
    *_number(Section.FOUND, 0.0, 1e7, "unbalance_found_gmm"),
    *_text(Section.FOUND, "winding_found", "bearings_found"),
    *_whole(Section.COUNTED, *BAR_RANGE, "rotor_bars"),
    *_whole(Section.COUNTED, 6, 600, "stator_slots"),
    _one_of(Section.COUNTED, "rotor_slots", "open", "closed"),
    _one_of(Section.COUNTED, "cage_construction", "fabricated", "cast"),
    _one_of(Section.COUNTED, "bar_material", *_MATERIALS),
    _one_of(Section.COUNTED, "ring_material", *_MATERIALS),
    *_whole(Section.COUNTED, 0, 100, "rotor_axial_ducts", "rotor_spider_arms"),
    *_number(Section.COUNTED, 0.0, 5.0, "rotor_skew_slots"),
    *_whole(Section.WINDING, 1, 300, "coil_span_slots"),
    *_number(Section.WINDING, 0.5, 5000.0, "turns_per_coil"),
    *_whole(Section.WINDING, 1, 60, "parallel_circuits"),
    _one_of(Section.WINDING, "connection", "wye", "delta"),
    _one_of(Section.WINDING, "winding_construction", "form", "random"),
    _one_of(Section.WINDING, "winding_insulation", "thermosetting", "thermoplastic"),
    _one_of(Section.WINDING, "winding_conductor", "copper", "aluminium"),
    *_yes_no(Section.WINDING, "concentric"),
    _one_of(Section.WINDING, "thermal_class", "A", "E", "B", "F", "H"),
    *_whole(Section.WINDING, 1880, 2200, "winding_built_year"),
    *_text(Section.BEARINGS, "bearing_de", "bearing_nde"),
    *_number(Section.BEARINGS, 3.0, 2000.0, "seat_de_mm", "seat_nde_mm"),
    *_number(Section.BEARINGS, 5.0, 3000.0, "housing_de_mm", "housing_nde_mm"),
    *_number(
        Section.REPAIRED, 1e-6, 1e3, "repaired_ab_ohm", "repaired_bc_ohm", "repaired_ca_ohm"
    ),
    *_number(Section.REPAIRED, -60.0, 250.0, "repaired_winding_degc"),
    *_number(Section.REPAIRED, 1e-6, 1e8, "repaired_insulation_megaohm"),
    *_number(Section.REPAIRED, 0.1, 100.0, "repaired_polarization_index"),
    *_number(Section.REPAIRED, 1.0, 1e6, "repaired_surge_v"),
    _one_of(Section.REPAIRED, "repaired_surge", "alike", "differ"),
    *_number(Section.REPAIRED, 1.0, 1e6, "repaired_overvoltage_v"),
    *_number(Section.REPAIRED, 0.01, 200.0, "core_loss_repaired_w_per_kg"),
    *_number(Section.REPAIRED, 0.0, 500.0, "core_hot_spot_repaired_k"),
    _one_of(Section.REPAIRED, "repaired_growler", "all alike", "not alike"),
    *_number(Section.REPAIRED, 0.0, 1e7, "unbalance_repaired_gmm"),
    *_number(Section.REPAIRED, 0.0, 20.0, "repaired_runout_mm"),
    *_number(Section.REPAIRED, 0.05, 30.0, "repaired_gap_min_mm", "repaired_gap_max_mm"),
    *_number(Section.REPAIRED, 1.0, 2e4, "repaired_single_phase_v"),
    *_number(
        Section.REPAIRED, 1e-3, 1e5, "repaired_single_phase_min_a", "repaired_single_phase_max_a"
    ),
    *_number(
        Section.REPAIRED, 1.0, 1e5, "no_load_ab_v", "no_load_bc_v", "no_load_ca_v"
    ),
    *_number(Section.REPAIRED, 1e-3, 1e5, "no_load_a_a", "no_load_b_a", "no_load_c_a"),
    *_number(Section.REPAIRED, 1e-3, 1e5, "no_load_kw"),
    *_number(
        Section.REPAIRED, 0.0, 500.0, "repaired_vibration_de_mm_s", "repaired_vibration_nde_mm_s"
    ),
    *_text(Section.REPAIRED, "repaired_remark"),
)  # fmt: skip
BY_KEY: Mapping[str, Question] = MappingProxyType({each.key: each for each in QUESTIONS})

DAMAGES = ("open", "cracked")
PLACES = ("drive end", "slot", "other end", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedBar:
    """A damaged bar."""

    bar: int
    """Number, counted as the marks on the shaft say."""
    damage: str = "open"
    """One of :data:`DAMAGES`."""
    place: str = ""
    """One of :data:`PLACES`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairReturn:
    """What a shop returned: one sheet."""

    motor_tag: str
    case: int | None
    """Number of the case that it answers; None where the sheet does not say."""
    answers: Mapping[str, Answer]
    """By the key of the question; what was not answered is not in it."""
    bars: tuple[ReturnedBar, ...] = ()
    photographs: tuple[str, ...] = ()
    """File names, beside the sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """Answers that cannot all be right."""

    keys: tuple[str, ...]
    what: str
    """As a clause."""


_PAIRS = (
    ("arrival_gap_min_mm", "arrival_gap_max_mm"),
    ("arrival_single_phase_min_a", "arrival_single_phase_max_a"),
    ("repaired_gap_min_mm", "repaired_gap_max_mm"),
    ("repaired_single_phase_min_a", "repaired_single_phase_max_a"),
)
"""Smallest and largest of the same thing."""


def contradictions(returned: RepairReturn) -> tuple[Contradiction, ...]:
    """Return what cannot be right whatever the motor is."""
    said = returned.answers
    found = [
        Contradiction(keys=pair, what=f"the smallest, {low:g}, is more than the largest, {high:g}")
        for pair in _PAIRS
        if (low := _figure(said, pair[0])) > (high := _figure(said, pair[1]))
    ]
    received, repaired = said.get("received_on"), said.get("repaired_on")
    if isinstance(received, date) and isinstance(repaired, date) and repaired < received:
        found.append(
            Contradiction(
                keys=("received_on", "repaired_on"),
                what=f"repaired on {repaired}, before it was received on {received}",
            )
        )
    if _figure(said, "coil_span_slots") >= _figure(said, "stator_slots"):
        found.append(
            Contradiction(
                keys=("coil_span_slots", "stator_slots"),
                what="a coil cannot span as many slots as the stator has",
            )
        )
    return (*found, *_of_bars(returned))


def _of_bars(returned: RepairReturn) -> list[Contradiction]:
    """Return what does not fit together of the damaged bars."""
    said, found = returned.answers, []
    counted, opened = said.get("rotor_bars"), said.get("open_bars")
    numbers = [each.bar for each in returned.bars]
    listed = sum(each.damage == "open" for each in returned.bars)
    cage = said.get("cage_found")
    if len(set(numbers)) < len(numbers):
        found.append(Contradiction(keys=("bars",), what="a bar is named twice"))
    if isinstance(counted, int) and any(number > counted for number in numbers):
        found.append(
            Contradiction(
                keys=("bars", "rotor_bars"),
                what=f"bar {max(numbers)} is named, and {counted} were counted",
            )
        )
    if isinstance(counted, int) and isinstance(opened, int) and opened > counted:
        what = f"{opened} bars are open, and {counted} were counted"
        found.append(Contradiction(keys=("open_bars", "rotor_bars"), what=what))
    if isinstance(opened, int) and listed > opened:
        what = f"{listed} bars are named open, and {opened} were counted open"
        found.append(Contradiction(keys=("bars", "open_bars"), what=what))
    if cage != "damaged" and (numbers or opened):
        said_so = f"the cage was {cage}" if cage else "nothing is said of the cage"
        found.append(
            Contradiction(keys=("cage_found", "bars"), what=f"{said_so}, and bars are damaged")
        )
    return found


def _figure(said: Mapping[str, Answer], key: str) -> float:
    """Return a number, NaN (false in any comparison) where there is none."""
    value = said.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return float("nan")
    return float(value)
