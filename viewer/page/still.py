"""A still picture of the board from above, for the plan and for browsers that cannot turn the surface.

The law: the same colours as every picture; drawn by nobody's graphics library, so it is always there.
"""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

from .. import relief as paint
from ..blocks import thinned, thinned_axis
from ..scene import Relief, Scene

CELLS = 500_000  # about what a sheet of paper and a screen can show


def still_of(scene: Scene) -> str:
    """A PNG of the surface from above, back edge on top, as a data address."""
    return "data:image/png;base64," + base64.b64encode(png(pixels(scene.relief))).decode()


def pixels(relief: Relief) -> NDArray[np.uint8]:
    """(h, w, 3) colours, row 0 at the back; a block of cells keeps the one farthest from its mean."""
    heights, side = thinned(relief.heights, CELLS)
    off, _ = thinned(relief.off, CELLS)
    coarse = Relief(thinned_axis(relief.x, side), thinned_axis(relief.y, side), heights, off,
                    relief.tolerance, relief.bottom)
    return np.ascontiguousarray(paint.colours(coarse)[::-1])


def png(image: NDArray[np.uint8]) -> bytes:
    """(h, w, 3) as a PNG file (RFC 2083): each row holds its difference from the row above."""
    h, w, _ = image.shape
    above = np.zeros_like(image)
    above[1:] = image[:-1]
    rows = np.empty((h, 1 + 3 * w), np.uint8)
    rows[:, 0] = 2
    rows[:, 1:] = (image - above).reshape(h, 3 * w)
    header = struct.pack(">IIBBBBB", w, h, 8, 2, 0, 0, 0)
    body = ((b"IHDR", header), (b"IDAT", zlib.compress(rows.tobytes(), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in body)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
