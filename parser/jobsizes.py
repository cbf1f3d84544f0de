"""Sizes that cannot be meant: most of all numbers in the other unit than the job says.

The law: a bound here is so far off that no board or cutter of a router is near it; what is only unusual is
left to the checks. Bounds: common practice, no published source; numbers in the file's own unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from .jobrules import Table, matching, number
from .mistakes import Report
from .toml_places import Path
from .units import MM_PER_INCH

LONGEST = 10_000.0  # mm: a board's side
THINNEST, THICKEST = 1.0, 500.0  # mm: a board
WIDEST = 300.0  # mm: a cutter


def check_sizes(tree: Table, report: Report) -> None:
    """Tells `report` of sizes that are surely in another unit than the job's."""
    inch = tree.get("units") == "inch"
    scale = MM_PER_INCH if inch else 1.0
    meant = 'units = "mm"' if inch else 'units = "inch"'
    for path, what, value, least, most in sizes(tree):
        if least <= value * scale <= most or value <= 0:
            continue
        sign, bound = "in" if inch else "mm", most if value * scale > most else least
        other = "more" if value * scale > most else "less"
        hint = f"; is {meant} meant?" if (other == "more") == inch else ""
        converted = f" = {value * scale:.6g} mm" if inch else ""
        report.value(path, f"{report.found(path)}: {what} of {value:g} {sign}{converted}",
                     f"none is {other} than {round(bound / scale, 1):g} {sign}{hint}")


def sizes(tree: Table) -> Iterator[tuple[Path, str, float, float, float]]:
    """(key path, what it is, its size in the file's unit, the least and the most in mm)."""
    for table, path in boards(tree):
        for key in ("x", "y"):
            side = table.get(key)
            if isinstance(side, list) and len(side) == 2 and all(map(number, side)):
                yield (*path, key), "a board", abs(side[1] - side[0]), 0.0, LONGEST
        if number(thickness := table.get("thickness")):
            yield (*path, "thickness"), "a thickness", thickness, THINNEST, THICKEST
    for path, cutter in matching(tree, "cutters.*"):
        if isinstance(cutter, Mapping) and number(diameter := cutter.get("diameter")):
            yield (*path, "diameter"), "a cutter", diameter, 0.0, WIDEST


def boards(tree: Table) -> Iterator[tuple[Mapping[str, Any], Path]]:
    """The board and its parts, each with its path."""
    for path, table in [*matching(tree, "board"), *matching(tree, "board.parts.*")]:
        if isinstance(table, Mapping):
            yield table, path
