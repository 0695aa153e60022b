"""Are the probabilities what they say? The shipped fusion on the stored readings of the study.

Readings do not depend on the fit, so every probability is worked out anew from them, by the code
and the numbers that are shipped, under the prevalence of the study, and its share of rotors with
ducts, in the place of the stated ones
(``theory/fusion.md``, section 2: the prior enters as odds and may be changed).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cagewise.evidence.fusion.fuse import credible_bars, fuse, guarded
from cagewise.evidence.fusion.parameters import FusionParameters, shipped
from cagewise.evidence.fusion.posterior import Channels, Rate
from cagewise.quantities import Estimate
from truth.checks import rate
from truth.scores import BINS, in_study, prior_of
from truth.sections import shown, table
from truth.stored import Case


@dataclass(frozen=True, kw_only=True)
class Told:
    """What all readings of a case say together."""

    case: Case
    defect: float
    """Probability of a defect under the prevalence of the study."""
    bars: Estimate
    """Median and 95 % credible interval, open bars."""

    @property
    def holds(self) -> bool:
        """Whether the credible interval holds the truth."""
        return self.bars.low <= self.case.open_bars <= self.bars.high

    @property
    def normal(self) -> bool:
        """Whether the targets speak of such a record."""
        return self.case.normal


def told(chosen: Sequence[Case], parameters: FusionParameters | None = None) -> list[Told]:
    """Return what is said of the cases with a reading, under their own prevalence."""
    read = [case for case in chosen if case.readings and not case.part_of_visit]
    parameters, prior = in_study(parameters or shipped().parameters), prior_of(read)
    found = []
    for case in read:
        fused = fuse(case.readings, prior, parameters)
        weights = guarded(fused.by_state, fused.states.sound, prior, parameters.guard)
        defect = float(weights[~fused.states.sound].sum())
        found.append(Told(case=case, defect=defect, bars=credible_bars(weights, fused.states)))
    return found


def brier(of: Sequence[Told]) -> float:
    """Return the mean square of the probabilities' errors."""
    return float(np.mean([(x.defect - (not x.case.is_sound)) ** 2 for x in of]))


@dataclass(frozen=True)
class Bin:
    """Cases of which like probabilities were said."""

    low: float
    high: float
    mean: float
    defects: Rate


def bins(of: Sequence[Told]) -> Iterator[Bin]:
    """Yield the bins that hold any case."""
    for low, high in pairwise(BINS):
        inside = [x for x in of if low <= x.defect and (x.defect < high or high == 1.0)]
        if inside:
            defects = rate(not x.case.is_sound for x in inside)
            yield Bin(low, high, float(np.mean([x.defect for x in inside])), defects)


def calibration(of: Sequence[Told], figure: str) -> Iterator[str]:
    """Yield how often there was a defect where a probability was said, and the scores."""
    if not of:
        yield "No probabilities were said."
        return
    yield f"![Defects against the probability said]({figure})"
    yield ""
    rows = (
        (f"{b.low:g} to {b.high:g}", f"{b.mean:.3f}", shown(b.defects), _held(b)) for b in bins(of)
    )
    yield from table(("probability said", "mean", "defects", "mean within the interval"), rows)
    yield ""
    yield from table(("cases", "number", "Brier score", "of the prevalence alone"), _scores(of))


def _held(one: Bin) -> str:
    low, high = one.defects.interval
    return "yes" if low <= one.mean <= high else "no"


def _scores(of: Sequence[Told]) -> Iterator[tuple[str, ...]]:
    groups = {"all": list(of)}
    for channels in Channels:
        groups[str(channels)] = [x for x in of if x.case.stratum.channels is channels]
    for name, chosen in groups.items():
        if chosen:
            base = sum(not x.case.is_sound for x in chosen) / len(chosen)
            scores = (f"{brier(chosen):.4f}", f"{base * (1.0 - base):.4f}")
            yield (name, str(len(chosen)), *scores)


_SIZE, _MARGIN = 360, 50
_INK, _FAINT = "#1b3a57", "#9aa5b1"


def figure(of: Sequence[Told], title: str) -> str:
    """Return the reliability curve as SVG.

    Shares of defects, with their intervals, over the mean probability; the broken line is where
    both would be equal.
    """
    side = _SIZE + 2 * _MARGIN
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" width="{side}" '
        f'height="{side}" font-family="sans-serif" font-size="12" fill="{_INK}">'
    )
    rows = [f'<rect width="{side}" height="{side}" fill="#ffffff"/>', *_axes(title)]
    for b in bins(of):
        low, high = b.defects.interval
        share = b.defects.events / b.defects.cases
        rows.append(_line((b.mean, low), (b.mean, high), f'stroke="{_INK}" stroke-width="2"'))
        rows.append(f'<circle cx="{_x(b.mean)}" cy="{_y(share)}" r="4"/>')
    return "\n".join((head, *rows, "</svg>")) + "\n"


def _x(share: float) -> str:
    return f"{_MARGIN + _SIZE * share:.1f}"


def _y(share: float) -> str:
    return f"{_MARGIN + _SIZE * (1.0 - share):.1f}"


def _line(start: tuple[float, float], end: tuple[float, float], look: str) -> str:
    """Return a line between two points of the plane."""
    (x, y), (u, v) = start, end
    return f'<line x1="{_x(x)}" y1="{_y(y)}" x2="{_x(u)}" y2="{_y(v)}" {look}/>'


def _text(x: float, y: float, words: str, look: str = 'text-anchor="middle"') -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" {look}>{words}</text>'


def _axes(title: str) -> Iterator[str]:
    """Yield frame, diagonal, ticks and words."""
    middle, end = _MARGIN + 0.5 * _SIZE, _MARGIN + _SIZE
    faint = f'stroke="{_FAINT}"'
    for corner, other in (((0, 0), (1, 0)), ((1, 0), (1, 1)), ((1, 1), (0, 1)), ((0, 1), (0, 0))):
        yield _line(corner, other, faint)
    yield _line((0, 0), (1, 1), f'{faint} stroke-dasharray="5 4"')
    yield _text(middle, _MARGIN - 18, title)
    yield _text(middle, end + 38, "probability of a defect that was said")
    turned = f'text-anchor="middle" transform="rotate(-90 14 {middle:.0f})"'
    yield _text(14, middle, "share that had a defect, 95 % interval", turned)
    for share in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        yield _text(_MARGIN + _SIZE * share, end + 18, f"{share:g}")
        yield _text(_MARGIN - 8, float(_y(share)) + 4, f"{share:g}", 'text-anchor="end"')
