"""How often a motor may be started and how long a start may take: arithmetic of the standards.

Horsepower and pounds stop at the table; everything returned is SI. Equations and sources:
``docs/theory/starting-duty.md``.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import WATT_PER_HORSEPOWER, NotKnown, RealArray

KG_M2_PER_LB_FT2 = 0.45359237 * 0.3048**2
"""Pound (mass) and foot are exact (NIST SP 811, Appendix B.8)."""
NM_PER_LB_FT = 1.3558179483314004
"""Pound-force foot (NIST SP 811, Appendix B.8)."""
ACCELERATION_CONSTANT_LB_FT = 60.0 / (2.0 * math.pi) * NM_PER_LB_FT / KG_M2_PER_LB_FT2
"""c in ``t = Wk^2 dN / (c T)`` with lb ft^2, rpm and lb ft: 307.24. Both 307 and 308 are in print;
308 makes a start 0.25 % shorter. Here times come from SI, where there is no such constant."""

LOAD_INERTIA_FACTOR = {2: 27.0}
LOAD_INERTIA_FACTOR_SLOWER = 24.0
"""A in the load inertia of NEMA MG 1-12.54 for 2 poles, and for more (from memory; the formula
reproduces the 128 inertias of the printed table, tests/published/test_starting_duty.py)."""
LARGEST_HORSEPOWER = {2: 500.0, 4: 500.0, 6: 350.0, 8: 250.0, 10: 200.0, 12: 150.0}
"""Largest motor of each number of poles for which the standard states a load inertia."""
STALL_WITHSTAND_S = 12.0
"""Time a motor shall stand with locked rotor, from operating temperature: NEMA MG 1-12.49 (clause
read in a table of a repair standard; the number from memory)."""
STALL_LARGEST_HORSEPOWER = 500.0
"""Largest motor for which the clause holds."""
STALL_LARGEST_VOLTAGE_V = 1000.0
"""Highest voltage for which it holds."""
IEC_POWER_W = (400.0, 630e3)
"""Range of rated powers for which the external inertia of IEC 60034-12 is used (from memory of the
2002 edition; later ones reach further)."""
IEC_INERTIA_FACTOR = {50.0: 0.04, 60.0: 0.023}
"""Factor of ``P^0.9 p^2.5`` (kW, pole pairs) in the external inertia, by Hz (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartsAllowed:
    """One entry of the table of allowed starts, designs A and B, started directly."""

    starts_per_hour_max: float
    """Column A."""
    product_max_kg_m2: float
    """Column B: most starts per hour times load inertia."""
    rest_s: float
    """Column C: least time between starts."""
    between_powers: tuple[float, float] | None = None
    """Powers in W of the two rows this was interpolated between; None on a row."""

    def starts_per_hour(self, load_inertia_kg_m2: float) -> float:
        """Return the starts per hour at this load inertia: ``min(A, B / Wk^2)``."""
        if load_inertia_kg_m2 <= 0.0:
            return self.starts_per_hour_max
        return min(self.starts_per_hour_max, self.product_max_kg_m2 / load_inertia_kg_m2)


@dataclass(frozen=True, slots=True)
class _Table:
    """The table as it is printed; columns of shape (n_rows, n_poles)."""

    poles: tuple[int, ...]
    horsepower: tuple[float, ...]
    starts: tuple[tuple[float, ...], ...]
    product_lb_ft2: tuple[tuple[float, ...], ...]
    rest_s: tuple[tuple[float, ...], ...]


def starts_allowed(power_w: float, poles: int) -> StartsAllowed | NotKnown:
    """Return the entry for a motor; between rated powers interpolated, beyond them refused.

    A, B and C are interpolated linearly in their logarithms against that of the power: they follow
    powers of the size, and leaving out any inner row brings it back within 18 %.
    """
    table = _table()
    if poles not in table.poles:
        return NotKnown(f"the table of allowed starts has no motors of {poles} poles")
    horsepower = power_w / WATT_PER_HORSEPOWER
    rows = np.array(table.horsepower)
    if not rows[0] * (1.0 - 1e-6) <= horsepower <= rows[-1] * (1.0 + 1e-6):
        low, high = (1e-3 * WATT_PER_HORSEPOWER * edge for edge in (rows[0], rows[-1]))
        return NotKnown(f"the table of allowed starts reaches from {low:.2f} to {high:.0f} kW only")
    place = table.poles.index(poles)
    starts, product, rest = (
        _at(horsepower, rows, np.array(column)[:, place])
        for column in (table.starts, table.product_lb_ft2, table.rest_s)
    )
    return StartsAllowed(
        starts_per_hour_max=starts,
        product_max_kg_m2=product * KG_M2_PER_LB_FT2,
        rest_s=rest,
        between_powers=_neighbours(horsepower, rows),
    )


def load_inertia_limit_kg_m2(power_w: float, poles: int) -> float | NotKnown:
    """Return the load inertia that a standard motor accelerates by NEMA MG 1-12.54.

    ``A P^0.95 / n^2.4 - 0.0685 P^1.5 / n^1.8`` in lb ft^2, P in horsepower, n the synchronous speed
    at 60 Hz in thousands of rpm. At 50 Hz the same inertia takes 0.69 of the energy: safe side.
    """
    horsepower = power_w / WATT_PER_HORSEPOWER
    largest = LARGEST_HORSEPOWER.get(poles)
    if largest is None:
        return NotKnown(f"NEMA MG 1-12.54 states no load inertia for {poles} poles")
    if not 1.0 - 1e-6 <= horsepower <= largest * (1.0 + 1e-6):
        high = 1e-3 * WATT_PER_HORSEPOWER * largest
        return NotKnown(f"NEMA MG 1-12.54 states load inertias from 0.75 to {high:.0f} kW only")
    speed = 7.2 / poles
    factor = LOAD_INERTIA_FACTOR.get(poles, LOAD_INERTIA_FACTOR_SLOWER)
    pounds: float = factor * horsepower**0.95 / speed**2.4 - 0.0685 * horsepower**1.5 / speed**1.8
    return pounds * KG_M2_PER_LB_FT2


def external_inertia_limit_kg_m2(nameplate: Nameplate) -> float | NotKnown:
    """Return the external inertia of IEC 60034-12 for design N: ``c P^0.9 p^2.5`` (from memory)."""
    factor = IEC_INERTIA_FACTOR.get(nameplate.rated_frequency_hz)
    low, high = IEC_POWER_W
    if factor is None or not low <= nameplate.rated_power_w <= high:
        return NotKnown("IEC 60034-12 states no external inertia for this motor")
    kilowatt: float = 1e-3 * nameplate.rated_power_w
    inertia: float = factor * kilowatt**0.9 * nameplate.pole_pairs**2.5
    return inertia


def stall_withstand_s(nameplate: Nameplate) -> float | NotKnown:
    """Return the time with locked rotor from operating temperature that the standard asks for."""
    largest_w = STALL_LARGEST_HORSEPOWER * WATT_PER_HORSEPOWER
    if nameplate.rated_power_w > largest_w or nameplate.rated_voltage_v > STALL_LARGEST_VOLTAGE_V:
        return NotKnown("above 373 kW or 1 kV no standard states it; the data sheet does")
    return STALL_WITHSTAND_S


def acceleration_time_s(inertia_kg_m2: float, speed_change_rpm: float, torque_nm: float) -> float:
    """Return ``J d(omega) / T`` at a constant accelerating torque."""
    return inertia_kg_m2 * 2.0 * math.pi * speed_change_rpm / 60.0 / torque_nm


def reflected_inertia_kg_m2(
    load_inertia_kg_m2: float, load_speed_rpm: float, motor_speed_rpm: float
) -> float:
    """Return a load's inertia as the motor feels it through a gear: ``J (n_load / n_motor)^2``."""
    return load_inertia_kg_m2 * (load_speed_rpm / motor_speed_rpm) ** 2


def inertia_constant_s(inertia_kg_m2: float, speed_rpm: float, base_va: float) -> float:
    """Return H: kinetic energy at ``speed_rpm`` over the base power."""
    return 0.5 * inertia_kg_m2 * (2.0 * math.pi * speed_rpm / 60.0) ** 2 / base_va


@cache
def _table() -> _Table:
    """Return the table."""
    text = resources.files(__package__).joinpath("starting_duty.toml").read_text(encoding="utf-8")
    document = tomllib.loads(text)
    rows = document["rows"]
    return _Table(
        poles=tuple(document["poles"]),
        horsepower=tuple(row["hp"] for row in rows),
        starts=tuple(tuple(row["starts"]) for row in rows),
        product_lb_ft2=tuple(tuple(row["product"]) for row in rows),
        rest_s=tuple(tuple(row["rest"]) for row in rows),
    )


def _at(horsepower: float, rows: RealArray, column: RealArray) -> float:
    """Return a column at a power, linear in the logarithms."""
    return math.exp(float(np.interp(math.log(horsepower), np.log(rows), np.log(column))))


def _neighbours(horsepower: float, rows: RealArray) -> tuple[float, float] | None:
    """Return the rows either side of a power, in W; None if it is one of them."""
    if np.any(np.isclose(rows, horsepower, rtol=1e-6)):
        return None
    above = int(np.searchsorted(rows, horsepower))
    return float(rows[above - 1]) * WATT_PER_HORSEPOWER, float(rows[above]) * WATT_PER_HORSEPOWER
