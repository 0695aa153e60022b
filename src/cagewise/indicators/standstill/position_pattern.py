"""Impedance against rotor position: per cent of the mean, and open bars.

Derivation: ``docs/theory/position-pattern.md``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.cage.open_bars import interval, safely
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.standstill.amplitude import amplitude_estimate
from cagewise.indicators.standstill.expected import Signal, StandstillScale
from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.moving import Movement, detection_factor
from cagewise.indicators.standstill.pattern import SIGNAL_OF, PatternFits
from cagewise.indicators.standstill.series import PairReadings, Quantity
from cagewise.machine.cage.expectation import COUNTS
from cagewise.machine.motor import Motor
from cagewise.machine.positions import DAMAGE_ORDERS
from cagewise.measurement.test_sheet import Place, TestSheet
from cagewise.quantities import COVERAGE, Estimate, RealArray

NAME = "position_pattern"
TITLE = "impedance against position"
DUCTS = (
    "ducts, wedges or an oval rotor make the same order 2 as open bars; resistance against "
    "inductance tells them apart only at a few hertz, which is not attempted"
)
PAIR_UNSEEN = (
    "two open bars half a pole pitch apart leave order 2 empty, and their order 4 may here be no "
    "larger than what a sound rotor or the scatter shows: they are not excluded"
)
LINEAR = "rests on one linear cage: iron at low flux and currents between the bars are not in it"
GUIDANCE = (
    "no standard limits the swing of a rotation test: 3 % and 5 to 10 % of the current are quoted "
    "as suspicious"
)
PAIR_OVER_LIMIT = "masked_pair_over_limit_1"
"""Detail: least order 4 of two bars 90 electrical degrees apart, which leave order 2 empty, over
what a sound rotor or the scatter may show; below 1 such a pair goes unseen."""
FROM_ORDER_4 = "read_from_order_4_1"
"""Detail: 1 where the pattern has the look of such a pair, and the open bars are read from order
4."""
_DRAWS_EACH = 4
"""Draws of the scatter for each solved cage."""
_SEED = 37


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternContext:
    """What a reading of the pattern needs."""

    fits: PatternFits
    scale: StandstillScale
    motor: Motor
    sheet: TestSheet
    limits: PositionLimits

    @property
    def floor(self) -> float:
        """Amplitude over the mean that a sound rotor may show."""
        unlucky = any(check.open_bars_counts for check in self.fits.checks)
        return self.limits.healthy_anisotropy + (self.limits.slot_ripple if unlucky else 0.0)


def refused(name: str, reason: str, details: Mapping[str, float]) -> Reading:
    """Return a pattern that could not be read."""
    return Reading(
        name=name,
        title=TITLE,
        independence_class=IndependenceClass.STANDSTILL_PATTERN,
        method=Method.POSITION_PATTERN,
        reason=reason,
        details=details,
    )


def read_pattern(name: str, context: PatternContext, fault: str) -> Reading:
    """Read the pattern of one frequency, or say why it is not the rotor's."""
    details = dict(_details(context))
    reason = fault or _hidden(context)
    if reason:
        return refused(name, reason, details)
    masked = is_masked(context)
    return Reading(
        name=name,
        title=TITLE,
        independence_class=IndependenceClass.STANDSTILL_PATTERN,
        method=Method.POSITION_PATTERN,
        value=_amplitude(context).scaled(100.0),
        unit=f"% of the mean {_noun(context.fits.signal)}",
        valid=True,
        false_alarm_probability=context.fits.false_alarm_probability(),
        open_bar_equivalent=_open_bars(context, masked=masked),
        detection_limit_bars=max(_noise_bars(context), _floor_bars(context)),
        caveats=tuple(_caveats(context, masked=masked)),
        details=details,
    )


def is_masked(context: PatternContext) -> bool:
    """Return whether order 4 stands beside so little order 2 as no adjacent bars would give."""
    fits, scale = context.fits, context.scale
    if fits.order_probability(4) > context.limits.false_alarm_probability:
        return False
    second, fourth = (float(np.linalg.norm(fits.stacked(order)[0])) for order in DAMAGE_ORDERS)
    if fourth <= context.floor:
        return False
    ratios = scale.amplitudes[fits.signal, 4] / scale.amplitudes[fits.signal, 2]
    return fourth > safely(ratios.max(axis=0)) * second


