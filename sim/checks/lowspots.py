"""Places of the wanted face that lay too low before the stage: wear that no pass at this depth can clean.

The law: read from the map as it was before the stage, recesses and holes left out; whether a move passed over
a place does not matter, and no line of the program is to blame. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...parser.finding import Finding, Phrase, finding
from ..evidence import Check, Evidence
from ..faced import Faced, faced

EXACT = 1e-4  # mm: heights are right to this
NAMED = 3  # low places whose coordinates are said


def low_spot(evidence: Evidence) -> Iterator[Finding]:
    """One finding for all connected low places of a wanted face: it stands at the lowest of them."""
    for face in faced(evidence):
        places = low_places(face)
        if places:
            yield told(face, places)


class LowPlace(NamedTuple):
    """A connected low place: where it is lowest (board frame), and its area in plan, mm²."""

    at: tuple[float, float, float]
    area: float


def low_places(face: Faced) -> list[LowPlace]:
    """The connected places of a face that lay too low before the stage, the lowest first."""
    surface, before = face.evidence.surface, face.evidence.cut.before
    low = low_before(face)
    rows, columns = np.flatnonzero(low.any(axis=1)), np.flatnonzero(low.any(axis=0))
    if not len(rows):
        return []
    from scipy import ndimage  # slow to load, and few faces have a low spot

    there = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    x, y, before = surface.x[there[1]], surface.y[there[0]], before[there]
    labels, _ = ndimage.label(low[there], np.ones((3, 3)))  # type: ignore[misc]
    found = []
    for number, window in enumerate(ndimage.find_objects(labels), 1):
        cells, heights = labels[window] == number, before[window]
        j, i = np.unravel_index(int(np.argmin(np.where(cells, heights, np.inf))), cells.shape)
        at = (float(x[window[1]][i]), float(y[window[0]][j]), float(heights[j, i]))
        found.append(LowPlace(at, float(cells.sum()) * surface.cell**2))
    return sorted(found, key=lambda place: (round(place.at[2], 5), -place.area))


def low_before(face: Faced) -> NDArray[np.bool_]:
    """(ny, nx) the cells of a face that lay too low before the stage."""
    surface, before = face.evidence.surface, face.evidence.cut.before
    low, measured, lowest = np.empty(surface.shape, np.bool_), face.measured, face.wanted.lowest - EXACT
    list(surface.over_bands(
        lambda band: np.logical_and(measured[band], before[band] < lowest, out=low[band])))
    return low


def told(face: Faced, places: list[LowPlace]) -> Finding:
    """The lowest place, where the next ones are, and what would clean up all of them."""
    stage, clean = face.evidence.stage, places[0].at[2] + face.wanted.tolerance
    shown = [tuple(np.subtract(place.at, stage.zero).tolist()) for place in places[:NAMED]]
    at = places[0].at
    said = finding("low-spot", at=at, shown=shown[0], value=at[2], limit=face.wanted.lowest,
                   area=sum(place.area for place in places), where=among(shown, len(places)), clean=clean,
                   deeper=face.wanted.z - clean)
    return replace(said, count=len(places))


def among(shown: list[tuple[float, float, float]], count: int) -> Phrase:
    """"A place" with its middle, or "3 places, the lowest at …, then at …"."""
    spots = {f"at{n}": spot[:2] for n, spot in enumerate(shown)}
    if count == 1:
        return Phrase("A place at {at0:place}", spots)
    rest = ", then ".join(f"{{at{n}:place}}" for n in range(len(shown)))
    return Phrase(f"{count} places, the lowest at {rest}", spots)


CHECKS: tuple[Check, ...] = (low_spot,)
