"""How a pattern of drilled holes lies against another: shifted, turned, scaled, by least squares.

The law: d = s·R(angle)·w + t over all pairs, in closed form; a shift alone is judged by the least worst error
that any shift can reach. Millimetres, degrees, board frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Spot = tuple[float, float]
Floats = NDArray[np.float64]

FEWEST = 3  # holes that make a pattern
MIXED = 25.4 / 25  # inch pitch for a metric one
NEARLY = 1e-3  # of a scale: how near to that it must lie
SAME = 1e-9  # mm: places that are one


@dataclass(frozen=True)
class Fit:
    """n pairs. usual: the middle one of their errors · shift: what the drilled pattern's middle is off ·
    angle: turned by, degrees counter-clockwise · scale: 1 where the spacing is right · worst: number of the
    worst pair, and how far off it is · back: how the pattern (and so the zero) is to be moved, and left: the
    worst error then · rest: the worst error when shifted, turned and scaled."""

    count: int
    usual: float
    shift: Spot
    angle: float
    scale: float
    worst: int
    error: float
    back: Spot
    left: float
    rest: float

    @property
    def mixed(self) -> bool:
        """Whether the spacing is off as 25.4 is to 25, or 25 to 25.4."""
        return min(abs(self.scale - MIXED), abs(self.scale - 1 / MIXED)) < NEARLY


def fitted(wanted: Sequence[Spot], drilled: Sequence[Spot]) -> Fit | None:
    """How drilled places lie against wanted ones, pair by pair; None for fewer than three different ones."""
    w, d = _complex(wanted), _complex(drilled)
    if len(w) < FEWEST:
        return None
    out, at = w - w.mean(), d - d.mean()
    spread = float((np.abs(out) ** 2).sum())
    if spread < SAME:
        return None
    factor = complex((np.conj(out) * at).sum() / spread)
    off, rest = d - w, np.abs(at - factor * out)
    middle, left = _middle(off)
    worst = int(np.abs(off).argmax())
    shift = complex(off.mean())
    return Fit(len(w), float(np.median(np.abs(off))), (shift.real, shift.imag),
               float(np.degrees(np.angle(factor))), abs(factor), worst,
               float(np.abs(off[worst])), (-middle.real, -middle.imag), left, float(rest.max()))


def _complex(places: Sequence[Spot]) -> NDArray[np.complex128]:
    each = np.asarray(places, float).reshape(-1, 2)
    return each[:, 0] + 1j * each[:, 1]


def _middle(off: NDArray[np.complex128]) -> tuple[complex, float]:
    """The shift from which all errors lie least far, and how far the farthest then lies."""
    mean = complex(off.mean())
    if np.abs(off - mean).max() < SAME:
        return mean, 0.0
    errors = shapely.MultiPoint(np.column_stack((off.real, off.imag)))
    x, y = shapely.get_coordinates(shapely.minimum_bounding_circle(errors).centroid)[0]
    return complex(x, y), float(np.abs(off - complex(x, y)).max())


def alike(wanted: Sequence[Spot], drilled: Sequence[Spot], within: float) -> Fit | None:
    """The fit of two whole patterns of as many holes, however far apart they lie; None where they are not the
    same pattern, shifted, scaled and but little turned."""
    if len(wanted) != len(drilled) or len(wanted) < FEWEST:
        return None
    w, d = np.asarray(wanted, float), np.asarray(drilled, float)
    shapes = [_unit(w), _unit(d)]
    if shapes[0] is None or shapes[1] is None:
        return None
    away = np.abs(shapes[0][:, None] - shapes[1][None, :]).sum(axis=2)
    partner = away.argmin(axis=1)
    if len(set(partner.tolist())) < len(w):
        return None
    found = fitted(wanted, [drilled[k] for k in partner])
    return found if found is not None and found.rest <= within else None


def _unit(places: Floats) -> Floats | None:
    """Places about their middle, of unit size; None where all are one."""
    about = places - places.mean(axis=0)
    size = float(np.sqrt((about**2).sum() / len(about)))
    return about / size if size > SAME else None
