"""Sizes of voltage, current and frequency against the nameplate: ratios, units, connection."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from cagewise.conditioning.findings import (
    EVERYTHING,
    Ability,
    FindingCode,
    QualityFinding,
    Severity,
)
from cagewise.conditioning.limits import QualityLimits
from cagewise.machine.nameplate import Nameplate, Starting

ABSOLUTE = frozenset({Ability.POWER, Ability.LOAD, Ability.DIRECT_COMPONENT})
"""What needs voltage and current in true volts and amperes."""
SECONDARY_VOLTAGES_V = (100.0, 110.0, 115.0, 120.0)
"""Rated secondary voltages of voltage transformers, line-line (IEC 61869-3 and IEEE C57.13 list
100, 110, 115 and 120 V; from memory)."""
SECONDARY_CURRENTS_A = (1.0, 5.0)
"""Rated secondary currents of current transformers (IEC 61869-2, from memory)."""
PREFIX = 1000.0
"""Ratio of a mistaken prefix: kV for V, mA for A."""
PREFIX_TOLERANCE = 2.5
"""A value within this factor of a thousandth or a thousandfold is a mistaken prefix."""
FREQUENCY_TOLERANCE = 0.1
"""A motor on the mains runs within this of its rated frequency, per unit."""
MAINS_HZ = (50.0, 60.0)
"""Frequencies of public supplies (IEC 60196, from memory): a motor may be run on the other one."""


@dataclass(frozen=True, slots=True)
class Magnitudes:
    """Sizes relative to the nameplate."""

    frequency: float
    """Supply frequency over the rated one."""
    current: float
    """Line current over the rated one, main sequence."""
    voltage: float | None
    """Voltage over the rated one, as named, main sequence."""

    @property
    def flux(self) -> float:
        """Voltage over frequency, over the rated one; 1 where no voltage is known."""
        return 1.0 if self.voltage is None else self.voltage / self.frequency

    @property
    def voltage_level(self) -> float:
        """Voltage over that which belongs to the frequency.

        A converter keeps the flux up to rated frequency, and the voltage above it.
        """
        return 1.0 if self.voltage is None else self.voltage / min(self.frequency, 1.0)

    def voltage_as_rated(self, limits: QualityLimits) -> bool:
        """Return whether the voltage, as named, is about the rated one."""
        return abs(self.voltage_level - 1.0) <= limits.voltage_tolerance

    def other_kind(self, limits: QualityLimits, *, line: bool) -> bool:
        """Return whether it would be the rated voltage if line and phase were mistaken."""
        factor = math.sqrt(3.0) if line else 1.0 / math.sqrt(3.0)
        return abs(self.voltage_level * factor - 1.0) <= limits.voltage_tolerance

    def current_as_rated(self, limits: QualityLimits) -> bool:
        """Return whether the current can be the line current of this motor."""
        return limits.current_low <= self.current <= limits.current_high


def judge_magnitudes(
    found: Magnitudes, nameplate: Nameplate, limits: QualityLimits, examples: tuple[str, str]
) -> Iterator[QualityFinding]:
    """Yield findings on magnitudes.

    ``examples`` are roles as stated of a current and of a voltage (``"IL1=i_a"``), for advice.
    """
    if abs(found.frequency - 1.0) > FREQUENCY_TOLERANCE and (
        nameplate.starting is not Starting.CONVERTER
    ):
        yield _frequency(found, nameplate)
    if not found.current_as_rated(limits):
        yield _current(found, nameplate, limits, examples[0])
    if found.voltage is not None and not found.voltage_as_rated(limits):
        yield _voltage(found, nameplate, examples[1])


def _frequency(found: Magnitudes, nameplate: Nameplate) -> QualityFinding:
    """Return the finding on a supply frequency that is not the rated one."""
    frequency_hz = found.frequency * nameplate.rated_frequency_hz
    mains = any(abs(frequency_hz / hz - 1.0) <= FREQUENCY_TOLERANCE for hz in MAINS_HZ)
    return QualityFinding(
        code=FindingCode.FREQUENCY_MAGNITUDE,
        severity=Severity.CAUTION if mains else Severity.BLOCKING,
        message=f"The supply frequency is {frequency_hz:.4g} Hz, the rated one "
        f"{nameplate.rated_frequency_hz:g} Hz.",
        value=frequency_hz,
        unit="Hz",
        remedy='If the motor runs on a converter, write starting = "converter" in the motor '
        "file; otherwise check the sampling rate.",
        blocks=frozenset() if mains else EVERYTHING,
    )


def _current(
    found: Magnitudes, nameplate: Nameplate, limits: QualityLimits, example: str
) -> QualityFinding:
    """Return the finding on a current of the wrong size."""
    current_a = found.current * nameplate.rated_current_a
    stopped = found.current < limits.running_current
    low = found.current < limits.current_low
    blocks = ABSOLUTE if low else frozenset({Ability.LOAD})
    guess = _prefix_guess(found.current) or _current_ratio_guess(current_a, nameplate)
    role = f'--role "{example}*{guess or "RATIO"}"'
    doubt = "transformer ratio, unit" + (", or a motor that stood still" if stopped else "")
    return QualityFinding(
        code=FindingCode.NOT_RUNNING if stopped else FindingCode.CURRENT_MAGNITUDE,
        severity=Severity.BLOCKING if low else Severity.CAUTION,
        message=f"The current is {_rounded(current_a, 3)} A, "
        f"{_rounded(100.0 * found.current, 3)} % of the rated {nameplate.rated_current_a:g} A.",
        value=found.current,
        unit="per unit",
        remedy=f"Suspect: {doubt}. A ratio is given for every current, as in {role}.",
        blocks=EVERYTHING if stopped else blocks,
    )


def _voltage(found: Magnitudes, nameplate: Nameplate, example: str) -> QualityFinding:
    """Return the finding on a voltage of the wrong size."""
    voltage_v = (found.voltage or 0.0) * nameplate.rated_voltage_v
    wanted_v = nameplate.rated_voltage_v * min(found.frequency, 1.0)
    guess = _prefix_guess(found.voltage_level) or _voltage_ratio_guess(voltage_v, nameplate)
    converter = nameplate.starting is Starting.CONVERTER and not guess
    return QualityFinding(
        code=FindingCode.VOLTAGE_MAGNITUDE,
        severity=Severity.CAUTION if converter else Severity.BLOCKING,
        message=f"The line voltage is {_rounded(voltage_v, 4)} V where {_rounded(wanted_v, 4)} V "
        "belong to this frequency.",
        value=found.voltage_level,
        unit="per unit",
        remedy="Suspect: transformer ratio, unit, or the other connection of the nameplate (star, "
        f'delta). A ratio is given for every voltage, as in --role "{example}*{guess or "RATIO"}".',
        blocks=frozenset() if converter else ABSOLUTE,
    )


def _rounded(value: float, digits: int) -> str:
    """Return a number with so many significant digits, never with a power of ten."""
    return f"{float(f'{value:.{digits}g}'):.10g}"


def _prefix_guess(part: float) -> str:
    """Return the factor that a mistaken prefix asks for, or an empty string."""
    for factor, text in ((PREFIX, "1000"), (1.0 / PREFIX, "0.001")):
        if 1.0 / PREFIX_TOLERANCE < part * factor < PREFIX_TOLERANCE:
            return text
    return ""


def _voltage_ratio_guess(voltage_v: float, nameplate: Nameplate) -> str:
    """Return the likely ratio of a voltage transformer, or an empty string."""
    for secondary_v in SECONDARY_VOLTAGES_V:
        if abs(voltage_v / secondary_v - 1.0) < 0.05 and nameplate.rated_voltage_v > secondary_v:
            return f"{nameplate.rated_voltage_v / secondary_v:.3g}"
    return ""


def _current_ratio_guess(current_a: float, nameplate: Nameplate) -> str:
    """Return RATIO where a transformer secondary is likely, or an empty string."""
    likely = any(current_a < 1.2 * secondary_a for secondary_a in SECONDARY_CURRENTS_A)
    return "RATIO" if likely and nameplate.rated_current_a > SECONDARY_CURRENTS_A[1] else ""
