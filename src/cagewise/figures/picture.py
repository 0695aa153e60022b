"""Any picture, drawn for a report: readable without colour, the same bytes for the same numbers."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from cagewise.figures import style
from cagewise.language import retell, say
from cagewise.pictures.picture import Axis, Curve, Marker, Part, Picture, Raster

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT_IN = 3.4
PLANE_HEIGHT_IN = 4.6
IMAGE_POINTS = 150
"""Dots per inch of an image inside a drawing of lines."""
DASHES: dict[float, Any] = {
    0.0: (0, (1, 1.2)),
    1.0: (0, (4, 1.5)),
    2.0: (0, (7, 1.5, 1, 1.5)),
    3.0: (0, (7, 1.5, 1, 1.5, 1, 1.5)),
}
"""Lines of the expected damages, by open bars: told apart without colour."""
SHAPES: dict[float, str] = {0.0: "o", 1.0: "^", 2.0: "s", 3.0: "D"}
"""Hollow markers of the expected damages, by open bars."""
AS_READ = "as read"
RASTER_LABEL = "relative to the fundamental, {unit}"
LEGEND_CHARACTERS = 110
"""Characters of the legend in one row."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a part of a picture is drawn."""

    colour: str
    width: float = 1.0
    line: Any = "-"
    marker: str = ""


LOOKS: dict[Part, Look] = {
    Part.MEASURED: Look(style.LINE, 0.9, "-", "o"),
    Part.FLOOR: Look(style.SOFT, 1.0, (0, (4, 2)), ""),
    Part.FITTED: Look(style.INK, 1.2, (0, (6, 2)), ""),
    Part.EXPECTED: Look(style.SPEAKS_FOR, 1.1, (0, (4, 1.5)), "^"),
    Part.EARLIER: Look(style.SOFT, 0.9, (0, (1, 1)), "."),
    Part.LIMIT: Look(style.INK, 1.3, (0, (1, 1.5)), "_"),
    Part.RESIDUAL: Look(style.SPEAKS_AGAINST, 1.4, (0, (3, 1, 1, 1)), "x"),
}


def draw(picture: Picture) -> Figure:
    """Return the figure of a picture; one without data holds its reason."""
    from matplotlib.figure import Figure

    with style.drawing():
        height = PLANE_HEIGHT_IN if picture.plane else HEIGHT_IN
        figure = Figure(figsize=(style.WIDTH_IN, height), layout="constrained")
        if picture.reason:
            figure.text(0.5, 0.5, retell(picture.reason), ha="center", va="center", wrap=True)
            return figure
        groups = list(dict.fromkeys(curve.group for curve in picture.curves)) or [""]
        panels = figure.subplots(1, len(groups), sharex=True, sharey=True, squeeze=False)[0]
        for axes, group in zip(panels, groups, strict=True):
            _panel(axes, picture, group)
        panels[0].set_ylabel(_words(picture.y))
        _legend(figure, panels)
    return figure


def file_bytes(picture: Picture, kind: str, dots_per_inch: int) -> bytes:
    """Return a picture as a file of its own.

    Parameters
    ----------
    picture
        Drawn on the colour of paper, so that it can be put anywhere.
    kind
        ``"svg"`` or ``"png"``.
    dots_per_inch
        Of a picture in dots.
    """
    figure = draw(picture)
    sink = io.BytesIO()
    nobody = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
    with style.drawing(**{"svg.hashsalt": picture.name}):
        figure.savefig(sink, format=kind, dpi=dots_per_inch, facecolor=style.PAPER, metadata=nobody)
    return sink.getvalue()


def _panel(axes: Axes, picture: Picture, group: str) -> None:
    """Draw one panel."""
    axes.grid(visible=picture.raster is None)
    axes.set_axisbelow(True)
    axes.set_title(retell(group), fontsize=9)
    axes.set_xlabel(_words(picture.x))
    if picture.raster is not None:
        _image(axes, picture.raster)
    earlier = 0
    for curve in picture.curves:
        if curve.group == group:
            earlier += curve.part is Part.MEASURED
            _curve(axes, curve, second=earlier > 1, plane=picture.plane)
    for marker in picture.markers:
        _marker(axes, marker, plane=picture.plane)
    _scales(axes, picture)
    style.number(axes)


def _scales(axes: Axes, picture: Picture) -> None:
    """Set scales, limits and named ticks."""
    if picture.x.logarithmic:
        axes.set_xscale("log")
    if picture.y.logarithmic:
        axes.set_yscale("log")
    if picture.x.ticks:
        axes.set_xticks(
            [at for at, _ in picture.x.ticks], [retell(name) for _, name in picture.x.ticks]
        )
        axes.minorticks_off()
    if picture.plane:
        axes.set_aspect("equal", adjustable="datalim")
    elif picture.raster is None and (picture.x.logarithmic or not picture.x.ticks):
        low, high = _span([c.x for c in picture.curves])
        if picture.x.span is not None:
            low, high = max(low, picture.x.span[0]), min(high, picture.x.span[1])
        axes.set_xlim((high, low) if picture.x.falling else (low, high))


