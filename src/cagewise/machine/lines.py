"""Where a motor's lines stand, from the MEASURED supply frequency and slip.

Every line of the stator current is ``a f + b f_r``: whole multiples of supply and shaft frequency
(``f_r = (1 - s) f / p``). The sign says which way it turns: a field wave that passes the winding
as order h with angular frequency W induces the phases in the order of a positive sequence when
``h = 1 (mod 3)``, of a negative sequence when ``h = 2 (mod 3)`` and not at all when 3 divides h
(three-wire) or h is even (the two halves of a winding's pole pair are alike). Frequencies here
are those of the current space vector: negative frequency, negative sequence. The derivation is in
``docs/theory/characteristic-lines.md``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

CAGE_ORDERS = (1, 5, 7, 11, 13)
"""Winding orders at which a cage asymmetry is looked for."""
SUPPLY_PAIRS = 2
"""Side-line pairs (1 +- 2 k s) f about the supply frequency."""
SLOT_MULTIPLES = (1, 2)
"""Multiples of the number of bars."""
SLOT_SUPPLY_ORDERS = (1, 3, 5, 7)
"""Orders of the air-gap field that meet the rotor slots; above 1 through saturation."""
ECCENTRICITY_MULTIPLES = (1, 2)
"""Multiples of the shaft frequency about the supply frequency."""


class LineFamily(StrEnum):
    """Lines that have one cause and depend on the speed in one way."""

    POLE_PASS = "pole pass"  # noqa: S105 - not a password but a frequency
    """(1 +- 2 k s) f: cage asymmetry, its speed ripple, and whatever modulates at 2 s f."""
    CAGE_HARMONIC = "cage, space harmonics"
    """(5-4s) f, (5-6s) f, (7-6s) f, (7-8s) f ...: cage asymmetry at the winding's harmonics."""
    ROTOR_SLOT = "rotor slot"
    ECCENTRICITY = "eccentricity"
    """f +- k f_r: static and dynamic eccentricity together, or torque once per turn."""
    SLOT_ECCENTRICITY = "rotor slot with dynamic eccentricity"
    DRIVE_TRAIN = "drive train"
    """f +- f_L of a line of the driven machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRule:
    """One line as a rule, before any frequency is known: ``a f + b f_r`` in the space vector."""

    name: str
    """Stable identifier: ``"lower_side_line"``, ``"5-4s"``, ``"slot_+1_nu1"``."""
    family: LineFamily
    supply_multiple: int
    """a, signed by sequence."""
    shaft_multiple: float
    """b, signed by sequence; its modulus over 60 is the shift in Hz per rpm."""
    winding_order: int | None = None
    """h: the space order (in pole pairs) by which the winding sees the wave, positive for a wave
    that travels with the field; None where the line is a modulation of the fundamental."""
    kernel: int | None = None
    """m of the kernel K_m that weights broken bars by their positions; None if not of the cage."""
    expected: bool = True
    """Whether a balanced integral-slot three-wire winding shows it. A line that is not expected may
    still be seen (eccentricity, unbalance); one that is expected may be too weak."""

    def frequency_hz(
        self, supply_frequency_hz: RealArray | float, slip: RealArray | float, pole_pairs: int
    ) -> RealArray:
        """Return the signed frequency in the current space vector; arguments broadcast."""
        supply = np.asarray(supply_frequency_hz, dtype=np.float64)
        shaft = (1.0 - np.asarray(slip, dtype=np.float64)) * supply / pole_pairs
        return np.asarray(self.supply_multiple * supply + self.shaft_multiple * shaft)

    def slip(
        self, frequency_hz: RealArray | float, supply_frequency_hz: float, pole_pairs: int
    ) -> RealArray:
        """Return the slip at which the line stands at this signed frequency."""
        shaft = np.asarray(frequency_hz) - self.supply_multiple * supply_frequency_hz
        return np.asarray(1.0 - shaft * pole_pairs / (self.shaft_multiple * supply_frequency_hz))


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line at a measured supply frequency and slip."""

    rule: LineRule
    frequency_hz: float
    """Signed, in the current space vector."""

    @property
    def phase_frequency_hz(self) -> float:
        """Frequency in the current of one phase, where the sign cannot be seen."""
        return abs(self.frequency_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class CharacteristicLines:
    """All lines of one motor at one operating point."""

    supply_frequency_hz: float
    """Measured."""
    slip: float
    """Measured."""
    pole_pairs: int
    lines: tuple[Line, ...]

    @property
    def shaft_frequency_hz(self) -> float:
        """f_r = (1 - s) f / p."""
        return (1.0 - self.slip) * self.supply_frequency_hz / self.pole_pairs

    @property
    def slip_frequency_hz(self) -> float:
        """Frequency of the rotor currents, s f."""
        return self.slip * self.supply_frequency_hz

    @property
    def pole_pass_frequency_hz(self) -> float:
        """f_pp = 2 s f = poles times (synchronous speed less speed)."""
        return 2.0 * self.slip * self.supply_frequency_hz

    def find(self, name: str) -> Line:
        """Return the line of this name.

        Raises
        ------
        KeyError
            If the motor has no such line (bars not known, no such shaft ratio).
        """
        for line in self.lines:
            if line.rule.name == name:
                return line
        raise KeyError(name)

    def family(self, family: LineFamily) -> tuple[Line, ...]:
        """Return the lines of one family."""
        return tuple(line for line in self.lines if line.rule.family is family)


def characteristic_lines(
    motor: Motor, supply_frequency_hz: float, slip: float
) -> CharacteristicLines:
    """Return where the lines of a motor stand.

    Parameters
    ----------
    motor
        Gives pole pairs, bars (slot lines are left out when not known) and shaft ratios.
    supply_frequency_hz
        As measured: a supply at 49.83 Hz taken for 50 Hz turns a slip of 7 rpm into 12 rpm.
    slip
        As measured, per unit.
    """
    pole_pairs = motor.nameplate.pole_pairs
    rules = line_rules(pole_pairs, motor.cage.rotor_bars, motor.drive_train.shaft_ratios)
    lines = tuple(
        Line(
            rule=rule, frequency_hz=float(rule.frequency_hz(supply_frequency_hz, slip, pole_pairs))
        )
        for rule in rules
    )
    return CharacteristicLines(
        supply_frequency_hz=supply_frequency_hz, slip=slip, pole_pairs=pole_pairs, lines=lines
    )


def line_rules(
    pole_pairs: int, rotor_bars: int | None = None, shaft_ratios: Mapping[str, float] | None = None
) -> tuple[LineRule, ...]:
    """Return the rules of all lines of a motor."""
    rules = [*pole_pass_rules(pole_pairs), *cage_rules(pole_pairs), *eccentricity_rules()]
    if rotor_bars is not None:
        rules += slot_rules(pole_pairs, rotor_bars)
    for name, ratio in (shaft_ratios or {}).items():
        rules += _sidebands(f"drive_{name}", LineFamily.DRIVE_TRAIN, ratio)
    return tuple(rules)


def sequence(winding_order: int) -> int:
    """Return +1 (positive sequence), -1 (negative) or 0 (no current) of a winding order.

    For a balanced integral-slot three-wire winding: even orders and multiples of three link no
    current; of the others ``1 (mod 3)`` is positive, ``2 (mod 3)`` negative.
    """
    if winding_order % 2 == 0 or winding_order % 3 == 0:
        return 0
    return 1 if winding_order % 3 == 1 else -1


def pole_pass_rules(pole_pairs: int) -> tuple[LineRule, ...]:
    """Return the side lines (1 -+ 2 k s) f of the supply frequency, all of positive sequence.

    ``2 s f = 2 f - 2 p f_r``. The first lower line is the backward field of the asymmetric cage;
    the others come from the speed ripple it causes.
    """
    rules = []
    for k in range(1, SUPPLY_PAIRS + 1):
        suffix = "" if k == 1 else f"_{k}"
        for side, sign in (("lower", -1), ("upper", 1)):
            rules.append(
                LineRule(
                    name=f"{side}_side_line{suffix}",
                    family=LineFamily.POLE_PASS,
                    supply_multiple=1 + 2 * sign * k,
                    shaft_multiple=-2 * sign * k * pole_pairs,
                    kernel=2,
                )
            )
    return tuple(rules)


def cage_rules(pole_pairs: int) -> tuple[LineRule, ...]:
    """Return the lines [h (1-s) +- s] f of a cage asymmetry at the winding orders above 1.

    The wave that turns forwards on the rotor, +s, has kernel K_(h-1); the one that turns
    backwards, -s, has K_(h+1).
    """
    rules = []
    for order in CAGE_ORDERS[1:]:
        for sign in (1, -1):
            turn = sequence(order)
            rules.append(
                LineRule(
                    name=f"{order}-{order - sign}s",
                    family=LineFamily.CAGE_HARMONIC,
                    supply_multiple=turn * sign,
                    shaft_multiple=turn * (order - sign) * pole_pairs,
                    winding_order=order,
                    kernel=order - sign,
                )
            )
    return tuple(rules)


def slot_rules(pole_pairs: int, rotor_bars: int) -> tuple[LineRule, ...]:
    """Return the rotor slot lines and their neighbours one shaft frequency away.

    A field wave of order nu and frequency nu f meets k n slots per turn: order ``nu + k n / p``,
    frequency ``nu f + k n f_r``, k of both signs. Expected where the order is one the winding
    sees (which for nu = 1 is the rule n = 2 p [3 i +- r], r = 0 or 1: n a multiple of 2 p).
    """
    rules = []
    for multiple in SLOT_MULTIPLES:
        for nu in SLOT_SUPPLY_ORDERS:
            for sign in (1, -1):
                rules += _slot_rule(pole_pairs, rotor_bars, sign * multiple, nu)
    return tuple(rules)


def _slot_rule(pole_pairs: int, rotor_bars: int, multiple: int, nu: int) -> list[LineRule]:
    """Return one slot line and, for nu = 1, its two dynamic-eccentricity neighbours."""
    shaft = multiple * rotor_bars
    name = f"slot_{multiple:+d}_nu{nu}"
    order = _whole(nu * pole_pairs + shaft, pole_pairs)
    turn = 0 if order is None else sequence(order)
    rules = [_slot_line(name, (nu, shaft), order, turn)]
    for side in (-1, 1) if nu == 1 else ():
        # with static eccentricity besides, the wave comes back to the order of the slot line
        shifted = _whole(pole_pairs + shaft + side, pole_pairs)
        turn_ecc = turn or (0 if shifted is None else sequence(shifted))
        rules.append(_slot_line(f"{name}_ecc{side:+d}", (nu, shaft + side), None, turn_ecc))
    return rules


def _whole(numerator: int, denominator: int) -> int | None:
    """Return the quotient if it is whole."""
    return numerator // denominator if numerator % denominator == 0 else None


def _slot_line(name: str, wave: tuple[int, int], order: int | None, turn: int) -> LineRule:
    """Return the rule of the wave ``nu f + b f_r``, given which way the winding sees it turn.

    A wave that is not expected keeps the sign of its travel, to have a place at all.
    """
    nu, shaft = wave
    shown = turn or (1 if shaft > 0 else -1)
    return LineRule(
        name=name,
        family=LineFamily.SLOT_ECCENTRICITY if "ecc" in name else LineFamily.ROTOR_SLOT,
        supply_multiple=shown * nu,
        shaft_multiple=shown * shaft,
        winding_order=order,
        expected=turn != 0,
    )


def eccentricity_rules() -> tuple[LineRule, ...]:
    """Return the lines f +- k f_r of mixed eccentricity."""
    return tuple(
        rule
        for k in ECCENTRICITY_MULTIPLES
        for rule in _sidebands(f"shaft_{k}", LineFamily.ECCENTRICITY, float(k))
    )


def _sidebands(name: str, family: LineFamily, ratio: float) -> list[LineRule]:
    """Return the two lines f -+ ratio f_r of a modulation, both of positive sequence."""
    return [
        LineRule(
            name=f"{name}_{side}", family=family, supply_multiple=1, shaft_multiple=sign * ratio
        )
        for side, sign in (("lower", -1.0), ("upper", 1.0))
    ]


@dataclass(frozen=True, slots=True)
class BarCountCandidate:
    """A number of bars that would put a slot line where one was found."""

    rotor_bars: int
    rule: LineRule
    slip: float
    """The slip this would mean."""


def bar_count_ladder(
    line_frequency_hz: float,
    supply_frequency_hz: float,
    pole_pairs: int,
    slip_window: tuple[float, float],
    bars: range = range(16, 121),
) -> tuple[BarCountCandidate, ...]:
    """Return every number of bars that explains a slot line within a window of slip.

    One line alone names a ladder of pairs (bars, slip): one bar more moves the implied speed by
    1/n of itself. It settles the number only where the window is narrower than that step.

    Parameters
    ----------
    line_frequency_hz
        Signed frequency in the current space vector.
    supply_frequency_hz
        Measured.
    pole_pairs
        p.
    slip_window
        Lowest and highest slip that is possible.
    bars
        Numbers to try.
    """
    found = []
    for number in bars:
        for rule in slot_rules(pole_pairs, number):
            if rule.family is not LineFamily.ROTOR_SLOT or not rule.expected:
                continue
            slip = float(rule.slip(line_frequency_hz, supply_frequency_hz, pole_pairs))
            if slip_window[0] <= slip <= slip_window[1]:
                found.append(BarCountCandidate(number, rule, slip))
    return tuple(found)
