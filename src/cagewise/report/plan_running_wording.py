"""Sentences of the plan for the record of the running motor."""

from __future__ import annotations

TITLE = "What to record"
CHANNELS = (
    "Three line currents and two line voltages, sampled at the same instants (10 microseconds "
    "apart at most). Without voltages, load and supply cannot be told from the cage."
)
FACTS = {
    "rate": "Sampling rate",
    "bits": "Resolution",
    "length": "Length",
    "load": "Load",
    "current": "Current range",
    "voltage": "Voltage range",
}
RATE = "{rate} Hz or more, with an anti-alias filter"
BITS = "{bits} bits or more"
LENGTH = "{seconds} s at steady load; longer at light load, see below"
LOAD = "{good} % of rated or more; below {least} % the side lines are not read"
CURRENT = "{peak} A peak; a wider range loses resolution, a narrower one clips"
VOLTAGE = "{peak} V peak, line to line"
SEES = "The smallest damage it will show, in open bars"
HEADS = (
    "load",
    "slip",
    "pole-pass",
    "length",
    "with voltages",
    "currents only",
    "5th and 7th",
)
UP_TO = "{value} ({high})"
EXPLAINED = (
    "Each number is the middle of what this motor may be; in brackets the end of its 95 % "
    "interval. Assumed: sensor noise of {noise} dB of the rated current; a load that swings like "
    "an ordinary pump or fan ({load} dB of the current in one hertz)."
)
NATURAL = (
    "No cage is perfectly even. Bars that differ by {spread} % read like up to {natural} open "
    "bars. That is in every number above: nothing below it is damage, however well it is measured."
)
SWING = (
    "A load that swings harder at the pole-pass frequency drowns the side lines. The reading with "
    "voltages sees past it."
)
BARS_UNKNOWN = (
    "The number of rotor bars is not in the motor file: ask the repair shop. Every number above "
    "scales with it."
)
ASK = "Before you go"
QUESTIONS = (
    "Is the motor fed by a converter? Then measure at its output and say so in the motor file.",
    "Can the load be held for the whole length? A step or a hunting level control spoils it.",
    "Can a second, clearly different load be recorded as well? It parts rotor ducts from damage.",
)
