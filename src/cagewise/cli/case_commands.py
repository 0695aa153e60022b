"""The command "case": a suspicion from the first doubt to what was found."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter

from cagewise.cli.history_options import EventOptions, HistoryOptions
from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.store import Case, FoundBar
    from cagewise.store.records import Happening

Injected = Annotated[Streams, Parameter(parse=False)]

CASE_HELP = "Follow a suspicion: open a case, note what is decided and found, close it."
FACTS = "rotor_bars, stator_slots, rotor_slots, cage_construction, coil_span_slots, ..."


def build_case_app() -> App:
    """Return the group of commands."""
    app = App(
        name="case", help=CASE_HELP, default_parameter=Parameter(negative=(), show_default=False)
    )
    app.command(open_, name="open")
    app.command(show)
    app.command(list_, name="list")
    app.command(note)
    app.command(decide)
    app.command(repair)
    app.command(outcome)
    app.command(close)
    return app


def open_(
    tag: str,
    title: str,
    /,
    *,
    on: date | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Open a case of a motor; the one of the same part that is open already is shown instead.

    Parameters
    ----------
    tag
        Of the motor.
    title
        The suspicion, in words.
    on
        Day, as in 2031-05-17; today if left out.
    """
    from cagewise.workflows.plant_cases import open_case
    from cagewise.workflows.plant_folder import open_plant

    options = plant or PlantOptions()
    with open_plant(options.plant) as opened:
        case = open_case(opened, opened.motors.find(tag, site=options.site), title, on=on)
    return _shown(case, options, page, streams)


