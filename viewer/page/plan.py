"""The plan of each stage, true to scale: what is printed on one sheet and taped beside the machine.

The law: millimetres of the board frame with Y downward, as SVG wants it; one plan a stage, so that it shows
what stands then. Shapes and words only: the template draws them, the style sheet colours them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ...parser.finding import Finding, Severity
from ...parser.job import Change, Job, Stage
from ...parser.motion import Move
from ...sim.board import board_outline
from ...sim.parts import lying
from ...sim.plan import face_area, hole_spots
from ...sim.result import Result
from ...sim.solids import ClampSolid, HeadSolid, ObstacleSolid
from ...sim.stage_figures import StageFigures
from ..bodies import STRUCK, about_the_board, once
from ..feed_rows import clock
from ..layout import clean
from ..scene import Held, Path, Scene
from .code import WORDS

MOST_PIECES = 30_000  # of a path on paper; with more it would be a grey sheet and a slow page
NUMBERS = 40  # passes that get one; with more, every second or third does
MOST_PASSES = 100  # whose lines can be told apart on paper: of more, arrow and number stand for them
MOST_GAPS = 40  # heads that have room for their gap beside them
Spot = tuple[float, float]
FLAGS = ((1.2, -2.2), (-1.2, -2.2), (1.2, 2.2), (-1.2, 2.2), (3.0, -0.8), (-3.0, -0.8), (2.4, -3.4),
         (-2.4, -3.4))  # where a finding's number may stand, letters from its place
ENOUGH = 3.0  # letters between a flag and the nearest word
ON_PAPER = 7  # reasons on a stage's sheet
ON_THE_EDGE = 0.01  # mm: a line of equal distance that lies so near the board's edge is the edge
ROOM = 0.25  # of the board: how far the travel's limits may lie outside and still be shown


@dataclass(frozen=True)
class View:
    """What part of the plane is shown: x0, y0 (top left, Y downward), width, height, and a letter's size."""

    x0: float
    y0: float
    width: float
    height: float

    @property
    def letter(self) -> float:
        return max(self.width, self.height) / 66


def plans_of(result: Result, scene: Scene) -> list[dict[str, Any]]:
    """One plan for each reported stage."""
    return [plan(result, scene, number) for number in range(len(result.stages))]


def plan(result: Result, scene: Scene, number: int) -> dict[str, Any]:
    figures, job = result.stages[number], result.job
    stage = next(s for s in job.stages if s.name == figures.name)
    solids = result.records[number].solids if len(result.records) == len(result.stages) else ()
    heads = list(once(h for s in solids for h in s.heads))
    clamps = list(once(c for s in solids for c in about_the_board(s)))
    board = board_outline(job, stage)
    view = view_of(board, [c.footprint.shape for c in clamps])
    last = number == len(result.stages) - 1
    return {
        "name": clean(figures.name), "program": clean(figures.program), "sha256": figures.sha256[:16],
        "time": clock(figures.seconds), "view": view,
        "board": "".join(outline(piece.outline) for piece in lying(job, stage)),
        "image": image(scene) if last else None,
        "travel": travel(job), "faces": [outline(face_area(face, board)) for face in stage.face],
        "heads": thinned([head(result, figures, h) for h in sorted(heads, key=lambda h: h.part == "head")]),
        "clamps": [clamp(result, figures, stage, c) for c in clamps],
        "wanted": list(wanted(job, stage)),
        "drilled": [hole for each in result.stages[:number + 1] for hole in drilled(each)],
        "zero": (stage.zero[0], -stage.zero[1], 0.06 * view.width), "scale": scale_bar(result, view),
        **ways(scene.path, number, figures, board),
        "held": held(result, scene.held[number], board) if number < len(scene.held) else None,
        "marks": list(marks(result, figures, words_at(heads, clamps, view.letter), view.letter)),
        **reasons(result, figures),
    }


def words_at(heads: list[HeadSolid], clamps: list[ClampSolid], letter: float) -> list[Spot]:
    """Where words stand on the plan: under each head, over each clamp."""
    under = [(h.at[0], -h.at[1] + h.radius + letter) for h in heads if h.part == "head"]
    over = [(c.footprint.shape.centroid.x, -c.footprint.shape.centroid.y + line * letter)
            for c in clamps for line in (0, 1.15, 2.3)]
    return [*under, *[(h.at[0], -h.at[1]) for h in heads], *over]


def view_of(board: shapely.geometry.base.BaseGeometry, beside: Iterable) -> View:
    """Board and bodies with a margin. Bodies far away from the board do not make it small."""
    x0, y0, x1, y1 = board.bounds
    around = shapely.box(x0, y0, x1, y1).buffer(ROOM * max(x1 - x0, y1 - y0), join_style="mitre")
    x0, y0, x1, y1 = shapely.union_all([board, *(shapely.intersection(b, around) for b in beside)]).bounds
    margin = 0.07 * max(x1 - x0, y1 - y0)
    return View(x0 - margin, -(y1 + margin), x1 - x0 + 2 * margin, y1 - y0 + 2.6 * margin)


