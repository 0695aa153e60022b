"""Speed of the simulation against real time: ``python benchmarks/simulation.py [--once]``.

A 46-bar motor at 20 kHz steps with five space orders must run at least eight times faster than
real time on one core, with damage and eccentricity, supply, load and recording included. Further
physics costs more; its speed is printed, not demanded.

The clock is the processor time of the process, so that neighbours on the machine do not count; they
still take cache and clock from it, which the best of three runs leaves out. ``--once`` runs each
case a single time and for a shorter stretch, and demands half as much.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace

from cagewise.simulation import (
    Damage,
    DeepBar,
    Eccentricity,
    GapShape,
    LeakageSaturation,
    Load,
    MainSaturation,
    Saturation,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
    trajectory,
)
from cagewise.simulation.stepping import runge_kutta

STEP_RATE_HZ = 20e3


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How long and how often a case runs, and what is demanded of the best."""

    duration_s: float
    repeats: int
    least_times_real_time: float


FULL = Effort(duration_s=10.0, repeats=3, least_times_real_time=8.0)
ONCE = Effort(duration_s=2.0, repeats=1, least_times_real_time=4.0)


def machine(damage: Damage, eccentricity: Eccentricity) -> Setup:
    """Return a 46-bar variant of the reference motor with orders 1 to 13."""
    return Setup(
        geometry=replace(reference_motor_r3k(orders=(1, 5, 7, 11, 13)), rotor_bars=46),
        supply=Supply(line_voltage_rms_v=381.0, frequency_hz=50.0, wander_rms_hz=0.01),
        load=Load(torque_nm=15.0, noise_rms_nm=0.2),
        damage=damage,
        eccentricity=eccentricity,
    )


def further_physics() -> dict[str, Setup]:
    """Return the 46-bar machine with one open bar and more physics each."""
    setup = machine(Damage(open_bars=(0,)), Eccentricity(static=0.2, dynamic=0.1))
    deep = DeepBar(height_m=14e-3, conductivity_s_per_m=26.7e6)
    main = MainSaturation.at_voltage(1.25, line_voltage_rms_v=381.0, frequency_hz=50.0)
    bent = Saturation(main=main, leakage=LeakageSaturation(knee_rms_a=15.0, lost_h=2.5e-3))
    return {
        "deep bars, three sections": replace(setup, geometry=replace(setup.geometry, bar=deep)),
        "saturation": replace(setup, saturation=bent),
        "shaped gap": replace(setup, gap=GapShape()),
    }


def times_real_time(setup: Setup, sampling_rate_hz: float, effort: Effort) -> float:
    """Return seconds simulated per second of processor time, compilation left out."""
    simulate(setup, duration_s=0.1, sampling_rate_hz=sampling_rate_hz, settling_s=0.0)
    spent = []
    for _ in range(effort.repeats):
        start = time.process_time()
        simulate(
            setup,
            duration_s=effort.duration_s,
            sampling_rate_hz=sampling_rate_hz,
            settling_s=0.0,
        )
        spent.append(time.process_time() - start)
    return effort.duration_s / min(spent)


def numpy_times_slower(setup: Setup) -> float:
    """Return the time of the numpy stepper relative to the compiled one."""
    durations = []
    for advance, duration_s in ((None, 2.0), (runge_kutta.advance, 0.2)):
        start = time.process_time()
        trajectory(
            setup, duration_s=duration_s, sampling_rate_hz=5e3, settling_s=0.0, advance=advance
        )
        durations.append((time.process_time() - start) / duration_s)
    return durations[1] / durations[0]


def main() -> None:
    """Print the ratios and fail if one is too low."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true", help="short runs, half the demand")
    effort = ONCE if parser.parse_args().once else FULL
    cases = {
        "sound": machine(Damage(), Eccentricity()),
        "two open bars": machine(Damage(open_bars=(0, 1)), Eccentricity()),
        "two open bars, eccentric": machine(
            Damage(open_bars=(0, 1)), Eccentricity(static=0.2, dynamic=0.1)
        ),
    }
    slowest = float("inf")
    for name, setup in cases.items():
        for rate_hz in (STEP_RATE_HZ, STEP_RATE_HZ / 4.0):
            ratio = times_real_time(setup, rate_hz, effort)
            slowest = min(slowest, ratio)
            print(f"{name:26} recorded at {rate_hz / 1e3:4.0f} kHz: {ratio:5.1f} x real time")
    for name, setup in further_physics().items():
        ratio = times_real_time(setup, STEP_RATE_HZ, replace(effort, repeats=1))
        print(f"{name:26} recorded at   20 kHz: {ratio:5.1f} x")
    print(f"numpy stepper: {numpy_times_slower(cases['two open bars']):.0f} x slower")
    least = effort.least_times_real_time
    print(f"demanded: {least:g} x real time, slowest {slowest:.1f} x")
    assert slowest >= least, f"slowest {slowest:.1f} < {least}"


if __name__ == "__main__":
    main()
