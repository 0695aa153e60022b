"""Sentences of the demo."""

from __future__ import annotations

DEMO_TITLE = (
    "Brannoch pulp mill is invented, its motors are simulated, so the truth is known. The "
    "examination reads the recordings only."
)
DEMO_SUMMARY = "What was said, beside what is true"
DEMO_HEADS = ("recording", "truth", "record allows", "said")
DEMO_NO_BAR = "no open bar"
DEMO_BARS = "{bars} open bars"
DEMO_TRUTH = "Truth: {truth}, the cage is {state}. What this recording allows to say: {expected}."
DEMO_NOTE = 'One page for each: "cagewise demo NAME". Files for other programs: --json, --html.'
