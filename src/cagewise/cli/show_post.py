"""The command "post" on the screen: what was sent, and what waits."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.cli.counting import counted
from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.show_watch import sent
from cagewise.cli.streams import Streams
from cagewise.report.list_table import write_table
from cagewise.report.page import Page, page_on
from cagewise.store import Plant, UnsentMessage
from cagewise.workflows.plant_post import Poster
from cagewise.workflows.post_file import NAME, Channel

NO_CHANNEL = f"There is no {NAME} in the folder of the plant: nothing is posted (docs/history.md)."
NOTHING = "No message waits."
HEADS = ("motor", "visit", "channel", "attempts", "next", "why")
NO_LONGER = f"no channel of this name in {NAME}"
REFUSED = "refused"
REMEDY = 'What was refused is sent again with "cagewise post --again".'


def show_post(
    plant: Plant,
    channels: Sequence[Channel],
    page: PageOptions,
    streams: Streams,
    *,
    send: bool,
    again: bool,
) -> bool:
    """Send what waits if that is asked for, and list what is left.

    Returns
    -------
    bool
        Whether nothing is left.
    """
    screen = page_on(*console_of(page, streams))
    if not channels:
        screen.paragraph(NO_CHANNEL, indent=0)
    poster = Poster(plant, channels)
    if again:
        plant.outbox.again(channels=[each.name for each in channels])
    for each in poster.send() if send else ():
        screen.paragraph(sent(each), indent=0)
    left = plant.outbox.unsent()
    _write_left(left, {each.name for each in channels}, plant, screen)
    return not left


def _write_left(left: Sequence[UnsentMessage], names: set[str], plant: Plant, screen: Page) -> None:
    """Write a table of the messages that are not sent."""
    if not left:
        screen.paragraph(NOTHING, indent=0)
        return
    screen.heading(f"Not sent: {counted((len(left), 'message'))}")
    write_table(screen, HEADS, [_row(each, names, plant) for each in left], spare=("attempts",))
    if any(each.is_refused for each in left):
        screen.paragraph(REMEDY, indent=0)


def _row(each: UnsentMessage, names: set[str], plant: Plant) -> tuple[str, ...]:
    """Return one message of the table."""
    due = each.not_before.astimezone(plant.about.zone).strftime("%Y-%m-%d %H:%M")
    known = each.channel in names
    return (
        str(each.payload["motor"]["tag"]),
        str(each.payload["visit_day"]),
        each.channel,
        str(each.attempts),
        REFUSED if each.is_refused else due,
        each.last_error if known else NO_LONGER,
    )
