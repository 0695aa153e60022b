"""Where the command line writes, so that a test can stand in for a terminal."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from rich.console import Console

    from cagewise.report.symbols import Symbols

PIPE_COLUMNS = 80
"""Width when the output is not a terminal and nobody states one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Streams:
    """Output and messages of one run."""

    out: TextIO
    err: TextIO

    def console(self, width: int | None = None) -> Console:
        """Return a console on the output: coloured on a terminal only, and never with NO_COLOR."""
        from cagewise.cli.console import PipeConsole

        terminal = self.out.isatty()
        columns = width
        if columns is None:
            columns = shutil.get_terminal_size().columns if terminal else _stated_columns()
        return PipeConsole(
            file=self.out,
            width=columns,
            force_terminal=terminal,
            no_color=bool(os.environ.get("NO_COLOR")),
            highlight=False,
            emoji=False,
            markup=False,
        )

    def symbols(self, *, ascii_only: bool) -> Symbols:
        """Return the shapes that the output can show."""
        from cagewise.report.symbols import ASCII, UNICODE

        encoding = (getattr(self.out, "encoding", None) or "ascii").lower().replace("-", "")
        return ASCII if ascii_only or not encoding.startswith("utf") else UNICODE


def _stated_columns() -> int:
    """Return the width that the environment states, or that of a pipe."""
    stated = os.environ.get("COLUMNS", "")
    return int(stated) if stated.isdigit() and int(stated) > 0 else PIPE_COLUMNS
