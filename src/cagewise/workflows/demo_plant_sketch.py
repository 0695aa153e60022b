"""The sketch that a shop might attach: the end of a rotor with its broken bars. All invented."""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cagewise.store import BarDamage, FoundBar

SIZE = 320
"""Width and height of the picture in pixels."""

PAPER, RING, LINE, BROKEN = 255, 225, 90, 0
"""Grey levels."""

_RADIUS = 0.36 * SIZE


def rotor_sketch(bars: int, damaged: Sequence[FoundBar]) -> bytes:
    """Return a PNG picture of the end of a rotor.

    Parameters
    ----------
    bars
        In the cage; bar 0 is at the top, counted clockwise.
    damaged
        Open bars are black with a gap to the ring, cracked ones have a black edge.
    """
    picture = np.full((SIZE, SIZE), PAPER, dtype=np.uint8)
    rows, columns = np.mgrid[0:SIZE, 0:SIZE] - 0.5 * SIZE
    radius = np.hypot(rows, columns)
    picture[np.abs(radius - _RADIUS) < 0.05 * SIZE] = RING
    picture[radius < 0.08 * SIZE] = LINE
    picture[radius < 0.07 * SIZE] = PAPER
    states = {each.bar % bars: each.damage for each in damaged}
    for number in range(bars):
        turn = 2.0 * math.pi * number / bars
        along = columns * math.sin(turn) - rows * math.cos(turn) - _RADIUS
        across = columns * math.cos(turn) + rows * math.sin(turn)
        size = np.maximum(np.abs(along) / 0.045, np.abs(across) / 0.011) / SIZE
        _draw_bar(picture, size, states.get(number))
    return _png(picture)


def _draw_bar(
    picture: NDArray[np.uint8], size: NDArray[np.float64], damage: BarDamage | None
) -> None:
    """Draw one bar; ``size`` is 1 on its edge."""
    picture[size < 1.0] = LINE
    if damage is BarDamage.OPEN:
        picture[size < 2.6] = PAPER
        picture[size < 1.8] = BROKEN
    elif damage is BarDamage.CRACKED:
        picture[size < 1.8] = BROKEN
        picture[size < 1.0] = RING


def _png(picture: NDArray[np.uint8]) -> bytes:
    """Return a grey picture as PNG (ISO/IEC 15948): header, one block of lines, end."""
    height, width = picture.shape
    lines = b"".join(b"\0" + line.tobytes() for line in picture)
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    blocks = ((b"IHDR", header), (b"IDAT", zlib.compress(lines, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_block(kind, content) for kind, content in blocks)


def _block(kind: bytes, content: bytes) -> bytes:
    """Return a block of a PNG with its length and its check sum."""
    check = zlib.crc32(kind + content)
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)
