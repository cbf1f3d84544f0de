"""The table of moves as a text: one line a move, the unit of every column in its header.

The law: millimetres, mm/min and rpm, six decimals at most; a number that is not known is empty.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import Motion, Move

WORDS = {Move.RAPID: "rapid", Move.FEED: "feed", Move.ARC: "arc"}
HEADER = ("program", "line", "move", "x0 (mm)", "y0 (mm)", "z0 (mm)", "x1 (mm)", "y1 (mm)", "z1 (mm)",
          "feed (mm/min)", "cutter", "speed (rpm)")
PART = 200_000  # moves written at a time


def moves_table(motions: Iterable[tuple[str, Motion]]) -> Iterator[str]:
    """The text in parts: the header, then the moves of each (program's name, motion)."""
    yield ",".join(HEADER) + "\n"
    for name, motion in motions:
        for first in range(0, len(motion), PART):
            yield _part(_quoted(name), motion, first, min(first + PART, len(motion)))


def _part(name: str, motion: Motion, first: int, stop: int) -> str:
    rows = slice(first, stop)
    points = np.hstack((motion.start[rows], motion.end[rows])).T
    words = np.array([WORDS[Move(kind)] for kind in sorted(Move)])
    columns = [
        map(str, motion.line[rows].tolist()), words[motion.kind[rows]].tolist(),
        *map(_texts, points), _texts(motion.feed[rows]),
        _texts(motion.column("cutter")[rows]), _texts(motion.column("speed")[rows]),
    ]
    return "".join([f"{name},{','.join(row)}\n" for row in zip(*columns, strict=True)])


def _texts(values: NDArray[np.float64]) -> list[str]:
    """Each number's text; most stand more than once, and each is written once."""
    known, which = np.unique(values, return_inverse=True)
    return np.array([_text(value) for value in known.tolist()], object)[which].tolist()


def _text(value: float) -> str:
    if value != value:
        return ""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _quoted(text: str) -> str:
    """As one field of a comma-separated table."""
    return '"' + text.replace('"', '""') + '"' if any(c in text for c in ',"\n\r') else text
