"""Run the command line with ``python -m cagewise``."""

from cagewise.cli import entry_point

entry_point()
