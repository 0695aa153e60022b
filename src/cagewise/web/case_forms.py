"""The forms of a case: what was typed, as an entry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from starlette.datastructures import FormData

from cagewise.errors import InputError, UsageError
from cagewise.report.history_wording import MISSING
from cagewise.store import Decision, Event, FoundBar, Note, Outcome, Repair
from cagewise.store.records import Happening
from cagewise.web.form_values import LONG, said_count, said_day
from cagewise.workflows.case_entries import ASKED, bars_of, names_of, outcome_of, shop_facts
from cagewise.workflows.plant_cases import repair_of
from cagewise.workflows.plant_points import KIND_OF_REPAIR

KINDS = ("note", "decision", "repair", "outcome")
BAR_ROWS = 3
"""Groups of bars that a form has room for; each takes any number of bars found alike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BarsTyped:
    """Bars that were found alike, as they were typed."""

    bars: str = ""
    damage: str = "open"
    place: str = ""


@dataclass(slots=True, kw_only=True)
class CaseForm:
    """What somebody typed."""

    kind: str = "note"
    text: str = ""
    author: str = ""
    on: str = ""
    corrects: int | None = None
    action: str = ""
    due: str = ""
    repair_kind: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    """By the names of what shops are asked."""
    others: str = ""
    found: str = ""
    open_bars: str = ""
    bars: Sequence[BarsTyped] = ()

    @property
    def rows(self) -> list[BarsTyped]:
        """Groups of bars, with empty ones up to the room of the form."""
        return [*self.bars, *[BarsTyped()] * max(1, BAR_ROWS - len(self.bars))]

    def what(self) -> Happening:
        """Return what happened.

        Raises
        ------
        CagewiseError
            If it makes no sense.
        """
        match self.kind:
            case "decision":
                return self._decision()
            case "repair":
                done, facts = (
                    self._needed(self.action, "what was done"),
                    shop_facts(self.facts, self.others),
                )
                return repair_of(done, self.repair_kind, facts)
            case "outcome":
                bars: list[FoundBar] = []
                for row in self.bars:
                    bars += bars_of(row.bars, row.damage, row.place)
                return outcome_of(self.found, said_count(self.open_bars, "open bars"), bars)
            case _:
                return Note()

    def _decision(self) -> Decision:
        if not self.author.strip():
            raise InputError("a decision has a name", where="name", remedy="Say who decides.")
        action = self._needed(self.action, "what is decided")
        return Decision(action=action, due_on=said_day(self.due, "by"))

    def _needed(self, value: str, where: str) -> str:
        if not value.strip():
            raise InputError("this is needed", where=where)
        return value.strip()


def require_content(form: CaseForm, files: Sequence[Path]) -> None:
    """Refuse a note that says nothing.

    Raises
    ------
    UsageError
        If there are neither words nor files.
    """
    if form.kind == "note" and not (form.text.strip() or files):
        raise UsageError("there is nothing to note", remedy="Write something, or attach a file.")


def typed(form: FormData) -> CaseForm:
    """Return a form as it was sent."""

    def said(name: str) -> str:
        value = form.get(name)
        return value.replace("\0", "")[:LONG] if isinstance(value, str) else ""

    def column(name: str) -> list[str]:
        return [value[:LONG] for value in form.getlist(name) if isinstance(value, str)]

    rows = zip(column("bars"), column("damage"), column("place"), strict=False)
    corrects = said("corrects")
    return CaseForm(
        kind=said("kind") if said("kind") in KINDS else "note",
        text=said("text"),
        author=said("author"),
        on=said("on"),
        corrects=int(corrects) if corrects.isascii() and corrects.isdecimal() else None,
        action=said("action"),
        due=said("due"),
        repair_kind=said("repair_kind"),
        facts={item.value: said(f"fact_{item.value}") for item in ASKED},
        others=said("others"),
        found=said("found"),
        open_bars=said("open_bars"),
        bars=tuple(BarsTyped(bars=b, damage=d, place=p) for b, d, p in rows if b.strip()),
    )


def form_of(event: Event) -> CaseForm:
    """Return the form with which an entry was made, to be put right: but for who signs it."""
    form = CaseForm(text=event.text, on=event.day.isoformat(), corrects=event.id)
    match event.what:
        case Decision(action=action, due_on=due):
            form.kind, form.action = "decision", action
            form.due = "" if due is None else due.isoformat()
        case Repair() as repair:
            _fill_repair(form, repair)
        case Outcome() as outcome:
            _fill_outcome(form, outcome)
        case _:
            pass
    return form


def _fill_repair(form: CaseForm, repair: Repair) -> None:
    """Write a repair into its form."""
    left = {name: str(value) for name, value in repair.facts.items()}
    form.kind, form.action = "repair", repair.action
    form.repair_kind = left.pop(KIND_OF_REPAIR, "")
    facts = {}
    for item in ASKED:
        said = [left.pop(name) for name in sorted(names_of(item)) if name in left]
        facts[item.value] = said[0] if said else ""
    form.facts = facts
    form.others = "\n".join(f"{name}={value}" for name, value in left.items())


def _fill_outcome(form: CaseForm, outcome: Outcome) -> None:
    """Write what was found into its form."""
    form.kind, form.found = "outcome", outcome.found.value
    form.open_bars = "" if outcome.open_bars is None else str(outcome.open_bars)
    alike: dict[tuple[str, str], list[str]] = {}
    for bar in outcome.bars:
        alike.setdefault((bar.damage.value, bar.place.value), []).append(str(bar.bar))
    form.bars = tuple(
        BarsTyped(bars=", ".join(numbers), damage=damage, place=place)
        for (damage, place), numbers in alike.items()
    )


def asked_of_shop() -> list[tuple[str, str]]:
    """Return name and words of everything that a shop is asked."""
    return [(item.value, MISSING[item]) for item in ASKED]
