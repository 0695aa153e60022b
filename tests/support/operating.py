"""Operating points of simulated records, taken from their truth, and the motor R3K."""

from __future__ import annotations

import numpy as np

from cagewise.conditioning.frame import SupplyFrame, supply_frame
from cagewise.conditioning.signals import StatorSignals
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import Recording
from cagewise.quantities import Estimate, NotKnown

RATED_POWER_W = 3000.0


def r3k_motor(bars: int | None = 32, slots: int | None = 36) -> Motor:
    """Return R3K as its user would describe it."""
    plate = Nameplate(
        rated_power_w=RATED_POWER_W,
        rated_voltage_v=381.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1434.0,
        rated_current_a=6.7,
        poles=4,
        power_factor=0.83,
        efficiency=0.83,
    )
    return Motor(tag="R3K", nameplate=plate, cage=Cage(rotor_bars=bars, stator_slots=slots))


def r3k_circuit() -> EquivalentCircuit:
    """Return the exact circuit of R3K (its geometry, reference list of methods section 8.4)."""
    return EquivalentCircuit.from_values(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_h=0.17832 - 0.17140,
        rotor_leakage_h=0.17958 - 0.17140,
        magnetizing_inductance_h=0.17140,
    )


def uncertain(circuit: EquivalentCircuit, seed: int = 5, n_draws: int = 400) -> EquivalentCircuit:
    """Return draws about a circuit: 15 % resistances, 20 % leakages, 10 % magnetizing."""
    rng = np.random.default_rng(seed)

    def about(value: object, sd: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.asarray(value, dtype=np.float64) * np.exp(sd * rng.standard_normal(n_draws))

    return EquivalentCircuit(
        stator_resistance_ohm=about(circuit.stator_resistance_ohm, 0.15),
        rotor_resistance_ohm=about(circuit.rotor_resistance_ohm, 0.15),
        stator_leakage_h=about(circuit.stator_leakage_h, 0.20),
        rotor_leakage_h=about(circuit.rotor_leakage_h, 0.20),
        magnetizing_inductance_h=about(circuit.magnetizing_inductance_h, 0.10),
    )


def frame_of(recording: Recording, nominal_hz: float = 50.0) -> SupplyFrame:
    """Return the supply frame of a whole recording."""
    return supply_frame(StatorSignals.from_recording(recording), nominal_hz)


def point_of(
    frame: SupplyFrame,
    slip: float,
    *,
    load: float | None = 1.0,
    slip_sd: float = 2e-3,
    slip_wander: float | None = 0.0,
    bars: int | None = 32,
) -> OperatingPoint:
    """Return an operating point with a known slip; ``slip_sd`` is relative."""
    known = Estimate.from_standard_deviation(slip, slip_sd * slip)
    current = float(np.abs(frame.current.mean()))
    volts = None if frame.voltage is None else float(np.abs(frame.voltage).mean())
    power = None if frame.voltage is None else 1.5 * frame.voltage * np.conj(frame.current)
    f = frame.supply_frequency_hz
    return OperatingPoint(
        supply_frequency_hz=Estimate(f, f, f),
        supply_frequency_wander_hz=0.0,
        line_current_rms_a=current / 2**0.5,
        line_voltage_rms_v=None if volts is None else volts * 1.5**0.5,
        active_power_w=None if power is None else float(power.mean().real),
        reactive_power_var=None if power is None else float(power.mean().imag),
        power_factor=None,
        slip=known,
        slip_wander=slip_wander,
        speed_rpm=NotKnown("not needed"),
        pole_pass_frequency_hz=known.scaled(2.0 * f),
        slip_families=("truth",),
        rotor_bars=bars,
        rotor_bars_candidates=() if bars is None else (bars,),
        load_fraction=NotKnown("not given") if load is None else Estimate(load, load, load),
    )


def plant_motor(frequency_hz: float = 50.0, scale: float = 1.0, bars: int | None = 44) -> Motor:
    """Return an invented 55 kW four-pole motor; ``scale`` multiplies its volts and amperes."""
    plate = Nameplate(
        rated_power_w=55e3 * scale**2,
        rated_voltage_v=400.0 * scale,
        rated_frequency_hz=frequency_hz,
        rated_speed_rpm=29.5 * frequency_hz,
        rated_current_a=98.0 * scale,
        poles=4,
    )
    return Motor(tag="P-1", nameplate=plate, cage=Cage(rotor_bars=bars, stator_slots=48))


def plant_circuit() -> EquivalentCircuit:
    """Return an invented circuit of that motor: about 100 A and a power factor of 0.88 at 2 %."""
    return EquivalentCircuit.from_values(
        stator_resistance_ohm=0.05,
        rotor_resistance_ohm=0.045,
        stator_leakage_h=0.7e-3,
        rotor_leakage_h=0.7e-3,
        magnetizing_inductance_h=22e-3,
    )
