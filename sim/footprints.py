"""Footprints: what passes cover, seen from above, as polygons.

The law: straight edges are exact; a round edge is a polygon within the true arc, at most `SAGITTA` inside
it, so a footprint never covers what the cutter does not. The sweep of a disc along a path is the
quadrangles beside its straight stretches, the wedges where it turns and half a disc at either end.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from .passes import GENTLE, TURN, Floats, Ints, Passes, Rounds, Straights
from .plan import circle_steps, without

Window = tuple[float, float, float, float]  # x0, y0, x1, y1 of the box that an outline has to be true in

BAND = np.pi / 4  # rad: how far a band turns in all
COARSE = np.pi / 8  # step of an outline where nobody looks


def outlines(passes: Passes, numbers: Ints, window: Window | None = None) -> list[BaseGeometry]:
    """The footprints of passes (numbers rising) as polygons, true within a window (None: anywhere)."""
    count = len(passes.straights)
    straight = int(np.searchsorted(numbers, count))
    found: list[BaseGeometry] = []
    for run in _gentle_runs(passes.straights, numbers[:straight]):
        found += [] if len(run) < 3 else [band_outline(passes.straights, run)]
        for number in run if len(run) < 3 else run[[0, -1]]:
            found += straight_outline(passes.straights, number, window)
    for number in numbers[straight:] - count:
        found += round_outline(passes.rounds, number, window)
    return found


def _gentle_runs(passes: Straights, numbers: Ints) -> list[Ints]:
    """Passes in groups: neighbours on one path that bends so little that they make one band."""
    if len(numbers) < 2:
        return [numbers] * len(numbers)
    before, after = numbers[:-1], numbers[1:]
    bend = passes.cap_span[before, 1]
    room = np.minimum(passes.length[before], passes.length[after]) >= (
        2 * passes.reach[before, 1] * np.tan(np.minimum(bend, GENTLE) / 2))
    turned = np.cumsum(np.minimum(bend, GENTLE)) // BAND
    on = (after == before + 1) & passes.linked[before] & (bend <= GENTLE) & room
    return np.split(numbers, np.flatnonzero(~on | (np.diff(turned, prepend=0.0) > 0)) + 1)


def band_outline(passes: Straights, run: Ints) -> BaseGeometry:
    """The quadrangles beside a gently bending run and the wedges between them, cut off square at its ends."""
    along, radius = passes.end[run] - passes.start[run], passes.reach[run[0], 0]
    heading = np.arctan2(along[:, 1], along[:, 0])
    bend = np.remainder(np.diff(heading) + np.pi, TURN) - np.pi
    steps = circle_steps(float(radius), float(np.abs(bend).max()))
    edges = []
    for side in (-np.pi / 2, np.pi / 2):  # right, left
        outer = heading[:-1, None] + side + bend[:, None] * np.linspace(0.0, 1.0, steps + 1)
        inner = np.broadcast_to((heading[:-1] + side + bend / 2)[:, None], outer.shape)
        out = (bend * side < 0)[:, None]  # a left bend opens the right edge
        far = np.where(out, radius, radius / np.cos(bend / 2)[:, None])[..., None]
        angle = np.where(out, outer, inner)
        joints = passes.end[run[:-1], None] + far * np.stack((np.cos(angle), np.sin(angle)), axis=-1)
        first, last = (at + radius * np.array([[np.cos(a + side), np.sin(a + side)]])
                       for at, a in ((passes.start[run[0]], heading[0]), (passes.end[run[-1]], heading[-1])))
        edges.append(np.concatenate((first, joints.reshape(-1, 2), last)))
    return shapely.Polygon(np.concatenate((edges[0], edges[1][::-1])))


def straight_outline(passes: Straights, number: int, window: Window | None) -> list[BaseGeometry]:
    """The quadrangle beside a straight pass, with its two caps."""
    start, end = passes.start[number], passes.end[number]
    along = end - start
    if not along.any():
        return [disc_outline(start, float(passes.reach[number].max()), window)]
    heading = float(np.arctan2(along[1], along[0]))
    caps = [_cap(passes, number, side, heading, window) for side in (1, 0)]
    return [shapely.Polygon(np.concatenate(caps))]


def _cap(passes: Straights, number: int, side: int, heading: float, window: Window | None) -> Floats:
    """The outline around one end, counter-clockwise: from the right edge round the end to the left one
    (at the start: from the left edge to the right one)."""
    centre = (passes.start, passes.end)[side][number]
    radius = float(passes.reach[number, side])
    lean = _lean(passes, number)
    first, last = (heading - lean, heading + lean) if side else (heading + lean, heading + TURN - lean)
    opens, span = float(passes.cap_from[number, side]), float(passes.cap_span[number, side])
    round_part = arc_outline(centre, radius, opens, span, window)
    corners = centre + radius * np.array([[np.cos(a), np.sin(a)] for a in (first, last)])
    if span >= TURN / 2 or (span and lean != np.pi / 2):
        return round_part
    if not span:
        return corners
    if abs(np.sin((opens - first) / 2)) < 1e-9:  # the wedge leans on the first edge, else on the last
        return np.concatenate((round_part, centre[None], corners[1:]))
    return np.concatenate((corners[:1], centre[None], round_part))


def _lean(passes: Straights, number: int) -> float:
    """Angle between the heading and the edges' feet: a right angle where the reach does not change."""
    reach = passes.reach[number]
    length = float(np.hypot(*(passes.end[number] - passes.start[number])))
    return float(np.arccos(np.clip((reach[0] - reach[1]) / length, -1.0, 1.0)))