def _span(arrays: Sequence[np.ndarray]) -> tuple[float, float]:
    """Return the ends of an axis."""
    every = np.concatenate([a[np.isfinite(a)] for a in arrays] or [np.array([0.0, 1.0])])
    return float(every.min()), float(every.max())


def _curve(axes: Axes, curve: Curve, *, second: bool, plane: bool) -> None:
    """Draw one curve with its interval."""
    look = LOOKS[curve.part]
    line = look.line if curve.open_bars is None else DASHES.get(curve.open_bars, look.line)
    colour = style.SOFT if second else look.colour
    label = retell(curve.label) or "_nolegend_"
    if not curve.joined:
        if curve.low is not None and curve.high is not None:
            axes.vlines(curve.x, curve.low, curve.high, color=colour, linewidth=1.0)
        axes.plot(curve.x, curve.y, look.marker, color=colour, markersize=4, label=label)
        return
    if curve.low is not None and curve.high is not None:
        band = style.HIDDEN if curve.part is Part.MEASURED else colour
        axes.fill_between(curve.x, curve.low, curve.high, color=band, alpha=0.18, linewidth=0)
    few = curve.part in {Part.MEASURED, Part.EARLIER} and curve.x.size <= 60 and not plane
    if plane and curve.x.size == 2:
        _arrow(axes, curve, look)
        return
    axes.plot(
        curve.x,
        curve.y,
        color=colour,
        linewidth=look.width,
        linestyle=line,
        marker=look.marker if few else "",
        markersize=4,
        label=label,
    )


def _arrow(axes: Axes, curve: Curve, look: Look) -> None:
    """Draw a phasor."""
    axes.plot(curve.x, curve.y, color=look.colour, linewidth=2.0, linestyle=look.line)
    axes.plot(
        curve.x[-1:],
        curve.y[-1:],
        color=look.colour,
        marker=look.marker or "s",
        linestyle=look.line,
        linewidth=2.0,
        label=retell(curve.label),
    )


def _marker(axes: Axes, marker: Marker, *, plane: bool) -> None:
    """Draw a marker with its interval; one without a height is a line over the whole height."""
    look = LOOKS[marker.part]
    if plane:
        return
    if marker.y is None:
        axes.axvline(marker.x, color=look.colour, linewidth=1.0, linestyle=(0, (1, 2)), zorder=1)
        axes.annotate(
            retell(marker.label),
            (marker.x, 1.0),
            xycoords=("data", "axes fraction"),
            fontsize=8,
            ha="center",
            va="bottom",
        )
        return
    shape = look.marker if marker.open_bars is None else SHAPES.get(marker.open_bars, "^")
    if marker.low is not None and marker.high is not None:
        axes.vlines(marker.x, marker.low, marker.high, color=look.colour, linewidth=1.2)
    found = marker.part is Part.MEASURED
    axes.plot(
        [marker.x],
        [marker.y],
        marker=shape,
        color=style.INK if found else look.colour,
        markerfacecolor=style.INK if found else "none",
        markersize=6 if found else 7,
        linestyle="none",
        label=retell(_family(marker)),
        zorder=5 if found else 4,
    )


def _family(marker: Marker) -> str:
    """Return one word for markers of a kind: the legend has each once."""
    if marker.open_bars is not None:
        return marker.label.split(":")[0]
    return AS_READ if marker.part is Part.MEASURED else marker.label.split(" of ")[0]


def _image(axes: Axes, raster: Raster) -> None:
    """Draw an image in greys: dark is strong."""
    mesh = axes.pcolormesh(
        raster.x,
        raster.y,
        raster.level,
        cmap="Greys",
        vmin=raster.lowest,
        vmax=raster.highest,
        shading="nearest",
        rasterized=True,
    )
    axes.figure.colorbar(mesh, ax=axes, label=say(RASTER_LABEL, unit=raster.unit))


def _legend(figure: Figure, panels: Sequence[Axes]) -> None:
    """Put one legend under all panels."""
    handles: dict[str, Any] = {}
    for axes in panels:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            handles.setdefault(label, handle)
    if handles:
        figure.legend(
            list(handles.values()),
            list(handles),
            loc="outside lower center",
            ncols=max(1, min(4, LEGEND_CHARACTERS // max(map(len, handles)))),
            frameon=False,
            fontsize=8,
        )


def _words(axis: Axis) -> str:
    """Return the name of an axis with its unit."""
    quantity = retell(axis.quantity)
    return f"{quantity}, {retell(axis.unit)}" if axis.unit else quantity
