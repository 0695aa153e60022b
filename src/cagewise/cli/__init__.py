"""Command line: parse, call, render."""

import os
import sys


def entry_point() -> None:
    """Run the command line for the process: its arguments, its streams, its exit status."""
    try:
        from cagewise.cli.run import main

        status = int(main())
    except KeyboardInterrupt:  # before there was anything that could say so
        status = 130
    try:
        if sys.stdout is not None:  # nobody need have opened it
            sys.stdout.flush()
    except OSError:
        # main has said what there is to say; what is left in the buffer can go nowhere
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(status)
