"""Pictures of tests at rest: impedance against position, and resistance of the pairs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from cagewise.indicators.reading import Reading
from cagewise.indicators.standstill.positions import PositionCurve, PositionResult
from cagewise.indicators.winding.resistance import PAIRS, line_resistances
from cagewise.measurement.test_sheet import TestSheet
from cagewise.pictures.parts import Drawn, absent, why_not
from cagewise.pictures.picture import Axis, Curve, Part, Picture
from cagewise.quantities import NotKnown, RealArray

POSITION_TITLE = "{quantity} against the position of the rotor, {frequency:g} Hz"
POSITION_TITLE_ALONE = "Impedance against the position of the rotor"
RESISTANCE_TITLE = "Resistance of the pairs of terminals"
UNBALANCE = "resistance_unbalance"
PERCENT = 100.0


def position_name(curve: PositionCurve, first: PositionCurve) -> str:
    """Return the name of the picture of a quantity: what differs from the first one says so."""
    name = "position"
    if curve.quantity != first.quantity:
        name = f"{name}_{curve.quantity}"
    if curve.frequency_hz != first.frequency_hz:
        name = f"{name}_{curve.frequency_hz:g}_hz".replace(".", "_")
    return name


def position_pictures(
    result: PositionResult | None, readings: Sequence[str] = ("position_pattern",)
) -> tuple[Drawn, ...]:
    """Return the pictures of a position test, one per quantity and frequency."""
    if result is None or not result.curves:
        reasons = [] if result is None else [r.reason for r in result.readings if r.reason]
        reason = reasons[0] if reasons else "no test of impedance against position was made"
        return (absent("position", POSITION_TITLE_ALONE, reason, readings),)
    groups: dict[str, list[PositionCurve]] = {}
    for curve in result.curves:
        groups.setdefault(position_name(curve, result.curves[0]), []).append(curve)
    return tuple(_position(name, curves, readings) for name, curves in groups.items())


def _position(name: str, curves: Sequence[PositionCurve], readings: Sequence[str]) -> Drawn:
    """Return one quantity of all pairs."""
    quantity = curves[0].quantity
    title = POSITION_TITLE.format(quantity=quantity.capitalize(), frequency=curves[0].frequency_hz)
    picture = Picture(
        name=name,
        title=title,
        x=Axis(quantity="electrical angle of the rotor", unit="deg"),
        y=Axis(quantity=f"{quantity} about its mean", unit="%"),
        curves=tuple(drawn for curve in curves for drawn in _pair(curve)),
        readings=tuple(readings),
        meaning="A damaged cage makes two waves in a turn of 360 electrical degrees, and the waves "
        "of the pairs follow each other by 120. Waves that stand still belong to the stator.",
    )
    return Drawn(picture=picture)


def _pair(curve: PositionCurve) -> Iterator[Curve]:
    """Yield what one pair shows."""
    group = f"{curve.pair.value[0]}-{curve.pair.value[1]}"
    order = np.argsort(curve.angle_deg, kind="stable")
    angle, measured = curve.angle_deg[order], curve.measured_percent[order]
    rest = measured - np.interp(angle, curve.grid_deg, curve.fitted_percent)
    yield _curve("1 open bar", Part.EXPECTED, curve.grid_deg, curve.one_open_bar_percent, group, 1)
    yield _curve(
        "fit: orders 2 and 4, slot ripple", Part.FITTED, curve.grid_deg, curve.fitted_percent, group
    )
    yield _curve("readings", Part.MEASURED, angle, measured, group, joined=False)
    yield _curve("left by the fit", Part.RESIDUAL, angle, rest, group, joined=False)


def _curve(  # noqa: PLR0913 - what a curve is made of
    label: str,
    part: Part,
    x: RealArray,
    y: RealArray,
    group: str,
    open_bars: float | None = None,
    *,
    joined: bool = True,
) -> Curve:
    """Return a curve of one panel."""
    return Curve(label=label, part=part, x=x, y=y, group=group, open_bars=open_bars, joined=joined)


def resistance_picture(sheet: TestSheet, readings: Mapping[str, Reading]) -> Drawn:
    """Return how far the resistance of each pair lies from their mean, beside the limit."""
    lines = line_resistances(sheet)
    reading = readings.get(UNBALANCE)
    reason = lines.reason if isinstance(lines, NotKnown) else why_not(readings, UNBALANCE)
    if reason or isinstance(lines, NotKnown) or reading is None or reading.value is None:
        return absent("resistance", RESISTANCE_TITLE, reason, (UNBALANCE,))
    x = np.arange(1.0, len(PAIRS) + 1.0)
    y = PERCENT * (lines / lines.mean() - 1.0)
    half = reading.value.high - reading.value.value
    measured = Curve(
        label="deviation from the mean",
        part=Part.MEASURED,
        x=x,
        y=y,
        low=y - half,
        high=y + half,
        joined=False,
    )
    picture = Picture(
        name="resistance",
        title=RESISTANCE_TITLE,
        x=Axis(
            quantity="pair of terminals",
            ticks=tuple(
                (float(at), f"{pair.value[0]}-{pair.value[1]}: {ohm:.4g} ohm")
                for at, pair, ohm in zip(x, PAIRS, lines, strict=True)
            ),
        ),
        y=Axis(quantity="deviation from the mean of the three", unit="%"),
        curves=(measured, *_limits(reading, x)),
        readings=(UNBALANCE, "winding_resistance"),
        meaning="One pair apart from the other two means one terminal or joint; two apart mean a "
        "phase. The temperature cancels here.",
    )
    return Drawn(picture=picture)


def _limits(reading: Reading, x: RealArray) -> Iterator[Curve]:
    """Yield the limit on both sides, where there is one."""
    if reading.limit is None:
        return
    ends = np.array([x[0] - 0.5, x[-1] + 0.5])
    for sign, label in ((1.0, f"limit: {reading.limit.source}"), (-1.0, "")):
        yield Curve(label=label, part=Part.LIMIT, x=ends, y=np.full(2, sign * reading.limit.value))
