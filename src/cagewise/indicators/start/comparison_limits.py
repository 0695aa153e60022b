"""The limits within which starts are compared; values with their sources.

They express opinions, so the decision layer keeps them in its table of limits and constructs this
class with the same names. The defaults serve the library user who calls an indicator directly.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StartComparisonLimits:
    """When starts of one motor may be compared, and how alike sound ones are."""

    largest_voltage_difference: float = 0.05
    """Largest difference of the mean voltages of two starts that are compared (1 of rated): 5 %
    change the time by 10 % and more, and the square law is not exact under load (simulated motor:
    by up to 3 % of the time over this range)."""
    largest_load_difference: float = 0.15
    """Largest difference of the running currents after two starts that are compared (1): beyond,
    valve or damper stood elsewhere; judgement."""
    largest_first_current_difference: float = 0.3
    """Difference of the initial current from that of the code letter or the circuit (1) beyond
    which it is mentioned: a wrong ratio or another motor (IEC 60034-1 allows 20 %, from memory)."""
    temperature_spread_k: float = 15.0
    """Standard deviation of the winding and cage temperature from start to start (K); judgement:
    from a cold start to one after a pause."""
    time_repeatability: float = 0.015
    """Standard deviation of the normalised starting time from start to start for everything else
    than temperature: grid, friction, process (1); judgement."""
    current_repeatability: float = 0.01
    """The same of the initial current per unit of voltage (1): saturation, position of the rotor,
    instrument transformers under offset; judgement."""
    prior_starts: float = 2.0
    """How many starts the two spreads above are worth beside the scatter of the motor's own (1)."""
    few_starts: int = 3
    """Fewer earlier starts than this are said to be few (1): published practice asks for three
    baselines of a trend."""
