"""Curves of insulation tests, invented: shapes as field books draw them, no physics behind them.

They exist so that every reading of a test sheet can be made with a known truth. Nothing about the
behaviour of a real insulation may be concluded from them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from cagewise.errors import InputError
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    DissipationTest,
    InsulationResistanceTest,
    StepVoltageTest,
    TerminalPair,
    TurnTest,
)
from cagewise.quantities import RealArray

TIMES_S = (15.0, 30.0, 45.0, 60.0, 120.0, 180.0, 240.0, 300.0, 360.0, 420.0, 480.0, 540.0, 600.0)
"""Times at which the insulation resistance is read."""

TEST_VOLTAGES_V = ((1000.0, 500.0), (2501.0, 500.0), (5001.0, 1000.0), (12001.0, 2500.0))
"""Rated voltage below which, and direct test voltage: the lower end of the range of IEEE 43-2000
table 1 (as reproduced in a trade paper)."""

HIGHEST_TEST_VOLTAGE_V = 5000.0
"""The same above the last."""

HIGH_VOLTAGE_V = 2300.0
"""Rated voltage from which on windings are tested with stepped voltage and for dissipation (the
scope of IEEE 95)."""

ABSORPTION_EXPONENT = 0.8
"""The absorption current falls with this power of the time, or a larger one where the polarization
index asks for it."""

SCATTER = 0.01
"""Scatter of insulation readings over themselves, rms."""

DISSIPATION_SCATTER = 2e-5
"""Scatter of a dissipation factor."""

CAPACITANCE_F = 60e-9
"""Of a winding to earth at :data:`HIGH_VOLTAGE_V` and above."""

VOLTAGE_STEPS = 10
STEP_S = 60.0
"""Number and length of voltage steps."""

MAINTENANCE_LEVEL = 1.7 * 1.25
"""Highest direct voltage over the rated one: 125 % of it times 1.7 (IEEE 95, read in secondary
texts)."""

KNEE_GROWTH = 8.0
"""Growth of the conductance above the knee, per knee voltage."""

RINGING_HZ = 20e3
DECAY_S = 70e-6
TURN_SAMPLES = 250
TURN_SPAN_S = 200e-6
"""Ringing of a winding after a steep front; samples after the first, and the time they take."""

TURN_NOISE = 0.003
"""Noise over the crest."""


SHOWN_DIGITS = 4
"""Significant digits of an insulation reading."""


def shown(values: RealArray, digits: int | None) -> RealArray:
    """Return values as an instrument shows them; as they are if ``digits`` is None."""
    if digits is None:
        return np.asarray(values, dtype=np.float64)
    return np.array([float(f"{value:.{digits}g}") for value in values])


@dataclass(frozen=True, slots=True, kw_only=True)
class Insulation:
    """What the winding's insulation would show."""

    resistance_ohm: float = 2.0e9
    """Insulation resistance after one minute, at the winding's temperature."""
    polarization_index: float = 3.2
    """Resistance after ten minutes over that after one."""
    dissipation_factor: float = 0.012
    """At a fifth of the rated voltage."""
    tip_up: float = 0.0008
    """Its growth per fifth of the rated voltage."""
    knee_v: float | None = None
    """Direct voltage above which the current grows faster than the voltage."""
    turn_short: float = 0.0
    """Part of the inductance of phase a that a short between its turns takes away."""
    tested: bool = True
    """False: no such test was made."""

    def __post_init__(self) -> None:
        if not (self.resistance_ohm > 0.0 and 1.0 <= self.polarization_index < 100.0):
            raise InputError(
                "the insulation resistance must be positive and the polarization index at least 1",
                where="simulated insulation",
            )
        if not 0.0 <= self.turn_short < 1.0:
            raise InputError(
                f"a turn short takes a part of the inductance, 0 to 1, got {self.turn_short}",
                where="simulated insulation",
            )

    def truth(self, plate: Nameplate) -> dict[str, float]:
        """Return what is true, for the sheet."""
        if not self.tested:
            return {}
        high = plate.rated_voltage_v >= HIGH_VOLTAGE_V
        own = {
            "insulation_resistance_ohm": self.resistance_ohm,
            "polarization_index": self.polarization_index,
            "turn_short": self.turn_short,
        }
        if not high:
            return own
        own |= {"dissipation_factor": self.dissipation_factor, "tip_up": self.tip_up}
        return own if self.knee_v is None else own | {"knee_v": self.knee_v}


def insulation_test(
    insulation: Insulation, plate: Nameplate, rng: np.random.Generator
) -> tuple[InsulationResistanceTest, ...]:
    """Return resistance against time: a leak and an absorption current that dies away."""
    if not insulation.tested:
        return ()
    times = np.array(TIMES_S)
    values = insulation.resistance_ohm * relative_resistance(times, insulation.polarization_index)
    values *= 1.0 + SCATTER * rng.standard_normal(times.size)
    return (
        InsulationResistanceTest(
            test_voltage_v=test_voltage_v(plate.rated_voltage_v),
            time_s=times,
            resistance_ohm=shown(values, SHOWN_DIGITS),
        ),
    )


