"""The limits within which the tests of the standing rotor are read; values with their sources.

They express opinions, so the decision layer keeps them in its table of limits and constructs these
classes with the same names. The defaults serve the library user who calls an indicator directly.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionLimits:
    """Validity limits of impedance against rotor position."""

    least_positions_per_pole_pair: float = 12.0
    """Positions over pole pairs covered (1), 9 to 48: field guides use 12 to 24 (from memory)."""
    least_pole_pairs: float = 1.0
    """Pole pairs that the positions must cover (1), 1 to 2: less leaves an order 2 unproven."""
    largest_return_error: float = 0.002
    """Difference of the last reading from the first at the same angle beyond what the scatter of
    two readings explains (1 of the reading), 0.001 to 0.01; common practice, no source."""
    false_alarm_probability: float = 1e-3
    """Chance of calling a pattern in noise alone (1), 1e-6 to 0.05; judgement."""
    mistake_probability: float = 1e-4
    """Chance below which a reading out of line is taken for a mistake in writing, all readings of a
    series counted (1), 1e-8 to 1e-2; judgement."""
    healthy_anisotropy: float = 0.005
    """Amplitude of orders 2 and 4 over the mean that 95 % of sound rotors stay below (1), 0.001 to
    0.03; judgement: must come from readings of sound motors. Four ducts behind the cage of the
    simulated 3 kW motor make 0.0005."""
    slot_ripple: float = 0.01
    """Largest slot ripple over the mean of a rotor whose number of bars is not known (1), 0.002 to
    0.05; judgement: 0.003 on the simulated 3 kW motor, skewed by one slot."""
    largest_slot_share: float = 0.25
    """Part of a slot ripple that the sampling lets into orders 2 and 4 (1), 0.05 to 0.5; judgement:
    a quarter of 0.3 % is what a good bridge repeats to."""
    largest_variance_factor: float = 3.0
    """Variance of an amplitude over that of as many equally spaced positions (1), 1.5 to 10;
    judgement: positions in heaps do not cover the pole pair."""
    least_amplitude: float = 0.0005
    """Amplitude over the mean below which nobody asks how a pattern moves (1), 0.0001 to 0.002;
    judgement: half of what a good bridge repeats to."""
    least_moving_share: float = 0.6
    """Part of the pattern (1, of its energy) that must move with the pairs, 0.5 to 0.95;
    judgement."""
    largest_noise_bars: float = 1.0
    """Open bars that the scatter of the readings may hide before a pattern that does not stand is
    refused rather than called small (1), 0.5 to 4; judgement."""
    largest_step_factor: float = 2.0
    """Factor between readings of one pair beyond which units were mixed (1), 1.7 to 10: three
    adjacent open bars of the 3 kW motor swing by 1.5."""
    largest_pair_factor: float = 3.0
    """Factor between the medians of two pairs beyond which units were mixed (1), 1.5 to 10;
    judgement."""
    largest_motor_factor: float = 30.0
    """Factor between a reading and this motor's circuit beyond which the unit is wrong (1), 10 to
    300; judgement: iron at low flux and a mistaken connection make less than 10."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanInductanceLimits:
    """Validity limits of the trend of the mean inductance."""

    wanted_baselines: int = 3
    """Earlier tests from which the scatter of this motor is taken (1), 3 to 10; judgement."""
    baseline_sd: float = 0.01
    """Scatter of a repeated test where too few earlier ones tell (standard deviation, 1 of the
    mean), 0.002 to 0.03; judgement: state of magnetisation, bearing wear, instrument."""
    least_sd: float = 0.003
    """Scatter that is assumed at least (same unit), 0.001 to 0.01; judgement."""
    largest_frequency_difference: float = 0.01
    """Between tests that are compared (1), 0 to 0.05."""
    largest_level_difference: float = 0.10
    """Of the test current between tests that are compared (1), 0.02 to 0.3: inductance rises 10 to
    30 % with the flux at low levels (from memory)."""
    unknown_level_sd: float = 0.03
    """Added scatter where a test current was not written down (1 of the mean), 0.01 to 0.1;
    judgement."""
    not_demagnetised_sd: float = 0.01
    """Added scatter where the rotor was not demagnetised, or nobody knows (1 of the mean), 0.005 to
    0.05; judgement."""
    unknown_temperature_k: float = 30.0
    """Standard deviation of a temperature that was not written down (K), 10 to 60; judgement."""
    false_alarm_probability: float = 0.05
    """Chance of calling a rise in scatter alone (1), 1e-3 to 0.2: weak evidence is weighed, not
    gated; it sets the detection limit."""
