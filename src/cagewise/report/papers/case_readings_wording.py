"""What a reading and its picture mean, one sentence each, for somebody who is no engineer."""

from __future__ import annotations

from collections.abc import Mapping

READING: Mapping[str, str] = {
    "direct_component": "What is left of the slow swelling of the current after everything that a "
    "load or a supply can do is taken away: only an uneven cage leaves something.",
    "side_line_sum": "The two signs of the swelling, below and above the supply frequency, taken "
    "together.",
    "lower_side_line": "The sign below the supply frequency: the best known one, but a swinging "
    "load makes it too.",
    "upper_side_line": "The sign above the supply frequency: it tells how the speed swings along.",
    "envelope_amplitude": "How far the current swells and fades.",
    "envelope_phase": "How far the current runs ahead and falls behind.",
    "active_power_line": "How far the power swings that the motor takes: large where the load "
    "swings.",
    "reactive_power_line": "How far the power swings that only magnetises the motor: large where "
    "the cage is uneven.",
    "harmonic_lines": "Signs near five and seven times the supply frequency, where loads leave "
    "nothing.",
    "start_side_line_track": "A sign that sweeps through the start on a course that only the cage "
    "gives.",
    "start_time": "How long the start takes beside earlier ones: a weak cage takes longer.",
    "initial_start_current": "The current of the first moment beside earlier ones: a weak cage "
    "draws less.",
    "position_pattern": "Waves in the readings when the rotor is turned: a sound one makes none.",
    "mean_inductance": "The average over all positions beside earlier tests: it rises when bars "
    "break.",
    "inductance_unbalance": "Whether the three pairs of terminals read alike.",
}
"""By the name of a reading; others have the sentence of their kind of measurement alone."""

PICTURE: Mapping[str, str] = {
    "supply_frame": "The middle is the supply. What to look for: peaks left and right of it, where "
    "the markers stand. Hollow markers show how high a peak would be with 0 to 3 broken bars, the "
    "full one is what was read.",
    "direct": "Two arrows: what a swinging load explains of the sign, and what was really there. "
    "If they end in one point the load makes it; what lies between them is the cage.",
    "envelope": "The strength of the current, second by second. What to look for: slow, even "
    "waves.",
    "harmonics": "What to look for: peaks at the markers. They are the places where only a damaged "
    "cage makes some.",
    "harmonics_7": "The same near seven times the supply frequency.",
    "start": "The start from left to right; dark is strong. What to look for: a dark line "
    "along the dashed course.",
    "start_track": "The sign of the start, read along its course. What to look for: whether it "
    "stays near the floor, as of a sound cage, or near the lines of one or two broken bars.",
    "position": "The readings as the rotor is turned. What to look for: waves that repeat with the "
    "rotor.",
    "resistance": "Three dots that should lie at one height.",
    "insulation": "The resistance of the insulation, minute by minute. It should rise all the "
    "time; the dashed line is the least that a standard accepts.",
    "leakage": "The current that leaks at each voltage. It should grow in proportion; a bend "
    "upwards warns.",
}
"""By the name of a picture, without what follows the first underscore where there are several."""

GENERIC = "What was measured, as it is."
