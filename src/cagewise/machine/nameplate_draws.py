"""Machines that a nameplate may stand for: circuit, losses and rated slip, drawn and solved.

Each draw takes the quantities a nameplate does not state (rated slip within its tolerance, losses
and their shares, starting current, leakage split) from what motors of this size have and then
solves the circuit in closed form so that it delivers rated power at rated voltage with the drawn
current and slip, the power balance closed. Draws that need an impossible circuit are thrown away.
Equations, distributions and sources: ``docs/theory/equivalent-circuit.md``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields
from operator import itemgetter
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import MotorFileError
from cagewise.machine import typical
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.locked_rotor import code_letter_current_a
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.tolerances import (
    lowest_efficiency,
    power_factor_tolerance,
    rated_slip_interval,
)
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, RealArray

DEFAULT_DRAWS = 400
"""Draws of an ensemble: the ends of a 95 % interval are then known to a tenth of its width."""
OVERSAMPLING = 6
"""Candidates per draw: of an ordinary nameplate most are possible."""
FEWEST_CANDIDATES, FEWEST_DIFFERENT = 3000, 60
"""Fewest candidates, and fewest possible ones among them, from which an ensemble is taken (with
repetition when more draws are wanted)."""
DEFAULT_SEED = 20_250
"""The same motor gives the same draws."""
SPREADS = (1.0, 1.5, 2.5, 4.0)
"""An odd nameplate may have no circuit within the usual ranges: they are widened step by step."""

CORE_SHARE = (0.10, 0.25)
"""Core loss over all losses at full load (from memory; docs/theory/equivalent-circuit.md)."""
MECHANICAL_SHARE = (0.08, 0.28)
"""Friction, windage and stray load loss over all losses (from memory)."""
MECHANICAL_SHARE_TWO_POLE = (0.12, 0.42)
"""The same of two-pole motors, whose windage is larger; common practice, no source."""
STATOR_COPPER_SHARE = (0.12, 0.65)
"""Stator copper loss over all losses: what is left must lie here (from memory, widened)."""
STARTING_RATIO = 6.0
"""Median locked-rotor over rated current without a code letter; common practice, no source."""
DESIGN_STARTING_RATIO = {"A": 7.0, "D": 5.0, "NE": 7.0, "NEY": 7.0, "HE": 7.0, "HEY": 7.0}
"""The same of designs that start with more (A, and the high-efficiency designs of IEC 60034-12) or
less current (D) than B, C, N and H; from memory."""
STARTING_RATIO_LOG_SPREAD = 0.18
"""Standard deviation of its logarithm: 4.2 to 8.5 covers 95 %."""
LOCKED_ROTOR_POWER_FACTOR = (0.15, 0.50)
"""Power factor at standstill; common practice, no source."""
LEAKAGE_GROWTH = (0.85, 1.40)
"""Leakage when running over leakage at standstill: tooth tips saturate and the bar current is
displaced when starting. With the starting current this puts X_1 + X_2 at 0.11 to 0.28 per unit,
about what published circuits have (0.14 to 0.21 in the machines of tests/published)."""
CURRENT_SPREAD = 0.015
"""Relative standard deviation of the current at rated output: rounding, and what the tolerances of
efficiency and power factor in IEC 60034-1 clause 12.1 allow (from memory)."""
STATOR_LEAKAGE_SHARE = (0.30, 0.60)
"""X_1 / (X_1 + X_2): 0.5 for designs A and D, 0.4 for B, 0.3 for C (IEEE 112, from memory)."""
NO_LOAD_RATIO = (0.15, 0.80)
"""No-load over rated current; common practice, no source."""
POWER_FACTOR_RANGE = (0.30, 0.96)
"""Full-load power factor of cage motors; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineDraws:
    """Draws of everything the nameplate leaves open; all arrays share the shape (n_draws,)."""

    circuit: EquivalentCircuit
    rated_slip: RealArray
    """Slip at which the draw delivers rated power."""
    rated_current_a: RealArray
    """Line current (rms) at which it does."""
    core_loss_w: RealArray
    """At rated voltage and frequency; flows beside the circuit, at its terminals."""
    mechanical_loss_w: RealArray
    """Friction, windage and stray load loss at rated load; taken off the converted power."""
    stator_copper_loss_w: RealArray
    efficiency: RealArray
    power_factor: RealArray


