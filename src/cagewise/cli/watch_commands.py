"""The commands that watch folders and post findings: parse, call a use case, render."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from cagewise.cli.checks import positive, roles_of
from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.cli.watch_options import WatchedOptions
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.workflows.plant_import import ImportOptions

Injected = Annotated[Streams, Parameter(parse=False)]


def add_watch_commands(app: App) -> None:
    """Give a command line what watches and posts."""
    app.command(watch)
    app.command(post)


def watch(
    folders: Annotated[list[Path], Parameter(consume_multiple=True)],
    /,
    *,
    options: WatchedOptions | None = None,
    plant: PlantOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Watch folders: import new recordings and sheets, examine their visits, post the findings.

    Each file is taken once, each visit examined once, each finding posted once, however often this
    is stopped, killed and started again. It runs until it is stopped (Ctrl-C, or SIGTERM) and then
    finishes the step it is at. Findings are posted to the channels of post.toml in the folder of
    the plant (docs/history.md); without that file they are only kept.

    Parameters
    ----------
    folders
        Into which instruments write. The name of a folder in them may be the tag of a motor.
    """
    from cagewise.cli.show_watch import Pace, show_watch
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_watch import WatchOptions
    from cagewise.workflows.post_file import read_post_file

    said, where = options or WatchedOptions(), plant or PlantOptions()
    every_s = positive(said.every, "--every", "seconds") or 0.0
    if not 0.0 <= said.rest < float("inf"):
        raise UsageError(f"must be seconds, at least 0, got {said.rest:g}", where="--rest")
    with open_plant(where.plant) as opened:
        wished = WatchOptions(
            folders=folders,
            imported=_imported(said, where.site),
            rest_s=said.rest,
            channels=read_post_file(opened.folder, os.environ),
        )
        return show_watch(opened, wished, Pace(every_s=every_s, once=said.once), streams)


def post(
    *,
    list_only: Annotated[bool, Parameter(name="--list")] = False,
    again: bool = False,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Send the findings that wait, and list those that could not be sent.

    Parameters
    ----------
    list_only
        Send nothing, only list what waits and what failed.
    again
        Try those at once that failed, also those that were refused.
    """
    from cagewise.cli.show_post import show_post
    from cagewise.workflows.plant_folder import look_into_plant, open_plant
    from cagewise.workflows.post_file import read_post_file

    if list_only and again:
        raise UsageError("--list sends nothing, --again sends", where="--again")
    where = plant or PlantOptions()
    opening = look_into_plant if list_only else open_plant
    with opening(where.plant) as opened:
        channels = read_post_file(opened.folder, os.environ)
        whole = show_post(
            opened, channels, page or PageOptions(), streams, send=not list_only, again=again
        )
    return ExitStatus.EXAMINED if whole or list_only else ExitStatus.NOT_WRITTEN


def _imported(said: WatchedOptions, site: str | None) -> ImportOptions:
    """Return what is stated about the files, as for an import."""
    from cagewise.workflows.plant_decode import Statement
    from cagewise.workflows.plant_import import ImportOptions

    return ImportOptions(
        tag=said.motor,
        site=site,
        day=said.day,
        statement=Statement(
            roles=roles_of(said.role),
            sampling_rate_hz=positive(said.rate, "--rate", "hertz"),
            select=tuple(said.select),
            accept_length_mismatch=said.accept_short,
        ),
    )
