"""Curves by control points and weights: G5.2 gathers them line by line, G5.3 runs the curve.

The law: a rational B-spline of order L (3 where it is not said) over evenly spaced knots, repeated at both
ends; where the cutter stands is its first point. Chords are cut, none farther from the curve than
CHORD. G17 only. Source: practice of the later language; the curve itself is textbook (de Boor).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import hypot, isfinite

from .control import Control, Reason
from .modes import Group
from .motion import Move
from .motions import fail, rate, target
from .orders import Order
from .splines import CHORD, Flat

Weighted = tuple[float, float, float]  # x·w, y·w, w
MOST_POINTS, DEEPEST = 10_000, 14
FINEST = 8  # parts of each piece that are looked at, at least


@dataclass(slots=True)
class Net:
    """Control points so far: places (mm, board), their weights, the order, the height."""

    places: list[Flat] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    order: int = 3
    bad: bool = False


def gather(control: Control, order: Order, code: str) -> None:
    """G5.2 and the lines behind it: another control point each; P is its weight."""
    start = control.here()
    if control.net is None:
        control.net = Net([(start[0], start[1])], [1.0])
    net, weight = control.net, order.values.get("P", 1.0)
    if "L" in order.values:
        net.order = round(order.values["L"]) if isfinite(order.values["L"]) else 0
    net.bad |= not (weight > 0 and isfinite(weight)) or "Z" in order.axes or control.modes.plane != 17
    if not order.axes:
        net.weights[0] = weight
        return
    last = net.places[-1]
    end, named = target(control, order)
    if not control.modes.absolute:  # from the last point, not from where the cutter still stands
        end[:2] = [end[axis] - start[axis] + last[axis] for axis in range(2)]
    place = [end[axis] if axis in named else last[axis] for axis in range(2)]
    net.places.append((place[0], place[1]))
    net.weights.append(weight)


def run(control: Control, order: Order, code: str) -> None:
    """G5.3: the curve, or why there is none."""
    net, control.net = control.net, None
    control.modes.motion = "G80"
    if net is None or net.bad or control.comp or not 2 <= net.order <= len(net.places) <= MOST_POINTS:
        control.say("spline-open", order.of(Group.MOTION), about="G5.2", code=code)
        fail(control, order, Reason("lost-bad", code, {"line": control.line}), (0, 1))
        return
    if not all(isfinite(x + y) for x, y in net.places):
        fail(control, order, control.reasons[0], (0, 1))
        return
    places = list(chords(net))
    length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(places))
    feed = rate(control, order, length)
    for x, y in places[1:]:
        control.go(Move.FEED, (x, y, control.here()[2]), feed=feed)


def left_open(control: Control, code: str) -> None:
    """Another motion comes before G5.3: what the control does with the points is not known."""
    control.net = None
    control.say("spline-open", about="G5.2", code=code)
    control.lose((0, 1), Reason("lost-bad", "G5.2", {"line": control.line}))


# --- the curve ---

def knots(count: int, order: int) -> list[float]:
    """For `count` points: 0 and the last value `order` times each, whole numbers between."""
    inner = count - order
    return [0.0] * order + [float(n) for n in range(1, inner + 1)] + [float(inner + 1)] * order


def at(net: Net, vector: Sequence[float], value: float) -> Flat:
    """The point of the curve at a parameter, by de Boor."""
    degree, count = net.order - 1, len(net.places)
    span = min(int(value) + degree, count - 1)
    points: list[Weighted] = [(x * w, y * w, w) for (x, y), w in
                              zip(net.places[span - degree:span + 1], net.weights[span - degree:span + 1],
                                  strict=True)]
    for level in range(1, degree + 1):
        for j in range(degree, level - 1, -1):
            low, high = vector[span - degree + j], vector[j + 1 + span - level]
            share = (value - low) / (high - low)
            (ax, ay, aw), (bx, by, bw) = points[j - 1], points[j]
            points[j] = ax + (bx - ax) * share, ay + (by - ay) * share, aw + (bw - aw) * share
    x, y, w = points[degree]
    return x / w, y / w


def chords(net: Net) -> Iterator[Flat]:
    """Points of the curve, ends included, as many as the chords need."""
    vector = knots(len(net.places), net.order)
    ends = [n / FINEST for n in range(FINEST * int(vector[-1]) + 1)]
    yield net.places[0]
    for low, high in itertools.pairwise(ends):
        yield from _between(net, vector, low, at(net, vector, low), high, at(net, vector, high), DEEPEST)


def _between(net: Net, vector: Sequence[float], low: float, begin: Flat, high: float, end: Flat,
             deeper: int) -> Iterator[Flat]:
    """The curve's points behind `begin` up to `end`: halved until it lies near them in between."""
    looked = [low + (high - low) * eighth / 8 for eighth in range(1, 8)]
    places = [at(net, vector, value) for value in looked]
    if not deeper or all(off(begin, end, place) <= CHORD / 2 for place in places):
        yield end
        return
    yield from _between(net, vector, low, begin, looked[3], places[3], deeper - 1)
    yield from _between(net, vector, looked[3], places[3], high, end, deeper - 1)


def off(begin: Flat, end: Flat, place: Flat) -> float:
    """How far a place lies from a chord."""
    dx, dy = end[0] - begin[0], end[1] - begin[1]
    px, py = place[0] - begin[0], place[1] - begin[1]
    square = dx * dx + dy * dy
    share = min(1.0, max(0.0, (px * dx + py * dy) / square)) if square > 0 else 0.0
    return hypot(px - share * dx, py - share * dy)