def _pair_over_limit(context: PatternContext) -> float:
    """Return :data:`PAIR_OVER_LIMIT`; the pair's order 4 is twice that of one bar (kernel K4)."""
    fits, limits = context.fits, context.limits
    least = float(np.quantile(2.0 * context.scale.amplitudes[fits.signal, 4][0], 1.0 - COVERAGE))
    sd = math.sqrt(float(np.mean(fits.stacked(4)[1])))
    factor = detection_factor(limits.false_alarm_probability / len(fits.rotor), _freedom(fits))
    return least / max(context.floor, sd * factor)


def _amplitude(context: PatternContext) -> Estimate:
    """Return the amplitude of orders 2 and 4 together, over the mean."""
    parts = [context.fits.stacked(order) for order in DAMAGE_ORDERS]
    pattern = np.concatenate([values for values, _ in parts])
    variance = np.concatenate([spread for _, spread in parts])
    return amplitude_estimate(
        float(np.linalg.norm(pattern)),
        math.sqrt(float(np.mean(variance))),
        pattern.size,
        _freedom(context.fits),
    )


def _freedom(fits: PatternFits) -> int:
    """Return the fewest degrees of freedom of the scatter."""
    return min(c.freedom for c in fits.rotor.values())


def _open_bars(context: PatternContext, *, masked: bool) -> Estimate:
    """Return adjacent open bars; of a masked pattern by order 4, and no more than are solved."""
    fits, scale = context.fits, context.scale
    orders = (4,) if masked else DAMAGE_ORDERS
    amplitude = math.sqrt(sum(float(np.sum(fits.stacked(order)[0] ** 2)) for order in orders))
    value = float(np.median(scale.bars(fits.signal, amplitude, orders)))
    draws = np.concatenate(
        [
            scale.bars(fits.signal, part, orders) * scale.conversion_error()
            for part in np.split(_amplitude_draws(context, orders), _DRAWS_EACH)
        ]
    )
    if masked:
        most = float(COUNTS[-1])
        value, draws = min(value, most), np.minimum(draws, most)
    stands = fits.false_alarm_probability() < context.limits.false_alarm_probability
    return interval(value, draws, includes_zero=not stands or amplitude < context.floor)


def _amplitude_draws(context: PatternContext, orders: tuple[int, ...]) -> RealArray:
    """Return draws of the amplitude that damage made: scatter and the sound rotor's own taken off.

    The sound rotor's pattern has any phase and any share of R and L, and 95 % of them lie below the
    limit.
    """
    from scipy.special import chdtri

    rng = np.random.default_rng(_SEED)
    n = _DRAWS_EACH * context.scale.n_draws
    freedom = _freedom(context.fits)
    student = np.sqrt(freedom / rng.chisquare(freedom, n))
    squares = np.zeros(n)
    for order in orders:
        pattern, variance = context.fits.stacked(order)
        noise = np.sqrt(variance) * rng.standard_normal((n, pattern.size))
        length = math.sqrt(float(chdtri(pattern.size, 1.0 - COVERAGE)))
        own = context.floor / length * rng.standard_normal((n, pattern.size))
        draws = pattern + noise * student[:, np.newaxis] - own
        squares += np.sum(draws**2, axis=1)
    return np.sqrt(squares)


def _noise_bars(context: PatternContext) -> float:
    """Return the open bars that 95 of 100 tests with this scatter would show."""
    fits, limits = context.fits, context.limits
    chance = limits.false_alarm_probability / len(fits.rotor)
    found = []
    for quantity, part in fits.rotor.items():
        sd = math.sqrt(float(np.mean(np.diag(part.covariance))))
        amplitude = sd * detection_factor(chance, part.freedom)
        found.append(safely(context.scale.bars(SIGNAL_OF[quantity], amplitude)))
    return min(found)


def _floor_bars(context: PatternContext) -> float:
    """Return the open bars that a sound rotor's own pattern may look like."""
    return safely(context.scale.bars(context.fits.signal, context.floor))


def _hidden(context: PatternContext) -> str:
    """Return why nothing can be said when the scatter hides what is looked for."""
    limits = context.limits
    stands = context.fits.false_alarm_probability() < limits.false_alarm_probability
    bars = _noise_bars(context)
    if stands or bars <= limits.largest_noise_bars:
        return ""
    return (
        f"the readings scatter too much: no pattern stands out, and {bars:.2g} open bars could "
        "hide in the scatter"
    )


