"""A console that leaves a closed pipe to the command line, instead of ending the process."""

from __future__ import annotations

from rich.console import Console


class PipeConsole(Console):
    """Console of the terminal library, but for what it does when its reader goes away."""

    def on_broken_pipe(self) -> None:
        """Say so to whoever wrote; the library would exit with a status of its own."""
        raise BrokenPipeError