def show(
    case: str,
    /,
    *,
    plant: PlantOptions | None = None,
    history: HistoryOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Tell the story of a case: measured, decided, repaired, found, and what is still owed.

    Parameters
    ----------
    case
        Its number, or the tag of its motor.
    """
    from cagewise.cli.history_output import write_json
    from cagewise.cli.render import console_of
    from cagewise.report.case_text import write_case
    from cagewise.workflows.plant_cases import find_case, story
    from cagewise.workflows.plant_folder import look_into_plant

    options, history = plant or PlantOptions(), history or HistoryOptions()
    with look_into_plant(options.plant) as opened:
        view = story(opened, find_case(opened, case, site=options.site), today=history.on)
    if not write_json(view, history, streams):
        write_case(view, *console_of(page or PageOptions(), streams))
    return ExitStatus.EXAMINED


def list_(
    tag: str | None = None,
    /,
    *,
    all_cases: Annotated[bool, Parameter(name="--all")] = False,
    plant: PlantOptions | None = None,
    history: HistoryOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """List the open cases of a plant or of a motor.

    Parameters
    ----------
    tag
        Of the motor; all motors if left out.
    all_cases
        Closed cases too.
    """
    from cagewise.cli.history_output import write_json
    from cagewise.cli.render import console_of
    from cagewise.report.plant_text import write_cases
    from cagewise.workflows.plant_cases import cases_of
    from cagewise.workflows.plant_folder import look_into_plant

    options, history = plant or PlantOptions(), history or HistoryOptions()
    with look_into_plant(options.plant) as opened:
        motor = None if tag is None else opened.motors.find(tag, site=options.site)
        view = cases_of(opened, motor, only_open=not all_cases, today=history.on)
    if not write_json(view, history, streams):
        write_cases(view, *console_of(page or PageOptions(), streams))
    return ExitStatus.EXAMINED


def note(
    case: str,
    /,
    *,
    event: EventOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note a remark (--text), a photograph or a paper (--attach).

    Parameters
    ----------
    case
        Its number, or the tag of its motor.
    """
    from cagewise.store import Note

    if event is None or not (event.text.strip() or event.attach):
        raise UsageError("there is nothing to note", remedy="Give --text or --attach.")
    return _noted(case, Note(), event, plant, page, streams)


def decide(  # noqa: PLR0913 - groups of options
    case: str,
    action: str,
    /,
    *,
    due: date | None = None,
    event: EventOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note a decision.

    Parameters
    ----------
    case
        Its number, or the tag of its motor.
    action
        What shall be done.
    due
        By when, as in 2031-05-17.
    """
    from cagewise.store import Decision

    return _noted(case, Decision(action=action, due_on=due), event, plant, page, streams)


def repair(  # noqa: PLR0913 - groups of options
    case: str,
    action: str,
    /,
    *,
    kind: Literal["cage", "rewind", "bearings", "other"],
    fact: list[str] | None = None,
    event: EventOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note a repair and what the shop stated.

    Parameters
    ----------
    case
        Its number, or the tag of its motor.
    action
        What was done.
    kind
        What it was. It decides from when on visits may be compared (a repair of the cage begins a
        new trend; after rewinding, starts and tests at rest are compared anew), what the shop is
        asked, and what has to be measured before the repair is accepted. For a remark take "case
        note".
    fact
        What the shop stated: NAME=VALUE, as in rotor_bars=58. Repeatable.
    """
    from cagewise.workflows.plant_cases import repair_of

    done = repair_of(action, kind, dict(map(_fact, fact or ())))
    return _noted(case, done, event, plant, page, streams)


def outcome(  # noqa: PLR0913 - groups of options
    case: str,
    found: Literal["damaged", "sound", "not-opened"],
    /,
    *,
    open_bars: int | None = None,
    bar: list[str] | None = None,
    event: EventOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note what was found when the motor was opened: it checks our calls.

    Parameters
    ----------
    case
        Its number, or the tag of its motor.
    found
        State of the cage as found.
    open_bars
        Bars found fully open, counted.
    bar
        A damaged bar: NUMBER, NUMBER=cracked, NUMBER=open@drive-end (or slot, other-end).
        Repeatable.
    """
    from cagewise.store import Found, Outcome

    bars = tuple(map(_bar, bar or ()))
    if open_bars is not None and open_bars < 0:
        raise UsageError(f"must be a number of bars, got {open_bars}", where="--open-bars")
    if found != "damaged" and (open_bars or bars):
        raise UsageError(f"a cage that is {found} has no damaged bars", where="--open-bars, --bar")
    what = Outcome(found=Found(found.replace("-", " ")), open_bars=open_bars, bars=bars)
    return _noted(case, what, event, plant, page, streams)


def close(
    case: str,
    why: str,
    /,
    *,
    on: date | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Close a case, with the reason.

    Parameters
    ----------
    case
        Its number, or the tag of its motor.
    why
        The reason, in words.
    on
        Day, as in 2031-05-17; today if left out.
    """
    from cagewise.workflows.plant_cases import find_case
    from cagewise.workflows.plant_folder import open_plant

    options = plant or PlantOptions()
    with open_plant(options.plant) as opened:
        closed = opened.cases.close(find_case(opened, case, site=options.site), why, on=on)
    return _shown(closed, options, page, streams)


def _noted(
    case: str,
    what: Happening,
    event: EventOptions | None,
    plant: PlantOptions | None,
    page: PageOptions | None,
    streams: Injected,
) -> ExitStatus:
    """Add an event to a case and show the case."""
    from cagewise.workflows.plant_cases import Entry, add_event, find_case
    from cagewise.workflows.plant_folder import open_plant

    given, options = event or EventOptions(), plant or PlantOptions()
    entry = Entry(
        text=given.text,
        author=given.author,
        on=given.on,
        files=given.attach,
        corrects=given.corrects,
    )
    with open_plant(options.plant) as opened:
        found = find_case(opened, case, site=options.site)
        add_event(opened, found, what, entry)
    return _shown(found, options, page, streams)


def _shown(
    case: Case, options: PlantOptions, page: PageOptions | None, streams: Injected
) -> ExitStatus:
    """Show a case as it is now."""
    return show(str(case.id), plant=options, page=page, streams=streams)


def _fact(text: str) -> tuple[str, str]:
    """Return what the shop stated, parted."""
    name, equals, value = (part.strip() for part in text.partition("="))
    if not (name and equals and value):
        raise UsageError(
            f"must be NAME=VALUE, got {text!r}", where="--fact", remedy=f"Names: {FACTS}"
        )
    return name, value


def _bar(text: str) -> FoundBar:
    """Return a damaged bar as it was written."""
    from cagewise.store import BarDamage, BarPlace, FoundBar

    head, _, place = text.partition("@")
    number, _, damage = head.partition("=")
    try:
        return FoundBar(
            bar=int(number),
            damage=BarDamage(damage.strip() or "open"),
            place=BarPlace(place.strip().replace("-", " ")),
        )
    except ValueError as error:
        raise UsageError(
            f"is not understood: {text!r}",
            where="--bar",
            remedy="Write NUMBER, NUMBER=cracked or NUMBER=open@drive-end (slot, other-end).",
        ) from error