def _noun(signal: Signal) -> str:
    """Return what the per cent are of."""
    return "impedance" if signal is Signal.VECTOR else str(signal)


def _caveats(context: PatternContext, *, masked: bool) -> Iterator[str]:
    fits, limits = context.fits, context.limits
    value = _amplitude(context).value
    if value < context.floor and fits.false_alarm_probability() < limits.false_alarm_probability:
        yield (
            f"a pattern stands, but no larger than sound rotors may have "
            f"({100.0 * context.floor:.2g} %, judgement)"
        )
    if masked:
        yield (
            "order 4 stands without its order 2: bars about 90 electrical degrees apart do this; "
            "the open bars are read from order 4"
        )
    if _pair_over_limit(context) < 1.0:
        yield PAIR_UNSEEN
    yield from _movement_caveats(fits)
    yield DUCTS
    yield LINEAR
    if Quantity.RESISTANCE not in fits.fits:
        yield "resistance was not read: a cracked bar shows in it before it shows in inductance"
    if Quantity.MODULUS in fits.fits:
        yield GUIDANCE
    if context.sheet.place is Place.SWITCHBOARD:
        yield "measured from the switchboard: the cable makes the pattern look smaller"
    if context.motor.cage.rotor_bars is None:
        yield _unknown_bars(context)
    yield from dict.fromkeys(text for check in fits.checks for text in check.caveats)


def _movement_caveats(fits: PatternFits) -> Iterator[str]:
    """Yield what a missing pair costs, and how well the pairs agree."""
    if not fits.missing:
        return
    names = " and ".join(fits.missing)
    if len(fits.missing) == 2:
        yield (
            f"terminals {names} were not read: whether the pattern moves with the rotor cannot be "
            "told, so it may belong to the test set"
        )
    else:
        yield (
            f"terminals {names} were not read: that the pattern moves with the rotor rests on two "
            "pairs, and the inductances of the phases cannot be compared"
        )


def _unknown_bars(context: PatternContext) -> str:
    """Return what the unknown number of bars leaves open."""
    unlucky = sorted({n for check in context.fits.checks for n in check.open_bars_counts})
    if not unlucky:
        return "the number of rotor bars is not known: slot ripple is part of the scatter"
    return (
        f"the number of rotor bars is not known: with {', '.join(map(str, unlucky))} bars these "
        "positions would show slot ripple as damage"
    )


def _details(context: PatternContext) -> Iterator[tuple[str, float]]:
    fits = context.fits
    yield "test_frequency_hz", fits.frequency_hz
    for quantity, part in fits.rotor.items():
        for order in DAMAGE_ORDERS:
            yield f"{quantity}_order_{order}_percent", 100.0 * part.amplitude(order)
            angle = math.degrees(math.atan2(part.of(order)[1], part.of(order)[0]))
            yield f"{quantity}_order_{order}_deg", angle
        scatter = math.sqrt(sum(f.sum_of_squares for f in fits.fits[quantity]) / part.freedom)
        yield f"{quantity}_scatter_percent", 100.0 * scatter
    yield from _means(fits)
    if len(fits.pairs) > 1:
        yield "moving_with_rotor_share_1", fits.share(Movement.WITH_ROTOR)
        yield "moving_backwards_share_1", fits.share(Movement.BACKWARDS)
        yield "staying_share_1", fits.share(Movement.STAYS)
    yield PAIR_OVER_LIMIT, _pair_over_limit(context)
    yield FROM_ORDER_4, float(is_masked(context))
    yield "noise_limit_bars", _noise_bars(context)
    yield "sound_rotor_limit_bars", _floor_bars(context)
    for pair in fits.pairs:
        yield from rotation_details(pair)


def _means(fits: PatternFits) -> Iterator[tuple[str, float]]:
    units = {Quantity.INDUCTANCE: "h", Quantity.RESISTANCE: "ohm", Quantity.MODULUS: "ohm"}
    for quantity, of in fits.fits.items():
        yield f"mean_{quantity}_{units[quantity]}", fits.mean(quantity)
        errors = [abs(fit.return_error) for fit in of if fit.return_error is not None]
        if errors:
            yield f"{quantity}_return_error_percent", 100.0 * max(errors)


def rotation_details(pair: PairReadings) -> Iterator[tuple[str, float]]:
    """Yield the index of the single-phase rotation test where |Z| is known."""
    index = pair.rotation_index
    if index is not None:
        yield f"rotation_index_{pair.pair.value}_percent", 100.0 * index
