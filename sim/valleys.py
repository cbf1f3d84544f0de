"""Searches in many functions at once, each with one valley or one edge.

The law: a search takes the same steps for all of them; what it finds is never lower than the least there is.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def least(f: Callable[[Floats], Floats], low: Floats, high: Floats, search: tuple[int, int]
          ) -> tuple[Floats, Floats]:
    """Least value between low and high of functions with one valley, and where: points evenly spread, then
    as many about the best of them, and so on. f takes one more axis, in front."""
    points, rounds = search
    part = np.linspace(0.0, 1.0, points).reshape(-1, *(1,) * np.ndim(low))
    best, where = np.full(np.shape(low), np.inf), np.array(low, float)
    for _ in range(rounds):
        places = low + part * (high - low)
        values = f(places)
        at = values.argmin(axis=0)[None]
        value, place = (np.take_along_axis(each, at, axis=0)[0] for each in (values, places))
        best, where = np.where(value < best, value, best), np.where(value < best, place, where)
        step = (high - low) / (points - 1)
        low, high = np.maximum(low, where - step), np.minimum(high, where + step)
    return best, where


def last_where(holds: Callable[[Floats], NDArray[np.bool_]], inside: Floats, outside: Floats,
               steps: int) -> Floats:
    """The last place, going from `inside`, where it holds, to `outside`, at which it still holds."""
    inside, outside = np.broadcast_arrays(inside, outside)
    whole, end = holds(outside), outside
    for _ in range(steps):
        middle = 0.5 * (inside + outside)
        here = holds(middle)
        inside, outside = np.where(here, middle, inside), np.where(here, outside, middle)
    return np.where(whole, end, inside)
