"""One run of the command line: parse, call, and turn every error into a message and a status."""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Sequence
from typing import TextIO

from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import (
    CagewiseError,
    ChannelRoleError,
    InputError,
    MissingExtraError,
    OutputError,
    StoreError,
    UsageError,
)

TRACEBACK_VARIABLE = "CAGEWISE_TRACEBACK"
"""Set it to see where a fault of the program comes from."""

_STATUS_OF_ERROR: tuple[tuple[type[CagewiseError], ExitStatus], ...] = (
    (UsageError, ExitStatus.USAGE),
    (ChannelRoleError, ExitStatus.NEEDS_ANSWER),
    (InputError, ExitStatus.UNREADABLE),
    (OutputError, ExitStatus.NOT_WRITTEN),
    (MissingExtraError, ExitStatus.MISSING_EXTRA),
    (StoreError, ExitStatus.PLANT),
    (CagewiseError, ExitStatus.INTERNAL),
)
"""First match counts: the most special kind stands first."""

_TRY_HELP = 'Try "cagewise --help".'

_OUTPUT_FAULTS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}
"""What the system answers where the output is full or torn: no fault of the program."""


def main(
    argv: Sequence[str] | None = None, *, out: TextIO | None = None, err: TextIO | None = None
) -> ExitStatus:
    """Run the command line.

    Parameters
    ----------
    argv
        Arguments without the program name; those of the process when left out.
    out, err
        Streams; those of the process when left out.
    """
    # a process may be started without streams; then nobody reads what goes nowhere
    streams = Streams(
        out=out or sys.stdout or io.StringIO(), err=err or sys.stderr or io.StringIO()
    )
    arguments = list(sys.argv[1:] if argv is None else argv)
    try:
        return _dispatch(arguments, streams)
    except CagewiseError as error:
        _complain(streams, str(error))
        return next(status for kind, status in _STATUS_OF_ERROR if isinstance(error, kind))
    except KeyboardInterrupt:
        _complain(streams, "stopped")
        return ExitStatus.INTERRUPTED
    except BrokenPipeError:
        return ExitStatus.READER_GONE  # a pager was closed: nothing more can be said
    except Exception as error:  # the last resort: a user must never see a traceback
        if isinstance(error, OSError) and error.errno in _OUTPUT_FAULTS:
            _complain(streams, f"the output cannot be written ({error.strerror})")
            return ExitStatus.NOT_WRITTEN
        if os.environ.get(TRACEBACK_VARIABLE):
            raise
        _complain(
            streams,
            f"fault of the program: {type(error).__name__}: {error}. "
            f"Please report it with the output of {TRACEBACK_VARIABLE}=1.",
        )
        return ExitStatus.INTERNAL


def _dispatch(arguments: list[str], streams: Streams) -> ExitStatus:
    """Parse the arguments and call the command."""
    from cyclopts import CycloptsError, UnusedCliTokensError

    from cagewise.cli.commands import build_app

    app = build_app()
    console = streams.console()
    try:
        command, bound, _ = app.parse_args(
            arguments or ["--help"],
            console=console,
            error_console=console,
            print_error=False,
            exit_on_error=False,
        )
    except UnusedCliTokensError as error:
        extra = " ".join(error.unused_tokens or ())
        raise UsageError(f"one argument too many: {extra}", remedy=_TRY_HELP) from error
    except CycloptsError as error:
        raise UsageError(str(error).strip().rstrip("."), remedy=_TRY_HELP) from error
    if command.__module__.startswith("cagewise"):
        bound.arguments["streams"] = streams
    status = command(*bound.args, **bound.kwargs)
    streams.out.flush()
    return status if isinstance(status, ExitStatus) else ExitStatus.EXAMINED


def _complain(streams: Streams, message: str) -> None:
    """Write one message; whatever it quotes cannot control the terminal."""
    lines = ("".join(c if c.isprintable() else " " for c in line) for line in message.splitlines())
    streams.err.write("cagewise: " + "\n  ".join(lines) + "\n")
