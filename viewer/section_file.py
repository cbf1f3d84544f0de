"""Sections along lines that were asked for, as a table for other programs.

The law: every cell that a line crosses is a row, from where the line enters it to where it leaves; nothing
is smoothed or left out. Places and heights in the job's unit and the board frame, as the job file has them.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from .errors import Refused
from .writing import write_text

if TYPE_CHECKING:
    from ..sim.result import Result
    from ..sim.sections import Section

Way = tuple[tuple[float, float], ...]
COLUMNS = "section,from,to,x,y,z,program,line"


def ways_of(said: Sequence[str]) -> tuple[Way, ...]:
    """ "0,100:600,100" as places in the job's unit. Raises Refused."""
    return tuple(map(way_of, said))


def way_of(said: str) -> Way:
    """One line through two or more places. Raises Refused."""
    try:
        way = tuple((float(x), float(y)) for x, y in (place.split(",") for place in said.split(":")))
    except ValueError:
        way = ()
    if len(way) < 2 or not all(map(math.isfinite, sum(way, ()))) or any(a == b for a, b in pairwise(way)):
        raise Refused(f'--section "{said}": give two or more places on the board, one after the other and no '
                      'two alike, as X,Y:X,Y, for example "0,100:600,100"')
    return way


def sections_of(result: Result, ways: Sequence[Way]) -> list[Section]:
    """The section along each line, as the last stage leaves the board. Raises Refused for one beside it."""
    from ..sim.sections import section
    found = []
    for way in ways:
        scale = result.job.units.scale
        cut = section(result.surface, [(x * scale, y * scale) for x, y in way])
        if np.isnan(cut.height).all():
            said = ":".join(f"{x:g},{y:g}" for x, y in way)
            raise Refused(f'--section "{said}": this line does not cross the board')
        found.append(cut)
    return found


def save_sections(result: Result, sections: Sequence[Section], path: Path) -> None:
    """Write the table: a row for each stretch of a line that lies in one cell. z is empty off the board,
    program and line where no move cut."""
    table = io.StringIO()
    writer = csv.writer(table, lineterminator="\n")
    writer.writerow(COLUMNS.split(","))
    writer.writerows(_rows(result, sections))
    write_text(str(path), table.getvalue())


def _rows(result: Result, sections: Sequence[Section]) -> Iterator[tuple[str, ...]]:
    scale = result.job.units.scale
    for number, cut in enumerate(sections, 1):
        table = np.column_stack((cut.start, cut.end, cut.at, cut.height)) / scale
        for row, move in zip(table.tolist(), cut.last.tolist(), strict=True):
            *places, z = (f"{value:.6f}" for value in row)
            yield str(number), *places, "" if z == "nan" else z, *line_of(result, move)


def line_of(result: Result, move: int) -> tuple[str, str]:
    """Program and line of the move with a number in the map; both empty where it is none of what is
    reported."""
    for stage, record in zip(result.stages, result.records, strict=False):
        row = move - record.cut.first_id
        if move >= 0 and 0 <= row < len(record.reading.motion):
            return stage.program, str(int(record.reading.motion.line[row]))
    return "", ""

