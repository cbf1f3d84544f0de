"""What there is to say of a program besides its faults: what it is, what it uses, how far it goes.

The law: figures of the moves as they are written; millimetres, seconds. No board, no machine: what rapids
take is the machine's affair and is left out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..parser.dialect import Dialect
from ..parser.family import Family, guess
from ..parser.motion import Event, Floats, Happening, Motion, Move
from ..parser.reading import Reading
from ..parser.source import Source
from ..sim.clock import dwell_seconds, seconds
from ..sim.levels import Level, levels, slopes

NUMBERED = re.compile(r"^[%\s]*(?:N\s*\d+\s*)?[O:]\s*(\d{1,8})\s*(?=$|\(|;)", re.IGNORECASE | re.MULTILINE)
COMMENT = re.compile(r"\([^()\n]*\)|;.*")
POINTLESS = re.compile(r"(?<![A-Z])[XYZIJKRQ][ \t]*[-+]?0*[1-9]\d*(?![\d.])", re.IGNORECASE)
STOPS = (Happening.STOP, Happening.OPTIONAL_STOP)


@dataclass(frozen=True)
class Facts:
    """programs: the O numbers in the file · cutters: as they come into the spindle · stops: M0, M1, M60 ·
    feeding, waiting: seconds of feed moves and of dwells · sloped: feed moves that change X or Y and Z at
    once · slanted: rapids along more than one axis, where the dialect does not know their path ·
    pointless: numbers without a decimal point, where the family that it seems to be for counts in steps.
    """

    family: Family
    programs: tuple[int, ...]
    cutters: tuple[int, ...]
    stops: tuple[Event, ...]
    levels: tuple[Level, ...]
    sloped: int
    feeding: float
    waiting: float
    slanted: int
    pointless: int = 0


def facts_of(reading: Reading, dialect: Dialect) -> Facts:
    motion, events = reading.motion, reading.motion.events
    cutters = (round(event.value) for event in events if event.kind is Happening.CUTTER and event.value)
    family = guess(reading.source)
    steps = family.dialect == "usermacro" and dialect["number.no_point"] == "unit"
    return Facts(
        family, programs(reading.source), tuple(dict.fromkeys(cutters)),
        tuple(event for event in events if event.kind in STOPS), levels(motion), slopes(motion),
        float(seconds(motion).sum()), dwell_seconds(motion),
        slanted(motion) if dialect["rapid.path"] == "unknown" else 0,
        pointless(reading.source) if steps else 0)


def pointless(source: Source) -> int:
    """How many numbers of lengths stand without a decimal point; a zero is the same with and without."""
    return sum(1 for _ in POINTLESS.finditer(COMMENT.sub(" ", source.text)))


def programs(source: Source) -> tuple[int, ...]:
    """Every program number in the file, in its order; a labelled O word is none."""
    text = source.text.replace("\r", "\n")
    return tuple(dict.fromkeys(int(found[1]) for found in NUMBERED.finditer(text)))


def slanted(motion: Motion) -> int:
    """How many rapids go along two axes or three at once."""
    along = np.abs(motion.end - motion.start) > 1e-6
    return int(((motion.kind == Move.RAPID) & (along.sum(axis=1) > 1)).sum())


def extents(motion: Motion) -> dict[str, list[float] | None]:
    """Least and greatest known coordinate of the path on each axis, null where none is known."""
    tables = [motion.start, motion.end]
    if len(motion.arcs):
        boxes = motion.boxes()
        tables += [boxes[:, 0], boxes[:, 1]]
    return {axis: _reach([table[:, i] for table in tables]) for i, axis in enumerate("xyz")}


def _reach(columns: Sequence[Floats]) -> list[float] | None:
    known = [column[np.isfinite(column)] for column in columns]
    known = [column for column in known if len(column)]
    if not known:
        return None
    return [min(float(column.min()) for column in known), max(float(column.max()) for column in known)]


def lengths(motion: Motion | None) -> dict[str, float]:
    """Millimetres of rapids and of feed moves whose place is known."""
    if motion is None or not len(motion):
        return {"rapid": 0.0, "feed": 0.0}
    length = np.where(motion.placed, motion.length(), 0.0)
    return {"rapid": float(length[~motion.is_feed].sum()), "feed": float(length[motion.is_feed].sum())}


def several(numbers: Sequence[str], most: int = 8) -> str:
    """ "1, 2, 3 and 5 more"."""
    shown = ", ".join(numbers[:most])
    return shown if len(numbers) <= most else f"{shown} and {len(numbers) - most} more"


def counted(number: int, thing: str) -> str:
    """ "1 move", "54 moves"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
