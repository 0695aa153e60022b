"""The machines of ``visit_cases.py``, their starts and their test sheets.

The true machine is richer than the model of the examination: deep bars, saturated leakage and main
path, an eccentric gap, an uneven cage, rings of their own share, a nameplate that is met within the
tolerances, another temperature at every occasion.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np

from cagewise.machine.motor import Motor
from cagewise.machine.positions import PositionAdvice, position_counts
from cagewise.measurement import PositionSeries, Provenance, Recording, Role, TerminalPair
from cagewise.measurement import TestSheet as Sheet
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation import (
    Damage,
    Eccentricity,
    GapShape,
    Harmonic,
    LeakageSaturation,
    Load,
    MachineGeometry,
    MainSaturation,
    PermeanceWave,
    Saturation,
    Sensors,
    Setup,
    SourceImpedance,
    Start,
    Supply,
    reference_motor_r3k,
    simulate_start,
)
from cagewise.simulation.machine.conductors import at_temperature, with_deep_bars
from cagewise.simulation.nameplate import machine_for_motor
from cagewise.simulation.runs.starting import run_up_time_s
from cagewise.simulation.standstill import Connection, standstill_impedances
from visit_cases import FIRST_BAR, Case, plate_motor

RATE_HZ = 5000.0
SWITCH_ON_S = 0.4
RUNNING_S = 1.5
HIGHEST_ORDER = 61
"""Winding orders at rest: higher ones change no pattern by more than a bridge shows."""
EARLIER_DAYS = (date(2023, 4, 4), date(2024, 4, 9), date(2025, 4, 8))
TODAY = date(2026, 4, 14)


@dataclass(frozen=True)
class TrueMotor:
    """The machine of a case."""

    case: Case

    @cached_property
    def motor(self) -> Motor:
        """The motor as built, everything known."""
        return plate_motor(self.case.plate, bars_known=True)

    @cached_property
    def geometry(self) -> MachineGeometry:
        """Dimensions when hot."""
        scene, plate = self.case.scene, self.motor.nameplate
        if self.case.plate == "3 kW":
            return reference_motor_r3k(orders=(1, 5, 7))
        slip = plate.rated_slip * scene.slip_off
        true = replace(
            plate,
            rated_speed_rpm=plate.synchronous_speed_rpm * (1.0 - slip),
            rated_current_a=plate.rated_current_a * scene.current_off,
        )
        made = machine_for_motor(replace(self.motor, nameplate=true), RATE_HZ).geometry
        moved = scene.ring_share / 0.15
        made = replace(
            made,
            orders=(1, 5, 7),
            ring_resistance_ohm=made.ring_resistance_ohm * moved,
            bar_resistance_ohm=made.bar_resistance_ohm * (1.0 - scene.ring_share) / 0.85,
        )
        return with_deep_bars(made, self.motor.cage.construction)

    def damage(self, *, damaged: bool) -> Damage:
        """Return the cage, uneven as cages are."""
        n, case = self.geometry.rotor_bars, self.case
        rng = np.random.default_rng([case.seed, 9])
        factors = 1.0 + case.scene.uneven * rng.standard_normal(n)
        if not damaged:
            return Damage(resistance_factors=dict(enumerate(map(float, factors))))
        factors[FIRST_BAR] *= case.crack
        kept = {k: float(x) for k, x in enumerate(factors) if k not in case.open_bars}
        ring = (FIRST_BAR,) if case.cut_ring else ()
        return Damage(open_bars=case.open_bars, resistance_factors=kept, cut_ring_segments=ring)

    def setup(self, temperature_degc: float, *, damaged: bool) -> Setup:
        """Return the machine in its plant; the inertia gives the wanted start."""
        case, plate = self.case, self.motor.nameplate
        geometry = at_temperature(
            self.geometry,
            temperature_degc,
            conductor="copper",
            construction=self.motor.cage.construction,
        )
        gap = None
        if case.ducts:
            waves = (PermeanceWave(order=plate.poles, amplitude=case.ducts),)
            gap = GapShape(rotor=waves)
        return Setup(
            geometry=geometry,
            supply=self._supply(),
            load=self._load(),
            damage=self.damage(damaged=damaged),
            eccentricity=Eccentricity(static=0.1, dynamic=0.05),
            gap=gap,
            saturation=self._saturation(),
            sensors=self._sensors(),
        )

    def _saturation(self) -> Saturation | None:
        """Return the bends; a shaped gap is solved with linear iron."""
        scene, plate = self.case.scene, self.motor.nameplate
        if self.case.ducts or (scene.lost_leakage == 0.0 and scene.main_factor == 1.0):
            return None
        main = MainSaturation.at_voltage(
            scene.main_factor,
            line_voltage_rms_v=plate.rated_voltage_v,
            frequency_hz=plate.rated_frequency_hz,
        )
        leakage = LeakageSaturation(
            knee_rms_a=2.0 * plate.rated_current_a,
            lost_h=scene.lost_leakage * self.geometry.stator_leakage_h,
        )
        return Saturation(
            main=main if scene.main_factor > 1.0 else None,
            leakage=leakage if scene.lost_leakage else None,
        )

    def _supply(self) -> Supply:
        scene, plate = self.case.scene, self.motor.nameplate
        source = SourceImpedance.from_short_circuit(
            power_va=scene.short_circuit_ratio * plate.rated_apparent_power_va,
            line_voltage_rms_v=plate.rated_voltage_v,
            frequency_hz=plate.rated_frequency_hz,
            x_over_r=6.0,
        )
        return Supply(
            line_voltage_rms_v=1.01 * plate.rated_voltage_v,
            frequency_hz=plate.rated_frequency_hz + 0.02,
            unbalance=scene.unbalance,
            unbalance_phase_rad=2.0,
            harmonics=(Harmonic(order=5, ratio=0.012), Harmonic(order=7, ratio=0.006)),
            wander_rms_hz=0.01,
            flicker_rms=0.001,
            source=source,
        )

    def _load(self) -> Load:
        scene, plate = self.case.scene, self.motor.nameplate
        rated, speed = plate.rated_torque_nm, plate.rated_speed_rpm * math.pi / 30.0
        constant = min(scene.constant_part, scene.load)
        return Load(
            friction_nm=constant * rated,
            quadratic_nm_s2=(scene.load - constant) * rated / speed**2,
            noise_rms_nm=0.008 * rated,
        )

    def _sensors(self) -> Sensors:
        scene, plate, root = self.case.scene, self.motor.nameplate, math.sqrt(2.0)
        return Sensors(
            current_ratio_error=scene.clamp_errors,
            current_phase_error_deg=scene.phase_errors_deg,
            voltage_ratio_error=(0.002, -0.002, 0.001),
            current_noise_rms_a=scene.noise * plate.rated_current_a,
            voltage_noise_rms_v=1e-3 * plate.rated_voltage_v,
            bits=16,
            current_full_scale_a=16.0 * root * plate.rated_current_a,
            voltage_full_scale_v=1.5 * root * plate.rated_voltage_v,
        )

    @cached_property
    def inertia_kg_m2(self) -> float:
        """Rotor and load: of the start that is wanted from a hot sound machine."""
        setup = self.setup(60.0, damaged=False)
        seconds = run_up_time_s(replace(setup, gap=None))
        if not math.isfinite(seconds):
            return self.geometry.inertia_kg_m2
        return self.geometry.inertia_kg_m2 * self.case.scene.start_s / seconds

    def start(self, number: int) -> Recording:
        """Return a start: 0 is the present one, others are earlier and sound."""
        case, scene = self.case, self.case.scene
        rng = np.random.default_rng([case.seed, 21, number])
        setup = self.setup(scene.temperatures_degc[number], damaged=number == 0)
        geometry = replace(setup.geometry, inertia_kg_m2=self.inertia_kg_m2)
        volt = setup.supply.line_voltage_rms_v * float(rng.uniform(0.98, 1.02))
        supply = replace(setup.supply, line_voltage_rms_v=volt)
        recording = simulate_start(
            replace(setup, geometry=geometry, supply=supply),
            Start(switch_on_s=SWITCH_ON_S, phase_rad=float(rng.uniform(0.0, 6.28))),
            duration_s=round(SWITCH_ON_S + 1.6 * scene.start_s + RUNNING_S, 1),
            sampling_rate_hz=RATE_HZ,
            seed=case.seed * 10 + number,
        )
        currents = (Role.CURRENT_A, Role.CURRENT_B, Role.CURRENT_C)
        kept = tuple(c.role for c in recording.channels)
        if scene.channels != "V and I":
            kept = currents if scene.channels == "I only" else currents[:1]
        channels = tuple(c for c in recording.channels if c.role in kept)
        return replace(recording, channels=channels)

    def sheet(self, number: int) -> Sheet:
        """Return a test sheet: 0 is the present one, others are earlier and sound."""
        case, scene, plate = self.case, self.case.scene, self.motor.nameplate
        rng = np.random.default_rng([case.seed, 31, number])
        degc = scene.temperatures_degc[4 + number]
        setup = replace(self.setup(degc, damaged=number == 0), saturation=None)
        angles = self._angles()
        jitter = np.radians(scene.angle_jitter_deg) / plate.pole_pairs
        stood = angles + jitter * rng.standard_normal(angles.size)
        frequency = plate.rated_frequency_hz
        connections = (Connection.A_B, Connection.B_C, Connection.C_A)
        found = standstill_impedances(
            setup, stood, frequency, connections, highest_order=HIGHEST_ORDER
        )
        own = 1.0 + case.staying * np.cos(2.0 * plate.pole_pairs * angles + 0.3)
        values = [self._scattered(one.impedance_ohm * own, rng) for one in found]
        if case.swapped and number == 0:
            values = [values[1], values[0], values[2]]
        days = (TODAY, *EARLIER_DAYS)
        series = tuple(
            self._series(pair, angles, value)
            for pair, value in zip(TerminalPair, values, strict=True)
        )
        return Sheet(
            motor_tag=case.plate,
            measured_on=days[number],
            provenance=Provenance(source=f"sheet {number}", format_name="simulation"),
            winding_temperature_degc=round(degc),
            rotor_demagnetised=True,
            positions=series,
        )

    def _angles(self) -> RealArray:
        p, advice = self.motor.nameplate.pole_pairs, self._advice
        count = self.case.positions or advice.positions_per_pole_pair
        step = 2.0 * math.pi / (p * count)
        angles = np.append(
            step * np.arange(count * advice.pole_pairs), math.radians(advice.return_angle_deg)
        )
        return np.asarray(np.radians(np.round(np.degrees(angles), 1)))

    @cached_property
    def _advice(self) -> PositionAdvice:
        return position_counts(plate_motor(self.case.plate, bars_known=self.case.scene.bars_known))

    def _scattered(self, true: ComplexArray, rng: np.random.Generator) -> ComplexArray:
        spread = self.case.scene.repeatability
        real = true.real * (1.0 + spread * rng.standard_normal(true.size))
        return np.asarray(real + 1j * true.imag * (1.0 + spread * rng.standard_normal(true.size)))

    def _series(self, pair: TerminalPair, angles: RealArray, value: ComplexArray) -> PositionSeries:
        frequency = self.motor.nameplate.rated_frequency_hz
        only = self.case.scene.modulus_only
        return PositionSeries(
            pair=pair,
            frequency_hz=frequency,
            shaft_angle_rad=angles.copy(),
            resistance_ohm=None if only else value.real.copy(),
            inductance_h=None if only else value.imag / (2.0 * math.pi * frequency),
            impedance_ohm=np.abs(value) if only else None,
            test_current_rms_a=0.01 * self.motor.nameplate.rated_current_a,
        )
