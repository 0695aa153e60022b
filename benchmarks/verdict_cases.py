"""Motors of known truth, and what disturbs them: the cases of ``verdicts.py``.

The machines do not meet their nameplates exactly: rated slip is off by up to 15 %, current by up to
3 %. What plant and recorder may be is taken in turn from :data:`FACTORS`; each case has a seed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import cycle

import numpy as np

from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import Recording
from cagewise.simulation import (
    Damage,
    Eccentricity,
    Harmonic,
    Load,
    MachineGeometry,
    Modulation,
    Sensors,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
)
from cagewise.simulation.nameplate import machine_for_motor

PLATES = {
    "3 kW": ((3e3, 380.0, 50.0, 1420.0, 6.7, 4), 32, "cast"),
    "315 kW": ((315e3, 690.0, 50.0, 1488.0, 318.0, 4), 58, "cast"),
    "1100 kW 2p": ((1100e3, 6000.0, 50.0, 2982.0, 123.0, 2), 46, "fabricated"),
    "400 kW 6p": ((400e3, 4160.0, 60.0, 1188.0, 70.0, 6), 54, "fabricated"),
    "75 kW 60 Hz": ((75e3, 460.0, 60.0, 1777.0, 116.0, 4), 40, "cast"),
}
"""Name to power, voltage, frequency, speed, current and poles; bars; construction. Invented."""

SLIP_OFF = {"315 kW": 1.12, "1100 kW 2p": 0.88, "400 kW 6p": 1.15, "75 kW 60 Hz": 0.9}
CURRENT_OFF = {"315 kW": 0.98, "1100 kW 2p": 1.03, "400 kW 6p": 0.97, "75 kW 60 Hz": 1.02}
"""True over rated values: the tolerance of a nameplate."""

FACTORS = {
    "wander_hz": (0.005, 0.010, 0.020),
    "unbalance": (0.0, 0.005, 0.01, 0.02),
    "harmonics": (0.0, 0.01, 0.03),
    "torque_noise": (0.002, 0.006, 0.02),
    "inertia": (1.0, 3.0, 10.0, 30.0),
    "noise_db": (-75.0, -70.0, -65.0),
    "bits": (16, 12),
    "rate_hz": (2500.0, 5000.0, 2500.0, 2500.0, 10000.0),
    "scatter": (0.0, 0.01, 0.005),
}
"""Levels of what a plant and a recorder may be; cases take them in turn."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """One examination."""

    name: str
    motor: str
    load: float
    open_bars: tuple[int, ...] = ()
    crack: float = 1.0
    """Factor on the resistance of bar 3."""
    oscillation: float = 0.0
    """Torque at twice the slip frequency, of rated torque."""
    oscillation_at: float = 1.0
    """Its frequency over the pole-pass frequency."""
    amplitude_modulation: float = 0.0
    phase_modulation: float = 0.0
    bars_known: bool = True
    channels: str = "V and I"
    conductors: tuple[int, int, int] = (0, 1, 2)
    """Phases whose conductors the clamps a, b, c hold."""
    directions: tuple[int, int, int] = (1, 1, 1)
    """-1 for a clamp that is put on the wrong way round."""
    duration_s: float = 60.0
    wander_hz: float = 0.010
    unbalance: float = 0.005
    harmonics: float = 0.01
    torque_noise: float = 0.006
    inertia: float = 1.0
    noise_db: float = -70.0
    bits: int = 16
    rate_hz: float = 2500.0
    scatter: float = 0.005
    seed: int = 0

    @property
    def half_pole_pitch(self) -> int:
        """Bars in 90 electrical degrees, rounded."""
        (_, _, _, _, _, poles), bars, _ = PLATES[self.motor]
        return round(bars / (2 * poles))

    def damage(self) -> Damage:
        """Return the cage."""
        n = PLATES[self.motor][1]
        rng = np.random.default_rng([self.seed, 9])
        factors = 1.0 + self.scatter * rng.standard_normal(n)
        factors[3] *= self.crack
        kept = {k: float(x) for k, x in enumerate(factors) if k not in self.open_bars}
        return Damage(open_bars=self.open_bars, resistance_factors=kept)

    @property
    def true_bars(self) -> float | None:
        """Open-bar equivalent of the cage; None where bars are apart.

        A bar of resistance factor r is short of the part (r - 1) / r of its current; small
        unevenness adds as phasors of the doubled electrical angle (kernel K2).
        """
        if len(self.open_bars) > 1 and self.open_bars[-1] - self.open_bars[0] >= 3:
            return None
        if self.open_bars:
            return float(len(self.open_bars))
        factors = self.damage().resistance_factors
        n, poles = PLATES[self.motor][1], PLATES[self.motor][0][5]
        turns = [(r - 1.0) / r * np.exp(2j * math.pi * poles * k / n) for k, r in factors.items()]
        return float(abs(sum(turns)))


def plate_motor(name: str, *, bars_known: bool) -> Motor:
    """Return the motor file of an engineer."""
    (power, voltage, frequency, speed, current, poles), bars, construction = PLATES[name]
    plate = Nameplate(
        rated_power_w=power,
        rated_voltage_v=voltage,
        rated_frequency_hz=frequency,
        rated_speed_rpm=speed,
        rated_current_a=current,
        poles=poles,
    )
    cage = Cage(rotor_bars=bars, construction=construction) if bars_known else Cage()
    return Motor(tag=name, nameplate=plate, cage=cage)


def machine(case: Case) -> MachineGeometry:
    """Return the true machine, which meets its nameplate within the tolerances."""
    if case.motor == "3 kW":
        return reference_motor_r3k(inertia_factor=case.inertia)
    motor = plate_motor(case.motor, bars_known=True)
    plate = motor.nameplate
    slip = plate.rated_slip * SLIP_OFF[case.motor]
    true = replace(
        plate,
        rated_speed_rpm=plate.synchronous_speed_rpm * (1.0 - slip),
        rated_current_a=plate.rated_current_a * CURRENT_OFF[case.motor],
    )
    geometry = machine_for_motor(replace(motor, nameplate=true), case.rate_hz).geometry
    return replace(geometry, inertia_kg_m2=geometry.inertia_kg_m2 * case.inertia / 3.0)


def setup(case: Case, pole_pass_hz: float) -> Setup:
    """Return what is simulated."""
    plate = plate_motor(case.motor, bars_known=True).nameplate
    rated_nm, root = plate.rated_torque_nm, math.sqrt(2.0)
    noise = 10.0 ** (case.noise_db / 20.0)
    at = pole_pass_hz * case.oscillation_at
    orders = ((5, 1.0), (7, 0.7)) if case.harmonics else ()
    sensors = Sensors(
        current_ratio_error=(0.003, -0.004, 0.002),
        current_phase_error_deg=(0.6, 0.3, 0.5),
        voltage_ratio_error=(0.002, -0.002, 0.0),
        current_noise_rms_a=noise * plate.rated_current_a,
        voltage_noise_rms_v=noise * plate.rated_voltage_v,
        bits=case.bits,
        current_full_scale_a=2.0 * root * plate.rated_current_a,
        voltage_full_scale_v=1.5 * root * plate.rated_voltage_v,
        current_conductors=case.conductors,
        current_directions=case.directions,
    )
    return Setup(
        geometry=machine(case),
        damage=case.damage(),
        eccentricity=Eccentricity(static=0.1, dynamic=0.05),
        supply=Supply(
            line_voltage_rms_v=plate.rated_voltage_v,
            frequency_hz=plate.rated_frequency_hz - 0.01,
            unbalance=case.unbalance,
            unbalance_phase_rad=1.1,
            harmonics=tuple(
                Harmonic(order=k, ratio=part * case.harmonics, phase_rad=0.4 * k)
                for k, part in orders
            ),
            amplitude_modulation=_at(case.amplitude_modulation, pole_pass_hz),
            phase_modulation=_at(case.phase_modulation, pole_pass_hz),
            wander_rms_hz=case.wander_hz,
            flicker_rms=0.0005,
        ),
        load=Load(
            torque_nm=case.load * rated_nm,
            oscillations=_at(case.oscillation * rated_nm, at),
            noise_rms_nm=case.torque_noise * rated_nm,
        ),
        sensors=sensors,
    )


def _at(amplitude: float, frequency_hz: float) -> tuple[Modulation, ...]:
    """Return a modulation, or none."""
    return (Modulation(amplitude=amplitude, frequency_hz=frequency_hz),) if amplitude else ()


def record(case: Case) -> Recording:
    """Simulate; what must coincide with the pole pass follows the slip of a shorter run."""
    meeting = case.oscillation or case.amplitude_modulation or case.phase_modulation
    pole_pass_hz = 0.0
    if meeting:
        quiet = replace(
            case, oscillation=0.0, amplitude_modulation=0.0, phase_modulation=0.0, rate_hz=2500.0
        )
        truth = simulate(
            setup(quiet, 0.0), duration_s=10.0, sampling_rate_hz=2500.0, seed=case.seed
        ).truth
        pole_pass_hz = truth["pole_pass_frequency_hz"]
    return simulate(
        setup(case, pole_pass_hz),
        duration_s=case.duration_s,
        sampling_rate_hz=case.rate_hz,
        seed=case.seed,
    )


def cases() -> Iterator[Case]:
    """Yield the study."""
    levels = {name: cycle(values) for name, values in FACTORS.items()}
    for seed, about in enumerate(_outline(), start=101):
        taken: dict[str, object] = {name: next(values) for name, values in levels.items()}
        name = f"{about['motor']} {about.pop('story')} {about['load']:.0%}".replace("%", " %")
        yield Case(**{**taken, "name": name, "seed": seed, **about})  # type: ignore[arg-type]  # fields of Case


def _outline() -> Iterator[dict[str, object]]:
    """Yield motor, load and what is special."""
    motors = tuple(PLATES)
    for load in (0.75, 0.5, 1.0, 0.25, 0.1):
        for k, motor in enumerate(motors):
            known = (k + round(10 * load)) % 3 != 0
            yield {"story": "sound", "motor": motor, "load": load, "bars_known": known}
            yield {
                "story": "one bar",
                "motor": motor,
                "load": load,
                "open_bars": (7,),
                "bars_known": not known,
            }
    yield from _damage(motors)
    yield from _disturbed(motors)
    yield from _captures(motors)


def _damage(motors: tuple[str, ...]) -> Iterator[dict[str, object]]:
    """Yield other damage."""
    for load, motor in zip((0.5, 0.75, 1.0, 0.25, 0.5), motors, strict=True):
        half = Case(name="", motor=motor, load=load).half_pole_pitch
        yield {"story": "bar x2", "motor": motor, "load": load, "crack": 2.0}
        yield {"story": "two bars", "motor": motor, "load": load, "open_bars": (7, 8)}
        yield {"story": "three bars", "motor": motor, "load": load, "open_bars": (7, 8, 9)}
        yield {"story": "two at 90", "motor": motor, "load": load, "open_bars": (7, 7 + half)}


def _disturbed(motors: tuple[str, ...]) -> Iterator[dict[str, object]]:
    """Yield loads and supplies that swing at, or near, the pole-pass frequency."""
    for load, size, motor in zip(
        (0.5, 0.75, 1.0, 0.5, 0.25), (0.1, 0.05, 0.03, 0.1, 0.05), motors, strict=True
    ):
        swing = {"motor": motor, "load": load, "oscillation": size}
        yield {"story": "sound, load at 2sf", **swing}
        yield {"story": "one bar, load at 2sf", "open_bars": (7,), **swing}
        yield {"story": "sound, load near 2sf", "oscillation_at": 1.04, **swing}
    for load, motor in zip((1.0, 0.5, 0.75, 0.25, 0.5), motors, strict=True):
        yield {
            "story": "sound, AM at 2sf",
            "motor": motor,
            "load": load,
            "amplitude_modulation": 0.002,
        }
        yield {
            "story": "sound, PM at 2sf",
            "motor": motor,
            "load": load,
            "phase_modulation": 0.005,
        }


def _captures(motors: tuple[str, ...]) -> Iterator[dict[str, object]]:
    """Yield reduced and faulty captures."""
    for load, motor in zip((0.75, 0.5, 0.75, 0.5, 1.0), motors, strict=True):
        for channels in ("I only", "one I"):
            about = {"motor": motor, "load": load, "channels": channels}
            yield {"story": f"sound, {channels}", **about}
            yield {"story": f"one bar, {channels}", "open_bars": (7,), **about}
        yield {
            "story": "sound, load at 2sf, I only",
            "motor": motor,
            "load": load,
            "channels": "I only",
            "oscillation": 0.05,
        }
        yield {
            "story": "one bar, 10 s",
            "motor": motor,
            "load": load,
            "open_bars": (7,),
            "duration_s": 10.0,
        }
    for story, wrong in (
        ("clamp b reversed", {"directions": (1, -1, 1)}),
        ("clamps a, b swapped", {"conductors": (1, 0, 2)}),
        ("all clamps turned by one", {"conductors": (1, 2, 0)}),
        ("all clamps reversed", {"directions": (-1, -1, -1)}),
    ):
        about = {"motor": "315 kW", "load": 0.75, **wrong}
        yield {"story": f"sound, {story}", **about}
        yield {"story": f"one bar, {story}", "open_bars": (7,), **about}


ONCE = (
    "3 kW sound 75 %",
    "3 kW one bar 75 %",
    "3 kW sound, load at 2sf 50 %",
    "3 kW one bar, load at 2sf 50 %",
    "3 kW two at 90 50 %",
    "3 kW one bar 10 %",
)
"""The subset: high slip, so that 20 s hold a hundred pole-pass periods."""
