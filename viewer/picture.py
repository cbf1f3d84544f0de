"""A picture of a Result, drawn off-screen by a child process.

The law: a missing graphics library may kill the child, never the check. What the child could not do comes
back as a sentence that names what would help; the picture is there whole or not at all.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..sim.result import Result
from .blocks import block_side, middles
from .look import Look
from .scene import Scene, scene_of
from .terrain import numbered, who_cut

TEXTURE_CELLS = 4_000_000  # of the surface that is laid on the board
PATIENCE = 180  # s for one attempt
WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"
SOFTWARE = ("vtkOSOpenGLRenderWindow", "vtkEGLRenderWindow")  # smallest first
HELP = "sudo apt install libosmesa6"
CHILD = (sys.executable, "-m", f"{__package__}.drawing")


class NoPicture(Exception):
    """The picture could not be drawn; the message says why and what would help."""


@dataclass(frozen=True)
class Picture:
    """What the child draws. number: the line or stage that cut each block of the surface; None: not asked."""

    scene: Scene
    look: Look
    side: int
    number: NDArray[np.int32] | None


def draw(result: Result, path: Path, look: Look | None = None) -> None:
    """Draw the board as the last reported stage leaves it into a PNG file: each way to draw is tried in turn,
    in a process of its own. Raises NoPicture."""
    picture = picture_of(result, look or Look())
    with tempfile.TemporaryDirectory(prefix="proveout-") as folder:
        data, drawn = Path(folder, "picture"), Path(folder, "picture.png")
        data.write_bytes(pickle.dumps(picture))
        failures = []
        for environment in ways(os.environ):
            failed = attempt(data, drawn, environment)
            if failed is None:
                put(drawn, path)
                return
            failures.append(failed)
    raise NoPicture(sentence(path, failures))


def picture_of(result: Result, look: Look) -> Picture:
    side, number = block_side(result.surface.shape, TEXTURE_CELLS), None
    if look.colouring in ("line", "stage"):
        lines, stages = who_cut(result)
        table = lines if look.colouring == "line" else stages
        number = numbered(middles(result.surface.last, side), table)
    return Picture(scene_of(result), look, side, number)


def ways(environment: Mapping[str, str]) -> Iterator[dict[str, str]]:
    """The environments to try: as it is where a screen may be, then drawing in memory, on Linux."""
    has_screen = bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))
    if not sys.platform.startswith("linux") or has_screen or environment.get(WINDOW):
        yield dict(environment)
    if sys.platform.startswith("linux"):
        yield from ({**environment, WINDOW: window} for window in SOFTWARE)


def attempt(data: Path, drawn: Path, environment: dict[str, str]) -> str | None:
    """Draw in a child; None when the picture is there, else why it is not."""
    command = [*CHILD, str(data), str(drawn)]
    try:
        seen = subprocess.run(command, env=environment, capture_output=True, text=True, errors="replace",
                              timeout=PATIENCE, stdin=subprocess.DEVNULL)
    except subprocess.TimeoutExpired:
        return f"it took longer than {PATIENCE} s"
    if seen.returncode == 0 and drawn.is_file():
        return None
    last = seen.stderr.strip().splitlines()[-1:] or ["it died without a word"]
    return f"status {seen.returncode}: {last[0][:200]}"


def put(drawn: Path, path: Path) -> None:
    """Put the finished picture in its place in one step."""
    from .writing import write_bytes
    write_bytes(path, drawn.read_bytes())


def sentence(path: Path, failures: list[str]) -> str:
    """What to tell the person: what is missing, what would help; the verdict does not depend on it."""
    said = f"{path} was not drawn: no graphics library of this machine could draw ({failures[-1]}). "
    if sys.platform.startswith("linux"):
        return said + f"On Debian this one line helps: {HELP}. The verdict stands without it."
    return said + "A current graphics driver helps. The verdict stands without it."
