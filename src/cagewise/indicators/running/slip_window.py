"""Where the slip can be, from the nameplate and the measured power; never where it is.

Rated slip has a tolerance of 20 % and changes by 0.39 % per kelvin of rotor temperature, so no
scaling of it is good enough to place a line. It is good enough to say where to search: half to 1.6
times what the circuit needs to take the measured power (docs/theory/slip.md, section 2).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cagewise.indicators.running.slip_search import SlipPrior
from cagewise.indicators.running.supply import Supply
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import RealArray

WIDENING = (0.5, 1.6)
"""Window about the slip of the circuit (derived from the tolerances above; no other source)."""
UNSEEN_LOSS = 0.06
"""Power that the circuit does not know of (core, friction, stray), at most, over rated power: it
makes the slip of a lightly loaded motor look larger than it is. Common practice, no source."""
RATED_SLIP_SPREAD = 0.10
"""Relative standard deviation of the rated slip: its tolerance is 20 % (NEMA MG 1-12.46; IEC
60034-1 cl. 12.1), taken as two deviations."""
TEMPERATURE_SPREAD = 0.08
"""The same from +-20 K of rotor temperature."""
GRID_POINTS = 160
"""Slips at which the circuit is solved."""
LARGEST_DRAWS = 200
"""Members of an ensemble that are solved: enough for the 2.5 % and 97.5 % points."""


def slip_window(
    supply: Supply, nameplate: Nameplate, circuit: EquivalentCircuit
) -> tuple[float, float]:
    """Return lowest and highest slip to be searched; the lowest is 0 without voltages."""
    rated, power = nameplate.rated_slip, supply.complex_power_va
    if power is None:
        return 0.0, WIDENING[1] * rated
    unseen = UNSEEN_LOSS * nameplate.rated_power_w
    low = float(np.quantile(slip_at_power(supply, rated, circuit, power.real - unseen), 0.025))
    high = float(np.quantile(slip_at_power(supply, rated, circuit, power.real), 0.975))
    return WIDENING[0] * low, WIDENING[1] * max(high, 0.05 * rated)


def slip_prior(
    supply: Supply, nameplate: Nameplate, circuit: EquivalentCircuit
) -> SlipPrior | None:
    """Return where the power lets the slip be expected; None without voltages or without load."""
    rated, power = nameplate.rated_slip, supply.complex_power_va
    if power is None:
        return None
    unseen = UNSEEN_LOSS * nameplate.rated_power_w
    slips = slip_at_power(supply, rated, circuit, power.real - 0.5 * unseen)
    middle = float(np.median(slips))
    if middle <= 0.0:
        return None
    of_loss = unseen / math.sqrt(12.0) / power.real
    of_circuit = float(np.std(np.log(np.maximum(slips, 0.1 * middle))))
    return SlipPrior(middle, math.hypot(RATED_SLIP_SPREAD, TEMPERATURE_SPREAD, of_loss, of_circuit))


def slip_at_power(
    supply: Supply, rated_slip: float, circuit: EquivalentCircuit, power_w: float
) -> RealArray:
    """Return the slip at which each member of the ensemble takes ``power_w``, shape (n_draws,).

    0 where the circuit takes more than that at synchronous speed; the largest slip of the grid
    (three times rated) where it never does.
    """
    if supply.voltage_v is None:
        message = "the power of the circuit needs a voltage"
        raise ValueError(message)
    omega = 2.0 * math.pi * supply.frequency_hz.value
    slip = np.concatenate([[1e-9], np.geomspace(2e-3, 3.0, GRID_POINTS) * rated_slip])
    members = thinned(circuit)
    state = members.at(slip[:, np.newaxis], omega)
    taken = 1.5 * abs(supply.voltage_v) ** 2 * state.voltage_response(0.0).real
    return first_crossing(slip, taken, power_w)


def thinned(circuit: EquivalentCircuit) -> EquivalentCircuit:
    """Return at most :data:`LARGEST_DRAWS` members, fields of shape (n_draws,)."""
    names = EquivalentCircuit.__dataclass_fields__
    return EquivalentCircuit(
        **{name: np.atleast_1d(getattr(circuit, name))[:LARGEST_DRAWS] for name in names}
    )


def first_crossing(slip: RealArray, rising: RealArray, level: float) -> RealArray:
    """Return where each column of ``rising`` first exceeds ``level``, shape (n_draws,)."""
    above = rising >= level
    reached = np.any(above, axis=0)
    at: NDArray[np.intp] = np.where(reached, np.argmax(above, axis=0), slip.size - 1)
    before = np.maximum(at - 1, 0)
    columns = np.arange(rising.shape[1])
    step = rising[at, columns] - rising[before, columns]
    share = np.where(step > 0.0, (level - rising[before, columns]) / np.where(step, step, 1.0), 1.0)
    crossing = slip[before] + np.clip(share, 0.0, 1.0) * (slip[at] - slip[before])
    return np.asarray(np.where(reached & (at == 0), 0.0, crossing))
