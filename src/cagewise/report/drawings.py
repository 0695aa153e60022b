"""The figures of a page, captioned: spectra, currents, the side line of a start, positions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cagewise.decision.examination import (
    Examination,
    RecordExamination,
    SheetExamination,
    StartExamination,
)
from cagewise.report import visit_wording, wording
from cagewise.report.language import retell, say

if TYPE_CHECKING:
    from markupsafe import Markup

    from cagewise.indicators.standstill.positions import PositionCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """One figure of the page."""

    caption: str
    svg: Markup


def drawings(examination: Examination) -> list[Drawing]:
    """Return the figures of the sources that the report shows."""
    made: list[Drawing] = []
    for source in examination.shown:
        if isinstance(source, RecordExamination):
            made += _of_record(source)
        elif isinstance(source, StartExamination):
            made += _of_start(source)
        else:
            made += _of_sheet(source)
    return made


def inline(figure: object, salt: str) -> Markup:
    """Return a figure as markup; text in it was escaped when it was drawn."""
    from markupsafe import Markup
    from matplotlib.figure import Figure

    from cagewise.figures.svg import svg_text

    if not isinstance(figure, Figure):
        message = f"{type(figure).__name__} is not a figure"
        raise TypeError(message)
    return Markup(svg_text(figure, salt))  # noqa: S704  # made by the drawing library, which escapes


def _of_record(record: RecordExamination) -> Iterator[Drawing]:
    """Yield spectra and current of the running motor."""
    from cagewise.figures.spectra import spectrum
    from cagewise.figures.trend import current_trend

    for shown in record.spectra:
        figure = spectrum(shown, wording.SPECTRUM_LABELS)
        yield Drawing(caption=retell(shown.title), svg=inline(figure, f"spectrum-{shown.name}"))
    if record.trend is not None:
        figure = current_trend(
            record.trend.time_s, record.trend.line_current_rms_a, wording.TREND_LABELS
        )
        yield Drawing(caption=say(wording.TREND_TITLE), svg=inline(figure, "trend"))


def _of_start(source: StartExamination) -> Iterator[Drawing]:
    """Yield current and side line of a start."""
    from cagewise.figures.start import TrackLabels, side_line_track
    from cagewise.figures.trend import current_trend

    if source.facts is not None and source.facts.time_s.size:
        figure = current_trend(
            source.facts.time_s,
            source.facts.line_current_rms_a,
            visit_wording.START_TREND_LABELS,
        )
        yield Drawing(caption=say(visit_wording.START_TREND_TITLE), svg=inline(figure, "start"))
    if source.track is not None and source.track.figure is not None:
        labels = TrackLabels(**visit_wording.TRACK_LABELS)
        figure = side_line_track(source.track.figure, labels)
        yield Drawing(caption=say(visit_wording.TRACK_TITLE), svg=inline(figure, "track"))


def _of_sheet(source: SheetExamination) -> Iterator[Drawing]:
    """Yield the curves of the position test, a figure for each quantity and frequency."""
    from cagewise.figures.positions import position_curves

    groups: dict[tuple[str, float], list[PositionCurve]] = {}
    for curve in source.positions.curves if source.positions else ():
        groups.setdefault((curve.quantity, curve.frequency_hz), []).append(curve)
    for (quantity, frequency_hz), curves in groups.items():
        figure = position_curves(
            curves, [curve.pair.value for curve in curves], visit_wording.POSITION_LABELS
        )
        caption = say(
            visit_wording.POSITION_TITLE,
            quantity=retell(quantity).capitalize(),
            frequency=f"{frequency_hz:g}",
        )
        yield Drawing(caption=caption, svg=inline(figure, f"{quantity}-{frequency_hz:g}"))
