"""Pictures of what open bars would show on a motor, against its load."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from cagewise.decision.expect import LINE_NAMES, Expectation, ExpectedDamage, ExpectedPoint
from cagewise.machine.cage.solution import FIFTH_FOUR, LOWER, UPPER, Line
from cagewise.pictures.parts import BARS, Drawn
from cagewise.pictures.picture import Axis, Curve, Part, Picture
from cagewise.quantities import Estimate, RealArray

LOAD = Axis(quantity="load", unit="% of rated")
PERCENT = 100.0
NAMES: dict[str, Line] = {
    "expected": LOWER,
    "expected_upper": UPPER,
    "expected_harmonic": FIFTH_FOUR,
}
"""Pictures of the level of a line."""
DIRECT = "expected_direct"
TITLES = {
    **{name: f"Expected line {LINE_NAMES[line]} against load" for name, line in NAMES.items()},
    DIRECT: "Expected direct component against load",
}
MEANING = (
    "Bands hold what is not known of the motor (95 %). Where bands of no and of one open bar meet, "
    "this line cannot tell them apart at that load."
)


def expected_pictures(expectation: Expectation) -> tuple[Drawn, ...]:
    """Return what 0 to 3 adjacent open bars would show from light to full load."""
    points = expectation.points
    return (*(_line(name, line, points) for name, line in NAMES.items()), _direct(points))


def _line(name: str, line: Line, points: Sequence[ExpectedPoint]) -> Drawn:
    """Return the level of one line."""
    picture = Picture(
        name=name,
        title=TITLES[name],
        x=LOAD,
        y=Axis(quantity="level over the fundamental", unit="dB"),
        curves=tuple(_counts(points, lambda d: d.levels_dbc[line])),
        meaning=MEANING,
    )
    return Drawn(picture=picture)


def _direct(points: Sequence[ExpectedPoint]) -> Drawn:
    """Return the direct component, with what a record of the recommended kind could show."""
    x = _loads(points)
    limit = [point.detection.direct_bars for point in points]
    picture = Picture(
        name=DIRECT,
        title=TITLES[DIRECT],
        x=LOAD,
        y=Axis(quantity="direct component, n |d| / |I_r|", unit="bars"),
        curves=(
            *_counts(points, lambda d: d.n_hat),
            Curve(
                label="detection limit, in open bars",
                part=Part.LIMIT,
                x=x,
                y=np.array([bars.value for bars in limit]),
                low=np.array([bars.low for bars in limit]),
                high=np.array([bars.high for bars in limit]),
            ),
        ),
        meaning="The direct component hardly depends on load and inertia: that is why it counts "
        "bars where the side lines cannot.",
    )
    return Drawn(picture=picture)


def _loads(points: Sequence[ExpectedPoint]) -> RealArray:
    return PERCENT * np.array([point.load_fraction for point in points])


def _counts(
    points: Sequence[ExpectedPoint], value: Callable[[ExpectedDamage], Estimate]
) -> Iterator[Curve]:
    """Yield a curve with its band for every number of open bars."""
    for number, label in enumerate(BARS):
        values = [value(point.damages[number]) for point in points]
        yield Curve(
            label=label,
            part=Part.EXPECTED,
            x=_loads(points),
            y=np.array([each.value for each in values]),
            low=np.array([each.low for each in values]),
            high=np.array([each.high for each in values]),
            open_bars=float(number),
        )
