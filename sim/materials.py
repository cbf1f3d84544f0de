"""Materials: what a cutting edge may advance in each, and what kind of stuff it is.

The law: the table is sim/data/materials.toml, each row with its source. A word that the table does not
have names no material, and a cutter that it does not cover has no window: then nothing is checked, and
nothing is guessed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Literal

import numpy as np

from ..parser.job import Cutter
from ..parser.mistakes import nearest

Family = Literal["wood", "plastic", "metal"]
Range = tuple[float, float]

SMALLEST_BIT = 3.0  # mm: the table of router bits starts here
LIKE = 0.65  # how like a trade word a slip of it is
LIPS = 2  # the table of drills is for two
TABLES = {"facing": "facing", "drill": "drill", "flat": "router", "ball": "router", "bull": "router"}


@dataclass(frozen=True, slots=True)
class Window:
    """Feed per edge, mm: under `floor` it rubs, over `upper` it is overloaded, `typical` is the aim."""

    floor: float
    typical: Range
    upper: float
    source: str


@dataclass(frozen=True, slots=True)
class Row:
    """A window as the table has it; `upper` is one number, or (diameter, upper) pairs in mm."""

    floor: float
    typical: Range
    upper: float | tuple[Range, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Material:
    """One material. `energy` is its specific cutting energy, N/mm², least and most; `rows` by table name."""

    name: str
    family: Family
    words: tuple[str, ...]
    energy: Range
    energy_source: str
    rows: Mapping[str, Row]


@cache
def materials() -> tuple[Material, ...]:
    """The table, in its order."""
    text = files(f"{__package__}.data").joinpath("materials.toml").read_text(encoding="utf-8")
    return tuple(_material(name, row) for name, row in tomllib.loads(text).items())


def _material(name: str, row: dict) -> Material:
    rows = {table: _row(row[table]) for table in ("facing", "router", "drill")}
    return Material(name, row["family"], tuple(row["words"]), _pair(row["energy"]["range"]),
                    row["energy"]["source"], MappingProxyType(rows))


def _row(row: dict) -> Row:
    upper = row["upper"]
    return Row(row["floor"], _pair(row["typical"]),
               tuple(_pair(step) for step in upper) if isinstance(upper, list) else upper, row["source"])


def _pair(values: list) -> Range:
    return float(values[0]), float(values[1])


def material(name: str | None) -> Material | None:
    """The material that a person means by `name` ("MDF, 19 mm", "birch ply"); None when unknown.

    A row fits when all words of one of its trade words stand in the name; the table's order decides.
    """
    said = set(_words(name or ""))
    fits = (row for row in materials() if any(said.issuperset(_words(word)) for word in row.words))
    return next(fits, None)


def meant(name: str) -> str | None:
    """The trade word that a name without a row is probably a slip of; None where none is like it."""
    words = [word for row in materials() for word in row.words if len(word) > 2]
    return next((close for each in [name, *_words(name)] if (close := nearest(each, words, LIKE))), None)


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z0-9]+", text.casefold())


def window(cutter: Cutter, name: str | None) -> Window | None:
    """Feed per edge for a cutter in a material: the job's own `chip_load` first, else the table's.

    None where neither covers it: unknown material, router bits under 3 mm, cones and profiles.
    """
    if cutter.chip_load is not None:
        least, most = cutter.chip_load
        return Window(least, cutter.chip_load, most, "the job's chip_load")
    stuff, table = material(name), TABLES.get(cutter.shape)
    if stuff is None or table is None or (table == "router" and (cutter.diameter or 0.0) < SMALLEST_BIT):
        return None
    return _for_one_edge(stuff.rows[table], cutter.diameter or 0.0, LIPS if table == "drill" else 1)


def _for_one_edge(row: Row, diameter: float, edges: int) -> Window:
    upper = _upper(row.upper, diameter)
    low, high = row.typical
    return Window(row.floor / edges, (low / edges, min(high, upper) / edges), upper / edges, row.source)


def _upper(upper: float | tuple[Range, ...], diameter: float) -> float:
    """The table's upper limit at a diameter: straight lines between its columns, level beyond them."""
    if not isinstance(upper, tuple):
        return upper
    diameters, limits = np.array(upper).T
    return float(np.interp(diameter, diameters, limits))
