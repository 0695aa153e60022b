"""One run with everything around the machine: weak grid, converter, recorder.

:mod:`.run` and :mod:`.starting` step the machine on a stiff source; here stands what is put round
it, and what the recorder makes of the result.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from cagewise.errors import InputError
from cagewise.measurement import Provenance, Recording
from cagewise.simulation import run, starting
from cagewise.simulation.attachment import Attachment, WeakGrid
from cagewise.simulation.course import Setup, Trajectory, truth_of
from cagewise.simulation.regulator import Regulator
from cagewise.simulation.starting import Start, start_truth
from cagewise.simulation.stepping import Advance, fastest_advance


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
    """Simulate a start and record it; see :func:`cagewise.simulation.starting.simulate_start`.

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
    truth = start_truth(behind_source(setup), start, path)
    return recorded(setup, path, sampling_rate_hz, seed, truth)


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


def trajectory(
    setup: Setup,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    settling_s: float = 2.0,
    advance: Advance | None = None,
) -> Trajectory:
    """Return the true course; see :func:`cagewise.simulation.run.trajectory`.

    Voltages are those at the motor's terminals, behind source impedance or converter.
    """
    attachment, stepper = _attached(setup, advance)
    path = run.trajectory(
        behind_source(setup),
        duration_s=duration_s,
        sampling_rate_hz=sampling_rate_hz,
        seed=seed,
        settling_s=settling_s,
        advance=attachment or advance,
    )
    return _at_terminals(path, attachment, stepper)


def start_trajectory(
    setup: Setup,
    start: Start | None = None,
    *,
    duration_s: float,
    sampling_rate_hz: float,
    seed: int = 0,
    advance: Advance | None = None,
) -> Trajectory:
    """Return the true course; see :func:`cagewise.simulation.starting.start_trajectory`."""
    if setup.supply.control is not None:
        raise InputError(
            "vector control takes over a running machine; it does not start one",
            where="start",
            remedy="Simulate the steady run, or start with the soft starter.",
        )
    attachment, stepper = _attached(setup, advance)
    path = starting.start_trajectory(
        behind_source(setup),
        start,
        duration_s=duration_s,
        sampling_rate_hz=sampling_rate_hz,
        seed=seed,
        advance=attachment or advance,
    )
    return _at_terminals(path, attachment, stepper)


def behind_source(setup: Setup) -> Setup:
    """Return the setup with the source impedance as part of the stator: exact, it is linear."""
    source, machine = setup.supply.source, setup.geometry
    if not source:
        return setup
    series = replace(
        machine,
        stator_resistance_ohm=machine.stator_resistance_ohm + source.resistance_ohm,
        stator_leakage_h=machine.stator_leakage_h + source.inductance_h,
    )
    return replace(setup, geometry=series)


def _attached(setup: Setup, advance: Advance | None) -> tuple[Attachment | None, str]:
    """Return what stands between a stiff source and the motor, if anything, and the stepper."""
    stepper = "given"
    if advance is None:
        advance, stepper = fastest_advance()
    if setup.supply.control is not None:
        return Regulator(advance, setup, setup.supply.control), stepper
    return (WeakGrid(advance, setup.supply.source) if setup.supply.source else None), stepper


def _at_terminals(path: Trajectory, attachment: Attachment | None, stepper: str) -> Trajectory:
    """Return the course with the voltages at the motor's terminals."""
    if attachment is None:
        return path
    return replace(attachment.at_terminals(path), stepper=stepper)
