"""The height map for other programs: NPZ, CSV or TIFF, with unit, origin and cell size.

The law: heights as they are in the map, off the board as NaN, in the job's unit; what a reader must know to
place them stands in the file itself. The file is there whole or not at all.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np

from ..parser.units import Units
from ..sim.surface import Surface
from .errors import Refused
from .writing import write_bytes

FORMATS = (".npz", ".csv", ".tif", ".tiff")
PIXEL_SCALE, TIE_POINT = 33550, 33922  # OGC GeoTIFF Standard 1.1, ModelPixelScaleTag and ModelTiepointTag
DESCRIPTION = 270  # TIFF 6.0, ImageDescription


def check_heights_name(path: Path) -> None:
    """Raises Refused for an ending that is none of the formats."""
    if path.suffix.lower() not in FORMATS:
        raise Refused(f"--save-heights {path}: the name must end in .npz, .csv or .tif")


def save_heights(surface: Surface, units: Units, path: Path) -> None:
    """Write the heights.

    NPZ: arrays `x`, `y`, `heights`, and the facts that the others name. CSV: a line of facts behind `#`, then
    x, y, z of every cell on the board. TIFF: 32-bit float, the back row first, with the facts as JSON in its
    description and as the open GeoTIFF tags of scale and tie point.
    """
    write = {".npz": _npz, ".csv": _csv}.get(path.suffix.lower(), _tiff)
    write_bytes(path, write(surface, units))


def facts(surface: Surface, units: Units) -> dict:
    """Where the map lies: the centre of its first cell, front left, and its cell, in the job's unit."""
    scale = units.scale
    return {"units": units.value, "x": float(surface.x[0] / scale), "y": float(surface.y[0] / scale),
            "cell": surface.cell / scale, "columns": surface.shape[1], "rows": surface.shape[0],
            "frame": "board: X right, Y away from the operator, Z up"}


def _npz(surface: Surface, units: Units) -> bytes:
    arrays: dict[str, Any] = {name: np.array(value) for name, value in facts(surface, units).items()}
    arrays |= {"x": surface.x / units.scale, "y": surface.y / units.scale,
               "heights": surface.heights / np.float32(units.scale)}
    made = io.BytesIO()
    np.savez_compressed(made, **arrays)
    return made.getvalue()


def _csv(surface: Surface, units: Units) -> bytes:
    rows, columns = np.nonzero(surface.on_board)
    table = np.column_stack([surface.x[columns], surface.y[rows], surface.heights[rows, columns]])
    made = io.BytesIO()
    made.write(f"# {json.dumps(facts(surface, units))}\nx,y,z\n".encode())
    np.savetxt(made, table / units.scale, fmt="%.6g", delimiter=",")
    return made.getvalue()


def _tiff(surface: Surface, units: Units) -> bytes:
    from PIL import Image
    from PIL.TiffImagePlugin import ImageFileDirectory_v2
    said = facts(surface, units)
    tags, cell = ImageFileDirectory_v2(), said["cell"]
    tags[DESCRIPTION] = json.dumps(said)
    tags.tagtype[PIXEL_SCALE] = tags.tagtype[TIE_POINT] = 12  # TIFF 6.0: DOUBLE
    tags[PIXEL_SCALE] = (cell, cell, 1.0)
    left, back = said["x"] - cell / 2, said["y"] + (said["rows"] - 0.5) * cell
    tags[TIE_POINT] = (0.0, 0.0, 0.0, left, back, 0.0)
    made = io.BytesIO()
    image = Image.fromarray(np.ascontiguousarray(surface.heights[::-1] / np.float32(units.scale)))
    image.save(made, "TIFF", tiffinfo=tags, compression="tiff_deflate")
    return made.getvalue()
