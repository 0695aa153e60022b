"""The command that lists the motors of a plant by risk."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from cagewise.cli.history_options import HistoryOptions
from cagewise.cli.history_output import write_json
from cagewise.cli.list_options import ListOptions
from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams

Injected = Annotated[Streams, Parameter(parse=False)]

SHOWN = 40
"""Motors of a ranking that a screen shows when nobody says how many."""


def ranking(
    *,
    plant: PlantOptions | None = None,
    wanted: ListOptions | None = None,
    history: HistoryOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """List the motors of a plant by risk, what is due next, and what data is missing.

    "--on 2031-06-30 --due" lists what will be due by then.
    """
    from cagewise.cli.render import console_of
    from cagewise.report.ranking_text import write_ranking
    from cagewise.workflows.plant_choice import narrowed
    from cagewise.workflows.plant_folder import look_into_plant
    from cagewise.workflows.plant_history import rank

    options, history = plant or PlantOptions(), history or HistoryOptions()
    listed = wanted or ListOptions()
    choice = listed.wanted()
    with look_into_plant(options.plant) as opened:
        view = narrowed(rank(opened, site=options.site, today=history.on), choice)
    if not write_json(view, history, streams):
        screen = console_of(page or PageOptions(), streams)
        write_ranking(view, *screen, most=listed.most or SHOWN)
    return ExitStatus.EXAMINED
