"""A survey: measured tops of the board, one place a line, x, y, z.

The law: a line is three numbers or it is told with line and column; a first line of names may put the columns
in another order or have more of them. Commas, semicolons, tabs or blanks part the numbers; a decimal comma
needs semicolons, tabs or blanks. Numbers stand in the job file's unit and the board frame.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import nan
from typing import TYPE_CHECKING, NamedTuple

from .quantities import LARGEST
from .source import Source, Unreadable
from .units import Units

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAST = 3  # different places that make a survey
AXES = ("x", "y", "z")
WANTED = "three numbers, x, y, z"


class Cell(NamedTuple):
    """One field of a line: its text and where it begins (column from 1)."""

    text: str
    column: int


def read_survey(source: Source, units: Units) -> NDArray[np.float64]:
    """(n, 3) measured places in mm. Raises Unreadable where a line is none, or where they are too few."""
    import numpy as np  # few jobs have a survey, and a job file is read without it

    rows, columns = list(fields(source)), None
    if rows and any(cell.text.lower() in AXES for cell in rows[0][1]):
        columns = named(source, *rows.pop(0))
    places = [place(source, number, cells, columns) for number, cells in rows]
    different = len({each[:2] for each in places})
    if different < LEAST:
        raise Unreadable(f"{source.name}: a survey needs {LEAST} different places; this one has {different}")
    return np.array(places, np.float64) * units.scale


def fields(source: Source) -> Iterator[tuple[int, list[Cell]]]:
    """The lines that say something (number from 1, cells); "#" opens a remark."""
    for number, line in enumerate(source.lines, 1):
        said = line.partition("#")[0]
        if said.strip():
            yield number, cells_of(said)


def cells_of(line: str) -> list[Cell]:
    """The fields of a line: parted by semicolons where there are some, else by tabs, commas, or blanks."""
    signs = ";\t" if decimal_commas(line) else ";\t,"
    apart = next((sign for sign in signs if sign in line), None)
    if apart is None:
        return [Cell(word[0], word.start() + 1) for word in re.finditer(r"\S+", line)]
    cells, column = [], 1
    for text in line.split(apart):
        cells.append(Cell(text.strip().strip('"'), column + len(text) - len(text.lstrip())))
        column += len(text) + 1
    return cells


def decimal_commas(line: str) -> bool:
    """Whether blanks part the numbers and the commas are decimal ones: "1,5 2,5 0,1"."""
    words = line.split()
    return len(words) >= 3 and all(re.fullmatch(r"[-+]?\d+(,\d+)?", word) for word in words)


def named(source: Source, number: int, cells: list[Cell]) -> tuple[int, int, int]:
    """Which columns x, y and z are, by the line that names them."""
    names = [cell.text.lower() for cell in cells]
    missing = [axis for axis in AXES if axis not in names]
    if missing:
        raise Unreadable(f"{source.name}: line {number} names no column {', '.join(missing)}; "
                         "name three of them x, y and z, or leave the names out")
    return names.index("x"), names.index("y"), names.index("z")


def place(source: Source, number: int, cells: list[Cell], columns: tuple[int, int, int] | None
          ) -> tuple[float, float, float]:
    """One measured place; where no line names the columns (None) there are three of them."""
    too_many = columns is None and any(cell.text for cell in cells[len(AXES):])
    columns = columns or (0, 1, 2)
    if too_many or len(cells) <= max(columns):
        raise Unreadable(f"{source.name}: line {number} has {len(cells)} fields; give {WANTED}")
    x, y, z = (value(source, number, cells[column]) for column in columns)
    return x, y, z


def value(source: Source, number: int, cell: Cell) -> float:
    try:
        read = float(cell.text.replace(",", "."))
    except ValueError:
        read = nan
    if not abs(read) <= LARGEST:
        raise Unreadable(f"{source.name}: line {number}, column {cell.column}: "
                         f'"{cell.text[:40]}" is no height or place; give {WANTED}')
    return read
