"""What a job file must make sense of beyond its keys: cutters, outlines, offsets, silenced kinds.

The law: one function a matter, each on the keys as written, each leaving alone what another mistake tells.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot

from shapely.geometry import Polygon
from shapely.validation import explain_validity

from .finding import registry
from .frames import system_number
from .jobheights import check_heights
from .jobkeys import tables_in
from .jobparts import check_parts
from .jobrules import Table, matching, number, spot
from .jobsizes import check_sizes
from .mistakes import Report, meant
from .units import MM_PER_INCH

SHAPE_NEEDS = {"flat": ("diameter",), "facing": ("diameter",), "ball": ("diameter",), "drill": ("diameter",),
               "bull": ("diameter", "corner"), "cone": ("diameter", "angle"), "profile": ("profile",)}
KEY_OF_SHAPES = {"core": ("facing",), "core_gap": ("facing",), "tip": ("cone",), "angle": ("cone", "drill"),
                 "corner": ("flat", "facing", "bull"), "profile": ("profile",)}

SILENT_NEVER = ("head-strike", "clamp-strike", "obstacle-strike", "bed-strike", "holder-strike", "rapid-cut",
                "travel")
ZEROS = ("G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
STEEPEST = 0.02  # of the swing: more is no reading of a spindle; common practice, no published source
MEASURED_WITHIN = 1.0  # mm: a measured screw is the one that stands where it was measured


def check_sense(tree: Table, report: Report) -> None:
    """Tells `report` of everything in a TOML tree that cannot be meant."""
    for check in (check_cutters, check_tram, check_quiet, check_zeros, check_as_left, check_through,
                  check_like, check_measured, check_outlines, check_parts, check_sizes,
                  check_heights):
        check(tree, report)


def check_cutters(tree: Table, report: Report) -> None:
    """Each shape has its keys: those it needs, and those that mean nothing to it."""
    for path, cutter in matching(tree, "cutters.*"):
        shape = cutter.get("shape") if isinstance(cutter, Mapping) else None
        if not isinstance(shape, str) or shape not in SHAPE_NEEDS:
            continue
        for key in SHAPE_NEEDS[shape]:
            if key not in cutter:
                report.value((*path, key), "missing", f'a cutter of shape "{shape}" needs it')
        for key, shapes in KEY_OF_SHAPES.items():
            if key in cutter and shape not in shapes:
                report.key((*path, key), f'a cutter of shape "{shape}" has no {key}',
                           f"leave it out, or give shape = {' or '.join(map(repr_, shapes))}")
        corner = cutter.get("corner")
        if shape == "bull" and isinstance(corner, Mapping) and "chamfer" in corner:
            report.key((*path, "corner", "chamfer"), "a bull cutter's corner is round", "give corner.radius")


def repr_(name: str) -> str:
    return f'"{name}"'


def check_tram(tree: Table, report: Report) -> None:
    """An indicator on a spindle reads hundredths; a reading that leans the cutter by degrees is a slip."""
    for path, tram in matching(tree, "machine.tram"):
        swing = tram.get("swing") if isinstance(tram, Mapping) else None
        for axis in ("x", "y"):
            reading = tram.get(axis) if isinstance(tram, Mapping) else None
            if number(swing) and number(reading) and swing > 0 and abs(reading) > STEEPEST * swing:
                report.value((*path, axis), report.found((*path, axis)),
                             f"give what the indicator reads over the swing, under {STEEPEST * swing:g}")


def check_quiet(tree: Table, report: Report) -> None:
    for path, kind in matching(tree, "stages.*.quiet.*.kind"):
        if not isinstance(kind, str):
            continue
        if kind in SILENT_NEVER:
            report.value(path, f'"{kind}" cannot be silenced',
                         "strikes, rapids in material and travel always count")
        elif kind not in registry():
            report.value(path, f'"{kind}" is no kind of finding', meant(kind, registry(), ""))


def check_zeros(tree: Table, report: Report) -> None:
    for path, _ in matching(tree, "zeros"):
        for name, value in tree["zeros"].items() if isinstance(tree["zeros"], Mapping) else ():
            if name == "G54":
                report.key((*path, name), "G54 is the stage's own zero", "give it as zero in [[stages]]")
            elif system_number(name) is None:
                report.key((*path, name), f'"{name}" is no work offset', meant(name, ZEROS, ""))
            elif isinstance(value, Mapping):
                whole = f"{name}.{next(iter(value), 1)}"
                report.key((*path, name), "a point in a bare key makes a table", f'write "{whole}" in quotes')


def check_as_left(tree: Table, report: Report) -> None:
    for key in ("fitted", "clamps"):
        for path, value in matching(tree, f"stages.*.{key}"):
            if value == "as left" and path[1] == 0:
                report.value(path, '"as left" in the first stage',
                             "no stage was before it: give a list of names")


def check_through(tree: Table, report: Report) -> None:
    for path, holes in matching(tree, "stages.*.holes.*"):
        if isinstance(holes, Mapping) and holes.get("through") is True and "depth" in holes:
            report.key((*path, "depth"), '"depth" does not go with "through = true"', "give one of them")


def check_like(tree: Table, report: Report) -> None:
    """Holes like an opening of the bed are where its round openings are; a slot has no such place."""
    named: dict[str, bool] = {}
    for _, opening in matching(tree, "bed.openings.*"):
        if isinstance(opening, Mapping) and isinstance(opening.get("name"), str):
            has_places = "at" in opening or "grid" in opening
            named[opening["name"]] = named.get(opening["name"], False) or has_places
    for path, name in matching(tree, "stages.*.holes.*.like"):
        if isinstance(name, str) and named.get(name) is False:
            report.value(path, f'"{name}" is a slot, which has no places for holes',
                         "give at = [[x, y]] or a grid, or the name of a round opening")


def check_measured(tree: Table, report: Report) -> None:
    """A measured screw stands at one of its group's places."""
    within = MEASURED_WITHIN / (MM_PER_INCH if tree.get("units") == "inch" else 1.0)
    for path, screws in matching(tree, "fasteners.*"):
        places = screw_places(screws) if isinstance(screws, Mapping) else []
        for at_path, at in matching(screws, "measured.*.at", path):
            if not spot(at) or not places:
                continue
            near = min(places, key=lambda p: hypot(p[0] - at[0], p[1] - at[1]))
            if hypot(near[0] - at[0], near[1] - at[1]) > within:
                report.value(at_path, f"{report.found(at_path)}: no screw of this group stands there",
                             f"the nearest one is at [{near[0]:g}, {near[1]:g}]")


