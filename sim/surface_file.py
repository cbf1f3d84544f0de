"""A surface as one file: an .npz archive with its format version and a checksum of all it holds.

Format 2 holds the plan of recesses and holes as well; format 1, which has none, is read all the same.

The law: a file is there whole or not at all (written beside its place, then renamed), and nothing that
was changed since, or that another format wrote, is taken for a surface.
"""

from __future__ import annotations

import hashlib
import io
import os
import tempfile
import zipfile
import zlib
from typing import BinaryIO

import numpy as np
import shapely

from .surface import Surface

FORMAT = 2
NOT_AN_ARCHIVE = (ValueError, TypeError, AttributeError, EOFError)  # what numpy makes of other bytes
DAMAGED = (KeyError, zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error)
NAMES = {1: ("format", "place", "heights", "last"),  # place: x0, y0, cell
         2: ("format", "place", "heights", "last", "gone")}  # gone: well-known binary of the plan, as bytes


class SurfaceUnreadable(ValueError):
    """A file that is no surface, or is no longer the one that was written; the message says which."""


def save(surface: Surface, path: str | os.PathLike[str]) -> None:
    """Write a surface. Raises OSError where the place cannot be written; nothing half written is left."""
    path = os.path.abspath(path)
    handle, part = tempfile.mkstemp(dir=os.path.dirname(path), prefix=".surface-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            _write(surface, file)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(part, 0o666 & ~_umask())
        os.replace(part, path)
    except BaseException:
        os.unlink(part)
        raise


def _umask() -> int:
    """What the system keeps from new files; it can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _arrays(surface: Surface) -> dict[str, np.ndarray]:
    return {"format": np.array(FORMAT), "place": np.array([surface.x0, surface.y0, surface.cell]),
            "heights": surface.heights, "last": surface.last,
            "gone": np.frombuffer(shapely.to_wkb(surface.gone), np.uint8)}


def _checksum(arrays: dict[str, np.ndarray]) -> str:
    total = hashlib.sha256()
    for name in NAMES[int(arrays["format"])]:
        array = np.asarray(arrays[name], order="C")
        total.update(f"{name} {array.dtype.str} {array.shape}".encode())
        total.update(array.reshape(-1).view(np.uint8).data)
    return total.hexdigest()


def _write(surface: Surface, file: BinaryIO) -> None:
    """Level 1 packs a flat board a hundredfold and costs little time."""
    arrays = _arrays(surface)
    arrays["sha256"] = np.array(_checksum(arrays))
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, array in arrays.items():
            with archive.open(name + ".npy", "w", force_zip64=True) as member:
                np.lib.format.write_array(member, np.asarray(array, order="C"), allow_pickle=False)


def load(source: str | os.PathLike[str] | bytes) -> Surface:
    """Read a surface. Raises SurfaceUnreadable where the bytes are none, OSError where a path has none."""
    try:
        file = io.BytesIO(source) if isinstance(source, bytes) else source
        with np.load(file, allow_pickle=False) as archive:
            arrays = {"format": archive["format"]}
            names = NAMES[_known_format(arrays["format"])]
            arrays |= {name: archive[name] for name in (*names[1:], "sha256")}
    except SurfaceUnreadable:
        raise
    except (*NOT_AN_ARCHIVE, *DAMAGED) as why:
        raise SurfaceUnreadable("this is not a surface that was saved with --save-surface") from why
    if str(arrays["sha256"]) != _checksum(arrays):
        raise SurfaceUnreadable("this surface was changed or damaged after it was saved: "
                                "its checksum differs")
    x0, y0, cell = arrays["place"].tolist()
    gone = shapely.from_wkb(arrays["gone"].tobytes()) if "gone" in arrays else shapely.Polygon()
    return Surface(x0, y0, cell, arrays["heights"], arrays["last"], gone)


def _known_format(number: np.ndarray) -> int:
    if int(number) not in NAMES:
        raise SurfaceUnreadable(f"this surface has format {int(number)}; this version reads "
                                f"{' and '.join(map(str, NAMES))}")
    return int(number)
