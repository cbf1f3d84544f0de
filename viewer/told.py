"""What a program tells about its job before anybody says a word: unit, reach, cutters, stops, heights.

The law: guesses from the moves and the comments, each marked as one where it is used; nothing is judged. mm.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..parser.motion import Motion
from ..parser.reading import Reading
from ..parser.units import MM_PER_INCH, Units
from .program_facts import Facts

SHAPES = (("drill", r"drill"), ("facing", r"fac(?:e|ing)|surfac|fly\s*cut|planer"), ("ball", r"ball"),
          ("flat", r"end\s*mill|flat|spiral|router|compression|upcut|slot"))
CUTTER = re.compile(r"\bT\s*(\d+)\b", re.IGNORECASE)
SIZE = re.compile(r"\bD(?:IA(?:METER)?)?\s*[=:. ]?\s*(\d+\.?\d*|\.\d+)", re.IGNORECASE)
MOST_LINES = 5000  # that are looked through for comments
CENTRED = 0.1  # of a side: how far the middle of the way may lie from zero to be meant as there
FAR = 2.0  # times: a way that goes so much farther to the one side of zero has its zero at the other


@dataclass(frozen=True)
class Guess:
    """A cutter as a comment speaks of it; None: it does not say."""

    shape: str | None = None
    diameter: float | None = None


@dataclass(frozen=True)
class Told:
    """path: as it was given · reach: ((x, x), (y, y), (z, z)) of the feed moves, as the control shows them ·
    cutters: numbers in order of use, with what comments say of them · stops: (code, line) · z: the height of
    its passes · holes: how many it drills · dialect: the shipped one that it looks like, and `why`."""

    path: Path
    units: Units | None
    reach: tuple[tuple[float, float], ...] | None
    cutters: dict[int, Guess]
    stops: tuple[tuple[str, int], ...]
    z: float | None
    holes: int
    dialect: str
    why: str

    @property
    def corner(self) -> str:
        """Where on the board zero seems to be: "front left" and so on, or "middle"."""
        (x0, x1), (y0, y1) = (self.reach or ((0.0, 1.0),) * 2)[:2]
        if all(low < 0 < high and abs(low + high) < CENTRED * (high - low)
               for low, high in ((x0, x1), (y0, y1))):
            return "middle"
        return f"{'back' if -y0 > FAR * y1 else 'front'} {'right' if -x0 > FAR * x1 else 'left'}"

    @property
    def size(self) -> tuple[float, float] | None:
        """Width and depth of what it goes over, from its zero on."""
        if self.reach is None:
            return None
        whole = self.corner == "middle"
        width, depth = (high - low if whole else max(-low, high) for low, high in self.reach[:2])
        return width, depth


def told_by(path: Path) -> Told:
    """Reads a program. Raises OSError, Unreadable, and Refused for what is no program."""
    from ..parser.dialect import load_dialect
    from ..parser.reading import Setting
    from .errors import Refused
    from .program_report import read_one
    read = read_one(path, load_dialect("union"), Setting())
    if read.reading is None or read.facts is None:
        raise Refused(f"{path}: {read.findings[0].message()}")
    return told_from(path, read.reading, read.facts)


def told_from(path: Path, reading: Reading, facts: Facts) -> Told:
    motion = reading.motion
    used = facts.cutters or [n for n in (state.cutter for state in motion.states) if n is not None]
    units = {"G20": Units.INCH, "G21": Units.MM}.get(reading.units_said or "")
    comments = commented("\n".join(reading.source.between(1, MOST_LINES)), units or Units.MM)
    passes = [level for level in facts.levels if level.length > 0 and level.z < 0]
    return Told(
        path=path, units=units, reach=reach(motion),
        cutters={number: comments.get(number, Guess()) for number in dict.fromkeys(used)},
        stops=tuple((stop.code, stop.line) for stop in facts.stops),
        z=max(passes, key=lambda level: level.length).z if passes else None,
        holes=sum(level.holes for level in facts.levels if level.z < 0),
        dialect=facts.family.dialect, why=facts.family.why)


def reach(motion: Motion) -> tuple[tuple[float, float], ...] | None:
    """How far the feed moves go on each axis, as the control shows it; None where no place is known."""
    rows = np.flatnonzero(motion.is_feed & motion.placed)
    if not len(rows):
        return None
    shift = np.array([state.shift for state in motion.states])[motion.state[rows]]
    boxes = motion.boxes()[rows] - shift[:, None, :]
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    return tuple((float(a), float(b)) for a, b in zip(low, high, strict=True))


def commented(text: str, units: Units) -> dict[int, Guess]:
    """What comments say of cutters: "(T2 D=6.6 drill)"."""
    found: dict[int, Guess] = {}
    for said in re.findall(r"\(([^()\n]*)\)|;([^\n]*)", text):
        words = " ".join(said)
        number, size = CUTTER.search(words), SIZE.search(words)
        shape = next((name for name, signs in SHAPES if re.search(signs, words, re.IGNORECASE)), None)
        if number and (size or shape):
            scale = MM_PER_INCH if units is Units.INCH else 1.0
            found.setdefault(int(number[1]), Guess(shape, float(size[1]) * scale if size else None))
    return found
