"""Places of the wanted face that lay too low before the stage: wear that no pass at this depth can clean.

The law: read from the map as it was before the stage, recesses and holes left out; whether a move passed over
a place does not matter, and no line of the program is to blame. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy import ndimage

from ...parser.finding import Finding, finding
from ..evidence import Check, Evidence
from ..faced import Faced, faced

EXACT = 1e-4  # mm: heights are right to this


def low_spot(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each connected low place of each wanted face, the lowest place of it."""
    for face in faced(evidence):
        before = evidence.cut.before
        low = face.measured & (before < face.wanted.lowest - EXACT)
        places, count = ndimage.label(low, np.ones((3, 3)))  # type: ignore[misc]
        if count:
            lowest = float(before[low].min())
            for number, window in enumerate(ndimage.find_objects(places), 1):
                yield spot(evidence, face, window, places[window] == number, lowest)


def spot(evidence: Evidence, face: Faced, window: tuple[slice, slice], cells: np.ndarray, lowest: float
         ) -> Finding:
    """A low place, where it is lowest. `lowest`: of the whole face, which tells what would clean it."""
    surface, before = evidence.surface, evidence.cut.before[window]
    j, i = np.unravel_index(int(np.argmin(np.where(cells, before, np.inf))), cells.shape)
    at = (float(surface.x[window[1]][i]), float(surface.y[window[0]][j]), float(before[j, i]))
    clean = lowest + face.wanted.tolerance
    x, y, z = evidence.stage.zero
    return finding("low-spot", at=at, shown=(at[0] - x, at[1] - y, at[2] - z), value=at[2],
                   limit=face.wanted.lowest, area=float(cells.sum()) * surface.cell**2, clean=clean,
                   deeper=face.wanted.z - clean)


CHECKS: tuple[Check, ...] = (low_spot,)
