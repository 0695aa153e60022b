"""The voltage at the motor, cycle by cycle."""

from __future__ import annotations

import math

import numpy as np

from cagewise.conditioning.start_level import fit_cycles
from cagewise.measurement import LINE_VOLTAGE_ROLES, PHASE_VOLTAGE_ROLES, Recording, Role
from cagewise.quantities import PHASE_OPERATOR, ComplexArray, RealArray


def line_voltage_rms(recording: Recording, cycle: float) -> RealArray | None:
    """Return the rms line voltage of the main sequence in windows of one cycle.

    Of a single voltage its own value: an unbalance then goes unseen. Phases may follow each other
    in either order.

    Parameters
    ----------
    recording
        Its channels by role; line voltages are preferred.
    cycle
        Samples per supply cycle.

    Returns
    -------
    RealArray | None
        Shape (n_windows,), windows as :func:`~cagewise.conditioning.start_level.fit_cycles` makes
        them; None without voltages.
    """
    for roles, factor in ((LINE_VOLTAGE_ROLES, 1.0), (PHASE_VOLTAGE_ROLES, math.sqrt(3.0))):
        given = {role: found.samples for role in roles if (found := recording.find(role))}
        if given:
            phasors = fit_cycles(np.stack(list(given.values())), cycle).phasors[0]
            known = dict(zip(given, phasors, strict=True))
            return factor * _sequence_rms(known, roles, closes=roles is LINE_VOLTAGE_ROLES)
    return None


def _sequence_rms(
    known: dict[Role, ComplexArray], roles: tuple[Role, ...], *, closes: bool
) -> RealArray:
    """Return the rms of the stronger sequence; the quadratic mean where a voltage is missing."""
    if closes and len(known) == 2:
        missing = next(role for role in roles if role not in known)
        known = {**known, missing: -np.sum(list(known.values()), axis=0)}
    if len(known) < 3:
        return np.asarray(np.sqrt(np.mean(np.abs(list(known.values())) ** 2, axis=0) / 2.0))
    first, second, third = (known[role] for role in roles)
    a = PHASE_OPERATOR
    positive = np.abs(first + a * second + a**2 * third)
    negative = np.abs(first + a**2 * second + a * third)
    return np.asarray(np.maximum(positive, negative) / 3.0 / math.sqrt(2.0))
