"""What must hold between the parts of a board: no two lie in one place at a time, and what a stage fits is
there.

The law: works on the keys as written, in the file's own unit, and leaves alone what another mistake tells.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

from shapely import box
from shapely.affinity import translate
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from .jobrules import Table, matching, number, spot
from .mistakes import Report
from .toml_places import Path

TOUCHING = 1e-6  # of the smaller piece: what overlaps by less lies side by side
MANY = 10_000  # pieces of a repeated part: more are no board


def check_parts(tree: Table, report: Report) -> None:
    """Parts that lie on the machine together do not overlap; a stage fits nothing in a part that is off."""
    parts = [(path, part) for path, part in matching(tree, "board.parts.*") if isinstance(part, Mapping)]
    pieces = {path: list(pieces_of(part)) for path, part in parts}
    for path, part in parts:
        repeat = part.get("repeat")
        if isinstance(repeat, Mapping) and any(overlap(a, b) for a, b in combinations(pieces[path], 2)):
            report.value((*path, "repeat"), "its pieces overlap each other", "give a longer step")
    for (path, part), (other, before) in ((b, a) for a, b in combinations(parts, 2)):
        stage = next(together(tree, str(part.get("name")), str(before.get("name"))), None)
        if stage is not None and any(overlap(a, b) for a in pieces[path] for b in pieces[other]):
            report.value(path, f'"{part.get("name")}" overlaps "{before.get("name")}"',
                         f"change its place, or name the parts that are on the machine in stage {stage}")
    check_fitted(tree, report)


def pieces_of(part: Table) -> Iterator[BaseGeometry]:
    """The pieces of a part in plan, none where they are not written as they should be."""
    first = outline(part)
    repeat = part.get("repeat")
    count, step = (repeat.get("count"), repeat.get("step")) if isinstance(repeat, Mapping) else (1, [0, 0])
    if first is None or not number(count) or not spot(step) or count > MANY:
        return
    for each in range(int(count)):
        yield translate(first, each * step[0], each * step[1])


def outline(part: Table) -> BaseGeometry | None:
    corners, x, y = part.get("outline"), part.get("x"), part.get("y")
    if isinstance(corners, list) and len(corners) > 2 and all(map(spot, corners)):
        polygon = Polygon(corners)
        return polygon if polygon.is_valid else None
    return box(min(x), min(y), max(x), max(y)) if spot(x) and spot(y) else None


def overlap(one: BaseGeometry, other: BaseGeometry) -> bool:
    return one.intersection(other).area > TOUCHING * min(one.area, other.area)


def together(tree: Table, *names: str) -> Iterator[str]:
    """The stages that have all these parts on the machine."""
    for path, stage in matching(tree, "stages.*"):
        on = stage.get("parts") if isinstance(stage, Mapping) else None
        if not isinstance(on, list) or set(names) <= set(map(str, on)):
            yield f'"{stage.get("name", path[-1])}"' if isinstance(stage, Mapping) else ""


def check_fitted(tree: Table, report: Report) -> None:
    """A group of screws that goes through a part is fitted only where that part lies."""
    part_of = {str(group.get("name")): group["part"] for _, group in matching(tree, "fasteners.*")
               if isinstance(group, Mapping) and isinstance(group.get("part"), str)}
    for stage_path, stage in matching(tree, "stages.*"):
        on = stage.get("parts") if isinstance(stage, Mapping) else None
        if not isinstance(on, list):
            continue
        for path, group in fitted_in(stage, stage_path):
            part = part_of.get(group)
            if part is not None and part not in on:
                report.value(path, f'"{group}" goes through the part "{part}", which is off the machine here',
                             "leave it out, or name the part in the stage's parts")


def fitted_in(stage: Table, path: Path) -> Iterator[tuple[Path, str]]:
    for pattern in ("fitted.*", "changes.*.fit.*"):
        yield from ((at, name) for at, name in matching(stage, pattern, path) if isinstance(name, str))
