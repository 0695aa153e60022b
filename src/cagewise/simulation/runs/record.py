"""Machine, damage, supply, load and sensors in, a recording with its truth out."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from cagewise.measurement import Provenance, Recording
from cagewise.simulation.runs.course import Setup, Trajectory, truth_of
from cagewise.simulation.runs.run import trajectory
from cagewise.simulation.runs.starting import Start, start_trajectory, start_truth


def simulate(
    setup: Setup,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    settling_s: float = 2.0,
) -> Recording:
    """Simulate a steady stretch of running and record it.

    The run begins at the steady state of the mean load and settles for ``settling_s`` before the
    first sample. Equal arguments give equal samples.

    Raises
    ------
    SimulationError
        If the motor stalls or runs away, or the step is too coarse for it.
    InputError
        If the duration or the rate is impossible.
    """
    path = trajectory(
        setup,
        duration_s=duration_s,
        sampling_rate_hz=sampling_rate_hz * setup.sensors.oversampling,
        seed=seed,
        settling_s=settling_s,
    )
    return recorded(setup, path, sampling_rate_hz, seed, truth_of(setup, path))


def simulate_start(
    setup: Setup,
    start: Start | None = None,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
) -> Recording:
    """Simulate a start and record it; ``truth`` is that of :func:`~.starting.start_truth`.

    A motor that stalls is recorded with ``truth["stalled"] = 1``: that record is of interest.

    Raises
    ------
    SimulationError
        If the load drives the motor away, or the step is too coarse for it.
    InputError
        If duration, rate or switching time are impossible.
    """
    start = start or Start()
    path = start_trajectory(
        setup,
        start,
        duration_s=duration_s,
        sampling_rate_hz=sampling_rate_hz * setup.sensors.oversampling,
        seed=seed,
    )
    return recorded(setup, path, sampling_rate_hz, seed, start_truth(setup, start, path))


def recorded(
    setup: Setup,
    path: Trajectory,
    sampling_rate_hz: float,
    seed: int,
    truth: Mapping[str, float],
) -> Recording:
    """Return what the instruments make of the course."""
    phase = path.supply_phase_rad
    channels = setup.sensors.channels(
        path.currents_a,
        path.voltages_v,
        float(phase[-1] - phase[0]) / (phase.size - 1),
        np.random.default_rng([seed, 3]),
        trajectory_rate_hz=sampling_rate_hz * setup.sensors.oversampling,
    )
    return Recording(
        channels=channels,
        sampling_rate_hz=sampling_rate_hz,
        provenance=Provenance(source="cagewise simulation", format_name="simulation"),
        nominal_frequency_hz=setup.supply.frequency_hz,
        truth=MappingProxyType({**truth, **setup.sensors.truth()}),
    )
