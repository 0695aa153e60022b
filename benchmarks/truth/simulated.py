"""From a scene to what the instruments would have written: recordings and test sheets."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from functools import cached_property

import numpy as np

from cagewise.errors import SimulationError
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.measurement import TestSheet as Sheet
from cagewise.simulation import (
    Damage,
    Eccentricity,
    GapShape,
    Harmonic,
    Load,
    MachineGeometry,
    MainSaturation,
    Modulation,
    PermeanceWave,
    Saturation,
    Sensors,
    Setup,
    SourceImpedance,
    Supply,
    reference_motor_r3k,
    simulate,
)
from cagewise.simulation.machine.conductors import with_deep_bars
from cagewise.simulation.nameplate import RING_SHARE, NameplateMachine, machine_for_motor
from cagewise.simulation.stepping import engine
from cagewise.workflows.simulate_standstill import SheetOptions, sheet_of
from cagewise.workflows.simulate_start import StartOptions, start_of
from truth.plates import REFERENCE
from truth.population import Scene

STEP_RATES_HZ = (5e3, 10e3)
"""Steps of a running motor, in turn, before the usual 20 kHz are taken: the simulation refuses what
is too coarse for a machine. The readings change by less than 1e-3 of themselves
(docs/truth-study.md)."""

FULL_SCALE = 2.0
"""Full scale of a good recorder over the rated peak current."""

SHAPED_ORDERS = (1, 5, 7)
"""Winding orders beside a shaped gap, where each costs as much as the whole machine otherwise."""

PRELIMINARY_S = 10.0
"""Length of the run that finds the pole-pass frequency for what must coincide with it."""

EARLIER_DAYS = (date(2023, 4, 4), date(2024, 4, 9), date(2025, 4, 8))
TODAY = date(2026, 4, 14)


class Simulated:
    """The motor of a scene."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.motor: Motor = scene.plate.motor(scene.motor, bars_known=True)
        self.swing_hz = math.nan
        """Frequency of what swings in the plant, set by :meth:`running`."""

    @cached_property
    def machine(self) -> NameplateMachine:
        """The true machine, which meets its nameplate within the tolerances."""
        scene, plate = self.scene, self.motor.nameplate
        if scene.motor == REFERENCE:
            made = reference_motor_r3k(inertia_factor=3.0 * scene.inertia)
            return NameplateMachine(
                geometry=self._shaped(made), rated_torque_nm=plate.rated_torque_nm, friction_nm=0.0
            )
        slip = plate.rated_slip * scene.slip_off
        true = replace(
            plate,
            rated_speed_rpm=plate.synchronous_speed_rpm * (1.0 - slip),
            rated_current_a=plate.rated_current_a * scene.current_off,
        )
        made_for = machine_for_motor(replace(self.motor, nameplate=true), scene.rate_hz)
        made, moved = made_for.geometry, scene.ring_share / RING_SHARE
        made = replace(
            made,
            inertia_kg_m2=made.inertia_kg_m2 * scene.inertia,
            ring_resistance_ohm=made.ring_resistance_ohm * moved,
            bar_resistance_ohm=made.bar_resistance_ohm
            * (1.0 - scene.ring_share)
            / (1.0 - RING_SHARE),
        )
        return replace(made_for, geometry=self._shaped(made))

    def _shaped(self, geometry: MachineGeometry) -> MachineGeometry:
        """Return the machine with the bars and winding orders of the scene."""
        if self.scene.duct_wave:
            return replace(geometry, orders=SHAPED_ORDERS)
        if self.scene.deep_bars:
            return with_deep_bars(geometry, self.scene.plate.construction)
        return geometry

    def running(self) -> Recording:
        """Return the record of the running motor, with its truth."""
        scene, pole_pass_hz = self.scene, 0.0
        if scene.oscillation or scene.amplitude_modulation or scene.phase_modulation:
            quiet = _without_noise(self.setup(0.0))
            truth = _run(quiet, PRELIMINARY_S, 2500.0, scene.seed).truth
            pole_pass_hz = truth["pole_pass_frequency_hz"]
            self.swing_hz = scene.oscillation_at * pole_pass_hz
        return _run(self.setup(pole_pass_hz), scene.duration_s, scene.rate_hz, scene.seed)

    def setup(self, pole_pass_hz: float) -> Setup:
        """Return what is simulated; nothing coincides with the pole pass if that is 0."""
        scene, plate = self.scene, self.motor.nameplate
        gap = None
        if scene.duct_wave:
            gap = GapShape(rotor=(PermeanceWave(order=plate.poles, amplitude=scene.duct_wave),))
        saturation = None
        if scene.main_saturation > 1.0:
            main = MainSaturation.at_voltage(
                scene.main_saturation,
                line_voltage_rms_v=plate.rated_voltage_v,
                frequency_hz=plate.rated_frequency_hz,
            )
            saturation = Saturation(main=main)
        return Setup(
            geometry=self.machine.geometry,
            damage=self.damage(),
            eccentricity=Eccentricity(static=scene.static, dynamic=scene.dynamic),
            gap=gap,
            saturation=saturation,
            supply=self._supply(pole_pass_hz),
            load=self._load(pole_pass_hz),
            sensors=sensors(scene, self.motor),
        )

    def damage(self) -> Damage:
        """Return the cage."""
        factors = self.scene.resistance_factors()
        return Damage(open_bars=self.scene.open_bars, resistance_factors=factors)

    def _supply(self, pole_pass_hz: float) -> Supply:
        scene, plate = self.scene, self.motor.nameplate
        rng = np.random.default_rng([scene.seed, 5])
        source = SourceImpedance()
        if scene.short_circuit_ratio:
            source = SourceImpedance.from_short_circuit(
                power_va=scene.short_circuit_ratio * plate.rated_apparent_power_va,
                line_voltage_rms_v=plate.rated_voltage_v,
                frequency_hz=plate.rated_frequency_hz,
                x_over_r=6.0,
            )
        return Supply(
            line_voltage_rms_v=scene.voltage * plate.rated_voltage_v,
            frequency_hz=plate.rated_frequency_hz + float(rng.uniform(-0.05, 0.05)),
            unbalance=scene.unbalance,
            unbalance_phase_rad=float(rng.uniform(0.0, 2.0 * math.pi)),
            harmonics=tuple(
                Harmonic(
                    order=order,
                    ratio=share * scene.harmonics,
                    phase_rad=float(rng.uniform(0.0, 2.0 * math.pi)),
                )
                for order, share in ((5, 1.0), (7, 0.6), (11, 0.3), (13, 0.2))
            ),
            amplitude_modulation=_at(scene.amplitude_modulation, pole_pass_hz),
            phase_modulation=_at(scene.phase_modulation, pole_pass_hz),
            wander_rms_hz=scene.wander_hz,
            flicker_rms=scene.flicker,
            source=source,
        )

    def _load(self, pole_pass_hz: float) -> Load:
        scene, plate = self.scene, self.motor.nameplate
        rated, speed = plate.rated_torque_nm, plate.rated_speed_rpm * math.pi / 30.0
        friction = self.machine.friction_nm
        shaft = scene.load * rated
        return Load(
            torque_nm=friction if scene.quadratic else shaft + friction,
            quadratic_nm_s2=shaft / speed**2 if scene.quadratic else 0.0,
            oscillations=_at(scene.oscillation * rated, scene.oscillation_at * pole_pass_hz),
            noise_rms_nm=scene.torque_noise * rated,
        )

    def start(self, number: int) -> Recording:
        """Return a start: 0 is the present one, others are earlier and of the sound cage."""
        scene = self.scene
        rng = np.random.default_rng([scene.seed, 21, number])
        damage = self.damage() if number == 0 else Damage()
        options = StartOptions(
            open_bars=damage.open_bars,
            resistance_factors=damage.resistance_factors,
            load_fraction=min(scene.load, 0.8),
            constant_torque=float(rng.choice([0.08, 0.2])),
            voltage=float(rng.uniform(0.97, 1.03)),
            temperature_degc=float(rng.uniform(20.0, 95.0)),
            running_s=1.5,
            torque_noise=scene.torque_noise,
            seed=10 * scene.seed + number,
        )
        return start_of(self._at_rest, self.motor, options)

    def sheet(self, number: int) -> Sheet:
        """Return a test sheet: 0 is the present one, others are earlier and of the sound cage."""
        scene = self.scene
        rng = np.random.default_rng([scene.seed, 31, number])
        damage = self.damage() if number == 0 else Damage()
        options = SheetOptions(
            measured_on=(TODAY, *EARLIER_DAYS)[number],
            open_bars=damage.open_bars,
            resistance_factors=damage.resistance_factors,
            repeatability=float(rng.choice([0.0005, 0.0015, 0.003])),
            angle_error_deg=float(rng.choice([0.1, 0.3, 0.6])) / self.motor.nameplate.pole_pairs,
            winding_temperature_degc=float(rng.uniform(15.0, 40.0)),
            seed=10 * scene.seed + number,
        )
        return sheet_of(self._at_rest, self.motor, options)

    @cached_property
    def _at_rest(self) -> NameplateMachine:
        """The same machine, in whose bars the current is displaced."""
        geometry = with_deep_bars(self.machine.geometry, self.scene.plate.construction)
        return replace(self.machine, geometry=geometry)


