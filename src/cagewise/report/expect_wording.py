"""The sentences of "what would open bars show", kept beside the catalogue for its size."""

TITLE = "WHAT OPEN BARS WOULD SHOW"
INTRODUCTION = (
    "Levels over the fundamental current in dBc, and the direct component as n |d| / |I_r|. "
    "In brackets the 95 % interval of what this motor may be."
)
LOAD = "{load} % load: pole-pass frequency {pole_pass} Hz"
SIDE_HEADS = ("bars", "(1-2s)f", "(1+2s)f", "direct component")
HARMONIC_HEADS = ("bars", "(5-4s)f", "(5-6s)f", "(7-6s)f", "(7-8s)f")
LIMIT = "limit"
LEVEL = "{value} ({low}, {high})"
READ = "How to read this"
NOTES = (
    "No bar (0) open is a sound cage whose bars differ as those of sound cages do.",
    (
        "The last line of each table is the smallest damage, in open bars, that a steady record "
        "of {seconds} s shows 95 times in 100; in brackets the end of its 95 % interval."
    ),
    (
        "Side lines depend on inertia and load; the direct component hardly does. That is why no "
        "chart of levels holds for all motors."
    ),
    (
        "The lines beside the 5th and 7th harmonic depend on the winding. They do not grow "
        "steadily with the number of bars."
    ),
)
BARS_UNKNOWN = (
    "The number of rotor bars is not known: ask the repair shop. With it every interval narrows."
)

SIMULATED = "SIMULATED: {where}"
SIMULATED_FACTS = {
    "open_bars": "Open bars",
    "speed": "Speed",
    "slip": "Slip",
    "pole_pass": "Pole-pass frequency",
    "current": "Line current",
    "power": "Shaft power",
}
SIMULATED_NOTE = (
    "A made-up machine that meets this nameplate; dimensions, inertia and load noise are invented. "
    "It is linear and has no iron loss."
)
