"""Which of the numbers that a shop returned lie beyond a limit of the specification."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from cagewise.decision.repair_specification import LimitKind, ShopLimit, limits_for
from cagewise.decision.shop_checks import Check
from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import MEGOHM, insulation_factor
from cagewise.measurement.repair_return import Answer
from cagewise.quantities import NotKnown


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """One returned number that lies beyond its limit."""

    kind: LimitKind
    keys: tuple[str, ...]
    """Of the answers it was made from."""
    value: float
    """In the unit of :attr:`limit`."""
    limit: float


_Limits = Mapping[Check, tuple[ShopLimit, ...]]
_REPAIRED = "repaired"
HELD_AGAINST = (
    Check.RESISTANCE,
    Check.INSULATION,
    Check.SHAFT_RUNOUT,
    Check.AIR_GAP,
    Check.CORE_LOSS,
    Check.NO_LOAD,
)
"""Checks whose returned numbers have a limit that decides."""


def beyond_limits(answers: Mapping[str, Answer], motor: Motor) -> tuple[Beyond, ...]:
    """Return what lies beyond a limit after the repair; on arrival that is why it was sent.

    What the shop did not answer, and limits that are guidance, decide nothing.
    """
    said = {
        key: float(value)
        for key, value in answers.items()
        if isinstance(value, int | float) and not isinstance(value, bool)
    }
    every = limits_for(motor, HELD_AGAINST)
    limits = {limit.kind: limit for each in every.values() for limit in each}
    found = []
    for beyond in _values(said, every):
        limit = limits.get(beyond.kind)
        if limit is not None and beyond.value > limit.values[0]:
            found.append(
                Beyond(
                    kind=beyond.kind,
                    keys=beyond.keys,
                    value=beyond.value,
                    limit=limit.values[0],
                )
            )
    return (*found, *_insulation(said, motor, every))


def unbalance(values: tuple[float, ...]) -> float:
    """Return the largest deviation from the mean over the mean (ANSI/EASA AR100 definition)."""
    mean = sum(values) / len(values)
    return max(abs(value - mean) for value in values) / mean


def _values(said: Mapping[str, float], limits: _Limits) -> Iterator[Beyond]:
    """Yield what has a largest value, with no limit yet."""

    def made(kind: LimitKind, keys: tuple[str, ...], value: float) -> Beyond:
        return Beyond(kind=kind, keys=keys, value=value, limit=0.0)

    threes = (
        (_resistance_kind(limits), _three(_REPAIRED, "ohm")),
        (LimitKind.NO_LOAD_VOLTAGE, ("no_load_ab_v", "no_load_bc_v", "no_load_ca_v")),
        (LimitKind.NO_LOAD_CURRENT, ("no_load_a_a", "no_load_b_a", "no_load_c_a")),
    )
    for kind, keys in threes:
        if kind is not None and all(key in said for key in keys):
            yield made(kind, keys, unbalance(tuple(said[key] for key in keys)))
    gap = ("repaired_gap_min_mm", "repaired_gap_max_mm")
    if all(key in said for key in gap):
        yield made(LimitKind.AIR_GAP, gap, unbalance((said[gap[0]], said[gap[1]])))
    if "repaired_runout_mm" in said:
        yield made(LimitKind.RUNOUT, ("repaired_runout_mm",), said["repaired_runout_mm"])
    core = ("core_loss_found_w_per_kg", "core_loss_repaired_w_per_kg")
    if all(key in said for key in core):
        yield made(LimitKind.CORE_RISE, core, said[core[1]] / said[core[0]] - 1.0)
    if "core_hot_spot_repaired_k" in said:
        key = "core_hot_spot_repaired_k"
        yield made(LimitKind.CORE_SPOT, (key,), said[key])


def _three(stage: str, unit: str) -> tuple[str, ...]:
    return tuple(f"{stage}_{pair}_{unit}" for pair in ("ab", "bc", "ca"))


def _resistance_kind(limits: _Limits) -> LimitKind | None:
    """Return the limit of the resistances: the wider one where both are possible."""
    kinds = [limit.kind for limit in limits.get(Check.RESISTANCE, ())]
    return max(kinds, key=list(LimitKind).index, default=None)


def _insulation(said: Mapping[str, float], motor: Motor, every: _Limits) -> Iterator[Beyond]:
    """Yield the insulation resistance, brought to 40 degC, where it lies below all its minima."""
    keys = ("repaired_insulation_megaohm", "repaired_winding_degc")
    insulation = motor.winding.insulation
    limits = every.get(Check.INSULATION, ())
    least = [each.values[0] for each in limits if each.kind is LimitKind.INSULATION_MIN]
    if not all(key in said for key in keys) or insulation is None or not least:
        return
    factor = insulation_factor(said[keys[1]], insulation)
    if isinstance(factor, NotKnown):
        return
    value = MEGOHM * said[keys[0]] * factor
    if value < min(least):
        yield Beyond(kind=LimitKind.INSULATION_MIN, keys=keys, value=value, limit=min(least))