def relative_resistance(time_s: RealArray, polarization_index: float) -> RealArray:
    """Return R(t) / R(60 s) of ``1 / R = a + b t^-n``, with R(600 s) / R(60 s) as given."""
    exponent = max(ABSORPTION_EXPONENT, 1.05 * math.log10(polarization_index))
    at_ten = 10.0**-exponent  # of the absorption current, over that at one minute
    absorption = (1.0 - 1.0 / polarization_index) / (1.0 - at_ten)
    return np.asarray(1.0 / (1.0 - absorption + absorption * (time_s / 60.0) ** -exponent))


def test_voltage_v(rated_voltage_v: float) -> float:
    """Return the direct voltage of an insulation resistance test."""
    for below, voltage in TEST_VOLTAGES_V:
        if rated_voltage_v < below:
            return voltage
    return HIGHEST_TEST_VOLTAGE_V


def step_test(
    insulation: Insulation, plate: Nameplate, rng: np.random.Generator
) -> tuple[StepVoltageTest, ...]:
    """Return current against stepped voltage: a straight line, and a knee if there is one."""
    if not insulation.tested or plate.rated_voltage_v < HIGH_VOLTAGE_V:
        return ()
    top = MAINTENANCE_LEVEL * plate.rated_voltage_v
    voltage = np.round(np.linspace(0.0, top, VOLTAGE_STEPS + 1)[1:], -1)
    current = voltage / insulation.resistance_ohm
    if insulation.knee_v is not None:
        beyond = np.clip(voltage / insulation.knee_v - 1.0, 0.0, None)
        current *= 1.0 + KNEE_GROWTH * beyond
    current *= 1.0 + SCATTER * rng.standard_normal(voltage.size)
    return (
        StepVoltageTest(voltage_v=voltage, current_a=shown(current, SHOWN_DIGITS), step_s=STEP_S),
    )


def dissipation_test(
    insulation: Insulation, plate: Nameplate, rng: np.random.Generator
) -> tuple[DissipationTest, ...]:
    """Return dissipation factor and capacitance at fifths of the rated voltage, up to 0.6."""
    if not insulation.tested or plate.rated_voltage_v < HIGH_VOLTAGE_V:
        return ()
    fifths = np.arange(1.0, 4.0)
    factor = insulation.dissipation_factor + insulation.tip_up * (fifths - 1.0)
    factor += DISSIPATION_SCATTER * rng.standard_normal(fifths.size)
    return (
        DissipationTest(
            voltage_rms_v=0.2 * plate.rated_voltage_v * fifths,
            dissipation_factor=shown(factor, SHOWN_DIGITS),
            capacitance_f=shown(
                CAPACITANCE_F * (1.0 + insulation.tip_up * (fifths - 1.0)), SHOWN_DIGITS
            ),
            frequency_hz=plate.rated_frequency_hz,
        ),
    )


def turn_test(
    insulation: Insulation, plate: Nameplate, rng: np.random.Generator
) -> TurnTest | None:
    """Return a damped ringing for each pair; a turn short makes two of them faster and shorter."""
    if not insulation.tested:
        return None
    time = np.linspace(0.0, TURN_SPAN_S, TURN_SAMPLES + 1)
    crest = turn_test_crest_v(plate.rated_voltage_v)
    waves: dict[TerminalPair, RealArray] = {}
    for pair in TerminalPair:
        lost = 0.0 if pair is TerminalPair.BC else 0.5 * insulation.turn_short
        frequency = RINGING_HZ / math.sqrt(1.0 - lost)
        decay = DECAY_S * (1.0 - lost)
        wave = np.exp(-time / decay) * np.cos(2.0 * math.pi * frequency * time)
        noise = TURN_NOISE * rng.standard_normal(time.size)
        waves[pair] = shown(crest * (wave + noise), SHOWN_DIGITS)
    return TurnTest(time_s=time, voltage_v=MappingProxyType(waves), peak_voltage_v=crest)


def turn_test_crest_v(rated_voltage_v: float) -> float:
    """Return the crest of the applied front, rounded to 10 V.

    Three quarters of 3.5 times the phase crest for form-wound machines (IEEE 522-2004, from
    memory); 2 E + 1000 below their voltages (trade text).
    """
    high = rated_voltage_v >= HIGH_VOLTAGE_V
    crest = 0.75 * 3.5 * math.sqrt(2.0 / 3.0) * rated_voltage_v if high else None
    return round((2.0 * rated_voltage_v + 1000.0) if crest is None else crest, -1)
