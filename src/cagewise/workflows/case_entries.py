"""Use case: what somebody found in an open motor, and what a shop stated, as entries of a case."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from cagewise.errors import InputError, NotKeptError
from cagewise.history.missing import ASKED_OF_SHOP, MissingItem
from cagewise.store import (
    Attachment,
    BarDamage,
    BarPlace,
    Case,
    Event,
    Found,
    FoundBar,
    Outcome,
    Plant,
)
from cagewise.workflows.plant_cases import NAMES_OF_FACT

MOST_BARS = 999
"""Of a cage; a larger number is a mistake."""

ASKED: tuple[MissingItem, ...] = tuple(dict.fromkeys(i for k in ASKED_OF_SHOP.values() for i in k))
"""Everything that a shop is asked after some repair."""


def outcome_of(found: str, open_bars: int | None, bars: Iterable[FoundBar]) -> Outcome:
    """Return what was found.

    Raises
    ------
    InputError
        If there is no such word, or bars are damaged in a cage that is not.
    """
    if found not in set(Found):
        words = ", ".join(Found)
        raise InputError("it is not said what was found", where="found", remedy=f"One of {words}.")
    each = tuple(bars)
    if found != Found.DAMAGED and (open_bars or each):
        raise InputError(f"a cage that is {found} has no damaged bars", where="bars")
    if open_bars is not None and not 0 <= open_bars <= MOST_BARS:
        raise InputError(f"no cage has {open_bars} bars", where="open bars")
    numbers = [bar.bar for bar in each]
    if len(set(numbers)) < len(numbers):
        raise InputError("a bar is named twice", where="bars")
    return Outcome(found=Found(found), open_bars=open_bars, bars=each)


def bars_of(numbers: str, damage: str, place: str) -> tuple[FoundBar, ...]:
    """Return bars that were found alike: "4, 5 12".

    Raises
    ------
    InputError
        If one is no number of a bar, or there is no such damage or place.
    """
    if damage not in set(BarDamage) or place not in set(BarPlace):
        raise InputError("there is no such damage or place", where="bars")
    said = [part for part in re.split(r"[\s,;]+", numbers) if part]
    for part in said:
        if not re.fullmatch(r"[1-9][0-9]{0,2}", part, re.ASCII):
            raise InputError(
                f"{part!r} is no number of a bar",
                where="bars",
                remedy="Count from any bar in one direction, and write 4, 5, 12.",
            )
    return tuple(
        FoundBar(bar=int(part), damage=BarDamage(damage), place=BarPlace(place)) for part in said
    )


def shop_facts(asked: Mapping[str, str], others: str) -> dict[str, str]:
    """Return what a shop stated, without what it left empty.

    Parameters
    ----------
    asked
        By the names of :data:`ASKED`.
    others
        One NAME=VALUE per line.

    Raises
    ------
    InputError
        If a line is not of that kind.
    """
    facts = {name: value.strip() for name, value in asked.items() if value.strip()}
    for line in filter(None, map(str.strip, others.splitlines())):
        name, equals, value = (part.strip() for part in line.partition("="))
        if not (name and equals and value):
            raise InputError(
                f"{line!r} is not understood",
                where="what else the shop stated",
                remedy="Write one NAME=VALUE per line.",
            )
        facts[name] = value
    return facts


def names_of(item: MissingItem) -> frozenset[str]:
    """Return the names under which a fact of a repair may say something."""
    return NAMES_OF_FACT.get(item, frozenset({item.value})) | {item.value}


def attachment_of(plant: Plant, case: Case, event_id: int, checksum: str) -> Attachment:
    """Return a file of a case.

    Raises
    ------
    NotKeptError
        If the case has no such file.
    """
    for event in plant.cases.events(case):
        for each in event.attachments:
            if event.id == event_id and each.checksum == checksum:
                return each
    raise NotKeptError(f"case {case.id} has no such file")


def event_of(plant: Plant, case: Case, event_id: int) -> Event:
    """Return an entry of a case.

    Raises
    ------
    NotKeptError
        If the case has none of that number.
    """
    for event in plant.cases.events(case):
        if event.id == event_id:
            return event
    raise NotKeptError(f"case {case.id} has no entry number {event_id}")