def round_outline(passes: Rounds, number: int, window: Window | None) -> list[BaseGeometry]:
    """The band (or wedge of a disc) beside an arc, and a disc at either end."""
    centre, radius, reach = passes.centre[number], float(passes.radius[number]), float(passes.reach[number])
    angle, sweep = float(passes.angle[number]), float(passes.sweep[number])
    if sweep >= TURN:
        outer = disc_outline(centre, radius + reach, window)
        if radius <= reach:
            return [outer]
        return [without(outer, disc_outline(centre, radius - reach, window))]
    ends = [centre + radius * np.array([np.cos(a), np.sin(a)]) for a in (angle, angle + sweep)]
    outer = arc_outline(centre, radius + reach, angle, sweep, window)
    inner = centre[None]
    if radius > reach:
        inner = arc_outline(centre, radius - reach, angle, sweep, window)[::-1]
    band = shapely.Polygon(np.concatenate((outer, inner)))
    return [band, *(disc_outline(at, reach, window) for at in ends)]


def disc_outline(centre: Floats, radius: float, window: Window | None) -> BaseGeometry:
    """A disc as a polygon within the true circle."""
    return shapely.Polygon(arc_outline(centre, radius, 0.0, TURN, window))


def arc_outline(centre: Floats, radius: float, opens: float, span: float, window: Window | None) -> Floats:
    """(k, 2) points on an arc, counter-clockwise, both ends among them: close together where the window
    sees the arc, few elsewhere."""
    angles = [np.linspace(opens, opens + span, 2 + int(span / COARSE))]
    for first, last in _seen(centre, opens, span, window):
        angles.append(np.linspace(first, last, 1 + circle_steps(radius, last - first)))
    angle = np.unique(np.concatenate(angles)) if len(angles) > 1 else angles[0]
    return centre + radius * np.column_stack((np.cos(angle), np.sin(angle)))


def _seen(centre: Floats, opens: float, span: float, window: Window | None) -> list[tuple[float, float]]:
    """The parts (from, to) of an arc's angles in which the window lies as seen from the centre."""
    if window is None:
        return [(opens, opens + span)]
    x0, y0, x1, y1 = window
    if x0 <= centre[0] <= x1 and y0 <= centre[1] <= y1:
        return [(opens, opens + span)]
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) - centre
    towards = np.arctan2(corners[:, 1].mean(), corners[:, 0].mean())
    spread = np.mod(np.arctan2(corners[:, 1], corners[:, 0]) - towards + np.pi, TURN) - np.pi
    first = opens + np.mod(towards + spread.min() - opens, TURN)
    width = float(spread.max() - spread.min())
    parts = [(first + turn, first + turn + width) for turn in (-TURN, 0.0)]
    cut = [(max(a, opens), min(b, opens + span)) for a, b in parts]
    return [(a, b) for a, b in cut if a < b]