def outline(region: shapely.geometry.base.BaseGeometry) -> str:
    """A region as an SVG path, holes and all."""
    rings = [ring for part in shapely.get_parts(region) if part.geom_type == "Polygon"
             for ring in (part.exterior, *part.interiors)]
    return "".join(drawn(shapely.get_coordinates(ring)) + "Z" for ring in rings)


def drawn(points: NDArray[np.float64]) -> str:
    return "M" + "L".join(f"{x:.6g} {-y:.6g}" for x, y in points[:, :2])


def image(scene: Scene) -> tuple[float, float, float, float]:
    """Where the still picture lies: x, y (top), width, height."""
    x, y = scene.relief.x, scene.relief.y
    cell = float(x[1] - x[0]) if len(x) > 1 else float(y[1] - y[0]) if len(y) > 1 else 1.0
    return float(x[0] - cell / 2), float(-(y[-1] + cell / 2)), len(x) * cell, len(y) * cell


def travel(job: Job) -> str:
    """The machine's reach in X and Y, board frame."""
    machine = job.machine
    reach = machine.travel
    if reach is None or machine.origin is None or reach.x is None or reach.y is None:
        return ""
    (ax, bx), (ay, by) = reach.x, reach.y
    return outline(shapely.box(ax - machine.origin[0], ay - machine.origin[1],
                               bx - machine.origin[0], by - machine.origin[1]))


def struck(result: Result, about: str, stage: str) -> bool:
    return any(f.kind in STRUCK and f.about == about and f.stage == stage and f.severity is Severity.STOP
               for f in result.findings)


def gap_text(result: Result, figures: StageFigures, about: str) -> str:
    """A body's clearance in this stage, short enough to stand beside it."""
    gap = next((g.clearance for g in figures.clearances if g.about == about), None)
    if gap is None:
        return ""
    units = result.job.units
    return f"{units.text(round(gap, 2))} free" if gap >= 0 else f"{units.text(round(-gap, 2))} too low"


def held(result: Result, layer: Held | None, board: shapely.geometry.base.BaseGeometry
         ) -> dict[str, Any] | None:
    """Lines of equal distance from screws and clamps, each with its words on its longest part, and the cut
    place that is farthest from them."""
    if layer is None:
        return None
    units, edge = result.job.units, board.boundary.buffer(ON_THE_EDGE)
    lines = []
    for distance, region in layer.lines:
        parts = shapely.get_parts(shapely.line_merge(shapely.difference(region.boundary, edge)))
        if len(parts):
            middle = max(parts, key=shapely.length).interpolate(0.5, normalized=True)
            lines.append({"d": "".join(drawn(shapely.get_coordinates(part)) for part in parts),
                          "x": middle.x, "y": -middle.y, "text": units.text(round(distance, 3))})
    return {"lines": lines, "x": layer.at[0], "y": -layer.at[1], "text": units.text(round(layer.farthest))}


def head(result: Result, figures: StageFigures, solid: HeadSolid) -> dict[str, Any]:
    text = gap_text(result, figures, solid.about) if solid.part == "head" else ""
    return {"x": solid.at[0], "y": -solid.at[1], "r": solid.radius, "part": solid.part, "text": text,
            "number": solid.about.rpartition(" ")[2] if solid.part == "head" else "",
            "struck": struck(result, solid.about, figures.name), "about": clean(solid.about)}


