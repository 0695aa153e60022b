"""Command line: parse, call, render."""

import os
import sys


def entry_point() -> None:
    """Run the command line for the process: its arguments, its streams, its exit status."""
    from cagewise.cli.run import main

    try:
        status = int(main())
        sys.stdout.flush()
    except BrokenPipeError:
        # the reader went away (a pager was closed): nothing more can be said, and it is no fault
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = 0
    sys.exit(status)