@dataclass(frozen=True, slots=True)
class _Open:
    """Quantities the nameplate leaves open, shape (n,) or ()."""

    slip: RealArray
    current_a: RealArray
    """Line current (rms) at rated output."""
    efficiency: RealArray
    core_share: RealArray
    mechanical_share: RealArray
    leakage_ohm: RealArray
    """X_1 + X_2 when running."""
    stator_leakage_share: RealArray


_Item = TypeVar("_Item", _Open, MachineDraws, EquivalentCircuit)


def _each(item: _Item, function: Callable[[RealArray], RealArray]) -> _Item:
    """Return the item with ``function`` applied to every array in it."""
    changed: dict[str, Any] = {}
    for f in fields(item):
        value = getattr(item, f.name)
        nested = isinstance(value, EquivalentCircuit)
        changed[f.name] = _each(value, function) if nested else np.asarray(function(value))
    return type(item)(**changed)


def machine_draws(
    nameplate: Nameplate, n_draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED
) -> MachineDraws:
    """Return draws of circuit, losses and rated slip that all reproduce the nameplate."""
    return _possible_draws(nameplate, n_draws, seed)[1]


def middle_machine(nameplate: Nameplate) -> MachineDraws:
    """Return one machine, arrays of shape (): solved at the medians of the open quantities.

    It reproduces the nameplate as every draw does; medians of the parameters would not.
    """
    quantities, _ = _possible_draws(nameplate, DEFAULT_DRAWS, DEFAULT_SEED)
    return _solve(nameplate, _each(quantities, np.median))


def _possible_draws(plate: Nameplate, n_draws: int, seed: int) -> tuple[_Open, MachineDraws]:
    """Return open quantities and circuits of ``n_draws`` possible machines."""
    rng = np.random.default_rng(seed)
    for spread in SPREADS:
        n_candidates = max(OVERSAMPLING * n_draws, FEWEST_CANDIDATES)
        quantities = _open_quantities(plate, n_candidates, spread, rng)
        draws = _solve(plate, quantities)
        possible = np.flatnonzero(_possible(plate, draws, spread))
        if possible.size >= FEWEST_DIFFERENT:
            chosen = np.resize(possible, n_draws)
            return _each(quantities, itemgetter(chosen)), _each(draws, itemgetter(chosen))
    raise MotorFileError(
        "no cage motor has this power, voltage, current and speed together",
        where="[motor]",
        remedy="Check them against the nameplate, or give a [circuit].",
    )


def _open_quantities(plate: Nameplate, n: int, spread: float, rng: np.random.Generator) -> _Open:
    """Draw what the nameplate leaves open, ``spread`` times as wide as usual."""

    def uniform(limits: tuple[float, float]) -> RealArray:
        middle, half = (limits[0] + limits[1]) / 2.0, (limits[1] - limits[0]) / 2.0
        return np.clip(middle + spread * half * rng.uniform(-1.0, 1.0, n), 0.01, 0.99)

    rated = rated_slip_interval(plate)
    slip_deviation = spread * (rated.high - rated.value) / NORMAL_COVERAGE_FACTOR
    slip = rated.value + slip_deviation * np.clip(rng.standard_normal(n), -2.5, 2.5)
    starting_ohm = plate.rated_phase_voltage_v / _starting_current_a(plate, n, spread, rng)
    sine = np.sqrt(1.0 - uniform(LOCKED_ROTOR_POWER_FACTOR) ** 2)
    return _Open(
        slip=np.maximum(slip, rated.low / spread),
        current_a=plate.rated_current_a * (1.0 + CURRENT_SPREAD * rng.standard_normal(n)),
        efficiency=_efficiency(plate, n, spread, rng),
        core_share=uniform(CORE_SHARE),
        mechanical_share=uniform(
            MECHANICAL_SHARE_TWO_POLE if plate.poles == 2 else MECHANICAL_SHARE
        ),
        leakage_ohm=starting_ohm * sine * rng.uniform(*LEAKAGE_GROWTH, n),
        stator_leakage_share=uniform(STATOR_LEAKAGE_SHARE),
    )