def screw_places(screws: Table) -> list[tuple[float, float]]:
    """Where a group's screws stand, in the file's unit; empty where it is not written as it should be."""
    at, grid = screws.get("at"), screws.get("grid")
    if isinstance(at, list):
        return [(p[0], p[1]) for p in at] if all(map(spot, at)) else []
    if not isinstance(grid, Mapping) or not all(spot(grid.get(k)) for k in ("start", "count", "pitch")):
        return []
    (x, y), (columns, rows), (dx, dy) = grid["start"], grid["count"], grid["pitch"]
    if columns * rows > 1_000_000:
        return []
    stagger = grid.get("stagger", 0.0)
    shift = stagger if number(stagger) else 0.0
    return [(x + i * dx + (j % 2) * shift, y + j * dy) for j in range(int(rows)) for i in range(int(columns))]


def check_outlines(tree: Table, report: Report) -> None:
    """An outline encloses one area and does not cross itself."""
    for path, _, table in tables_in(tree):
        outline = table.get("outline")
        if not isinstance(outline, list) or len(outline) < 3 or not all(map(spot, outline)):
            continue
        reason = explain_validity(Polygon(outline))
        if reason != "Valid Geometry":
            report.value((*path, "outline"), f"this outline does not enclose one area ({reason})",
                         "give its corners in order, once round")
