"""How far a job is, as a bar on a terminal; elsewhere nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from cagewise.cli.streams import Streams

if TYPE_CHECKING:
    from cagewise.store.progress import Progress, Tell


@contextmanager
def bar_of_bytes(doing: str, streams: Streams) -> Iterator[Tell]:
    """Give something that is told how many bytes are done.

    Parameters
    ----------
    doing
        What is done, in a word.
    streams
        The bar goes to that of messages, if it is a terminal.
    """
    if not streams.err.isatty():
        from cagewise.store.progress import tell_nobody

        yield tell_nobody
        return
    from rich.progress import BarColumn, DownloadColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    from cagewise.cli.console import PipeConsole

    columns = (TextColumn("{task.description}"), BarColumn(), DownloadColumn())
    console = PipeConsole(file=streams.err)
    with Bars(*columns, TimeRemainingColumn(), console=console, transient=True) as bars:
        task = bars.add_task(doing, total=None)

        def tell(progress: Progress) -> None:
            bars.update(task, total=progress.of_bytes, completed=progress.size_bytes)

        yield tell


@contextmanager
def bar_of_things(doing: str, total: int, streams: Streams) -> Iterator[Callable[[str], None]]:
    """Give something that is called with the name of each thing before it is worked on.

    Parameters
    ----------
    doing
        What is done, in a word.
    total
        Number of things.
    streams
        The bar goes to that of messages, if it is a terminal.
    """
    if not streams.err.isatty():
        yield lambda _: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    from cagewise.cli.console import PipeConsole

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    console = PipeConsole(file=streams.err)
    with Bars(*columns, TimeRemainingColumn(), console=console, transient=True) as bars:
        task = bars.add_task(doing, total=total)
        begun = 0

        def begin(name: str) -> None:
            nonlocal begun
            bars.update(task, description=f"{doing} {name}", completed=begun)
            begun += 1

        yield begin
