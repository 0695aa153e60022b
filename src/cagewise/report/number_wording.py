"""How numbers stand together in a sentence."""

from __future__ import annotations

INTERVAL = "{value} ({low} to {high})"
RANGE = "{low} to {high}"
BOTH, THE_BOTH, EITHER = "{first} and {last}", "{first} and the {last}", "{first} or {last}"
OPEN_BARS = "open bars"
PERCENT = "{value} %"
