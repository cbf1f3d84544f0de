"""A job with no job file: a cutter said in a few words, and the board that a program sweeps.

The law: SHAPE DIAMETER[mm|in] ("facing 25.4") says what a [[cutters]] table with these two keys would say,
and nothing more; the board is the swept rectangle of the feed moves below Z0, its top at Z0, with no bed.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .job import Board, Cutter, Job
from .mistakes import JobError, Mistake, meant
from .quantities import LARGEST
from .reading import Reading
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


def with_swept_board(job: Job, reading: Reading) -> Job:
    """A job of `job_from_program` with its board: what the cutter sweeps at feed below Z0.

    Where nothing goes below Z0, it is what the feed moves sweep at any height, else all moves: such a program
    never meets its board, and is told so. Raises JobError where no move has a known place.
    """
    motion, radius = reading.motion, (job.cutters[0].diameter or 0.0) / 2
    boxes = motion.boxes()
    at_feed = motion.placed & motion.is_feed
    for chosen in (at_feed & (boxes[:, 0, 2] < 0), at_feed, motion.placed):
        if chosen.any():
            return replace(job, board=_swept(boxes[chosen], radius))
    raise JobError([Mistake(reading.source.name, 0, 0, "", "no move of this program has a known place",
                            "describe the job in a job file, with the start of its stage")])


def _swept(boxes: NDArray[np.float64], radius: float) -> Board:
    (x0, y0), (x1, y1) = boxes[:, 0, :2].min(axis=0) - radius, boxes[:, 1, :2].max(axis=0) + radius
    return Board(x=(float(x0), float(x1)), y=(float(y0), float(y1)))