def sensors(scene: Scene, motor: Motor) -> Sensors:
    """Return clamps and recorder, within their specification unless the scene has a fault."""
    plate, root = motor.nameplate, math.sqrt(2.0)
    rng = np.random.default_rng([scene.seed, 6])
    noise = 10.0 ** (scene.noise_db / 20.0)
    within = [tuple(float(x) for x in size * rng.uniform(-1.0, 1.0, 3)) for size in (0.006, 0.5)]
    sound = Sensors(
        current_ratio_error=(within[0][0], within[0][1], within[0][2]),
        current_phase_error_deg=(within[1][0], within[1][1], within[1][2]),
        voltage_ratio_error=(0.002, -0.002, 0.0),
        current_noise_rms_a=noise * plate.rated_current_a,
        voltage_noise_rms_v=noise * plate.rated_voltage_v,
        bits=scene.bits,
        current_full_scale_a=FULL_SCALE * root * plate.rated_current_a,
        voltage_full_scale_v=1.5 * root * plate.rated_voltage_v,
    )
    return _faulty(sound, scene, motor)


def _faulty(sound: Sensors, scene: Scene, motor: Motor) -> Sensors:
    """Return the sensors with the fault of the scene."""
    size, peak_a = scene.fault_size, math.sqrt(2.0) * motor.nameplate.rated_current_a
    ratio, phase = sound.current_ratio_error, sound.current_phase_error_deg
    drawn_a = peak_a * (0.4 + 0.6 * scene.load)
    faults = {
        "": sound,
        "clamp reversed": replace(sound, current_directions=(1, -1, 1)),
        "clamps swapped": replace(sound, current_conductors=(1, 0, 2)),
        "clamps turned": replace(sound, current_conductors=(1, 2, 0)),
        "two clamps on one conductor": replace(sound, current_conductors=(0, 0, 2)),
        "voltage leads swapped": replace(sound, voltage_leads=(0, 2, 1)),
        "offset": replace(sound, current_offset_a=(0.0, (0.02 + 0.2 * size) * peak_a, 0.0)),
        "ratio error": replace(
            sound, current_ratio_error=(ratio[0], ratio[1] - 0.03 - 0.27 * size, ratio[2])
        ),
        "phase error": replace(
            sound, current_phase_error_deg=(phase[0], phase[1] + 2.0 + 8.0 * size, phase[2])
        ),
        "clipping": replace(sound, current_full_scale_a=(0.95 - 0.35 * size) * drawn_a),
        "coarse counts": replace(sound, bits=12, current_full_scale_a=(4.0 + 36.0 * size) * peak_a),
        "lost samples": replace(sound, lost_samples=1 + round(20 * size)),
    }
    return faults[scene.fault]


