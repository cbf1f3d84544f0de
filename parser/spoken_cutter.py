"""A cutter said in a few words on the command line: SHAPE DIAMETER[mm|in], as "facing 25.4".

The law: it says what a [[cutters]] table with these two keys would say, and nothing more.
"""

from __future__ import annotations

import re

from .job import Cutter
from .mistakes import JobError, Mistake, meant
from .quantities import LARGEST
from .units import MM_PER_INCH, Units

WORDS = re.compile(r"\s*([a-z]+)\s+(\d+\.?\d*|\.\d+)(?:\s*/\s*(\d+))?\s*(mm|in|inch|\")?\s*", re.IGNORECASE)
SHAPES = ("facing", "flat", "ball", "drill")  # those that a diameter describes
FULLER = ("bull", "cone", "profile")


def cutter_of(text: str) -> tuple[Cutter, Units]:
    """The cutter and the unit that it was said in. Raises JobError."""
    said = WORDS.fullmatch(text)
    if said is None:
        raise _error(f'"{text}" is no cutter',
                     'say its shape and diameter: "facing 25.4", "drill 9", "flat 1/4in"')
    shape = said[1].lower()
    if shape in FULLER:
        raise _error(f'a cutter of shape "{shape}" takes more than a diameter', "describe it in a job file")
    if shape not in SHAPES:
        raise _error(f'"{said[1]}" is no shape of a cutter', meant(shape, SHAPES, ""))
    units = Units.INCH if (said[4] or "mm").lower() != "mm" else Units.MM
    diameter = _number(said) * (MM_PER_INCH if units is Units.INCH else 1.0)
    if not 0 < diameter <= LARGEST:
        raise _error(f'a diameter of "{said[2]}"', "give a number over 0")
    return Cutter(number=1, shape=shape, diameter=diameter), units  # type: ignore[arg-type]


def _number(said: re.Match[str]) -> float:
    below = int(said[3] or 1)
    return float(said[2]) / below if below else 0.0


def _error(found: str, accepted: str) -> JobError:
    return JobError([Mistake("--cutter", 0, 0, "", found, accepted)])
