"""What all insulation tests share: dryness, times, and the resistance after one minute."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.reading import IndependenceClass, Part
from cagewise.indicators.winding.head import RestHead, cable_caveat
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import (
    INSULATIONS,
    insulation_factor,
    insulation_slope_per_k,
)
from cagewise.measurement.test_sheet import InsulationResistanceTest, TestSheet
from cagewise.quantities import NotKnown

ONE_MINUTE_S = 60.0
TEN_MINUTES_S = 600.0

CABLE = "the cable's insulation is in parallel with the winding's, and both are read together"
DEW_POINT_UNKNOWN = (
    "the air was not measured, so it is not known whether the winding was above the dew point"
)


def direct_head(name: str, title: str, unit: str) -> RestHead:
    """Return the head of a reading with direct voltage."""
    return RestHead(
        name=name,
        title=title,
        unit=unit,
        part=Part.INSULATION,
        independence_class=IndependenceClass.INSULATION_DIRECT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class InsulationContext:
    """One sheet, its motor, and the sheets it may be compared with."""

    sheet: TestSheet
    motor: Motor
    limits: InsulationLimits
    earlier: tuple[TestSheet, ...]
    """Comparable ones, oldest first."""

    @property
    def insulations(self) -> tuple[str, ...]:
        """Kinds of insulation that the winding may have: one if it is known."""
        known = self.motor.winding.insulation
        return INSULATIONS if known is None else (known,)

    def common_caveats(self) -> tuple[str, ...]:
        """Return what is true of every insulation test of the sheet."""
        unknown = (DEW_POINT_UNKNOWN,) if self.sheet.dew_point_degc is None else ()
        return (*unknown, *cable_caveat(self.sheet, CABLE))

    def wet(self, temperature_degc: float | None, sheet: TestSheet | None = None) -> str:
        """Return why the surface may have been wet; empty if it was dry or nobody knows.

        A winding at or below the dew point of the air carries a film of water, and the test reads
        the film.
        """
        dew = (sheet or self.sheet).dew_point_degc
        if dew is None or temperature_degc is None:
            return ""
        if temperature_degc >= dew + self.limits.dew_point_margin_k:
            return ""
        where = "below" if temperature_degc < dew else "near"
        return (
            f"the winding ({temperature_degc:.1f} degC) was {where} the dew point of the air "
            f"({dew:.1f} degC): moisture on the surface is read, not the insulation"
        )


def temperature_of(test: InsulationResistanceTest, sheet: TestSheet) -> float | None:
    """Return the winding temperature of a test: its own, or the sheet's."""
    own = test.winding_temperature_degc
    return sheet.winding_temperature_degc if own is None else own


def resistance_at(
    test: InsulationResistanceTest, time_s: float, tolerance: float
) -> float | NotKnown:
    """Return the resistance read at a nominal time (ohm); never interpolated.

    Parameters
    ----------
    test
        Resistance against time.
    time_s
        Nominal time after the voltage was applied.
    tolerance
        Largest deviation of the reading's time from it (1).
    """
    name = time_name(time_s)
    if not test.time_s.size:
        return NotKnown(f"no reading at {name}")
    nearest = int(np.argmin(np.abs(test.time_s - time_s)))
    if abs(float(test.time_s[nearest]) - time_s) > tolerance * time_s:
        return NotKnown(f"no reading at {name} (nearest: {test.time_s[nearest]:g} s)")
    value = float(test.resistance_ohm[nearest])
    if not (math.isfinite(value) and value > 0.0):
        return NotKnown(f"the reading at {name} is not a positive number")
    return value


def time_name(time_s: float) -> str:
    """Return a nominal time as the trade says it."""
    return f"{time_s / 60.0:g} min" if time_s >= ONE_MINUTE_S else f"{time_s:g} s"


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMinute:
    """Insulation resistance after one minute, measured and referred to 40 degC."""

    measured_ohm: float
    temperature_degc: float
    factors: Mapping[str, float]
    """K_T by kind of insulation: every kind that the winding may have."""
    slope_per_k: float
    """Largest d ln K_T / dT of these kinds, within the error of the temperature."""

    @property
    def at_40_ohm(self) -> tuple[float, float]:
        """Lowest and highest resistance at 40 degC that the kinds of insulation give."""
        return (
            self.measured_ohm * min(self.factors.values()),
            self.measured_ohm * max(self.factors.values()),
        )

    def log_error(self, limits: InsulationLimits) -> float:
        """Return the half width of the logarithm of the resistance at 40 degC, 95 %."""
        return math.hypot(
            math.log1p(limits.resistance_error), self.slope_per_k * limits.temperature_error_k
        )


def one_minute(
    context: InsulationContext, test: InsulationResistanceTest, sheet: TestSheet
) -> OneMinute | NotKnown:
    """Return the resistance after one minute at 40 degC, or why there is none."""
    measured = resistance_at(test, ONE_MINUTE_S, context.limits.time_tolerance)
    if isinstance(measured, NotKnown):
        return measured
    temperature = temperature_of(test, sheet)
    if temperature is None:
        return NotKnown(
            "the winding temperature is not given, so the resistance is not referred to 40 degC "
            "and not compared"
        )
    wet = context.wet(temperature, sheet)
    if wet:
        return NotKnown(wet)
    factors = {}
    for insulation in context.insulations:
        factor = insulation_factor(temperature, insulation)
        if isinstance(factor, NotKnown):
            return factor
        factors[insulation] = factor
    warmest = temperature + context.limits.temperature_error_k
    return OneMinute(
        measured_ohm=measured,
        temperature_degc=temperature,
        factors=factors,
        slope_per_k=max(insulation_slope_per_k(warmest, kind) for kind in factors),
    )