def thinned(heads: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of more heads than have room for their gaps, those say it that are struck, and the first with each."""
    told: set[str] = set()
    for each in heads if len(heads) > MOST_GAPS else ():
        if each["text"] in told and not each["struck"]:
            each["text"] = ""
        told.add(each["text"])
    return heads


def clamp(result: Result, figures: StageFigures, stage: Stage, solid: ClampSolid) -> dict[str, Any]:
    middle = solid.footprint.shape.centroid
    return {"fixed": isinstance(solid, ObstacleSolid),
            "d": outline(solid.footprint.shape), "x": middle.x, "y": -middle.y, "about": clean(solid.about),
            "when": clean("; ".join(comes_and_goes(stage, solid.about))),
            "text": gap_text(result, figures, solid.about),
            "struck": struck(result, solid.about, figures.name)}


def comes_and_goes(stage: Stage, name: str) -> Iterator[str]:
    """When a clamp is taken off or put on in this stage."""
    for change in stage.changes:
        if name in change.remove:
            yield f"off at {moment(change)}"
        if name in change.add:
            yield f"on at {moment(change)}"


def moment(change: Change) -> str:
    return f"stop {change.at_stop}" if change.at_stop is not None else f"line {change.at_line}"


def wanted(job: Job, stage: Stage) -> Iterator[tuple[float, float, float]]:
    """(x, y, radius) of every wanted hole."""
    for holes in stage.holes:
        for x, y in hole_spots(holes, job):
            yield x, -y, (holes.diameter or 0.0) / 2


def drilled(figures: StageFigures) -> Iterator[dict[str, Any]]:
    """Every drilled hole; the ones that nobody wanted stand out."""
    for hole in figures.holes:
        yield {"x": hole.at[0], "y": -hole.at[1], "r": hole.diameter / 2, "extra": hole.wanted is None}


def scale_bar(result: Result, view: View) -> tuple[float, str]:
    """A round length of about a fifth of the plan (mm), and its words."""
    units = result.job.units
    goal = view.width / 5 / units.scale
    power = 10.0 ** np.floor(np.log10(goal))
    length = max(step * power for step in (1, 2, 5) if step * power <= goal) * units.scale
    return float(length), units.text(float(length))


def ways(path: Path, number: int, figures: StageFigures, board: shapely.geometry.base.BaseGeometry
         ) -> dict[str, Any]:
    """The tip's way in this stage: at feed, at rapid, and the passes in their order."""
    mine = path.stage == number
    cut, fast = mine & (path.kind != Move.RAPID), mine & (path.kind == Move.RAPID)
    few = int(mine.sum()) <= MOST_PIECES
    apart = len(figures.time.passes if figures.time else ()) <= MOST_PASSES
    return {"feed": pieces(path.ends[cut]) if few and apart else "",
            "rapid": pieces(path.ends[fast]) if few else "", "passes": list(passes(figures, board))}


def pieces(ends: NDArray[np.float64]) -> str:
    """Straight pieces as one SVG path; what continues is not begun anew."""
    said, last = [], None
    for (ax, ay, _), (bx, by, _) in ends:
        if last != (ax, ay):
            said.append(f"M{ax:.6g} {-ay:.6g}")
        said.append(f"L{bx:.6g} {-by:.6g}")
        last = (bx, by)
    return "".join(said)


def passes(figures: StageFigures, board: shapely.geometry.base.BaseGeometry) -> Iterator[tuple]:
    """(number, x, y, angle in degrees) of each pass, at its start within the board."""
    x0, y0, x1, y1 = board.bounds
    every = figures.time.passes if figures.time else ()
    shown = max(1, -(-len(every) // NUMBERS))
    for number, each in list(enumerate(every, 1))[::shown]:
        start, end = np.array(each.start[:2]), np.array(each.end[:2])
        unit = (end - start) / np.hypot(*(end - start))
        inside = shapely.box(x0, y0, x1, y1).intersection(shapely.LineString((start, end)))
        if not inside.is_empty:
            first = min(shapely.get_coordinates(inside), key=lambda p: float(np.hypot(*(p - start))))
            at = first + unit * 0.012 * max(x1 - x0, y1 - y0)
            yield number, float(at[0]), float(-at[1]), float(-np.degrees(np.arctan2(unit[1], unit[0])))


def reasons(result: Result, figures: StageFigures) -> dict[str, Any]:
    """(number, word, text) of this stage's findings that a person must know at the machine, and how many more
    the page has."""
    mine = [(number, found) for number, found in enumerate(result.findings, 1)
            if found.stage == figures.name and found.severity > Severity.NOTE]
    said = [(number, WORDS[found.severity], clean(f"{line_of(found)}{found.message(result.job.units)}"))
            for number, found in mine[:ON_PAPER]]
    return {"reasons": said, "more": max(0, len(mine) - ON_PAPER)}


def line_of(found: Finding) -> str:
    return f"line {found.line}: " if found.line else ""


def marks(result: Result, figures: StageFigures, said: list[Spot], letter: float) -> Iterator[dict[str, Any]]:
    """This stage's findings that have a place, each with its flag where it hides the least: away from the
    words and flags that stand there already."""
    taken = list(said)
    for number, found in enumerate(result.findings, 1):
        if found.stage == figures.name and found.at is not None and np.isfinite(found.at).all():
            x, y = found.at[0], -found.at[1]
            places = ((x + dx * letter, y + dy * letter) for dx, dy in FLAGS)
            flag = max(places, key=partial(room, taken, letter))
            taken.append(flag)
            yield {"number": number, "severity": found.severity.word, "x": x, "y": y, "flag": flag}


def room(taken: list[Spot], letter: float, at: Spot) -> float:
    """How far a place is from the nearest that is taken, as far as it matters. Words are wider than high."""
    far = min((np.hypot((at[0] - x) / 2, at[1] - y) for x, y in taken), default=np.inf)
    return min(float(far), ENOUGH * letter)
