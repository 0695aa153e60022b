"""The commands on a plant's history: trend, ranking, calls, the invented plant."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

from cyclopts import App, Parameter

from cagewise.cli.case_commands import build_case_app
from cagewise.cli.history_options import HistoryOptions
from cagewise.cli.history_output import write_json
from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.ranking_command import ranking
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

Injected = Annotated[Streams, Parameter(parse=False)]


def add_history_commands(app: App) -> None:
    """Add the commands to the command line."""
    app.command(trend)
    app.command(ranking, name=("ranking", "list"))
    app.command(build_case_app())
    app.command(calls)
    app.command(demo_plant)


def trend(  # noqa: PLR0913 - groups of options
    tag: str,
    /,
    *,
    reading: str = "",
    limit: float | None = None,
    plant: PlantOptions | None = None,
    history: HistoryOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Say how a motor's damage develops: level, growth, change, time to a limit.

    Parameters
    ----------
    tag
        Of the motor.
    reading
        Name of the reading, as in the JSON of an examination; the one with the most visits if
        left out.
    limit
        Damage in open bars whose time is forecast.
    """
    from cagewise.cli.render import console_of
    from cagewise.report.history_text import write_trend
    from cagewise.workflows.plant_folder import look_into_plant
    from cagewise.workflows.plant_history import trend_of

    if limit is not None and not 0.0 < limit < float("inf"):
        raise UsageError(
            f"must be a number of open bars above zero, got {limit:g}", where="--limit"
        )
    options, history = plant or PlantOptions(), history or HistoryOptions()
    with look_into_plant(options.plant) as opened:
        motor = opened.motors.find(tag, site=options.site)
        view = trend_of(opened, motor, reading=reading, limit_bars=limit, today=history.on)
    if not write_json(view, history, streams):
        write_trend(view, *console_of(page or PageOptions(), streams))
    return ExitStatus.EXAMINED


def calls(
    *,
    plant: PlantOptions | None = None,
    history: HistoryOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Hold what the examinations said against what was found when motors were opened."""
    from cagewise.cli.render import console_of
    from cagewise.report.plant_text import write_calls
    from cagewise.workflows.plant_folder import look_into_plant
    from cagewise.workflows.plant_history import calls as run

    options, history = plant or PlantOptions(), history or HistoryOptions()
    with look_into_plant(options.plant) as opened:
        view = run(opened, today=history.on)
    if not write_json(view, history, streams):
        write_calls(view, *console_of(page or PageOptions(), streams))
    return ExitStatus.EXAMINED


def demo_plant(
    folder: Path,
    /,
    *,
    until: date | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Make an invented plant with two years of history; it takes about a minute.

    Every visit is simulated, written to files, imported and examined like any other.

    Parameters
    ----------
    folder
        Empty, or not there yet.
    until
        Last day of the two years, as in 2031-05-17; today if left out.
    """
    from cagewise.cli.show_demo_plant import show_demo_plant

    show_demo_plant(folder, until, page or PageOptions(), streams)
    return ExitStatus.EXAMINED