def _efficiency(plate: Nameplate, n: int, spread: float, rng: np.random.Generator) -> RealArray:
    """Draw the efficiency from what is stated, or from the size."""
    normal = rng.standard_normal(n)
    if plate.efficiency is None and plate.power_factor is not None:
        deviation = power_factor_tolerance(plate.power_factor) / NORMAL_COVERAGE_FACTOR
        power_factor = plate.power_factor + spread * deviation * normal
        return np.asarray(plate.power_to_apparent_ratio / np.maximum(power_factor, 0.05))
    if plate.efficiency is not None:
        lowest = lowest_efficiency(plate.efficiency, plate.rated_power_w)
        ratio = 1.0 / plate.efficiency - 1.0
        deviation = math.log((1.0 / lowest - 1.0) / ratio) / NORMAL_COVERAGE_FACTOR
    else:
        ratio, deviation = typical.loss_ratio(plate.rated_power_w), typical.LOSS_RATIO_LOG_SPREAD
    return np.asarray(1.0 / (1.0 + ratio * np.exp(spread * deviation * normal)))


def _starting_current_a(
    plate: Nameplate, n: int, spread: float, rng: np.random.Generator
) -> RealArray:
    """Draw the locked-rotor current (rms) from the code letter, or from what is usual."""
    band = code_letter_current_a(plate)
    if band is not None:
        return np.asarray(rng.uniform(*band, n))
    ratio = DESIGN_STARTING_RATIO.get(plate.design_letter or "", STARTING_RATIO)
    deviation = spread * STARTING_RATIO_LOG_SPREAD * rng.standard_normal(n)
    return np.asarray(ratio * plate.rated_current_a * np.exp(deviation))


def _solve(plate: Nameplate, q: _Open) -> MachineDraws:
    """Return the circuits that deliver rated power at rated voltage, current and drawn slip.

    Equations (1) to (9) of ``docs/theory/equivalent-circuit.md``; impossible draws come out as
    NaN.
    """
    power, voltage = plate.rated_power_w, plate.rated_phase_voltage_v
    omega = 2.0 * math.pi * plate.rated_frequency_hz
    apparent = 3.0 * voltage * q.current_a
    with np.errstate(invalid="ignore", divide="ignore"):
        active = power / q.efficiency
        reactive = np.sqrt(apparent**2 - active**2)
        losses = active - power
        core, mechanical = q.core_share * losses, q.mechanical_share * losses
        air_gap = (power + mechanical) / (1.0 - q.slip)
        stator_copper = active - core - air_gap
        current = (active - core - 1j * reactive) / (3.0 * voltage)
        r_s = stator_copper / (3.0 * np.abs(current) ** 2)
        x_1 = q.stator_leakage_share * q.leakage_ohm
        x_2 = q.leakage_ohm - x_1
        emf = np.abs(voltage - (r_s + 1j * x_1) * current)
        half = 1.5 * emf**2 / air_gap
        load_resistance = half + np.sqrt(half**2 - x_2**2)
        rotor_current_squared = air_gap / (3.0 * load_resistance)
        gap_reactive = reactive - 3.0 * np.abs(current) ** 2 * x_1
        x_m = 3.0 * emf**2 / (gap_reactive - 3.0 * rotor_current_squared * x_2)
    circuit = EquivalentCircuit(
        stator_resistance_ohm=r_s,
        rotor_resistance_ohm=np.asarray(load_resistance * q.slip),
        stator_leakage_h=np.asarray(x_1 / omega),
        rotor_leakage_h=np.asarray(x_2 / omega),
        magnetizing_inductance_h=np.asarray(x_m / omega),
    )
    return MachineDraws(
        circuit=circuit,
        rated_slip=q.slip,
        rated_current_a=q.current_a,
        core_loss_w=core,
        mechanical_loss_w=mechanical,
        stator_copper_loss_w=stator_copper,
        efficiency=q.efficiency,
        power_factor=np.asarray(active / apparent),
    )


def _possible(plate: Nameplate, draws: MachineDraws, spread: float) -> NDArray[np.bool_]:
    """Return which draws are machines that could be built; NaN never is."""
    circuit = draws.circuit
    omega = 2.0 * math.pi * plate.rated_frequency_hz
    losses = plate.rated_power_w * (1.0 / draws.efficiency - 1.0)
    no_load = plate.rated_phase_voltage_v / (omega * circuit.stator_inductance_h)
    possible = (draws.efficiency < 1.0) & (draws.power_factor < 1.0)
    for f in fields(EquivalentCircuit):
        possible &= getattr(circuit, f.name) > 0.0
    for value, limits in (
        (draws.stator_copper_loss_w / losses, STATOR_COPPER_SHARE),
        (no_load / draws.rated_current_a, NO_LOAD_RATIO),
        (draws.power_factor, POWER_FACTOR_RANGE),
    ):
        possible &= (value >= limits[0] / spread) & (value <= limits[1] * spread)
    return possible
