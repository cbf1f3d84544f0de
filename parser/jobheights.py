"""Heights and places that cannot be meant: a sign that is wrong, a bed in the board, the same screw twice.

The law: only what no job can mean is refused here, each rule on the keys as written, in the file's own unit,
and leaving alone what another mistake tells; what may be so at the machine is left to the checks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import hypot

from .jobrules import Table, matching, number, spot
from .mistakes import Report
from .units import MM_PER_INCH

SAME = 1.0  # mm: places so near each other are one place
PRESSED = 2.0  # mm: a board may be thicker than it was said, or its bed higher, by so much
ONE_OR_MORE = (  # lists that say nothing when they are empty; `fitted` and `clamps` do
    "machine.nose", "board.parts", "board.history", "fasteners.*.measured", "stages.*.parts",
    "stages.*.changes", "stages.*.touch", "stages.*.holes", "stages.*.face", "stages.*.quiet")


def check_heights(tree: Table, report: Report) -> None:
    """Tells `report` of heights and places that cannot be meant."""
    for check in (check_face, check_bed, check_keep, check_recesses, check_brush, check_bar, check_cell,
                  check_twice, check_empty, check_history):
        check(tree, report)


def board_of(tree: Table) -> Table:
    board = tree.get("board")
    return board if isinstance(board, Mapping) else {}


def in_file(tree: Table, mm: float) -> float:
    """A length in the file's unit."""
    return mm / MM_PER_INCH if tree.get("units") == "inch" else mm


def tops(tree: Table) -> list[float]:
    """Z of the board's top, or of each part's, as written; empty where it is measured or not all numbers."""
    board = board_of(tree)
    if "survey" in board or "surface" in board or not number(board.get("top", 0.0)):
        return []
    parts = [part for _, part in matching(tree, "board.parts.*") if isinstance(part, Mapping)]
    found = [part.get("top", board.get("top", 0.0)) for part in parts] or [board.get("top", 0.0)]
    level = all("top" in part or "thickness" not in part for part in parts)  # else it follows from the bed
    return found if level and all(map(number, found)) else []


def thicknesses(tree: Table) -> list[float]:
    """The thickness of the board and of each part, as far as they are written as numbers."""
    written = [*matching(tree, "board.thickness"), *matching(tree, "board.parts.*.thickness")]
    return [value for _, value in written if number(value) and value > 0]


def check_face(tree: Table, report: Report) -> None:
    """A wanted face lies in the board; over it there is nothing to face."""
    highest = max(tops(tree), default=None)
    for path, z in matching(tree, "stages.*.face.*.z"):
        if highest is not None and number(z) and z > highest:
            report.value(path, f"{report.found(path)}: above the board's top ({highest:g})",
                         f"give a Z under it (a cut of 0.4 leaves {highest - in_file(tree, 0.4):g}), or "
                         "depth = …")


def check_bed(tree: Table, report: Report) -> None:
    """The bed lies under the board."""
    thick, level = board_of(tree).get("thickness"), tops(tree)
    for path, z in matching(tree, "bed.top"):
        if number(z) and number(thick) and thick > 0 and level and not board_of(tree).get("parts"):
            underside = level[0] - thick
            if z > underside + in_file(tree, PRESSED):
                report.value(path, f"{report.found(path)}: above the board's underside ({underside:g})",
                             "give the bed's Z in the board frame, the board's top less its thickness, or "
                             "leave it out")


def check_keep(tree: Table, report: Report) -> None:
    """What is to be left of a board is less than there is."""
    most = max(thicknesses(tree), default=None)
    for key in ("keep", "keep_over_heads"):
        for path, value in matching(tree, f"board.{key}"):
            if most is not None and number(value) and value >= most:
                report.value(path, report.found(path), f"give less than the board's thickness ({most:g})")


def check_recesses(tree: Table, report: Report) -> None:
    """A recess that is there at the start ends within its part of the board."""
    parts = {str(p.get("name")): p for _, p in matching(tree, "board.parts.*") if isinstance(p, Mapping)}
    for path, screws in matching(tree, "fasteners.*"):
        depth = next((d for _, d in matching(screws, "recess.depth")), None)
        part = parts.get(str(screws.get("part"))) if isinstance(screws, Mapping) else None
        thickness = (part or {}).get("thickness", board_of(tree).get("thickness"))
        if number(depth) and number(thickness) and depth >= thickness > 0:
            report.value((*path, "recess", "depth"), report.found((*path, "recess", "depth")),
                         f"give less than the board's thickness ({thickness:g})")


def check_brush(tree: Table, report: Report) -> None:
    """A shoe's brushes hang lower than its hard part."""
    for path, shoe in matching(tree, "machine.shoe"):
        hard, brush = (shoe.get(key) if isinstance(shoe, Mapping) else None for key in ("hard", "brush"))
        if number(hard) and number(brush) and brush > hard:
            where = (*path, "brush")
            report.value(where, f"{report.found(where)}: above the hard part ({hard:g})",
                         "give heights from the nut's lower face, up positive: brushes hang lower")


def check_bar(tree: Table, report: Report) -> None:
    """A bar has a length."""
    for pattern in ("clamps.*", "obstacles.*"):
        for path, bar in matching(tree, pattern):
            start, end = (bar.get(key) if isinstance(bar, Mapping) else None for key in ("from", "to"))
            if spot(start) and spot(end) and start == end:
                report.value((*path, "to"), f"{report.found((*path, 'to'))}: where the bar begins",
                             "give its other end, or at and diameter for a post")


def check_cell(tree: Table, report: Report) -> None:
    """A map's cell is less than what the narrowest cutter cuts."""
    widths = [d for _, d in matching(tree, "cutters.*.diameter") if number(d) and d > 0]
    for path, cell in matching(tree, "board.cell"):
        if number(cell) and widths and cell > min(widths) / 2:
            report.value(path, report.found(path),
                         f"give less than half of the narrowest cutter ({min(widths):g}), or leave it out")


def check_twice(tree: Table, report: Report) -> None:
    """A list of places names none twice."""
    same = in_file(tree, SAME)
    for pattern in ("fasteners.*.at", "bed.openings.*.at", "stages.*.holes.*.at"):
        for path, places in matching(tree, pattern):
            for number_, other in _again(places, same):
                report.value((*path, number_), f"{report.found((*path, number_))}: nearly the same as place "
                             f"{other + 1}", "give each place once")


def _again(places: object, same: float) -> Iterator[tuple[int, int]]:
    """The places of a list that stand nearly where an earlier one does, with that one."""
    if not isinstance(places, list) or not all(map(spot, places)):
        return
    seen: dict[tuple[int, int], list[int]] = {}
    for n, (x, y) in enumerate(places):
        i, j = int(x // same), int(y // same)
        near = [m for a in (-1, 0, 1) for b in (-1, 0, 1) for m in seen.get((i + a, j + b), ())
                if hypot(places[m][0] - x, places[m][1] - y) < same]
        if near:
            yield n, min(near)
        seen.setdefault((i, j), []).append(n)


def check_empty(tree: Table, report: Report) -> None:
    """A list without anything in it where one is of use only with something."""
    for pattern in ONE_OR_MORE:
        for path, value in matching(tree, pattern):
            if value == []:
                report.value(path, "found [], which says nothing", "leave the key out, or put one or more in")


def check_history(tree: Table, report: Report) -> None:
    """A facing of the past says how deep it went or what it left."""
    for path, facing in matching(tree, "board.history.*"):
        if isinstance(facing, Mapping) and not {"depth", "thickness"} & set(facing):
            report.key(path, "nothing is said of this facing", "give depth or thickness, or both")