def _without_noise(setup: Setup) -> Setup:
    """Return the setup in which nothing is random but the cage."""
    return replace(
        setup,
        supply=replace(setup.supply, wander_rms_hz=0.0, flicker_rms=0.0),
        load=replace(setup.load, noise_rms_nm=0.0),
    )


def _at(amplitude: float, frequency_hz: float) -> tuple[Modulation, ...]:
    """Return a modulation, or none."""
    if not amplitude or not frequency_hz:
        return ()
    return (Modulation(amplitude=amplitude, frequency_hz=frequency_hz),)


def _run(setup: Setup, duration_s: float, rate_hz: float, seed: int) -> Recording:
    """Simulate with as coarse steps as the machine allows."""
    for step_rate_hz in STEP_RATES_HZ:
        try:
            with _steps_at(step_rate_hz):
                return simulate(setup, duration_s=duration_s, sampling_rate_hz=rate_hz, seed=seed)
        except SimulationError:
            continue
    return simulate(setup, duration_s=duration_s, sampling_rate_hz=rate_hz, seed=seed)


@contextmanager
def _steps_at(rate_hz: float) -> Iterator[None]:
    """Let the simulation take fewer steps than usual; it still refuses what they get wrong."""
    usual = engine.LOWEST_STEP_RATE_HZ
    engine.LOWEST_STEP_RATE_HZ = rate_hz
    try:
        yield
    finally:
        engine.LOWEST_STEP_RATE_HZ = usual
