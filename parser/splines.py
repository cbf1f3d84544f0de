"""Splines: G5 and G5.1 as short straight moves that stay within a thousandth of a millimetre.

The law: a spline is its Bézier polygon; what is cut are chords of it, none farther from the curve than
CHORD. G17 only. Source: practice of the later language; the curve itself is textbook.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from math import ceil, hypot, isfinite, sqrt

from .control import Control, Reason
from .modes import Group
from .motion import Move
from .motions import fail, rate, target
from .orders import Order

Flat = tuple[float, float]
CHORD = 1e-3  # mm: how far a chord may lie from the curve
MOST = 10_000  # chords of one spline


def spline(control: Control, order: Order, code: str) -> None:
    """G5 X Y I J P Q (cubic), G5.1 X Y I J (quadratic)."""
    end, named = target(control, order)
    start = control.here()
    polygon = _polygon(control, order, code, (start[0], start[1]), (end[0], end[1]))
    if polygon is None or control.modes.plane != 17 or control.comp is not None:
        control.say("spline-bad", order.of(Group.MOTION), about=code, code=code)
        fail(control, order, Reason("lost-bad", code, {"line": control.line}))
        return
    if not isfinite(sum(start) + sum(end) + sum(map(sum, polygon))):
        control.go(Move.FEED, end, named=named, feed=rate(control, order, 0.0))
        return
    places = list(chords(polygon))
    length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(places))
    feed = rate(control, order, length)
    fall = (end[2] - start[2]) / (len(places) - 1)
    begin = start[2]
    for step, (x, y) in enumerate(places[1:], 1):
        control.go(Move.FEED, (x, y, begin + fall * step), feed=feed)
    first, last = polygon[-2], polygon[-1]
    control.tangent = last[0] - first[0], last[1] - first[1]


def _polygon(control: Control, order: Order, code: str, start: Flat, end: Flat) -> list[Flat] | None:
    """The Bézier polygon, None where words are missing. G5 without I J goes on as the last G5 ended."""
    scale, words = control.frames.scale, order.values
    lead = tuple(words[c] * scale for c in "IJ" if c in words)
    if len(lead) != 2:
        lead = control.tangent if code == "G5" and not lead else None
    if lead is None:
        return None
    one = start[0] + lead[0], start[1] + lead[1]
    if code == "G5.1":
        return [start, one, end]
    if "P" not in words or "Q" not in words:
        return None
    return [start, one, (end[0] + words["P"] * scale, end[1] + words["Q"] * scale), end]


def chords(polygon: Sequence[Flat]) -> Iterator[Flat]:
    """Points of the curve, ends included. A chord of 1/n of it lies within |B''| / (8 n²) of the curve."""
    degree = len(polygon) - 1
    bends = [hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1])
             for a, b, c in zip(polygon, polygon[1:], polygon[2:], strict=False)]
    steps = min(MOST, max(1, ceil(sqrt(degree * (degree - 1) * max(bends) / (8 * CHORD)))))
    yield polygon[0]
    for step in range(1, steps):
        yield at(polygon, step / steps)
    yield polygon[-1]


def at(polygon: Sequence[Flat], share: float) -> Flat:
    """The point of the curve at a parameter, by de Casteljau."""
    points = list(polygon)
    while len(points) > 1:
        points = [(a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)
                  for a, b in itertools.pairwise(points)]
    return points[0]


def thread(control: Control, order: Order, code: str) -> None:
    """G33 Z K: a feed of K for each turn; G33.1 goes back the same way."""
    end, named = target(control, order)
    start, pitch = list(control.here()), abs(order.values.get("K", 0.0)) * control.frames.scale
    feed = pitch * (control.speed or 0.0)
    if not feed > 0:
        control.say("thread-bad", order.of(Group.MOTION), about=code, code=code)
    for place in (end, start) if code == "G33.1" else (end,):
        control.go(Move.FEED, place, named=named, feed=feed if feed > 0 else float("nan"))
