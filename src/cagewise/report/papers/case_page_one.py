"""Whether page one of a case report fits on its page, and what gives way if it does not.

Its height is estimated from the number of characters, rather too high than too low. What gives way
stands in full in the sections that follow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from cagewise.report.papers.paper import (
    Block,
    Box,
    Cards,
    PaperSize,
    Paragraph,
    Signatures,
    Tone,
    Verdict,
)

ROOM_MM = {PaperSize.A4: 246.0, PaperSize.LETTER: 228.0}
"""Height of the text of a page, less a few millimetres."""
_HEAD = (76, 5.3, 12.5)
"""Characters of a line, its height and what goes around (mm): of title and subtitle. These and the
following were measured on drawn pages."""
_PARAGRAPH = {
    Tone.PLAIN: (95, 4.6, 2.4),
    Tone.LEAD: (76, 5.6, 2.5),
    Tone.NOTE: (106, 4.1, 2.0),
    Tone.DANGER: (90, 4.6, 9.5),
}
_VERDICT = (78, 5.2, 9.5)
_CARD = (41, 4.8, 12.2)
_BOX_ITEM = (88, 4.8, 1.0)
_BOX_MM, _CARDS_MM, _SIGNATURES_MM, _SIGNATURE_MM = 13.5, 5.0, 7.0, 17.0


@dataclass(frozen=True, slots=True)
class Piece:
    """A block of page one."""

    block: Block
    gives_way: int = 0
    """The largest gives way first; zero stays."""


def fitted(pieces: Iterable[Piece], subtitle: str, size: PaperSize) -> list[Block]:
    """Return page one with as much of what may give way as it has room for.

    Parameters
    ----------
    pieces
        In their order.
    subtitle
        Of the paper: it stands above them.
    size
        Of the sheet.
    """
    shown = list(pieces)
    room = ROOM_MM[size] - _lines(subtitle, _HEAD)
    while sum(_height(piece.block) for piece in shown) > room:
        smaller = _smaller(shown)
        if smaller is None:
            break
        shown = smaller
    return [piece.block for piece in shown]


def _smaller(pieces: Sequence[Piece]) -> list[Piece] | None:
    """Return page one without one thing; None where everything left has to stay."""
    weakest = max(pieces, key=lambda piece: piece.gives_way)
    if weakest.gives_way > 0:
        return [piece for piece in pieces if piece is not weakest]
    longer = [piece for piece in pieces if _parts(piece.block) > 1]
    if longer:
        longest = max(longer, key=lambda piece: _height(piece.block))
        return [_shorter(piece) if piece is longest else piece for piece in pieces]
    boxes = [piece for piece in pieces if isinstance(piece.block, Box)]
    lines = [piece for piece in pieces if isinstance(piece.block, Signatures)]
    last = next(iter((*boxes[1:], *lines)), None)  # what would allow a verdict stays
    return None if last is None else [piece for piece in pieces if piece is not last]


def _parts(block: Block) -> int:
    """Return of how many parts a block is made that it may lose one by one."""
    if isinstance(block, Box):
        return len(block.items)
    return len(block.roles) if isinstance(block, Signatures) else 0


def _shorter(piece: Piece) -> Piece:
    """Return a box without its last item, or signatures without the last one."""
    if isinstance(piece.block, Box):
        return replace(piece, block=replace(piece.block, items=piece.block.items[:-1]))
    assert isinstance(piece.block, Signatures)  # noqa: S101 - chosen so by the caller
    return replace(piece, block=replace(piece.block, roles=piece.block.roles[:-1]))


def _height(block: Block) -> float:
    """Return the height of a block, mm."""
    match block:
        case Verdict():
            return _lines(block.sentence, _VERDICT)
        case Paragraph():
            return _lines(block.text, _PARAGRAPH[block.tone])
        case Cards(cards=cards):
            heights = [_lines(answer, _CARD) for _, answer in cards]
            return _CARDS_MM + sum(max(heights[at : at + 2]) for at in range(0, len(heights), 2))
        case Box(items=items):
            return _BOX_MM + sum(_lines(item, _BOX_ITEM) for item in items)
        case Signatures(roles=roles):
            return _SIGNATURES_MM + _SIGNATURE_MM * len(roles)
        case _:
            message = f"{type(block).__name__} does not stand on page one"
            raise TypeError(message)


def _lines(text: str, of: tuple[int, float, float]) -> float:
    """Return the height of a text with what goes around it, mm."""
    characters, line_mm, around_mm = of
    return math.ceil(len(text) / characters) * line_mm + around_mm
