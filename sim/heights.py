"""How the wanted faces of a stage lie at its end: flatness, the band that most lies in, levels, a histogram.

The law: every cell that says something of a face counts once, by area; a large map is gone through in bands
of rows, and nothing is sorted: heights fall into fine steps from the lowest to the highest. mm, mm².
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .faced import Faced
from .stage_figures import Histogram, Level

FINE = 4000  # steps between the lowest and the highest cell
BARS = 20  # of the histogram: FINE is a multiple
MOST = 0.95  # part of the face that the band holds
LEVEL = 0.02  # part of the face that lies at one height when that is a level of it
KEPT = 20_000_000  # cells
FLAT = 1e-6  # mm: heights that are one
LOW = 1e-5  # mm under its lowest that a face has to lie to be too low


@dataclass(frozen=True)
class Heights:
    """over: cells that lie too low · highest, lowest (-inf, inf: there is no cell) · band: what MOST lies
    within, as much left out above as below · levels, the largest first."""

    over: int
    highest: float
    lowest: float
    band: float | None = None
    levels: tuple[Level, ...] = ()
    histogram: Histogram | None = None


def heights_of(faces: Sequence[Faced]) -> Heights:
    """The heights of some faces together."""
    over, highest, lowest, count = 0, -np.inf, np.inf, 0
    small = sum(face.measured.size for face in faces) <= KEPT
    kept = list(_bands(faces)) if small else []  # taken from the map once where there is room
    for face, heights in kept or _bands(faces):
        over += int((heights < face.wanted.lowest - LOW).sum())
        highest = max(highest, float(heights.max(initial=-np.inf)))
        lowest = min(lowest, float(heights.min(initial=np.inf)))
        count += heights.size
    if not count:
        return Heights(over, highest, lowest)
    cell = faces[0].evidence.surface.cell ** 2
    if highest - lowest < FLAT:
        bars = Histogram(round(lowest, 6), 0.0, (count * cell,))
        return Heights(over, highest, lowest, 0.0, (Level(round(lowest, 6), count * cell),), bars)
    step, counts = (highest - lowest) / FINE, np.zeros(FINE, np.int64)
    for _, heights in kept or _bands(faces):
        which = ((heights - np.float32(lowest)) * np.float32(1 / step)).astype(np.int32)
        counts += np.bincount(np.clip(which, 0, FINE - 1), minlength=FINE)
    areas = counts.reshape(BARS, -1).sum(axis=1) * cell
    return Heights(over, highest, lowest, band_of(counts, step), levels_of(counts, lowest, step, cell),
                   Histogram(round(lowest, 6), step * FINE / BARS, tuple(areas.tolist())))


def _bands(faces: Sequence[Faced]) -> Iterator[tuple[Faced, NDArray[np.float32]]]:
    """The heights that say something of each face, some rows at a time."""
    for face in faces:
        surface = face.evidence.surface
        for band in surface.bands():
            yield face, surface.heights[band][face.measured[band]]


def band_of(counts: NDArray[np.int64], step: float) -> float:
    """How far apart two heights lie that leave (1 - MOST)/2 of all above and below."""
    part = np.concatenate(([0.0], np.cumsum(counts) / counts.sum()))
    low, high = np.interp([(1 - MOST) / 2, (1 + MOST) / 2], part, np.arange(len(part)))
    return round(float((high - low) * step), 6)


def levels_of(counts: NDArray[np.int64], lowest: float, step: float, cell: float) -> tuple[Level, ...]:
    """The heights at which much of a face lies; steps side by side are one level."""
    large = counts >= LEVEL * counts.sum()
    first = np.flatnonzero(large & ~np.append(False, large[:-1]))
    stop = np.flatnonzero(large & ~np.append(large[1:], False)) + 1
    found = []
    for a, b in zip(first.tolist(), stop.tolist(), strict=True):
        middle = float(np.average(np.arange(a, b) + 0.5, weights=counts[a:b]))
        found.append(Level(round(lowest + middle * step, 4), float(counts[a:b].sum()) * cell))
    return tuple(sorted(found, key=lambda level: -level.area))
