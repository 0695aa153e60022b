"""Where the numbers of a history page go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.cli.history_options import HistoryOptions
from cagewise.cli.streams import Streams

if TYPE_CHECKING:
    from cagewise.report.history_json import View


def write_json(view: View, options: HistoryOptions, streams: Streams) -> bool:
    """Write the numbers where they were asked for; return whether they took the screen."""
    if options.json is None:
        return False
    from cagewise.report.history_json import to_json
    from cagewise.workflows.files import write_text_file

    if options.on_screen:
        streams.out.write(to_json(view))
        return True
    write_text_file(options.json, to_json(view), overwrite=options.force)
    return False
