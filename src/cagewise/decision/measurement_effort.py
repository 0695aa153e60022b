"""Hours that a measurement takes two people of the plant, getting ready included.

The values in force stand in the one data file of the decision layer, under the same names.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementEffort:
    """All of it judgement; a plant knows its own hours better."""

    better_record_hours: float = 1.0
    """Clamps on a running motor and wait for the load. 0.2 to 8 (our judgement, no source)."""
    voltages_hours: float = 2.0
    """The same with access to voltage transformers or terminals and its permit. 0.5 to 16 (our
    judgement, no source)."""
    second_load_hours: float = 2.0
    """Agree another load with production and record there. 0.5 to 24 (our judgement, no source)."""
    start_record_hours: float = 1.0
    """Recorder set to trigger on a start that happens anyway. 0.2 to 8 (our judgement, no
    source)."""
    position_test_hours: float = 6.0
    """Isolate, disconnect, turn the rotor through a pole pair by hand, connect again; the stop
    itself is not counted. 2 to 24 (our judgement, no source)."""
